"""All sensors of a chamber: one thread per device, so that a read that hangs costs nobody else.

A thread measures every `every_s`, stamps the result with the instant at which the measurement ended, and puts it where
the loop can pick it up. The loop never waits: it finds the newest `Reading` with its own stamp, or the named `Fault`
of the last try. A read that has not come back after `hung_s` is a fault while it lasts, and so is its late result; its
thread is left to itself, and another one begins anew. No more than `MOST_LEFT` are ever left to themselves.
"""

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, Protocol

from msgspec import Struct

from controller.core.values import Channel, Fault, Reading, Readings
from controller.food.checks.instruments import corrected_pct
from controller.hardware.pins import Contact
from controller.hardware.sysfs import HWMON, IIO, KernelSensor, Kind
from controller.hardware.w1 import DEVICES, ProbeOnWire, thermometers_on
from controller.settings.chamber_tables import SensorEntry

EVERY_S: Final = 2.5  # Longer than the 2 s for which the kernel's sht4x and dht11 drivers give the same value again.
HUNG_S: Final = 5.0  # Common practice, no source.
MOST_LEFT: Final = 3
"""So many threads of one device may hang at a time beside the one that is at work; common practice, no source."""
CONTACT_EVERY_S: Final = 1.0
MAINS_S: Final = 0.025
"""A little longer than one period of the mains at 50 Hz."""
TURN_S: Final = 0.5
"""A fan that gives two pulses a turn is seen turning down to 120 turns a minute."""
STRANGERS_EVERY_S: Final = 60.0

Values = Mapping[Channel, float | Fault]


class Roots(Struct, frozen=True):
    """Say where the kernel shows its devices; only tests show another place."""

    w1: Any = DEVICES
    hwmon: Any = HWMON
    iio: Any = IIO


class Device(Protocol):
    """Be one device with one or more channels. `measure` may take its time, hang, or raise."""

    name: str
    channels: tuple[Channel, ...]

    def measure(self) -> Values:
        """Return a value or a fault for each channel."""
        ...


class _Probe:
    """Be a DS18B20 with its offset."""

    def __init__(self, entry: SensorEntry, roots: Roots) -> None:
        self._probe = ProbeOnWire(entry.id, roots.w1)
        self._offset_k = entry.offset_k
        self.name = entry.id
        self.channels: tuple[Channel, ...] = (entry.channel,)

    def measure(self) -> Values:
        return {self.channels[0]: _shift(self._probe.read_c(), self._offset_k)}


class _Humidity:
    """Be a humidity sensor with its offsets; on another channel than `rh` it serves as a thermometer only."""

    def __init__(self, kind: Kind, entry: SensorEntry, roots: Roots) -> None:
        self._sensor = KernelSensor(kind, entry.address, roots.hwmon, roots.iio)
        self._entry = entry
        self.name = self._sensor.name
        self.channels: tuple[Channel, ...] = ("rh", "rh_temp") if entry.channel == "rh" else (entry.channel,)
        self._wants_rh = entry.channel in {"rh", "rh_2"}

    def measure(self) -> Values:
        got = self._sensor.read()
        temp_c = _shift(got["temp"], self._entry.offset_k)
        if not self._wants_rh:
            return {self.channels[0]: temp_c}
        rh = got["rh"]
        rh_pct = rh if isinstance(rh, Fault) else corrected_pct(rh, self._entry.offset_pct)
        return {self.channels[0]: rh_pct, **dict.fromkeys(self.channels[1:], temp_c)}


class _Contact:
    """Be a contact.

    Those of the door and of the cut-out say yes by opening, so that a broken wire says it too; voltage and current say
    yes by closing; a fan that turns pulses.
    """

    def __init__(self, entry: SensorEntry, factory: Any) -> None:  # noqa: ANN401 gpiozero is not typed
        if entry.pin is None:
            raise ValueError("a contact needs its pin")
        self._contact = Contact(entry.pin, factory)
        self.name = f"GPIO {entry.pin}"
        self.channels: tuple[Channel, ...] = (entry.channel,)

    def measure(self) -> Values:
        channel = self.channels[0]
        if channel == "fan_turns":
            return {channel: self._contact.pulses_within(TURN_S)}
        if channel in {"door", "cutout"}:
            return {channel: self._contact.is_open()}
        return {channel: self._contact.closes_within(MAINS_S)}


def _shift(value: float | Fault, offset: float) -> float | Fault:
    return value if isinstance(value, Fault) else value + offset


def make_device(entry: SensorEntry, factory: Any, roots: Roots) -> Device:  # noqa: ANN401 gpiozero is not typed
    """Return the device that a chamber file's entry stands for; only a contact touches anything, it claims its pin."""
    if entry.kind == "ds18b20":
        return _Probe(entry, roots)
    if entry.kind == "contact":
        return _Contact(entry, factory)
    return _Humidity(entry.kind, entry, roots)


class _Word(Struct, frozen=True):
    """Hold what one thread said last; replaced as a whole, so that no lock is needed to read it."""

    results: dict[Channel, Reading | Fault]
    started_s: float | None = None  # When the read that is under way began.


class ReaderThread:
    """Measure one device again and again in a thread of its own."""

    def __init__(self, device: Device, *, every_s: float, hung_s: float, now: Callable[[], float]) -> None:
        """Start nothing yet."""
        self._device = device
        self._every_s = every_s
        self._hung_s = hung_s
        self._now = now
        self._word = _Word({channel: Fault("unread", device.name) for channel in device.channels})
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"sensor {device.name}", daemon=True)

    def start(self) -> None:
        """Begin to measure."""
        self._thread.start()

    def end(self) -> None:
        """Ask the thread to end; one that hangs is left behind, it does not keep the process."""
        self._ended.set()

    def newest(self, now_s: float) -> dict[Channel, Reading | Fault]:
        """Return what was measured last, or the fault. Never waits, never raises."""
        word = self._word
        hung = self.hangs(now_s)
        return word.results if hung is None else self._all(hung)

    def hangs(self, now_s: float) -> Fault | None:
        """Return the fault of a read that does not come back, or of a thread that has died; else None."""
        started_s = self._word.started_s
        if started_s is not None and now_s - started_s > self._hung_s:
            return Fault("hung", f"{self._device.name}: no answer for {now_s - started_s:.0f} s")
        if self._thread.ident is not None and not self.is_alive() and not self._ended.is_set():
            return Fault("hung", f"{self._device.name}: its thread has died")
        return None

    def is_alive(self) -> bool:
        """Say whether the thread is still there."""
        return self._thread.is_alive()

    def measure_once(self) -> None:
        """Measure and publish, in the calling thread."""
        started_s = self._now()
        self._word = _Word(self._word.results, started_s)
        try:
            values = self._device.measure()
        except Exception as error:  # noqa: BLE001 whatever a device throws is a fault of that device
            values = dict.fromkeys(
                self._device.channels,
                Fault("bus_error", f"{self._device.name}: {type(error).__name__}: {error}"),
            )
        taken_s = self._now()
        if taken_s - started_s > self._hung_s:
            # Nobody knows when in all that time the value was measured.
            self._word = _Word(self._all(Fault("hung", f"{self._device.name}: took {taken_s - started_s:.0f} s")))
            return
        self._word = _Word({channel: stamp(value, taken_s) for channel, value in values.items()})

    def _all(self, fault: Fault) -> dict[Channel, Reading | Fault]:
        return dict.fromkeys(self._device.channels, fault)

    def _run(self) -> None:
        while not self._ended.is_set():
            next_s = self._now() + self._every_s
            self.measure_once()
            self._ended.wait(max(0.0, next_s - self._now()))


class Reader:
    """Have one device read by a thread; leave a thread that hangs to itself, and begin another one on the device anew.

    What the one that was left says later is heard by nobody. A device that hangs for ever costs `MOST_LEFT` threads
    and no more: then the last one is waited for.
    """

    def __init__(self, make: Callable[[], Device], *, every_s: float, hung_s: float, now: Callable[[], float]) -> None:
        """Begin to measure."""
        self._make, self._every_s, self._hung_s, self._now = make, every_s, hung_s, now
        self._left: list[ReaderThread] = []
        self._hung: Fault | None = None  # Of the one that was left last, until the new one has a word of its own.
        self._thread = self._begin()

    def newest(self, now_s: float) -> dict[Channel, Reading | Fault]:
        """Return what was measured last, or the fault. Never waits, never raises."""
        thread = self._thread
        found = thread.newest(now_s)
        hung = thread.hangs(now_s)
        if hung is not None:
            self._hung = hung
            self._left = [left for left in self._left if left.is_alive()]
            if len(self._left) < MOST_LEFT:
                thread.end()
                self._left.append(thread)
                self._thread = self._begin()
        elif self._hung is not None:
            if any(isinstance(word, Fault) and word.kind == "unread" for word in found.values()):
                return dict.fromkeys(found, self._hung)
            self._hung = None
        return found

    def end(self) -> None:
        """Ask the thread to end; one that hangs is left behind, it does not keep the process."""
        self._thread.end()

    def _begin(self) -> ReaderThread:
        thread = ReaderThread(self._make(), every_s=self._every_s, hung_s=self._hung_s, now=self._now)
        thread.start()
        return thread


class _Strangers:
    """Look from time to time, in a thread of its own, which thermometers on the bus nobody has named."""

    def __init__(self, named: frozenset[str], devices: Any, every_s: float) -> None:  # noqa: ANN401 as in Roots
        self._named, self._devices, self._every_s = named, devices, every_s
        self._ended = threading.Event()
        self.found: tuple[str, ...] = ()
        threading.Thread(target=self._run, name="1-wire bus", daemon=True).start()

    def end(self) -> None:
        self._ended.set()

    def _run(self) -> None:
        while True:
            self.found = tuple(id for id in thermometers_on(self._devices) if id not in self._named)
            if self._ended.wait(self._every_s):
                return


def stamp(value: float | Fault, taken_s: float) -> Reading | Fault:
    """Return a value together with the instant at which its measurement ended; a fault as it is."""
    return value if isinstance(value, Fault) else Reading(value, taken_s)


class ThreadedSensors:
    """Hand over what every sensor of the chamber file said last."""

    def __init__(
        self,
        entries: Sequence[SensorEntry],
        factory: Any,  # noqa: ANN401 gpiozero is not typed
        *,
        roots: Roots | None = None,
        every_s: float = EVERY_S,
        hung_s: float = HUNG_S,
        strangers_every_s: float = STRANGERS_EVERY_S,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        """Start one thread per sensor. Raises UnavailableError where a contact's pin is not to be had."""
        self._now = now
        roots = roots or Roots()
        makers = [_maker(entry, factory, roots) for entry in entries]
        self._readers = [
            Reader(
                make,
                every_s=min(every_s, CONTACT_EVERY_S) if entry.kind == "contact" else every_s,
                hung_s=hung_s,
                now=now,
            )
            for entry, make in zip(entries, makers, strict=True)
        ]
        named = frozenset(entry.id for entry in entries if entry.id)
        self._strangers = _Strangers(named, roots.w1, strangers_every_s)

    def newest(self) -> Readings:
        """Return for every configured channel its newest `Reading` or the named `Fault`."""
        now_s = self._now()
        return {channel: word for reader in self._readers for channel, word in reader.newest(now_s).items()}

    def strangers(self) -> tuple[str, ...]:
        """Return the ids of thermometers on the 1-wire bus that nobody has configured, a minute old at most."""
        return self._strangers.found

    def close(self) -> None:
        """Ask every thread to end; does not wait for one that hangs."""
        self._strangers.end()
        for reader in self._readers:
            reader.end()


def _maker(entry: SensorEntry, factory: Any, roots: Roots) -> Callable[[], Device]:  # noqa: ANN401 as above
    """Return what makes the device, each time anew; a contact's pin is claimed once, and now."""
    if entry.kind != "contact":
        return lambda: make_device(entry, factory, roots)
    contact = make_device(entry, factory, roots)
    return lambda: contact


def read_once(
    entries: Sequence[SensorEntry], *, roots: Roots | None = None, patience_s: float = 2 * HUNG_S
) -> Readings:
    """Read every sensor once and return what each said; one that does not come back in time is `hung` or `unread`."""
    sensors = ThreadedSensors(entries, None, roots=roots)
    until_s, pause = time.monotonic() + patience_s, threading.Event()
    found = sensors.newest()
    while any(isinstance(word, Fault) and word.kind == "unread" for word in found.values()):
        if time.monotonic() >= until_s:
            break
        pause.wait(0.02)
        found = sensors.newest()
    sensors.close()
    return found
