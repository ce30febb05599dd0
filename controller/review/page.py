"""Put a review on a page of 80 columns for the terminal."""

import textwrap
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal
from zoneinfo import ZoneInfo

from controller.review.batch import read_batch
from controller.review.figures import review_of

WIDTH: Final = 80
STATES: Final = {
    "idle": "idle",
    "running": "running",
    "suspended": "waits by itself",
    "held": "paused, waits for a person",
    "stopped": "ended before its time",
    "aborted": "given up",
    "complete": "complete",
}
ENDS: Final = {"until": "its end was reached", "person": "ended by a person", "hang": "the meat was hung"}
VERDICTS: Final = {
    "within": "within the limits",
    "over": "OVER the limit: do not taste; hold the batch; a laboratory test and a competent person decide",
    "open": "open: no pH at or below 5.3 has been measured yet",
}
NOT_KNOWN: Final = (
    "NOT KNOWN from this record: climate is missing between hanging and pH 5.3. Whoever decides needs another record "
    "of it, or takes the batch for one that is over its limit"
)
Units = Literal["C", "F"]


def page(folder: Path) -> list[str]:
    """Return the lines of a batch's review, for reading; temperatures in the units of its chamber.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged.
    """
    record = read_batch(folder)
    return page_of(review_of(record), record.card.chamber.units)


def page_of(figures: Mapping[str, Any], units: Units = "C") -> list[str]:
    """Return the lines that tell what `review` found."""
    zone = ZoneInfo(figures["timezone"])
    lines = [
        f"{figures['batch']}: {figures['title']}",
        f"State: {STATES.get(figures['state'], figures['state'])}. Times are local ({figures['timezone']}).",
        *(f"RECORD: {said}." for said in figures["damage"]),
        "",
    ]
    for stage in figures["stages"]:
        lines += [*_stage(stage, units, zone), ""]
    lines += [*_ferment(figures["ferment"], units), "", *_measured(figures), "", *_record(figures, zone)]
    return [line for text in lines for line in _fold(text)]


def _fold(text: str) -> list[str]:
    indent = " " * (len(text) - len(text.lstrip()))
    return textwrap.wrap(text, WIDTH, subsequent_indent=f"{indent}  ", break_on_hyphens=False) or [""]


def _temp(temp_c: float | None, units: Units) -> str:
    if temp_c is None:
        return "unknown"
    return f"{temp_c:.1f} °C" if units == "C" else f"{temp_c * 1.8 + 32.0:.1f} °F"


def _pct(value: float | None, decimals: int = 0) -> str:
    return "unknown" if value is None else f"{value:.{decimals}f} %"


def _stage(stage: Mapping[str, Any], units: Units, zone: ZoneInfo) -> list[str]:
    place = "" if stage["where"] == "chamber" else ", elsewhere"
    end = "goes on" if not stage["over"] else "is over; when, is on no record"
    if stage["ended"] is not None:
        end = f"ended {_minute(stage['ended'], zone)}"
    why = f" ({ENDS.get(stage['by'], stage['by'])})" if stage["by"] else ""
    lines = [f"{stage['name']} ({stage['kind']}{place}): {stage['hours']:.1f} h"]
    lines.append(f"  began {_minute(stage['began'], zone)}, {end}{why}")
    air, humid = stage["air_temp_c"], stage["rh_pct"]
    if air["mean"] is not None:
        near = _near(air["within_pct"], "0.5 K" if units == "C" else "0.9 °F")
        lines.append(
            f"  air {_temp(air['mean'], units)} ({_temp(air['min'], units)} to {_temp(air['max'], units)}){near}"
        )
    if humid["mean"] is not None:
        near = _near(humid["within_pct"], "4 %")
        lines.append(f"  humidity {_pct(humid['mean'])} ({_pct(humid['min'])} to {_pct(humid['max'])}){near}")
    if not stage["rows"] and stage["where"] == "chamber":
        lines.append("  no climate of it is on record")
    left_out = stage["rows"] - stage["rows_counted"]
    if left_out:
        got = "before it got there, left out" if stage["rows_counted"] else "it did not get there"
        lines.append(f"  {left_out} of {stage['rows']} minutes: {got}")
    if stage["switches"]:
        lines.append("  switched on: " + ", ".join(f"{role} {count}" for role, count in stage["switches"].items()))
    return lines


def _near(within_pct: float | None, band: str) -> str:
    return "" if within_pct is None else f", {_pct(within_pct)} of the minutes within {band}"


def _minute(time: str, zone: ZoneInfo) -> str:
    return f"{datetime.fromisoformat(time).astimezone(zone):%Y-%m-%d %H:%M}"


def _ferment(ferment: Mapping[str, Any], units: Units) -> list[str]:
    if ferment["limit_f"] is None:
        return [f"Degree-hours: {NOT_KNOWN if ferment['climate_missing'] else 'nothing to count yet'}"]
    hours, guarded = ferment["hours_to_ph_5_3"], ferment["guarded"]
    us = f"US {ferment['degree_hours_f']:.0f} of {ferment['limit_f']:.0f} °F·h"
    canada = f"Canada {ferment['degree_hours_c']:.0f} of {ferment['limit_c']:.0f} °C·h"
    error_k = guarded["sensor_error_k"]
    off = f"{error_k:g} K" if units == "C" else f"{round(1.8 * error_k, 2):g} °F"
    error = f"with the thermometer's error of {off} added"
    totals = f"{guarded['degree_hours_f']:.0f} °F·h, {guarded['degree_hours_c']:.0f} °C·h"
    reached = "pH 5.3 not reached" if hours is None else f"pH 5.3 after {hours:.1f} h"
    missing = ferment["climate_missing"]
    said, guarded_said = (
        NOT_KNOWN if missing and one["verdict"] != "over" else VERDICTS[one["verdict"]] for one in (ferment, guarded)
    )
    return [
        f"Degree-hours: {said}",
        f"  {'so far as there are rows: ' if missing else ''}{us}, {canada}",
        f"  {error}: {totals}{'' if missing and guarded['verdict'] != 'over' else f': {guarded_said}'}",
        f"  highest minute {_temp(ferment['highest_air_temp_c'], units)}; {reached}",
    ]


def _measured(figures: Mapping[str, Any]) -> list[str]:
    ph, loss_pct = figures["ph"], figures["weight_loss_pct"]
    first = "pH: not measured with a meter"
    if ph["first"] is not None:
        first = f"pH: first {ph['first']:.2f}, last {ph['last']:.2f}, lowest {ph['lowest']:.2f}"
    return [first, "Weight loss: " + ("not known" if loss_pct is None else f"{loss_pct:.1f} % (the slowest piece)")]


def _times(count: int) -> str:
    return f"{count} time{'' if count == 1 else 's'}"


def _of_alarms(alarms: Mapping[str, Any]) -> list[str]:
    """Return how they behaved; nothing where there was none."""
    if not alarms["total"]:
        return []
    called, most = _times(alarms["annunciations"]), _times(alarms["most_in_10_min"])
    lasted = f"the longest alarm lasted {alarms['longest_active_h']:.1f} h"
    unseen = f"one was unseen for {alarms['longest_unseen_h']:.1f} h"
    lines = [
        f"  they called {called} ({alarms['per_day']:.1f} a day), at most {most} in ten minutes",
        f"  something was wrong for {alarms['active_h']:.1f} h in all; {lasted}, and {unseen}",
    ]
    if alarms["floods"]:
        lines.append(f"  too many at once (more than five in ten minutes): {_times(alarms['floods'])}")
    if alarms["chattering"]:
        lines.append(f"  came and went three times in a minute: {alarms['chattering']}")
    if alarms["open"]:
        lines.append(f"  still there at the end of the record: {', '.join(alarms['open'])}")
    return lines


def _record(figures: Mapping[str, Any], zone: ZoneInfo) -> list[str]:
    alarms = figures["alarms"]
    by = ", ".join(f"{count} of priority {priority}" for priority, count in alarms["by_priority"].items())
    lines = [f"Alarms: {alarms['total']}" + (f" ({by})" if by else ""), *_of_alarms(alarms)]
    lines += [
        f"Gap: {_minute(gap['from'], zone)} to {_minute(gap['to'], zone)}, {gap['hours']:.1f} h"
        for gap in figures["gaps"]
    ]
    damaged = f", {figures['damaged_rows']} damaged" if figures["damaged_rows"] else ""
    lines.append(f"Rows of climate: {figures['rows']}{damaged}")
    return lines
