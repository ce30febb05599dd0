"""Fill in what an older program did not count, so that an upgrade in mid-ferment forgets nothing.

An older program counted degree-hours as measured only, and kept nothing beside a pH. What is filled in is an upper
bound: every hour since hanging is taken as warmer by the thermometer's error. It may warn earlier than it has to,
never later.
"""

from msgspec.structs import replace

from controller.core.batch.counting import recount
from controller.core.memory import PH_ERROR, Batch, Memory, Sums
from controller.core.outage.rules import LONG_S, answered

HOUR_S = 3600.0
F_PER_K = 1.8


def caught_up(batch: Batch, error_k: float, kept: Memory) -> Batch:
    """Return the batch as this program needs it; one that it has counted from hanging on stays as it is.

    Args:
        batch: as it was kept.
        error_k: what the leading thermometer may be wrong by.
        kept: all that was kept, for a gap that was not reckoned yet.
    """
    batch = _holes_counted(_cuts_answered(batch))
    if batch.hung_s is None:
        return _filled(batch, Sums(), Sums())
    is_old = batch.guarded_f < batch.degree_hours_f or batch.guarded_c < batch.degree_hours_c
    if is_old:
        if kept.gap_open_wall_s is not None and batch.gap_at_s is None:
            batch = _holes_counted(replace(batch, gap_at_s=batch.elapsed_s, gap_at_c=batch.highest_air_c))
        batch = _guarded(batch, error_k)
    batch = _filled(batch, _kept(batch), _all(batch))
    # An older program let 5.28 end the count, whatever the meter may be wrong by. In a ferment it goes on at once;
    # later the next pH decides.
    return recount(batch) if is_old and batch.stage.kind == "ferment" else batch


def _holes_counted(batch: Batch) -> Batch:
    """Return the batch with its open gap counted among those without a bound: an older program counted none.

    Where it is in the chamber and not paused a person has let it go on.
    """
    away = batch.away
    if batch.gap_at_s is None or away.since_s is not None or away.bound_s:
        return batch
    decided = int(batch.in_chamber and batch.state != "held")
    return replace(batch, away=replace(away, holes=1, decided=decided, since_s=batch.gap_at_s))


def _cuts_answered(batch: Batch) -> Batch:
    """Return the batch with the cuts answered that it has waited for: an older program noted none of it.

    After more than eight hours it waited for a person. Where it waits no more he has answered; shorter ones go on
    counting.
    """
    away = batch.away
    if away.counted_in is not None or away.asks:
        return batch
    here_s = sum(cut.lasted_s for cut in away.cuts if cut.stage_index == batch.stage_index)
    return answered(batch) if here_s > LONG_S else batch


def _guarded(batch: Batch, error_k: float) -> Batch:
    """Return the batch with the sums that have the error added; those since pH 5.3 apart."""
    hours = max(batch.elapsed_s - (batch.hung_s or 0.0), 0.0) / HOUR_S
    counted_h = min(_counted_h(batch), hours) if batch.passed_5_3 else hours
    spare_h = hours - counted_h if batch.passed_5_3 else 0.0
    return replace(
        batch,
        guarded_f=max(batch.guarded_f, batch.degree_hours_f + F_PER_K * error_k * counted_h),
        guarded_c=max(batch.guarded_c, batch.degree_hours_c + error_k * counted_h),
        spare_guarded_f=max(batch.spare_guarded_f, batch.spare_f + F_PER_K * error_k * spare_h),
        spare_guarded_c=max(batch.spare_guarded_c, batch.spare_c + error_k * spare_h),
    )


def _counted_h(batch: Batch) -> float:
    """Return the most hours from hanging to the pH that ended the count: it came before the ferment's end."""
    names = {stage.name for stage in batch.profile.stages if stage.kind == "ferment"}
    ended = [end.ended_wall_s for end in batch.ended if end.name in names]
    if not ended or batch.hung_wall_s is None or ended[-1] <= batch.hung_wall_s:
        return float("inf")
    return (ended[-1] - batch.hung_wall_s) / HOUR_S


def _kept(batch: Batch) -> Sums:
    return Sums(batch.degree_hours_f, batch.degree_hours_c, batch.guarded_f, batch.guarded_c, batch.highest_air_c)


def _all(batch: Batch) -> Sums:
    temps = [temp_c for temp_c in (batch.highest_air_c, batch.spare_highest_c) if temp_c is not None]
    return Sums(
        batch.degree_hours_f + batch.spare_f,
        batch.degree_hours_c + batch.spare_c,
        batch.guarded_f + batch.spare_guarded_f,
        batch.guarded_c + batch.spare_guarded_c,
        max(temps, default=None),
    )


def _filled(batch: Batch, kept: Sums, total: Sums) -> Batch:
    """Return the batch with something known beside each pH: up to the one that ended the count what that left.

    The later ones have all that was counted: should that pH be corrected away, one of them may end the count.
    """
    errors, sums = len(batch.ph) - len(batch.ph_errors), len(batch.ph) - len(batch.ph_sums)
    if errors <= 0 and sums <= 0:
        return batch
    first = next((place for place, (_, value) in enumerate(batch.ph) if value <= 5.3), len(batch.ph))  # noqa: PLR2004
    mine = tuple(kept if place <= first else total for place in range(len(batch.ph)))
    return replace(
        batch,
        ph_errors=(*(PH_ERROR,) * max(errors, 0), *batch.ph_errors),
        ph_sums=(*mine[: max(sums, 0)], *batch.ph_sums),
    )
