"""Each instrument with its last check, what that said, and when the next one is due."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from controller.cli.local import in_units
from controller.cli.say import fold, show_time
from controller.core.batch.care import GOOD, KINDS, WORDS, booked, dues
from controller.core.plan import Care, InstrumentKind
from controller.core.values import CheckEntry, InstrumentCheck
from controller.errors import AccessError, DataError
from controller.food.checks.instruments import spoken_k
from controller.records.instruments import read_checks
from controller.settings.chamber_tables import ChamberFile
from controller.settings.instrument_care import care_of
from controller.settings.units import Units

HOW: Final = {"ice": "in ice", "salt": "over", "buffers": "in buffers", "reference": "beside a better one"}


@dataclass(frozen=True, slots=True)
class Line:
    """Hold one instrument: its newest check, when it was last found good, and when it is due; None: never."""

    instrument: str
    kind: InstrumentKind
    last: CheckEntry | None
    good_wall_s: float | None
    due_wall_s: float | None
    overdue: bool


@dataclass(frozen=True, slots=True)
class Checks:
    """Hold what the record of checks says; `trouble` is why it could not be read, else empty."""

    care: Care
    lines: tuple[Line, ...]
    trouble: str


def read_lines(file: ChamberFile, now_s: float) -> Checks:
    """Read the record of checks of a chamber; where there is none yet, nothing has been checked."""
    trouble, entries = "", list[CheckEntry]()
    try:
        entries = read_checks(Path(file.state_dir))
    except (AccessError, DataError) as error:
        trouble = str(error)
    care = care_of(file)
    checked: dict[str, float] = {}
    last: dict[str, CheckEntry] = {}
    for entry in entries:
        name = entry.check.instrument
        checked = booked(checked, entry.check, entry.at_wall_s)
        if name not in last or entry.at_wall_s >= last[name].at_wall_s:
            last[name] = entry
    lines = [
        Line(
            due.instrument,
            due.kind,
            last.pop(due.instrument, None),
            due.good_wall_s,
            due.due_wall_s,
            due.due_wall_s is None or due.due_wall_s < now_s,
        )
        for due in dues(checked, care)
    ]
    kinds = {name: KINDS.get(name.split(maxsplit=1)[0]) for name in last if name not in WORDS}
    lines += [
        Line(name, kind, last[name], None, None, overdue=True) for name, kind in kinds.items() if kind is not None
    ]
    return Checks(care, tuple(lines), trouble)


def tell_checks(checks: Checks, timezone: str, units: Units) -> Iterator[str]:
    """Yield one entry for each instrument, at most 80 columns wide."""
    care = checks.care
    yield from fold(
        f"Wanted: thermometers before first use and every {care.thermometer_days:g} days, humidity sensors every "
        f"{care.humidity_days:g} days, a pH meter every {_days(care.meter_days)} on which it is used.",
        "  ",
    )
    if checks.trouble:
        yield from fold(f"The record of checks could not be read: {checks.trouble}", "  ")
    for line in checks.lines:
        yield from fold(in_units(_describe(line, timezone), units), " " * 6, "  ")


def _days(days: float) -> str:
    return "day" if days == 1.0 else f"{days:g} days"


def _describe(line: Line, timezone: str) -> str:
    name = WORDS.get(line.instrument, line.instrument)
    if line.last is None:
        return f"{name}: never checked; OVERDUE."
    at = show_time(line.last.at_wall_s, timezone)
    said = f"{name}: {at} {_result(line.last.check)}"
    if line.due_wall_s is None:
        return f"{said}; OVERDUE: no good check."
    due = show_time(line.due_wall_s, timezone)
    if line.kind == "meter":
        return f"{said}; check it again before the next use." if line.overdue else f"{said}; holds until {due}."
    return f"{said}; was due {due}: OVERDUE." if line.overdue else f"{said}; due {due}."


def _result(check: InstrumentCheck) -> str:
    how = HOW[check.method] + (f" {check.points[0][0]}" if check.method == "salt" else "")
    figures = []
    if check.slope_pct is not None:
        figures.append(f"slope {check.slope_pct:.1f} %")
    elif check.offset is not None:
        is_humidity = check.unit == "%RH"
        figures.append(f"off by {-check.offset:+.1f} %RH" if is_humidity else f"off by {spoken_k(-check.offset)} K")
    if check.verdict != GOOD:
        if check.verdict.startswith("off by"):
            figures.clear()  # The verdict says it.
        return f"{how}: {''.join(f'{one}, ' for one in figures)}NOT good ({check.verdict})"
    return f"{how}: {', '.join(figures)}, good"


def as_list(checks: Checks) -> list[dict[str, object]]:
    """Return the same for programs; instants in seconds since 1970 UTC."""
    return [
        {
            "instrument": line.instrument,
            "kind": line.kind,
            "last": line.last,
            "good_wall_s": line.good_wall_s,
            "due_wall_s": line.due_wall_s,
            "overdue": line.overdue,
        }
        for line in checks.lines
    ]
