"""The care of instruments: which there are, when each was last found good, and when it is to be checked again."""

from collections.abc import Mapping
from typing import Final, NamedTuple

from controller.core.memory import Batch, LastCheck, Memory
from controller.core.plan import Care, InstrumentKind
from controller.core.values import InstrumentCheck

GOOD: Final = "good"
DAY_S: Final = 86_400.0

KINDS: Final[dict[str, InstrumentKind]] = {
    "air_temp": "thermometer",
    "air_temp_2": "thermometer",
    "core_temp": "thermometer",
    "ambient_temp": "thermometer",
    "evaporator_temp": "thermometer",
    "rh_temp": "thermometer",
    "rh": "humidity",
    "rh_2": "humidity",
    "probe": "thermometer",
    "thermometer": "thermometer",
    "hygrometer": "humidity",
    "meter": "meter",
}
"""The first word of an instrument's name says what it is; the first eight are fixed in the chamber."""
HAND_HELD: Final = ("meter", "probe", "thermometer", "hygrometer")
WORDS: Final[dict[str, str]] = {
    "air_temp": "air thermometer",
    "air_temp_2": "second air thermometer",
    "core_temp": "core probe",
    "ambient_temp": "room thermometer",
    "evaporator_temp": "evaporator's thermometer",
    "rh_temp": "thermometer in the humidity sensor",
    "rh": "humidity sensor",
    "rh_2": "second humidity sensor",
}


class Due(NamedTuple):
    """Hold when an instrument is to be checked again; None: it has had no good check, so before it is used."""

    instrument: str
    kind: InstrumentKind
    good_wall_s: float | None
    due_wall_s: float | None


def booked(checked_wall_s: Mapping[str, float], check: InstrumentCheck, at_wall_s: float) -> dict[str, float]:
    """Return when each instrument was last found good: a bad check takes away what an older good one said."""
    after = dict(checked_wall_s)
    if at_wall_s < after.get(check.instrument, at_wall_s):
        return after
    if check.verdict == GOOD:
        after[check.instrument] = at_wall_s
    else:
        after.pop(check.instrument, None)
    return after


def with_last_check(
    last_checks: Mapping[str, LastCheck], check: InstrumentCheck, at_wall_s: float
) -> dict[str, LastCheck]:
    """Return the newest check of each instrument with this one; an older one than is known changes nothing."""
    after = dict(last_checks)
    known = after.get(check.instrument)
    if known is None or at_wall_s >= known.at_wall_s:
        off = 0.0 if check.offset is None else abs(check.offset)
        after[check.instrument] = LastCheck(at_wall_s, round(check.error or 0.0, 2), off, check.verdict)
    return after


def last_meter_check(last_checks: Mapping[str, LastCheck], instrument: str) -> LastCheck | None:
    """Return the newest check that concerns this pH meter: a bare `meter` may be any of them, and any the bare one."""
    found = [
        check
        for name, check in last_checks.items()
        if name.split(maxsplit=1)[:1] == ["meter"] and (instrument == "meter" or name in {instrument, "meter"})
    ]
    return max(found, key=_when, default=None)


def _when(check: LastCheck) -> float:
    return check.at_wall_s


def found_air_error_k(last_checks: Mapping[str, LastCheck], allowed_k: float) -> float:
    """Return what the degree-hours have to allow for, in K: what the file allows, or more where a check found more."""
    last = last_checks.get("air_temp")
    return allowed_k if last is None or last.off <= allowed_k else max(allowed_k, last.error)


def dues(checked_wall_s: Mapping[str, float], care: Care) -> tuple[Due, ...]:
    """Return when each fixed sensor, and each instrument that has had a good check, is to be checked again."""
    names: list[str] = [*care.sensors, *sorted(name for name in checked_wall_s if name not in care.sensors)]
    every_days = {"thermometer": care.thermometer_days, "humidity": care.humidity_days, "meter": care.meter_days}
    found = []
    for name in names:
        kind = KINDS.get(name.partition(" ")[0])
        if kind is None or (name in WORDS and name not in care.sensors):
            continue  # A sensor that the chamber file does not have any more.
        good_s = checked_wall_s.get(name)
        found.append(Due(name, kind, good_s, None if good_s is None else good_s + every_days[kind] * DAY_S))
    return tuple(found)


def overdue(memory: Memory, care: Care, wall_s: float) -> tuple[str, ...]:
    """Return in words which instruments should have been checked by now; a pH meter only while a pH is waited for."""
    late = [
        due
        for due in dues(memory.checked_wall_s, care)
        if due.kind != "meter" and (due.due_wall_s is None or due.due_wall_s < wall_s)
    ]
    found = [f"{WORDS.get(due.instrument, due.instrument)} ({_last_good(due.good_wall_s, wall_s)})" for due in late]
    if is_wet_for_long(memory, care) and all(due.instrument != "rh" for due in late):
        found.append(f"{WORDS['rh']} ({memory.rh_wet_s / 3600.0:.0f} h in wet air since its last check)")
    if care.sensors and any(_waits_for_ph(batch) for batch in memory.batches):
        good_s = _newest_good(memory.checked_wall_s, "meter")
        if good_s is None or good_s + care.meter_days * DAY_S < wall_s:
            found.append(f"pH meter ({_last_good(good_s, wall_s)})")
    return tuple(found)


def _waits_for_ph(batch: Batch) -> bool:
    return (
        batch.open
        and batch.hung_s is not None
        and batch.state != "complete"
        and batch.stage.until.ph_at_most is not None
    )


def is_wet_for_long(memory: Memory, care: Care) -> bool:
    """Say whether the humidity sensor has been in wet air for so long that it has to be checked: such sensors creep up.

    SHT2x data sheet (December 2011), table 1, note 4: 60 h above 80 %RH may add 3 %RH, which goes back slowly.
    """
    return memory.rh_wet_s >= care.humidity_wet_h * 3600.0 and "rh" in care.sensors


def wet_words(memory: Memory) -> str:
    """Return what is asked of the humidity sensor at the change of a stage."""
    return (
        f"The humidity sensor was in wet air for {memory.rh_wet_s / 3600.0:.0f} h since it was last checked, and such "
        "sensors creep upwards there. Check it over a salt solution: hangroom calibrate."
    )


def found_overdue(memory: Memory, care: Care, wall_s: float) -> tuple[tuple[str, str], ...]:
    """Return the instruments whose last good check has become too old, each with its words.

    One that was never checked is no alarm: that is told on the page of the chamber, in the status and every day, and an
    alarm that is there from the first day says nothing. A pH meter counts only where a pH is called for.
    """
    ph_is_due = any(_waits_for_ph(batch) and batch.ph_due_since_s is not None for batch in memory.batches)
    return tuple(
        (due.instrument, f"{WORDS.get(due.instrument, due.instrument)}: {_last_good(due.good_wall_s, wall_s)}")
        for due in dues(memory.checked_wall_s, care)
        if due.due_wall_s is not None and due.due_wall_s < wall_s and (due.kind != "meter" or ph_is_due)
    )


def overdue_sentence(memory: Memory, care: Care, wall_s: float) -> str:
    """Return in a sentence or two what is overdue, and what the last check found bad; empty where nothing is."""
    found = overdue(memory, care, wall_s)
    bad = [WORDS.get(name, name) for name, check in memory.last_checks.items() if check.verdict != GOOD]
    said = [f"Check overdue: {', '.join(found)}."] if found else []
    said += [f"Found bad at the last check, and not checked since: {', '.join(sorted(bad))}."] if bad else []
    return " ".join(said)


def meter_note(memory: Memory, instrument: str, at_wall_s: float, meter_days: float = 1.0) -> str:
    """Return the sentence that a pH by this instrument calls for; empty for strips and for a meter found good that day.

    Args:
        memory: what checks there have been.
        instrument: as typed, `meter` or `meter 1`; a bare `meter` stands for whichever was checked last.
        at_wall_s: when the pH was measured. A check soon after the reading is as good as one before.
        meter_days: how long a good check holds, in days.
    """
    if instrument.split(maxsplit=1)[:1] != ["meter"]:
        return ""
    good_s = _newest_good(memory.checked_wall_s, instrument)
    if good_s is not None and abs(at_wall_s - good_s) <= meter_days * DAY_S:
        return ""
    return f"{instrument}: {_last_good(good_s, at_wall_s)}; check it in two buffers on each day of use (calibrate)."


def _newest_good(checked_wall_s: Mapping[str, float], instrument: str) -> float | None:
    if instrument != "meter":
        return checked_wall_s.get(instrument)
    meters = [at_s for name, at_s in checked_wall_s.items() if name.split(maxsplit=1)[0] == "meter"]
    return max(meters, default=None)


def _last_good(good_s: float | None, wall_s: float) -> str:
    if good_s is None:
        return "no good check yet"
    days = int((wall_s - good_s) / DAY_S)
    if days < 1:
        return "last good check today"
    return f"last good check {days} day{'s' if days > 1 else ''} ago"
