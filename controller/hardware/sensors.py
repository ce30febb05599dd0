"""All sensors of a chamber: one thread per device, so that a read that hangs costs nobody else.

A thread measures every `every_s`, stamps the result with the instant at which the measurement ended, and puts it where
the loop can pick it up. The loop never waits: it finds the newest `Reading` with its own stamp, or the named `Fault`
of the last try. A read that has not come back after `hung_s` is a fault while it lasts, and so is its late result.
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
from controller.hardware.w1 import DEVICES, ProbeOnWire
from controller.settings.chamber_tables import SensorEntry

EVERY_S: Final = 2.5  # Longer than the 2 s for which the kernel's sht4x and dht11 drivers give the same value again.
HUNG_S: Final = 5.0  # Common practice, no source.

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

    def measure(self) -> Values:
        got = self._sensor.read()
        temp_c = _shift(got["temp"], self._entry.offset_k)
        if self._entry.channel == "rh":
            rh = got["rh"]
            return {"rh": rh if isinstance(rh, Fault) else corrected_pct(rh, self._entry.offset_pct), "rh_temp": temp_c}
        return {self.channels[0]: temp_c}


class _Door:
    """Be a contact that is closed while the door is shut."""

    def __init__(self, entry: SensorEntry, factory: Any) -> None:  # noqa: ANN401 gpiozero is not typed
        if entry.pin is None:
            raise ValueError("a contact needs its pin")
        self._contact = Contact(entry.pin, factory)
        self.name = f"GPIO {entry.pin}"
        self.channels: tuple[Channel, ...] = (entry.channel,)

    def measure(self) -> Values:
        return {self.channels[0]: self._contact.is_open()}


def _shift(value: float | Fault, offset: float) -> float | Fault:
    return value if isinstance(value, Fault) else value + offset


def make_device(entry: SensorEntry, factory: Any, roots: Roots) -> Device:  # noqa: ANN401 gpiozero is not typed
    """Return the device that a chamber file's entry stands for; only a contact touches anything, it claims its pin."""
    if entry.kind == "ds18b20":
        return _Probe(entry, roots)
    if entry.kind == "contact":
        return _Door(entry, factory)
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
        if word.started_s is not None and now_s - word.started_s > self._hung_s:
            return self._all(Fault("hung", f"{self._device.name}: no answer for {now_s - word.started_s:.0f} s"))
        if self._thread.ident is not None and not self._thread.is_alive() and not self._ended.is_set():
            return self._all(Fault("hung", f"{self._device.name}: its thread has died"))
        return word.results

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
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        """Start one thread per sensor. Raises UnavailableError where a contact's pin is not to be had."""
        self._now = now
        devices = [make_device(entry, factory, roots or Roots()) for entry in entries]
        self._threads = [ReaderThread(device, every_s=every_s, hung_s=hung_s, now=now) for device in devices]
        for thread in self._threads:
            thread.start()

    def newest(self) -> Readings:
        """Return for every configured channel its newest `Reading` or the named `Fault`."""
        now_s = self._now()
        return {channel: word for thread in self._threads for channel, word in thread.newest(now_s).items()}

    def strangers(self) -> tuple[str, ...]:
        """Return the numbers of sensors on the bus that nobody has configured."""
        return ()

    def close(self) -> None:
        """Ask every thread to end; does not wait for one that hangs."""
        for thread in self._threads:
            thread.end()


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
