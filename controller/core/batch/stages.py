"""Take a batch through its stages: what is wanted now, how time is counted, and when a stage ends.

Two clocks run in every stage. Elapsed time always runs, whatever happens to the chamber; limits such as degree-hours
and `at_most_h` go by it. Time at conditions runs only while the air is within 1 K of what is wanted; `hours` in a
stage's end goes by it. Humidity does not stop it: many a box cannot reach its humidity, and says so elsewhere. While
a ferment is let cool, or a person has set a stage lower than its card, it stands still: the card's hours are hours at
the card's temperature.

A ferment ends on a measured pH and on nothing else. Its time and its degree-hours count from the moment the meat was
hung, not while the empty box warms.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.batch.asks import stage_asks
from controller.core.batch.blind import count_blind, end_blind
from controller.core.batch.counting import count
from controller.core.batch.margin import is_past_limit
from controller.core.figures import degrees
from controller.core.memory import Batch, Memory, StageEnd, State
from controller.core.plan import Chamber, Stage, StageKind
from controller.core.values import Event, Known, Wanted
from controller.food.degree_hours import TARGET_PH

AT_CONDITIONS_K: Final = 1.0
COLD_KINDS: Final = frozenset({"chill", "equalise", "rest"})
ARRIVED_K: Final = 0.5
ARRIVAL_AFTER_HANG_S: Final = 600.0
"""Right after hanging the probe still shows the empty box; cold meat shows within ten minutes."""
SETTLING_AFTER_HANG_S: Final = 3600.0
"""For an hour after hanging cold meat and an open lid raise no alarm."""
PH_GROWTH_STOPS: Final = TARGET_PH
"""Degree-hours are counted up to the first reading at or below this pH; AMIF good manufacturing practices (1997)."""
HOLDING_C: Final = 15.0
HOLDING_RH_PCT: Final = 80.0
GENTLE_FAN: Final = 10.0 / 60.0
HOUR_S: Final = 3600.0


class Climate(Wanted, frozen=True, gc=False):
    """Hold what the leading batch wants of the chamber, and what its state forbids."""

    kind: StageKind | None = None
    fan: float = 0.0
    fresh_air: float = 0.0
    heat: bool = False
    mist: bool = False


def lead(memory: Memory) -> Batch | None:
    """Return the batch that leads the chamber's climate: the one that did so, else the oldest in the chamber."""
    oldest = None
    for batch in memory.batches:
        if batch.in_chamber:
            if batch.id == memory.leader:
                return batch
            oldest = oldest or batch
    return oldest


def wanted_climate(batch: Batch | None) -> Climate:
    """Return what is wanted of the chamber now; of an idle chamber nothing is wanted and all is off."""
    if batch is None:
        return Climate()
    if batch.state == "complete":
        coolest = min((s.air_temp_c for s in batch.profile.stages if s.air_temp_c is not None), default=HOLDING_C)
        return Climate(min(coolest, HOLDING_C), HOLDING_RH_PCT, kind="rest", fan=GENTLE_FAN, mist=True)
    if batch.state == "held":
        return Climate(coolest_to_come_c(batch), None, kind="rest", fan=GENTLE_FAN)
    stage = batch.stage
    cools = is_let_cool(batch)
    wanted_c = _ramped_c(batch, stage)
    if cools:
        temps = [temp_c for temp_c in (wanted_c, coolest_to_come_c(batch)) if temp_c is not None]
        wanted_c = min(temps, default=None)
    return Climate(
        wanted_c,
        stage.rh_pct,
        kind=stage.kind,
        fan=min(stage.fan_min_per_h / 60.0, 1.0),
        fresh_air=min(stage.fresh_air_min_per_day / 1440.0, 1.0),
        heat=not cools,
        mist=stage.kind != "smoke",  # Mist would wash the smoke off, and tar clogs it.
    )


def is_let_cool(batch: Batch) -> bool:
    """Say whether a person has asked to let the ferment cool from a time on, and that time has come."""
    return batch.cool_from_s is not None and batch.stage.kind == "ferment" and batch.elapsed_s >= batch.cool_from_s


def coolest_to_come_c(batch: Batch) -> float | None:
    """Return the coolest wanted temperature of the stages in this chamber that are not over yet."""
    rest = batch.profile.stages[batch.stage_index + 1 :]
    temps = [s.air_temp_c for s in (batch.stage, *rest) if s.air_temp_c is not None and s.where == "chamber"]
    return min(temps, default=None)


def cooler_to_come_c(batch: Batch, chamber: Chamber) -> float | None:
    """Return what a ferment that is let cool wants: a stage's climate that is cooler than its own; None without one.

    None in a box without a cooler too: it gets what the room lets it.
    """
    own_c, coolest_c = batch.profile.stages[batch.stage_index].air_temp_c, coolest_to_come_c(batch)
    if chamber.output("cooler") is None or coolest_c is None:
        return None
    return coolest_c if own_c is None or coolest_c < own_c else None


def cools_to(batch: Batch, chamber: Chamber) -> str:
    """Return how far a ferment that is let cool can come down: to a cooler stage's climate, or to the room."""
    wanted_c = cooler_to_come_c(batch, chamber)
    if wanted_c is not None:
        return f"wanted {degrees(wanted_c)}"
    low_c, high_c = chamber.room_c
    why = "it has no cooler" if chamber.output("cooler") is None else "no cooler stage comes in this chamber"
    return f"and it comes down to the room at most, {low_c:.0f} to {high_c:.0f} °C by the chamber file ({why})"


def _is_below_card(batch: Batch, air_c: float | None) -> bool:
    """Say whether a person has set the stage lower, and the air is cooler for it than the card lets its hours be.

    A stage that is there to be cold is none the worse for it.
    """
    if batch.set_air_temp_c is None or air_c is None or batch.stage.kind in COLD_KINDS:
        return False
    card_c = _ramped_c(batch, batch.profile.stages[batch.stage_index]) if batch.state != "complete" else None
    return card_c is not None and air_c < card_c - AT_CONDITIONS_K


def _ramped_c(batch: Batch, stage: Stage) -> float | None:
    if stage.air_temp_c is None or stage.ramp_h <= 0.0 or batch.stage_start_c is None:
        return stage.air_temp_c
    share = min(batch.stage_elapsed_s / (stage.ramp_h * HOUR_S), 1.0)
    return batch.stage_start_c + (stage.air_temp_c - batch.stage_start_c) * share


def elapse(
    batch: Batch, known: Known, wanted_c: float | None, worst_c: float | None, dt_s: float, error_k: float
) -> Batch:
    """Let time pass for one batch.

    Args:
        batch: the batch.
        known: the good air temperature, if there is one.
        wanted_c: what the chamber is to have now, if this batch is in it.
        worst_c: the highest temperature known: degree-hours go by it while there is no good one.
        dt_s: seconds since the last tick.
        error_k: what the leading thermometer may be wrong by.
    """
    air_c = known.air_temp_c
    running = batch.state in {"running", "suspended"}
    stage = batch.stage
    here = stage.where == "chamber"
    waiting = batch.waits_for_meat
    just_hung = batch.hung_s is not None and batch.elapsed_s - batch.hung_s < ARRIVAL_AFTER_HANG_S
    off_k = None if air_c is None or wanted_c is None else abs(air_c - wanted_c)
    at_conditions = batch.state == "running" and (
        not here or wanted_c is None or (off_k is not None and off_k <= AT_CONDITIONS_K)
    )
    at_conditions = at_conditions and not is_let_cool(batch) and not (here and _is_below_card(batch, air_c))
    arrived = batch.arrived or (
        running and here and not (waiting or just_hung) and off_k is not None and off_k <= ARRIVED_K
    )
    if air_c is not None:
        batch = end_blind(batch, air_c, error_k)
    if here and air_c is None:
        batch = count_blind(batch, dt_s, worst_c, error_k)
    else:
        batch = count(batch, air_c if here else stage.air_temp_c, dt_s, error_k)
    start_c = batch.stage_start_c
    if start_c is None and here:
        start_c = air_c
    return replace(
        batch,
        elapsed_s=batch.elapsed_s + dt_s,
        stage_elapsed_s=batch.stage_elapsed_s + (0.0 if waiting else dt_s),
        stage_at_conditions_s=batch.stage_at_conditions_s + (dt_s if at_conditions and not waiting else 0.0),
        arrived=arrived,
        stage_start_c=start_c,
    )


def is_over(batch: Batch, chamber: Chamber) -> bool:
    """Say whether all conditions of the stage's end hold.

    A ferment, and every other stage that waits for a pH, ends on one from the middle of a real sausage that counts
    with its instrument's error added. Nothing ends by itself with the degree-hours passed, nor any stage after a
    ferment whose 5.3 was corrected away: by hours, weight, core or a person's word.
    """
    if not batch.ends_but_ph or is_past_limit(batch, chamber) or lacks_ph(batch):
        return False
    stage = batch.stage
    at_most = stage.until.ph_at_most
    if at_most is None:
        return stage.kind != "ferment"
    readings = batch.ph_readings
    return bool(readings) and readings[-1].from_sausage and readings[-1].has_reached(at_most) and batch.passed_5_3


def lacks_ph(batch: Batch) -> bool:
    """Say whether a stage that waits for a pH lies behind the batch, and none that stands is at or below 5.3."""
    if batch.passed_5_3:
        return False
    behind = batch.profile.stages[: batch.stage_index]
    return any(stage.kind == "ferment" or stage.until.ph_at_most is not None for stage in behind)


def next_stage(batch: Batch, wall_s: float, by: str, because: str = "") -> tuple[Batch, Event]:
    """End the present stage and begin the next; after the last the batch is complete."""
    stage = batch.stage
    end = StageEnd(stage.name, batch.stage_began_wall_s, wall_s, by)
    index = batch.stage_index + 1
    complete = index >= len(batch.profile.stages)
    chills = not complete and batch.profile.stages[index].kind == "chill"
    carried = batch.core_temps if chills else ()  # The way down of a piece begins at its readings of the cook.
    after = replace(
        batch,
        state="complete" if complete else _state_in_next(batch, index),
        stage_index=index,
        stage_began_wall_s=wall_s,
        stage_elapsed_s=0.0,
        stage_at_conditions_s=0.0,
        arrived=False,
        stage_start_c=None,
        confirmed=False,
        core_temp_c=None,
        core_sensed_s=None,
        core_temps=carried,
        core_ids=batch.core_ids[len(batch.core_ids) - len(carried) :],
        core_of=batch.core_of[len(batch.core_of) - len(carried) :],
        core_past=(*batch.core_past, *(name for name in batch.core_ids if name))[-100:],
        smoker=(),
        too_fast="",
        too_fast_level=0,
        stalled="",
        rh_mean_pct=None,
        rh_mean_s=0.0,
        set_air_temp_c=None,
        set_rh_pct=None,
        ph_demanded=0,
        ph_next_s=None,
        ph_due_since_s=None,
        sausage_prompted=False,
        cool_from_s=None,
        overdue=False,
        ended=(*batch.ended, end),
    )
    reason = {"until": "its end was reached", "hang": "the meat was hung", "person": f"ended by a person: {because}"}[
        by
    ]
    if complete:
        text = f"Stage {stage.name} ended: {reason}. The batch is complete; it rests until it is taken out."
    else:
        place = "" if after.stage.where == "chamber" else " (elsewhere)"
        asks = stage_asks(after.stage)
        text = f"Stage {stage.name} ended: {reason}. Now {after.stage.name}{place}.{f' {asks}' if asks else ''}"
    return after, Event("stage", text, id=by, batch=batch.id)


def _state_in_next(batch: Batch, index: int) -> State:
    """Return the state in the next stage: what suspends is a matter of the chamber, not of another place."""
    elsewhere = batch.profile.stages[index].where == "elsewhere"
    return "running" if batch.state == "suspended" and elsewhere else batch.state


def is_settling(batch: Batch | None) -> bool:
    """Say whether the meat came into the chamber less than an hour ago: it was hung, or is back from elsewhere."""
    if batch is None or batch.hung_s is None:
        return False
    if batch.elapsed_s - batch.hung_s < SETTLING_AFTER_HANG_S:
        return True
    index, stages = batch.stage_index, batch.profile.stages
    back = 0 < index < len(stages) and stages[index - 1].where == "elsewhere"
    return back and batch.stage_elapsed_s < SETTLING_AFTER_HANG_S


def ramp_share(batch: Batch) -> float | None:
    """Return how much of the stage's ramp is over, more than 1 after it; None where it has none, or does not lead."""
    stage = batch.profile.stages[min(batch.stage_index, len(batch.profile.stages) - 1)]
    if stage.ramp_h <= 0.0 or batch.state not in {"running", "suspended"}:
        return None
    return batch.stage_elapsed_s / (stage.ramp_h * HOUR_S)
