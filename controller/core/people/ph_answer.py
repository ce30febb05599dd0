"""What is said in answer to a pH: where it stands, what is used, when to measure next, what happens if nobody does."""

from math import inf

from controller.core.batch.blind import tell_uncounted
from controller.core.batch.margin import (
    OVER,
    air_now_c,
    below_base,
    binding,
    clock_utc,
    guard_k,
    hours_to_limit,
    is_over_limit,
    tell_below_base,
)
from controller.core.batch.reminders import SAUSAGE, next_due_s
from controller.core.batch.stages import PH_GROWTH_STOPS, is_let_cool, is_over
from controller.core.memory import Batch
from controller.core.plan import Chamber

HOUR_S = 3600.0


def tell(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> str:
    """Return the one line for the newest reading of this batch, in plain words; instants by the clock in UTC."""
    readings = batch.ph_readings
    if not readings:
        return _before_hanging(batch)
    if batch.stage.kind != "ferment":
        return "The ferment is over." if batch.passed_5_3 else _not_passed(batch, chamber)
    if batch.state == "running" and is_over(batch, chamber):
        return f"{_where(batch)} {_used(batch, chamber)} The stage {batch.stage.name} ends with it."
    parts = [_where(batch), _used(batch, chamber), _due(batch, wall_s), _if_nobody(batch, chamber, air_temp_c, wall_s)]
    return " ".join(part for part in parts if part)


def _before_hanging(batch: Batch) -> str:
    said = "Taken before the meat was hung: it tells of the mix, not of the ferment"
    return f"{said}." if batch.hung_s is None else f"{said}, and does not count. If it was taken since, say when: --at."


def _not_passed(batch: Batch, chamber: Chamber) -> str:
    return f"No reading that stands is at or below {PH_GROWTH_STOPS} after a ferment: hold the batch. " + _used(
        batch, chamber
    )


def _where(batch: Batch) -> str:
    last = batch.ph_readings[-1]
    at_most = batch.stage.until.ph_at_most
    counted = f"With {last.error:g} for the instrument it counts as {last.value + last.error:.2f}"
    if at_most is not None and last.has_reached(at_most):
        if batch.asks_sausage:
            return f"{counted}: the end of the stage is reached; now {SAUSAGE}."
        where = "in the sausage itself" if last.from_sausage else "in the wrapped sample"
        return f"{counted}: the end of the stage ({at_most:g}) is reached {where}."
    if batch.passed_5_3:
        return f"{counted}: {PH_GROWTH_STOPS} is passed, the stage ends at {at_most:g}."
    return f"{counted}: not at {PH_GROWTH_STOPS} yet."


def _used(batch: Batch, chamber: Chamber) -> str:
    margin = binding(batch, chamber)
    counted = (
        f"{margin.guarded:.0f} of {margin.guarded_limit:.0f} degree-hours (°{margin.unit}) used, "
        f"{guard_k(batch, chamber):g} K for the thermometer counted in"
    )
    lacks = tell_uncounted(batch)
    counted += f"; {lacks}" if lacks else ""
    if is_over_limit(batch, chamber):
        return f"{counted}. Over the limit: {OVER}."
    return f"{counted}." if not batch.passed_5_3 else f"{counted}; the count has ended."


def _due(batch: Batch, wall_s: float) -> str:
    if batch.asks_sausage:
        return ""
    due_s = next_due_s(batch)
    if due_s is None:
        return ""
    hours = max(due_s - batch.elapsed_s, 0.0) / HOUR_S
    return f"Measure again in {hours:.1f} h ({clock_utc(wall_s, hours)})."


def _if_nobody(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> str:
    """Say what becomes of the meat if nobody comes."""
    temp_c = air_now_c(batch, air_temp_c)
    if is_let_cool(batch):
        return "If nobody measures, it goes on cooling, and the ferment waits."
    if batch.state == "held":
        return "The batch is paused and stays so until you resume it."
    if batch.passed_5_3:
        return "If nobody measures, the ferment goes on as it is and gets more sour; `hangroom cool` lets it cool."
    if below_base(temp_c):
        return f"If nobody measures, the ferment goes on; {tell_below_base(batch)}."
    hours = hours_to_limit(batch, chamber, temp_c)
    if hours == inf:
        return "If nobody measures, the ferment goes on."
    here = batch.stage.where == "chamber"
    what = "heat and mist go off" if here else "it has to be cooled by you, for it is not in this chamber,"
    return (
        f"If nobody measures, the ferment goes on, and in {hours:.1f} h ({clock_utc(wall_s, hours)}) the limit is "
        f"reached: then {what} and the batch waits for you."
    )
