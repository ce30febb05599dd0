"""When the next pH is to be measured: by the profile's hours, denser as the ferment nears what it has to reach.

A forecast by a straight line is good for one thing only: for saying when to look again. It moves no stage and silences
nothing.
"""

from collections.abc import Sequence
from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch
from controller.food.degree_hours import TARGET_PH, has_reached

HOUR_S: Final = 3600.0
LEAST_S: Final = HOUR_S
"""Nobody is called more often than each hour."""
MOST_S: Final = 12.0 * HOUR_S
"""Where the profile names no further time; common practice, no source."""
JUST_S: Final = 1800.0
"""A pH typed in less than this ago serves for a time that comes now."""
LEAST_APART_S: Final = HOUR_S
"""Two readings that lie closer show the meter's noise and no drop."""

WEIGH_EVERY_S: Final = 3.0 * 24.0 * HOUR_S
"""Where a stage ends on weight loss; common practice, no source."""
PAIR_LASTS_S: Final = 5.0 * 24.0 * HOUR_S
"""What two weighings told of the rate of drying is old after this; common practice, no source."""

SAUSAGE: Final = "measure the middle of a real sausage: hangroom ph VALUE --by meter --sample sausage"


def wait_s(readings: Sequence[tuple[float, float]], aim: float, most_s: float) -> float | None:
    """Return how long after the last reading the next one is due: half the time to the aim, by the straight line.

    Args:
        readings: (seconds, pH), oldest first.
        aim: the pH that the ferment has to reach next.
        most_s: the latest, in seconds after the last reading.

    Returns:
        At least an hour, at most `most_s`; None where the readings are in no drop, or there already.
    """
    if not readings or readings[-1][1] <= aim:
        return None
    last_s, last = readings[-1]
    before = next(((at_s, ph) for at_s, ph in reversed(readings) if last_s - at_s >= LEAST_APART_S), None)
    if before is None or before[1] <= last:
        return None
    remaining_s = (last - aim) * (last_s - before[0]) / (before[1] - last)
    return min(max(0.5 * remaining_s, LEAST_S), most_s)


def after_reading(batch: Batch, wall_s: float) -> Batch:
    """Return the batch with the next time at which a pH is due, after a reading has been entered."""
    readings = batch.ph_readings
    if batch.hung_s is None or batch.stage.kind != "ferment" or not readings:
        return replace(batch, ph_next_s=None)
    last = readings[-1]
    taken_s = batch.elapsed_s - min(max(wall_s - last.at_wall_s, 0.0), batch.elapsed_s - batch.hung_s)
    profile_s = _profile_next_s(batch)
    most_s = MOST_S if profile_s is None else max(profile_s - taken_s, 0.0)
    due_s = wait_s([(reading.at_wall_s, reading.value) for reading in readings], _aim(batch), most_s)
    if due_s is None or due_s >= most_s:  # Then the profile calls, or after half a day this does.
        return replace(batch, ph_next_s=taken_s + MOST_S if profile_s is None else None)
    return replace(batch, ph_next_s=max(taken_s + due_s, batch.elapsed_s + JUST_S))


def _aim(batch: Batch) -> float:
    """Return the pH to be reached next: 5.3, then the end of the stage, less what the instrument may be wrong by."""
    last = batch.ph_readings[-1]
    at_most = batch.stage.until.ph_at_most
    passed = batch.passed_5_3 or has_reached(last.value, error=last.error)
    return (TARGET_PH if at_most is None or not passed else at_most) - last.error


def _profile_next_s(batch: Batch) -> float | None:
    """Return the elapsed second of the profile's next time for a pH; None where there is none left."""
    due_h, hung_s = batch.stage.ph_due_h, batch.hung_s
    if hung_s is None:
        return None
    return next((s for h in due_h[batch.ph_demanded :] if (s := hung_s + h * HOUR_S) > batch.elapsed_s), None)


def next_due_s(batch: Batch) -> float | None:
    """Return the elapsed second at which the next pH is due; None where none is."""
    if batch.hung_s is None or batch.stage.kind != "ferment":
        return None
    return min((s for s in (batch.ph_next_s, _profile_next_s(batch)) if s is not None), default=None)


def call_for_ph(batch: Batch) -> tuple[Batch, str]:
    """Return the batch after what is due now has been called out, and the words; empty where nothing is due."""
    stage = batch.stage
    waits = stage.ph_due_h or batch.ph_next_s is not None or stage.kind == "ferment"
    if batch.hung_s is None or batch.state == "complete" or not waits:
        return batch, ""
    hours = (batch.elapsed_s - batch.hung_s) / HOUR_S
    demanded = sum(1 for due_h in stage.ph_due_h if due_h <= hours)
    by_profile = demanded > batch.ph_demanded
    by_readings = batch.ph_next_s is not None and batch.elapsed_s >= batch.ph_next_s
    asks = not batch.sausage_prompted and batch.asks_sausage
    if not (by_profile or by_readings or asks):
        return batch, ""
    just_s = None if batch.last_ph_s is None else batch.elapsed_s - batch.last_ph_s
    if not (by_readings or asks) and just_s is not None and just_s < JUST_S:
        return replace(batch, ph_demanded=demanded), ""
    due_h = stage.ph_due_h[demanded - 1] if by_profile else round(hours, 1)
    words = f"Measure the pH now: {due_h:g} h after hanging."
    if asks:
        words = f"The wrapped sample has reached the stage's end. Now {SAUSAGE}"
    since_s = batch.ph_due_since_s if batch.ph_due_since_s is not None else batch.elapsed_s
    called = replace(
        batch,
        ph_demanded=max(demanded, batch.ph_demanded),
        ph_next_s=None if by_readings else batch.ph_next_s,
        sausage_prompted=batch.sausage_prompted or asks,
        overdue=True,
        ph_due_since_s=since_s,
    )
    return called, words


def weighed_wall_s(batch: Batch) -> float | None:
    """Return when a piece was weighed last, in wall seconds; None where none was."""
    return max((at_s for _, at_s, grams in batch.weighings if grams), default=None)


def weight_age_s(batch: Batch, wall_s: float) -> float | None:
    """Return how old the newest weights are in a stage that ends on weight loss, in seconds; None in any other stage.

    They are no older than the stage: what dries has only begun to.
    """
    if batch.stage.until.weight_loss_pct is None or batch.state == "complete":
        return None
    newest_s = weighed_wall_s(batch)
    begun_s = batch.stage_began_wall_s
    return wall_s - (begun_s if newest_s is None else max(newest_s, begun_s))


def is_weighing_due(batch: Batch, wall_s: float) -> bool:
    """Say whether the stage ends on weight loss and the newest weights are older than three days."""
    age_s = weight_age_s(batch, wall_s)
    return age_s is not None and age_s >= WEIGH_EVERY_S


def call_for_weight(batch: Batch, wall_s: float) -> tuple[Batch, str]:
    """Return the batch after a weighing that is due has been called out, and the words; empty where none is due."""
    if batch.stage_elapsed_s < WEIGH_EVERY_S - HOUR_S:
        return batch, ""  # No weights of this stage can be that old; an hour for a clock that was stepped.
    age_s = weight_age_s(batch, wall_s)
    if age_s is None or age_s < WEIGH_EVERY_S:
        return batch, ""
    if batch.weigh_called_s is not None and batch.elapsed_s - batch.weigh_called_s < WEIGH_EVERY_S:
        return batch, ""
    pieces = [piece for piece in batch.green_g if piece not in batch.pieces_out] or ["A"]
    words = " ".join(f"{piece}=GRAMS" for piece in pieces[:3])
    more = " and so on" if len(pieces) > 3 else ""  # noqa: PLR2004 - as many as are shown
    days = round(age_s / (24.0 * HOUR_S))
    asks = f"Weigh now: {batch.stage.name} ends on weight, and no piece was weighed for {days} days."
    return replace(batch, weigh_called_s=batch.elapsed_s), f"{asks} hangroom weigh {words}{more}"
