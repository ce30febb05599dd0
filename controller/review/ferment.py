"""Judge the degree-hours of a ferment, which `logs.heat` counts along its climate rows."""

from collections.abc import Sequence
from typing import Any, Final

from msgspec import Struct

from controller.core.plan import DegreeHoursRule
from controller.food.degree_hours import (
    BINDING,
    CANADA,
    RULES,
    US,
    limit_for,
    verdict,
)
from controller.review.batch import BatchRecord
from controller.review.logs.heat import Counted, Counting, points_of

UNDER_PCT: Final = 5.0
"""A margin that is smaller is pointed at; common practice, no source."""


class DegreeHours(Struct, frozen=True):
    """Hold the totals of both rules, each in its own unit, and what they are judged by."""

    fahrenheit: float
    celsius: float
    highest_c: float | None
    rules_within: tuple[bool, bool]  # US, Canada.


def judged(total: Counted) -> DegreeHours:
    """Return totals with the word of each rule on them."""
    if total.highest_c is None:
        return DegreeHours(0.0, 0.0, None, (True, True))
    us, canada = (
        verdict(rule, used, total.highest_c) == "within"
        for rule, used in ((US, total.fahrenheit), (CANADA, total.celsius))
    )
    return DegreeHours(total.fahrenheit, total.celsius, total.highest_c, (us, canada))


def degree_hours_at(record: BatchRecord, begin_s: float, instants_s: Sequence[float]) -> list[Counted]:
    """Return the degree-hours from hanging up to each of these instants, as the review counts them.

    Args:
        record: what was recorded.
        begin_s: when the meat was hung.
        instants_s: seconds since 1970 UTC; behind the last row its temperature holds on.
    """
    counts = [Counting(begin_s, at_s, record.every_s) for at_s in instants_s]
    for frame in record.log.frames():
        points = points_of(frame)
        for counting in counts:
            counting.feed(points)
    return [counting.total() for counting in counts]


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


def limits(highest_c: float | None) -> tuple[float | None, float | None]:
    """Return the limits of both rules for this highest temperature."""
    if highest_c is None:
        return None, None
    return limit_for(US, highest_c), limit_for(CANADA, highest_c)
