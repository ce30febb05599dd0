"""The sensors of the modelled chamber: what they show is late, coarse, a little noisy, and at times wrong.

A sensor measures every 2.5 s, each at its own moment. It is moved on only when it is asked, exactly as if the true
value had changed in a straight line since it was asked last.
"""

from collections.abc import Mapping
from math import exp, floor
from random import Random
from typing import Final, Protocol

from msgspec import Struct

from controller.core.values import CONTACTS, Channel, Fault, FaultKind, Reading, Readings
from controller.food.air import saturation_pressure_pa
from controller.food.checks.instruments import corrected_pct
from controller.settings.chamber_file import ChamberFile, SensorEntry
from controller.settings.instrument_care import offsets_of

EVERY_S: Final = 2.5
"""A DS18B20 takes 0.75 s for a value of 12 bits (data sheet); read in turns, each comes every 2 to 3 s."""
DS18B20_STEPS_PER_K: Final = 16.0
PROBE_RESPONSE_S: Final = 120.0
"""Of a DS18B20 in a steel sleeve in moved air; 45 to 400 s occur (estimate)."""
CORE_RESPONSE_S: Final = 20.0

CREEP_PCT: Final = 3.0
CREEP_S: Final = 60.0 * 3600.0
CREEP_ABOVE_PCT: Final = 80.0
"""Above 80 %RH the value creeps up by 3 %RH after 60 h. SHT2x data sheet (December 2011), table 1, note 4."""
CREEP_BACK_S: Final = 48.0 * 3600.0
"""It goes back over days. Common practice, no source."""

JUMP_K: Final = 8.0
JUMP_PCT: Final = 30.0

VARY_K: Final = 0.2
VARY_PCT: Final = 1.5


class HumidityKind(Struct, frozen=True):
    """Hold what a kind of humidity sensor is like: response, noise (standard deviation), smallest step, own warmth."""

    response_s: float
    temp_response_s: float
    noise_pct: float
    noise_k: float
    step: float
    warmer_k: float = 0.0


HUMIDITY_KINDS: Final[dict[str, HumidityKind]] = {
    "sht3x": HumidityKind(8.0, 20.0, 0.10, 0.02, 0.01),
    "sht4x": HumidityKind(8.0, 20.0, 0.10, 0.02, 0.01),
    "bme280": HumidityKind(8.0, 20.0, 0.15, 0.02, 0.01, 0.5),
    "dht22": HumidityKind(10.0, 30.0, 0.30, 0.10, 0.1),
}
"""Response 8 s: SHT3x data sheet (2014), table 1. The rest is common practice, no source."""

RAW_VALUES: Final = {"nan": float("nan"), "power-on-value": 85.0, "low-supply": 127.9375, "no-reply": -127.0}
NO_VALUES: Final[dict[str, FaultKind]] = {
    "missing": "missing", "checksum": "checksum", "empty": "empty", "hung": "hung",
}  # fmt: skip
FLAKY_ONE_IN: Final = 4
DRIFT_K_PER_H: Final = 1.0
DRIFT_PCT_PER_H: Final = 5.0
STRANGER: Final = "28-0000deadbeef"
HUMIDITY: Final = frozenset({"rh", "rh_2"})


class Probe:
    """Be one DS18B20: a lag of the first order, in steps of 1/16 K."""

    __slots__ = ("_last_c", "_last_s", "_offset_k", "_phase_s", "_response_s", "_slot_c", "lagged_c", "taken_s")

    def __init__(self, response_s: float, *, phase_s: float, start_c: float, offset_k: float = 0.0) -> None:
        """Begin at rest at `start_c`; measure whenever the clock is `phase_s` past a multiple of 2.5 s."""
        self._response_s, self._phase_s, self._offset_k = response_s, phase_s, offset_k
        self.lagged_c = self._slot_c = self._last_c = start_c
        self._last_s = 0.0
        self.taken_s = phase_s - EVERY_S if phase_s else 0.0

    def follow(self, now_s: float, true_c: float) -> bool:
        """Move on to `now_s`, where the truth is `true_c`; say whether a new value has been measured."""
        taken_s = self._phase_s + floor((now_s - self._phase_s) / EVERY_S) * EVERY_S
        elapsed_s = taken_s - self.taken_s
        new = elapsed_s > 0.0
        if new:
            since_s = now_s - self._last_s
            share = (now_s - taken_s) / since_s if since_s > 0.0 else 0.0
            slot_c = true_c - (true_c - self._last_c) * min(share, 1.0)
            behind_k = (slot_c - self._slot_c) / elapsed_s * self._response_s
            # Exact for a truth that rises in a straight line: the probe runs behind it by rate times response.
            start_k = self.lagged_c - self._slot_c + behind_k
            self.lagged_c = slot_c - behind_k + start_k * exp(-elapsed_s / self._response_s)
            self._slot_c, self.taken_s = slot_c, taken_s
        self._last_s, self._last_c = now_s, true_c
        return new

    @property
    def shown_c(self) -> float:
        """Return what the sensor says, in steps of 1/16 K."""
        return round((self.lagged_c + self._offset_k) * DS18B20_STEPS_PER_K) / DS18B20_STEPS_PER_K


class HumiditySensor:
    """Be one humidity sensor with the thermometer on its chip: the humidity it feels is that at its own temperature."""

    __slots__ = ("_kind", "_lagged_pct", "_offset_pct", "_random", "_response_s", "_thermometer", "creep_pct")

    def __init__(
        self,
        kind: HumidityKind,
        random: Random,
        *,
        response_s: float | None,
        start_c: float,
        start_pct: float,
        offset_k: float = 0.0,
        offset_pct: float = 0.0,
    ) -> None:
        """Begin at rest in air of this temperature and humidity."""
        self._kind, self._random, self._offset_pct = kind, random, offset_pct
        self._response_s = response_s or kind.response_s
        self._thermometer = Probe(
            kind.temp_response_s,
            phase_s=random.random() * EVERY_S,
            start_c=start_c,
            offset_k=offset_k + kind.warmer_k,
        )
        self._lagged_pct = start_pct
        self.creep_pct = 0.0

    @property
    def taken_s(self) -> float:
        """Return when it measured last."""
        return self._thermometer.taken_s

    def follow(self, now_s: float, true_c: float, vapour_pa: float) -> bool:
        """Move on to `now_s`; say whether a new value has been measured."""
        before_s = self._thermometer.taken_s
        if not self._thermometer.follow(now_s, true_c):
            return False
        elapsed_s = self._thermometer.taken_s - before_s
        felt_pct = min(100.0, 100.0 * vapour_pa / saturation_pressure_pa(self._thermometer.lagged_c))
        self._lagged_pct = felt_pct + (self._lagged_pct - felt_pct) * exp(-elapsed_s / self._response_s)
        if felt_pct > CREEP_ABOVE_PCT:
            self.creep_pct = CREEP_PCT + (self.creep_pct - CREEP_PCT) * exp(-elapsed_s / CREEP_S)
        elif self.creep_pct:
            self.creep_pct *= exp(-elapsed_s / CREEP_BACK_S)
        return True

    def show(self) -> tuple[float, float]:
        """Return humidity (%) and temperature (°C) with a new draw of noise."""
        kind, gauss = self._kind, self._random.gauss
        pct = self._lagged_pct + self.creep_pct + self._offset_pct + gauss(0.0, kind.noise_pct)
        temp_c = self._thermometer.lagged_c + self._thermometer._offset_k + gauss(0.0, kind.noise_k)  # noqa: SLF001 - its own part
        step = kind.step
        return round(min(100.0, max(0.0, pct)) / step) * step, round(temp_c / step) * step


class Surroundings(Protocol):
    """Tell the sensors what is true now. `boot_s` is when this boot of the machine began, on the same clock."""

    elapsed_s: float
    boot_s: float
    monotonic_less_elapsed_s: float

    @property
    def true_air_temp_c(self) -> float:
        """Return the temperature of the air."""
        ...

    @property
    def vapour_pa(self) -> float:
        """Return the pressure of the vapour in the air."""
        ...

    @property
    def core_temp_c(self) -> float:
        """Return the temperature where the core probe is."""
        ...

    @property
    def room_temp_c(self) -> float:
        """Return the temperature of the room."""
        ...

    @property
    def evaporator_temp_c(self) -> float:
        """Return the temperature of the cold plate."""
        ...

    def contact(self, channel: Channel) -> bool:
        """Say what a contact would say: the door is open, there is current, and so on."""
        ...


class SimulatedSensors:
    """Hand over what the sensors of a chamber file say; a sibling of the hardware's sensors."""

    def __init__(self, chamber: ChamberFile, around: Surroundings, *, seed: int, vary: bool) -> None:
        """Build every sensor of the chamber file at rest in the air around it."""
        self._around = around
        self.probes: dict[Channel, Probe] = {}
        self.wet: dict[Channel, HumiditySensor] = {}
        self._contacts: list[Channel] = []
        self._readings: dict[Channel, Reading | Fault] = {}
        self._kept: dict[Channel, Reading] = {}
        self._faulty: dict[Channel, str] = {}
        self._frozen: dict[Channel, Reading] = {}  # What a frozen or silent sensor said last.
        self._since_s: dict[Channel, float] = {}  # Since when a sensor is faulty.
        self._probe_out = self._stranger = False
        self._offsets: dict[Channel, float] = {}  # Of the chamber file, added to what a sensor says.
        for entry in chamber.sensor:
            self._add(entry, Random(f"{seed}:{entry.channel}"), vary=vary)  # noqa: S311 - a model, no secret
        self.channels: tuple[Channel, ...] = (
            *self.probes,
            *(name for channel in self.wet for name in ((channel, "rh_temp") if channel == "rh" else (channel,))),
            *self._contacts,
        )

    def _add(self, entry: SensorEntry, random: Random, *, vary: bool) -> None:
        offset_k = random.uniform(-VARY_K, VARY_K) if vary else 0.0
        offset_pct = random.uniform(-VARY_PCT, VARY_PCT) if vary else 0.0
        channel = entry.channel
        self._offsets.update(offsets_of(entry))
        start_c = self._truth_c(channel)
        if channel in CONTACTS:
            self._contacts.append(channel)
        elif channel in HUMIDITY:
            self.wet[channel] = HumiditySensor(
                HUMIDITY_KINDS.get(entry.kind, HUMIDITY_KINDS["sht4x"]),
                random,
                response_s=entry.response_s,
                start_c=start_c,
                start_pct=100.0 * self._around.vapour_pa / saturation_pressure_pa(start_c),
                offset_k=offset_k,
                offset_pct=offset_pct,
            )
        else:
            response_s = entry.response_s or (CORE_RESPONSE_S if channel == "core_temp" else PROBE_RESPONSE_S)
            self.probes[channel] = Probe(
                response_s, phase_s=random.random() * EVERY_S, start_c=start_c, offset_k=offset_k
            )

    def set_faults(self, faulty: Mapping[Channel, str], *, probe_out: bool, stranger: bool = False) -> None:
        """Say which channel is faulty in which way from now on; what is not named is well again."""
        self._probe_out, self._stranger = probe_out, stranger
        self._since_s = {channel: self._since_s.get(channel, self._around.elapsed_s) for channel in faulty}
        self._faulty = dict(faulty)
        self._frozen = {
            channel: self._frozen.get(channel, self._kept[channel])
            for channel, kind in faulty.items()
            if kind in {"frozen", "stale"} and channel in self._kept
        }

    def follow(self) -> None:
        """Let all sensors follow the truth up to now, without a reading being handed over."""
        around = self._around
        now_s = around.elapsed_s
        for channel, probe in self.probes.items():
            probe.follow(now_s, self._truth_c(channel))
        for wet in self.wet.values():
            wet.follow(now_s, around.true_air_temp_c, around.vapour_pa)

    def newest(self) -> Readings:
        """Return for every sensor its newest `Reading` or the named `Fault`; never raises."""
        around = self._around
        now_s, shift_s, boot_s = around.elapsed_s, around.monotonic_less_elapsed_s, around.boot_s
        kept, offsets = self._kept, self._offsets
        for channel, probe in self.probes.items():
            if probe.follow(now_s, self._truth_c(channel)) and probe.taken_s >= boot_s:
                kept[channel] = Reading(probe.shown_c + offsets[channel], probe.taken_s + shift_s)
        for channel, wet in self.wet.items():
            if wet.follow(now_s, around.true_air_temp_c, around.vapour_pa) and wet.taken_s >= boot_s:
                pct, temp_c = wet.show()
                taken_s = wet.taken_s + shift_s
                kept[channel] = Reading(corrected_pct(pct, offsets[channel]), taken_s)
                if channel == "rh":
                    kept["rh_temp"] = Reading(temp_c + offsets["rh_temp"], taken_s)
        for channel in self._contacts:
            kept[channel] = Reading(1.0 if around.contact(channel) else 0.0, now_s + shift_s)
        readings: dict[Channel, Reading | Fault] = dict(kept)
        if len(kept) < len(self.channels):
            for channel in self.channels:
                readings.setdefault(channel, Fault("unread", "no value since the program began"))
        for channel, kind in self._faulty.items():
            self._spoil(readings, channel, kind)
        return readings

    def strangers(self) -> tuple[str, ...]:
        """Return the numbers on the modelled bus that the chamber file does not name: none but by a fault."""
        return (STRANGER,) if self._stranger else ()

    def reboot(self) -> None:
        """Forget every reading: after a boot nothing has been read yet."""
        self._kept.clear()
        self._frozen.clear()

    def _spoil(self, readings: dict[Channel, Reading | Fault], channel: Channel, kind: str) -> None:
        """Turn one good reading into what a faulty sensor gives."""
        if kind in NO_VALUES:
            readings[channel] = Fault(NO_VALUES[kind], f"simulated {kind}")
            return
        reading = readings.get(channel)
        if not isinstance(reading, Reading):
            return
        if kind == "stale":
            readings[channel] = self._frozen.setdefault(channel, reading)
        elif kind == "frozen":
            readings[channel] = Reading(self._frozen.setdefault(channel, reading).value, reading.taken_s)
        elif kind == "jump":
            step = JUMP_PCT if channel in HUMIDITY else JUMP_K
            readings[channel] = Reading(reading.value + step, reading.taken_s)
        elif kind == "drift":
            hours = (self._around.elapsed_s - self._since_s[channel]) / 3600.0
            rate = DRIFT_PCT_PER_H if channel in HUMIDITY else DRIFT_K_PER_H
            readings[channel] = Reading(reading.value + rate * hours, reading.taken_s)
        elif kind == "flaky":
            # Scattered, and the same in each run (multiplicative hashing, Knuth, The Art of Computer Programming 3).
            if int(reading.taken_s / EVERY_S) * 2_654_435_761 % 2**32 < 2**32 // FLAKY_ONE_IN:
                readings[channel] = Fault("checksum", "simulated flaky")
        else:
            readings[channel] = Reading(RAW_VALUES[kind], reading.taken_s)

    def _truth_c(self, channel: Channel) -> float:
        around = self._around
        if channel == "core_temp":
            return around.core_temp_c
        if channel == "evaporator_temp":
            return around.evaporator_temp_c
        if channel == "ambient_temp" or (channel == "air_temp" and self._probe_out):
            return around.room_temp_c
        return around.true_air_temp_c
