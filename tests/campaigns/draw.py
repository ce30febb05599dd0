"""Draw from a seed what a run is made of: a chamber, a room, a maker's profile, and what goes wrong when.

Each fault is drawn from a random stream of its own, so that a list from which some are taken away (to replay, to
shrink) leaves the others as they were.
"""

from math import pi, sin
from random import Random
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.settings.chamber_file import ChamberFile, OutputEntry, SensorEntry
from tests.campaigns.kinds import HOUR_S, KINDS, MINUTE_S, NEEDS, OF_A_CONTACT, Kind, Planned
from tests.helpers.shipped_chambers import shipped_chamber

DAY_S: Final = 86_400.0
CHAMBERS: Final = ("insulated-box", "old-fridge", "plywood-cabinet")
PROFILES: Final[dict[str, tuple[str, ...]]] = {
    "insulated-box": ("tangy", "tangy", "mild", "slow-cool"),
    "plywood-cabinet": ("tangy", "mild", "mild", "slow-cool"),
    "old-fridge": ("tangy", "mild", "slow-cool", "dry-only"),
}
FIRST_S: Final = 900.0
"""The first fault comes when the batch has begun."""
QUIET_SHARE: Final = 0.2
"""So much of the run, at its end, is without faults: it must come back then."""


class Case(Struct, frozen=True, kw_only=True):
    """Hold one run. `kept` are the faults of the list that are injected; None: all of them."""

    seed: int
    days: float
    kept: tuple[int, ...] | None = None

    @property
    def line(self) -> str:
        """Return the line that replays it."""
        kept = "all" if self.kept is None else ",".join(map(str, self.kept)) or "none"
        return f"{self.seed}/{self.days:g}d/{kept}"

    @classmethod
    def of(cls, line: str) -> "Case":
        """Read a line that was printed."""
        seed, days, kept = line.split("/")
        chosen = None if kept == "all" else tuple(int(one) for one in kept.split(",") if one != "none")
        return cls(seed=int(seed), days=float(days.removesuffix("d")), kept=chosen)


class DailyRoom:
    """Be a room that is warmest in the afternoon."""

    def __init__(self, mean_c: float, swing_k: float, rh_pct: float) -> None:
        self._mean_c, self._swing_k, self._rh_pct = mean_c, swing_k, rh_pct

    def at(self, wall_s: float) -> tuple[float, float]:
        """Return temperature in °C and relative humidity in %."""
        return self._mean_c + self._swing_k * sin(2 * pi * (wall_s / DAY_S - 0.375)), self._rh_pct


class Setting(Struct, frozen=True, kw_only=True):
    """Hold where and with what a run takes place."""

    chamber: ChamberFile
    plant: ChamberFile  # The true figures; those of the file are a maker's guess.
    room: DailyRoom
    profiles: tuple[str, ...]
    writer_late_s: float


def setting_of(case: Case) -> Setting:
    """Return the chamber of a seed."""
    random = Random(f"campaign:{case.seed}:setting")
    name = random.choice(CHAMBERS)
    file = shipped_chamber(name)
    have = {entry.channel for entry in file.sensor}
    sensors, outputs = list(file.sensor), list(file.output)
    if random.random() < 0.35:
        sensors.append(SensorEntry(channel="air_temp_2", kind="ds18b20", id="28-0000000000a2"))
    if random.random() < 0.4:
        sensors.append(SensorEntry(channel="door", kind="contact", pin=5))
    if "ambient_temp" not in have and random.random() < 0.5:
        sensors.append(SensorEntry(channel="ambient_temp", kind="ds18b20", id="28-0000000000a3"))
    if random.random() < 0.2:
        sensors.append(SensorEntry(channel="core_temp", kind="ds18b20", id="28-0000000000a4"))
    if random.random() < 0.2:
        sensors.append(SensorEntry(channel="rh_2", kind="sht4x", address="1-0045"))
    for pin, channel in enumerate(("heater_live", "heater_current", "cutout", "cooler_current", "fan_turns"), start=6):
        fits = {"cooler_current": "cooler", "fan_turns": "fan"}.get(channel, "heater") in {
            entry.role for entry in outputs
        }
        if random.random() < 0.2 and fits:
            sensors.append(SensorEntry(channel=channel, kind="contact", pin=pin))  # type: ignore[arg-type]
    if random.random() < 0.5:
        outputs.append(OutputEntry(role="master", pin=24))
    if random.random() < 0.3:
        outputs.append(OutputEntry(role="sounder", pin=25))
    mean_c, swing_k = random.uniform(12.0, 23.0), random.choice([0.0, 1.0, 3.0])
    chamber = replace(
        file,
        sensor=tuple(sensors),
        output=tuple(outputs),
        tick_s=random.choice([4.0, 5.0, 6.0, *(21 * [8.0])]),
        limits=replace(file.limits, trip_c=random.choice([40.0, 42.0, 45.0])),
        room_temp_c=(mean_c - swing_k - 2.0, mean_c + swing_k + 2.0),
    )
    model = chamber.model

    def off(value: float) -> float:
        return value * random.uniform(0.85, 1.15)

    true_model = replace(
        model,
        ua_w_per_k=off(model.ua_w_per_k),
        air_wall_w_per_k=off(model.air_wall_w_per_k),
        wall_j_per_k=off(model.wall_j_per_k),
        leak_per_h=off(model.leak_per_h),
    )
    options = PROFILES[name]
    return Setting(
        chamber=chamber,
        plant=replace(chamber, model=true_model),
        room=DailyRoom(mean_c, swing_k, random.uniform(40.0, 70.0)),
        profiles=tuple(random.choice(options) for _ in range(8)),
        writer_late_s=random.choice([0.0, 0.2, 1.5]),
    )


def draw_faults(case: Case, chamber: ChamberFile) -> tuple[Planned, ...]:
    """Return the faults of a seed that are injected, oldest first."""
    random = Random(f"campaign:{case.seed}:faults")
    until_s = case.days * DAY_S * (1.0 - QUIET_SHARE)
    number = max(3, round(case.days / 3.0 * random.uniform(7.0, 19.0)))
    names = list(KINDS)
    weights = [KINDS[name].weight for name in names]
    found: list[Planned] = []
    for index in range(number):
        for attempt in range(12):
            own = Random(f"campaign:{case.seed}:fault:{index}:{attempt}")
            kind = KINDS[own.choices(names, weights)[0]]
            fault = _draw(kind, index, own, chamber, found, until_s)
            if fault is not None and not _clashes(fault, found):
                found.append(fault)
                break
    kept = found if case.kept is None else [fault for fault in found if fault.index in case.kept]
    return tuple(sorted(kept, key=lambda fault: fault.at_s))


def _draw(
    kind: Kind, index: int, own: Random, chamber: ChamberFile, found: list[Planned], until_s: float
) -> Planned | None:
    what = _what(kind, own, chamber)
    if what is None:
        return None
    beside = own.choice(found) if found and own.random() < 0.4 else None
    if beside is not None and beside.until_s > beside.at_s:
        at_s = own.uniform(beside.at_s, beside.until_s)  # Several at once.
    else:
        at_s = own.uniform(FIRST_S, until_s)
    lasts_s = own.uniform(*own.choice(kind.lasts_s))
    ends_s = min(at_s + lasts_s, until_s)
    if at_s >= until_s or (lasts_s > 0.0 and ends_s - at_s < 5.0):
        return None
    fault = Planned(index=index, kind=kind.name, at_s=at_s, until_s=ends_s, what=what, count=own.randint(1, 30))
    if kind.name == "clock-step":
        size_s = own.choice([5.0, 90.0, HOUR_S, 26 * HOUR_S, 400 * DAY_S]) * own.uniform(0.5, 1.5)
        return replace(fault, until_s=at_s, step_s=round(size_s * own.choice([-1.0, 1.0])))
    if kind.place == "sensor" and own.random() < 0.3 and lasts_s > 2 * MINUTE_S:
        return replace(fault, windows=_flicker(at_s, ends_s, own))
    return replace(fault, windows=((at_s, ends_s),))


def _flicker(at_s: float, ends_s: float, own: Random) -> tuple[tuple[float, float], ...]:
    """Return the windows of a loose contact."""
    windows: list[tuple[float, float]] = []
    now_s = at_s
    there_s, gone_s = own.choice([(3.0, 6.0), (8.0, 20.0), (25.0, 40.0)])
    while now_s < ends_s and len(windows) < 40:
        end_s = min(now_s + own.uniform(0.5, 1.5) * there_s, ends_s)
        windows.append((now_s, end_s))
        now_s = end_s + own.uniform(0.5, 1.5) * gone_s
    return tuple(windows)


def _what(kind: Kind, own: Random, chamber: ChamberFile) -> str | None:
    if kind.place == "sensor":
        if kind.name == "probe-out":
            return "air_temp"
        channels = ["air_temp"] * 4
        for entry in chamber.sensor:
            if entry.channel == "rh":
                channels += ["rh", "rh_temp"]
            elif entry.channel != "air_temp" and (entry.kind != "contact" or kind.name in OF_A_CONTACT):
                channels.append(entry.channel)
        return own.choice(channels)
    roles = [entry.role for entry in chamber.output if entry.role != "sounder"]
    if kind.name in {"relay-welded", "pin-stuck"}:
        return own.choice([*roles, "heater", "heater"])
    if kind.name == "relay-open":
        return own.choice(roles)
    return "" if NEEDS.get(kind.name, roles[0]) in roles else None


def _clashes(fault: Planned, found: list[Planned]) -> bool:
    """Say whether two faults could not be told apart, or could not be: of one sensor, or two cuts at once."""
    kind = KINDS[fault.kind]
    for other in found:
        place = KINDS[other.kind].place
        apart = fault.at_s > other.until_s + 300.0 or other.at_s > fault.until_s + 300.0
        if apart:
            continue
        if kind.place == place == "sensor" and (fault.what == other.what or "probe-out" in {fault.kind, other.kind}):
            return True
        if kind.place == place and place in {"supply", "disk", "clock", "program"}:
            return True
        if fault.what == other.what and kind.place == place == "actuator":
            return True
        if {kind.place, place} == {"supply", "clock"}:
            return True
    return False
