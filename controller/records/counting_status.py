"""Tell of one batch how its degree-hours stand, and until when pH 5.3 has to come."""

from math import isfinite
from typing import Literal

from msgspec import Struct

from controller.core.batch.blind import tell_uncounted
from controller.core.batch.margin import (
    Margin,
    air_now_c,
    below_base,
    binding,
    guard_k,
    hours_to_limit,
    is_over_limit,
    margins,
)
from controller.core.memory import Batch
from controller.core.plan import Chamber, DegreeHoursRule

HOUR_S = 3600.0


class CountingStatus(Struct, frozen=True, kw_only=True):
    """Hold both rules side by side, and what the one that binds comes to. Instants in seconds since 1970 UTC.

    Attributes:
        rule: which rule binds, as the chamber file says.
        us: in °F; `guarded` has the thermometer's error added.
        canada: in °C.
        leads: the rule that is used up more of those that bind.
        over: a rule that binds is over.
        over_accepted: a person has said go on all the same.
        ended: pH 5.3 has been measured, nothing is counted any more.
        limit_wall_s: when the limit is reached at the present temperature; None where it never is.
        latest_5_3_wall_s: the same at the wanted temperature where that is warmer: by then pH 5.3 has to be measured.
        latest_5_3_h: hours from hanging for it, before the meat was hung.
        protects_nothing: the stage is so cool that no degree-hours are counted.
        at_most_days: the stage's only bound then.
        uncounted: what the degree-hours lack, in words; empty where nothing.
    """

    rule: DegreeHoursRule
    us: Margin
    canada: Margin
    leads: Literal["us", "canada"]
    over: bool
    over_accepted: bool
    ended: bool
    limit_wall_s: float | None
    latest_5_3_wall_s: float | None
    latest_5_3_h: float | None
    protects_nothing: bool
    at_most_days: float | None
    error_k: float
    uncounted: str = ""


def counting_of(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> CountingStatus:
    """Return how the degree-hours of this batch stand now."""
    us, canada = margins(batch, guard_k(batch, chamber))
    ferment = next((stage for stage in batch.profile.stages if stage.kind == "ferment"), None)
    wanted_c = batch.stage.air_temp_c if batch.stage.kind == "ferment" or ferment is None else ferment.air_temp_c
    now_c = air_now_c(batch, air_temp_c)
    warmest_c = max((temp_c for temp_c in (now_c, batch.stage.air_temp_c) if temp_c is not None), default=None)
    at_most_h = None if ferment is None else ferment.at_most_h
    hung = batch.hung_s is not None
    return CountingStatus(
        rule=chamber.degree_hours_rule,
        us=us,
        canada=canada,
        leads=binding(batch, chamber).rule,
        over=hung and is_over_limit(batch, chamber),
        over_accepted=batch.over_accepted,
        ended=batch.passed_5_3,
        limit_wall_s=_wall_s(hours_to_limit(batch, chamber, now_c), wall_s) if hung else None,
        latest_5_3_wall_s=_wall_s(hours_to_limit(batch, chamber, warmest_c), wall_s) if hung else None,
        latest_5_3_h=_finite(hours_to_limit(batch, chamber, wanted_c)) if not hung and ferment is not None else None,
        protects_nothing=ferment is not None and not batch.passed_5_3 and below_base(wanted_c),
        at_most_days=None if at_most_h is None else at_most_h / 24.0,
        error_k=guard_k(batch, chamber),
        uncounted=tell_uncounted(batch),
    )


def _finite(hours: float) -> float | None:
    return hours if isfinite(hours) else None


def _wall_s(hours: float, wall_s: float) -> float | None:
    return wall_s + hours * HOUR_S if isfinite(hours) else None
