"""Reckon the degree-hours of a ferment from its climate rows.

The temperature between two rows is the straight line between them. Where rows are missing, or without a good
temperature, for more than two rows' time, the higher of the two neighbours is taken for the whole gap: an upper bound.
"""

from collections.abc import Sequence
from typing import Any, Final

from msgspec import Struct

from controller.core.plan import DegreeHoursRule
from controller.food.degree_hours import (
    BINDING,
    CANADA,
    RULES,
    US,
    Rule,
    accumulate,
    accumulate_between,
    limit_for,
    verdict,
)
from controller.review.batch import ClimateRow

HOUR_S: Final = 3600.0
GAP_ROWS: Final = 2.0
UNDER_PCT: Final = 5.0
"""A margin that is smaller is pointed at; common practice, no source."""


class DegreeHours(Struct, frozen=True):
    """Hold the totals of both rules, each in its own unit, and what they are judged by."""

    fahrenheit: float
    celsius: float
    highest_c: float | None
    rules_within: tuple[bool, bool]  # US, Canada.


def timeline(
    rows: Sequence[ClimateRow], every_s: float, bounded: Sequence[tuple[float, float]] = ()
) -> list[tuple[float, float, float]]:
    """Return (time on the wall, time that only grows, temperature) of the rows with a good temperature.

    Where the clock on the wall went back, one row's time is taken to have passed.

    Args:
        rows: oldest first.
        every_s: the length of a row.
        bounded: gaps that no row shows, for the clock stood still in them: when they were over, and their seconds.
    """
    points = []
    offset_s, last_s = 0.0, None
    waiting = sorted(bounded, reverse=True)
    for row in rows:
        while waiting and row.time_s >= waiting[-1][0]:
            offset_s += waiting.pop()[1]
        if last_s is not None and row.time_s <= last_s:
            offset_s += last_s + every_s - row.time_s
        last_s = row.time_s
        if row.air_temp_c is not None:
            points.append((row.time_s, row.time_s + offset_s, row.air_temp_c))
    return points


def degree_hours(
    points: Sequence[tuple[float, float, float]],
    begin_s: float,
    end_s: float | None,
    every_s: float,
    *,
    add_k: float = 0.0,
) -> DegreeHours:
    """Reckon from hanging to the first reading at or below pH 5.3, or to the last row where there is none yet.

    Args:
        points: the timeline.
        begin_s: when the meat was hung, by the clock on the wall.
        end_s: when that reading was taken; None while there is none.
        every_s: the length of a row.
        add_k: what is added to every temperature.
    """
    fahrenheit = celsius = 0.0
    highest_c: float | None = None
    for hours, from_c, to_c, mean_c in _pieces(points, begin_s, end_s, every_s):
        if from_c == to_c:
            fahrenheit += accumulate(US, from_c + add_k, hours)
            celsius += accumulate(CANADA, from_c + add_k, hours)
        else:
            fahrenheit += accumulate_between(US, from_c + add_k, to_c + add_k, hours)
            celsius += accumulate_between(CANADA, from_c + add_k, to_c + add_k, hours)
        highest_c = mean_c if highest_c is None else max(highest_c, mean_c)
    if highest_c is None:
        return DegreeHours(0.0, 0.0, None, (True, True))
    highest_c += add_k
    within = tuple(_within(rule, used, highest_c) for rule, used in ((US, fahrenheit), (CANADA, celsius)))
    return DegreeHours(fahrenheit, celsius, highest_c, (within[0], within[1]))


def guarded_figures(
    used: DegreeHours, rule: DegreeHoursRule, end_h: float | None, untold_gaps: int, *, is_missing: bool = False
) -> dict[str, Any]:
    """Return the guarded figures of a ferment, in keys of their own: what warnings and alarms go by.

    Each temperature has the thermometer's error added, and counting ends with the first pH that is at or below 5.3 with
    the meter's error added: FSIS Cooking Guideline (2021), "Monitoring, Calibration, and Recordkeeping", has a critical
    limit set by the accuracy of the instrument.

    Args:
        used: reckoned with both errors.
        rule: which rule binds.
        end_h: hours from hanging to that pH; None while there is none.
        untold_gaps: gaps of unknown length before it: with one the total is no upper bound, and the verdict open.
        is_missing: whether rows lack behind the last one or before the first: the verdict is open then, too.
    """
    limit_f, limit_c = limits(used.highest_c)
    over = any(not within for within, one in zip(used.rules_within, RULES, strict=True) if one in BINDING[rule])
    return {
        "rule": rule,
        "untold_gaps": untold_gaps,
        "guarded_degree_hours_f": round(used.fahrenheit, 1),
        "guarded_limit_f": limit_f,
        "guarded_degree_hours_c": round(used.celsius, 1),
        "guarded_limit_c": limit_c,
        "guarded_verdict": "over" if over else "open" if end_h is None or untold_gaps or is_missing else "within",
        "hours_to_ph_5_3_guarded": None if end_h is None else round(end_h, 3),
        "margin": _margin(used, rule),
    }


def _margin(used: DegreeHours, rule: DegreeHoursRule) -> dict[str, Any] | None:
    """Return what the guarded figure leaves of the limit, by the rule that binds and is used up most; None without."""
    if used.highest_c is None:
        return None
    left = []
    for one, total in zip(RULES, (used.fahrenheit, used.celsius), strict=True):
        limit = limit_for(one, used.highest_c)
        if one in BINDING[rule]:
            left.append((100.0 * (limit - total) / limit, limit - total, one))
    pct, hours, tightest = min(left, key=lambda item: item[0])
    return {
        "rule": "us" if tightest is US else "canada",
        "unit": tightest.unit,
        "left": round(hours, 1),
        "left_pct": round(pct, 1),
        "small": pct < UNDER_PCT,
    }


def _within(rule: Rule, used: float, highest_c: float) -> bool:
    return verdict(rule, used, highest_c) == "within"


def limits(highest_c: float | None) -> tuple[float | None, float | None]:
    """Return the limits of both rules for this highest temperature."""
    if highest_c is None:
        return None, None
    return limit_for(US, highest_c), limit_for(CANADA, highest_c)


def _pieces(
    points: Sequence[tuple[float, float, float]], begin_s: float, end_s: float | None, every_s: float
) -> list[tuple[float, float, float, float]]:
    """Cut the time from begin to end into pieces: (hours, temperature from, to, highest minute mean of it)."""
    if not points:
        return []
    first = next((place for place, point in enumerate(points) if point[0] > begin_s), len(points))
    if first == len(points):
        held_c = points[-1][2]
        return [] if end_s is None or end_s <= begin_s else [((end_s - begin_s) / HOUR_S, held_c, held_c, held_c)]
    begin = points[first][1] - (points[first][0] - begin_s)
    last = (
        len(points) - 1
        if end_s is None
        else next((place for place in range(first, len(points)) if points[place][0] >= end_s), len(points) - 1)
    )
    end = points[last][1] if end_s is None else points[last][1] - (points[last][0] - end_s)
    pieces = []
    before = points[first - 1] if first else (begin_s, begin, points[first][2])
    for point in points[first : last + 1]:
        pieces += _between(before, point, begin, end, every_s)
        before = point
    if end > before[1]:
        pieces.append(((end - before[1]) / HOUR_S, before[2], before[2], before[2]))
    return pieces


def _between(
    before: tuple[float, float, float], point: tuple[float, float, float], begin: float, end: float, every_s: float
) -> list[tuple[float, float, float, float]]:
    """Return the part of the way from one row to the next that lies between begin and end."""
    lasts_s = point[1] - before[1]
    from_s, to_s = max(before[1], begin), min(point[1], end)
    if to_s <= from_s or lasts_s <= 0.0:
        return []
    hours = (to_s - from_s) / HOUR_S
    if lasts_s > GAP_ROWS * every_s:
        higher_c = max(before[2], point[2])
        return [(hours, higher_c, higher_c, higher_c)]
    slope = (point[2] - before[2]) / lasts_s
    from_c, to_c = before[2] + slope * (from_s - before[1]), before[2] + slope * (to_s - before[1])
    return [(hours, from_c, to_c, point[2])]
