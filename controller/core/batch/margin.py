"""How far a batch is from its limit of degree-hours, and what is said of it.

Warnings, alarms and the end of heat go by the guarded figure: every temperature taken as warmer by what the thermometer
may be wrong by, against the limit of the highest temperature with the same added. A critical limit is to be set by the
accuracy of the thermometer: FSIS Cooking Guideline (2021), "Monitoring, Calibration, and Recordkeeping".

Both rules are always counted and shown; the chamber file says which of them binds.
"""

from math import inf
from typing import Final, Literal

from msgspec import Struct

from controller.core.alarms.message import clock_utc as instant_utc
from controller.core.batch.blind import tell_uncounted
from controller.core.memory import Batch
from controller.core.plan import Chamber
from controller.food.degree_hours import BASE_C, BINDING, CANADA, US, hours_left, limit_for, verdict

HOUR_S: Final = 3600.0
FARTHEST_H: Final = 60.0 * 24.0
"""No ferment lasts so long; common practice, no source."""
OVER: Final = "do not taste; hold the batch; a laboratory test and a competent person decide"
"""CFIA, Meat Hygiene Manual of Procedures, 4.16.2.2 (archived, read second-hand): a batch over the limit is held and
tested; the toxin outlasts cooking. In the words of this house."""
LEAST_F: Final = min(band.limit for band in US.bands)
LEAST_C: Final = min(band.limit for band in CANADA.bands)
NOT_KNOWN: Final = "degree-hours not known: no temperature of the air around the meat is known; hold it and measure"
NO_PROTECTION: Final = "this rule protects nothing here"


class Margin(Struct, frozen=True, gc=False):
    """Hold where a batch stands by one rule, in the rule's own unit.

    Attributes:
        rule: `us` or `canada`.
        unit: F or C.
        used: degree-hours as the thermometer showed them.
        limit: by the highest temperature as shown; None before the first.
        guarded: degree-hours with the thermometer's error added.
        guarded_limit: by the highest temperature with the error added.
        over: whether the guarded figure is over its limit.
    """

    rule: Literal["us", "canada"]
    unit: Literal["F", "C"]
    used: float
    limit: float
    guarded: float
    guarded_limit: float
    over: bool

    @property
    def share(self) -> float:
        """Return which part of the guarded limit is used up; more than 1 is over."""
        return self.guarded / self.guarded_limit if self.guarded_limit > 0.0 else inf


def margins(batch: Batch, error_k: float) -> tuple[Margin, Margin]:
    """Return where the batch stands by the US rule and by the Canadian one."""
    return (
        _margin("us", batch, batch.degree_hours_f, batch.guarded_f, error_k),
        _margin("canada", batch, batch.degree_hours_c, batch.guarded_c, error_k),
    )


def _margin(name: Literal["us", "canada"], batch: Batch, used: float, guarded: float, error_k: float) -> Margin:
    rule = US if name == "us" else CANADA
    highest_c = batch.highest_air_c
    if highest_c is None:
        highest_c = batch.stage.air_temp_c if batch.stage.air_temp_c is not None else 0.0
    limit, guarded_limit = limit_for(rule, highest_c), limit_for(rule, highest_c + error_k)
    over = verdict(rule, guarded, highest_c + error_k) == "over"
    return Margin(name, rule.unit, used, limit, guarded, guarded_limit, over)


def guard_k(batch: Batch, chamber: Chamber) -> float:
    """Return what is added to each temperature of this batch, in K: as the chamber file says, or as a check found."""
    return max(chamber.air_error_k, batch.found_error_k)


def binding(batch: Batch, chamber: Chamber) -> Margin:
    """Return the margin of the rule that binds; where both do, of the one that is used up more."""
    us, canada = margins(batch, guard_k(batch, chamber))
    if chamber.degree_hours_rule == "both":
        return us if us.share >= canada.share else canada
    return us if chamber.degree_hours_rule == "us" else canada


def is_past_limit(batch: Batch, chamber: Chamber) -> bool:
    """Say whether the batch is over the degree-hours of a rule that binds, and nobody has said go on all the same."""
    if batch.hung_s is None or batch.over_accepted:
        return False
    return is_over_limit(batch, chamber)


def is_held_over(batch: Batch) -> bool:
    """Say whether the batch was paused for its degree-hours, and nobody has said go on with a reason since.

    A correction may have lowered the count: it goes on by a person's reason all the same.
    """
    return batch.state == "held" and OVER in batch.held_because


def forbids_heat(batch: Batch, chamber: Chamber) -> bool:
    """Say whether no heat may come near: it hangs in the chamber and is or was over, and nobody has decided."""
    return batch.in_chamber and (is_held_over(batch) or is_past_limit(batch, chamber))


def is_over_limit(batch: Batch, chamber: Chamber) -> bool:
    """Say whether the batch is over the degree-hours of a rule that binds, whatever a person said."""
    if batch.guarded_f < LEAST_F and batch.guarded_c < LEAST_C:
        return False  # Asked in each tick of weeks of drying; no limit is lower than these.
    us, canada = margins(batch, guard_k(batch, chamber))
    return {"us": us.over, "canada": canada.over, "both": us.over or canada.over}[chamber.degree_hours_rule]


def hours_to_limit(batch: Batch, chamber: Chamber, temp_c: float | None) -> float:
    """Return the hours until a rule that binds is used up at this temperature; infinite where it never is.

    The thermometer's error is added to the temperature. Infinite too where no temperature is known, pH 5.3 has been
    measured, or it lies farther than a clock can tell: a hair above the base it would be years.
    """
    if temp_c is None or batch.passed_5_3 or batch.state == "complete":
        return inf
    highest_c = batch.highest_air_c
    warmest_c = temp_c if highest_c is None else max(temp_c, highest_c)
    error_k = guard_k(batch, chamber)
    hours = min(
        hours_left(
            rule, batch.guarded_f if rule.unit == "F" else batch.guarded_c, temp_c + error_k, warmest_c + error_k
        )
        for rule in BINDING[chamber.degree_hours_rule]
    )
    return hours if hours <= FARTHEST_H else inf


def below_base(temp_c: float | None) -> bool:
    """Say whether degree-hours count nothing worth the name at this temperature: 15.6 °C (60 °F) or less."""
    return temp_c is not None and round(temp_c, 1) <= BASE_C


def tell_below_base(batch: Batch) -> str:
    """Return what is said of a ferment so cool that degree-hours count nothing: the days are its only bound."""
    days_h = batch.stage.at_most_h
    bound = "" if days_h is None else f"; at most {days_h / 24.0:.1f} days in this stage"
    return f"at or below 15.6 °C (60 °F) no degree-hours are counted: {NO_PROTECTION}{bound}"


def tell_margin(margin: Margin) -> str:
    """Return how much of the limit is used, with the thermometer's error and without."""
    return (
        f"{margin.guarded:.0f} of {margin.guarded_limit:.0f} degree-hours (°{margin.unit}) used, "
        f"with the thermometer's error added; {margin.used:.0f} as measured"
    )


def tell_limit_time(batch: Batch, chamber: Chamber, temp_c: float | None, wall_s: float) -> str:
    """Return when the limit is reached if nothing changes, by the clock in UTC; empty where it never is."""
    hours = hours_to_limit(batch, chamber, temp_c)
    if hours == inf or batch.hung_s is None:
        return ""
    if hours <= 0.0:
        return "the limit is reached"
    return f"limit reached at {clock_utc(wall_s, hours)}, in {hours:.1f} h, if nothing changes"


def clock_utc(wall_s: float, hours: float) -> str:
    """Return date and clock in UTC so many hours later: `core` knows no other; what shows it makes local time of it."""
    return instant_utc(wall_s + hours * HOUR_S)


def air_now_c(batch: Batch, air_temp_c: float | None) -> float | None:
    """Return the temperature to reckon on with: in the chamber the higher of measured and wanted, elsewhere the wanted.

    Right after hanging the air is still cool, and the hours reckoned from it would be too many. A batch that is paused
    gets no heat. None where nothing is measured.
    """
    wanted_c = batch.stage.air_temp_c
    if batch.stage.where != "chamber":
        return wanted_c
    if air_temp_c is None or wanted_c is None or batch.state == "held":
        return air_temp_c
    return max(air_temp_c, wanted_c)


def tell_counting(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> str:
    """Return one sentence on the degree-hours of a batch whose pH 5.3 has not been measured; empty else."""
    if batch.hung_s is None or batch.passed_5_3 or batch.state == "complete":
        return ""
    temp_c = air_now_c(batch, air_temp_c)
    if batch.highest_air_c is None and temp_c is None:
        return NOT_KNOWN
    parts = [tell_margin(binding(batch, chamber))]
    parts += [lacks] if (lacks := tell_uncounted(batch)) else []
    limit = tell_limit_time(batch, chamber, temp_c, wall_s)
    parts += [limit] if limit else []
    if below_base(temp_c):
        parts.append(tell_below_base(batch))
    return "; ".join(parts)
