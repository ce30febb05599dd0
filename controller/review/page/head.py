"""The top of the page: what this batch is, its state, what is wrong with its record, the few figures that matter."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from controller.review.page.stages import humid_share
from controller.review.page.tables import Column, table
from controller.review.page.words import Look, lasted, many, pct

STATES: Final = {
    "idle": "idle",
    "running": "running",
    "suspended": "waits by itself",
    "held": "paused, waits for a person",
    "stopped": "ended before its time",
    "aborted": "given up",
    "complete": "complete",
}
VERDICTS: Final = {
    "within": "within the limits",
    "over": "OVER the limit: do not taste; hold the batch; a laboratory test and a competent person decide",
    "open": "open: no pH at or below 5.3 has been measured yet",
}
NOT_KNOWN: Final = (
    "NOT KNOWN from this record: climate is missing between hanging and pH 5.3. Whoever decides needs another record "
    "of it, or takes the batch for one that is over its limit"
)
DONE: Final = frozenset({"stopped", "aborted", "complete"})
URGENT: Final = "1"


def head(figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield what the batch is, how it stands, and each thing that is wrong with its record."""
    yield f"{figures['batch']}: {figures['title']}"
    yield f"State: {STATES.get(figures['state'], figures['state'])}. Times are local ({figures['timezone']})."
    for said in figures["damage"]:
        yield f"RECORD: {said}."
    damaged = figures["forecasts"]["damaged"]
    if damaged:
        yield f"RECORD: {many(damaged, 'row')} of forecasts.csv cannot be read and {_is(damaged)} left out."


def _is(count: int) -> str:
    return "is" if count == 1 else "are"


def first_figures(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the figures that matter first."""
    said = [
        ("Batch", _what(figures, look)),
        ("pH", _ph(figures, look)),
        *_degree_hours(figures["ferment"], look),
        ("Weight loss", _loss(figures)),
        *_in_band(figures, look),
        ("Alarms", _alarms(figures)),
    ]
    return ["What matters first", *table([Column("", most=16), Column("")], said)[1:]]


def _what(figures: Mapping[str, Any], look: Look) -> str:
    """Return how much hangs, and where the batch is while it is not over."""
    size = look.say(f"{figures['meat_kg']:.1f} kg of meat, casing {figures['diameter_mm']:.0f} mm")
    paused_h = sum(one["hours"] for one in figures["pauses"])
    if paused_h:
        size += f"; paused for {lasted(paused_h)} in all"
    if figures["state"] in DONE or not figures["stages"]:
        return size
    stage = figures["stages"][-1]
    return f"{size}; now in {stage['name']}, for {lasted(stage['hours'])} so far"


def _ph(figures: Mapping[str, Any], look: Look) -> str:
    ph, hours = figures["ph"], figures["ferment"]["hours_to_ph_5_3"]
    if ph["first"] is None:
        return "pH not measured with a meter"
    seen = f"first {ph['first']:.2f}, last {ph['last']:.2f}, lowest {ph['lowest']:.2f}"
    if hours is None:
        return f"pH 5.3 not reached; {seen}"
    since = "hanging" if figures["ferment"]["counted_from"] == "hang" else "the first row of the ferment"
    reached = next(
        (row for row in figures["ph_course"] if row["counts"] and row["hours"] is not None
         and abs(row["hours"] - hours) < 1e-3),  # noqa: PLR2004 - both are rounded to thousandths
        None,
    )  # fmt: skip
    when = f", {look.minute(reached['time'])}" if reached is not None else ""
    return f"pH 5.3 after {hours:.1f} h from {since}{when}; {seen}"


def _degree_hours(ferment: Mapping[str, Any], look: Look) -> list[tuple[str, str]]:
    if ferment["limit_f"] is None:
        return [("Degree-hours", NOT_KNOWN if ferment["climate_missing"] else "nothing to count yet")]
    guarded, missing = ferment["guarded"], ferment["climate_missing"]
    us = f"US {ferment['degree_hours_f']:.0f} of {ferment['limit_f']:.0f} °F·h"
    canada = f"Canada {ferment['degree_hours_c']:.0f} of {ferment['limit_c']:.0f} °C·h"
    off = look.apart(guarded["sensor_error_k"]).replace(".0 ", " ")
    totals = f"{guarded['degree_hours_f']:.0f} °F·h, {guarded['degree_hours_c']:.0f} °C·h"
    said, guarded_said = (
        NOT_KNOWN if missing and one["verdict"] != "over" else VERDICTS[one["verdict"]] for one in (ferment, guarded)
    )
    so_far = "so far as there are rows: " if missing else ""
    beside = "" if missing and guarded["verdict"] != "over" else f": {guarded_said}"
    lines = [
        ("Degree-hours", f"{said}"),
        ("", f"{so_far}{us}, {canada}; highest minute {look.temp(ferment['highest_air_temp_c'])}"),
        ("", f"with the thermometer's error of {off} added: {totals}{beside}"),
    ]
    return [*lines, *_margin(ferment)]


def _margin(ferment: Mapping[str, Any]) -> list[tuple[str, str]]:
    margin = ferment["margin"]
    if margin is None or ferment["climate_missing"] or margin["left"] < 0.0:
        return []
    rule = "US" if margin["rule"] == "us" else "Canada"
    small = ": little" if margin["small"] else ""
    left = f"margin {margin['left']:.0f} °{margin['unit']}·h ({margin['left_pct']:.0f} % of the limit, {rule})"
    return [("", f"{left}, with the errors of thermometer and meter added{small}")]


def _loss(figures: Mapping[str, Any]) -> str:
    loss_pct = figures["weight_loss_pct"]
    if loss_pct is None:
        return "not known" if figures["weight_course"] else "not weighed"
    after = max((row["hours"] for row in figures["weight_course"] if row["hours"] is not None), default=None)
    when = "" if after is None else f" after {lasted(after)}"
    wanted = [one["until"]["weight_loss_pct"] for one in figures["planned"] if one["until"]["weight_loss_pct"]]
    aim = f", {max(wanted):g} % wanted" if wanted else ""
    return f"{loss_pct:.1f} % (the slowest piece){when}{aim}"


def _in_band(figures: Mapping[str, Any], look: Look) -> list[tuple[str, str]]:
    """Return the share of minutes within the band, by stage, once the air had got there."""
    air = [f"{one['name']} {pct(one['air_temp_c']['within_pct'])}" for one in figures["stages"]
           if one["air_temp_c"]["within_pct"] is not None]  # fmt: skip
    humid = [
        f"{one['name']} {pct(share)}{'*' if is_at_least else ''}"
        for one in figures["stages"]
        for share, is_at_least in [humid_share(one)]
        if share is not None
    ]
    if not air and not humid:
        return [("Time in band", "nothing to tell yet: the air has not been where it was wanted")]
    lines = []
    if air:
        lines.append(f"air within {look.band}: {', '.join(air)} of the minutes")
    if humid:
        star = " (* at least)" if any(said.endswith("*") for said in humid) else ""
        lines.append(f"humidity within 4 %: {', '.join(humid)}{star}")
    return [("Time in band" if not place else "", line) for place, line in enumerate(lines)]


def _alarms(figures: Mapping[str, Any]) -> str:
    alarms = figures["alarms"]
    if not alarms["total"]:
        return "none"
    urgent = alarms["by_priority"].get(URGENT, 0)
    said = [f"{alarms['total']} ({urgent or 'none'} to act on now)"]
    said.append(f"the longest lasted {lasted(alarms['longest_active_h'])}")
    if alarms["open"]:
        said.append(f"still there: {', '.join(alarms['open'])}")
    return "; ".join(said)
