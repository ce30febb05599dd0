"""Count the time in which nobody knew how warm the air was: a dead thermometer, or a program that did not run.

All of it counts at the highest temperature known before it, in it, or at its end, so that it is an upper bound; until
a good air temperature comes, at the highest known so far. A review does the same from the rows. Nothing is ever left
out in silence: what cannot be counted is told.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.batch.counting import (
    NOTHING,
    count_gap,
    counted,
    kept_sums,
    plus,
    recount,
    sums_now,
    waits_for_gap,
)
from controller.core.memory import Batch, Sums

TOLD_S: Final = 600.0
"""Shorter is not spoken of: it is counted all the same."""
SAME_S: Final = 1.0
"""Instants that lie so near are the same one."""
NEVER: Final = "a gap whose length no clock can tell is not counted: the degree-hours are incomplete"


def count_blind(batch: Batch, more_s: float, temp_c: float | None, error_k: float) -> Batch:
    """Return the batch with more time without an air temperature, all of it counted at the highest known so far.

    Args:
        batch: the batch; one that is not hung, or complete, stays as it is.
        more_s: how much more of such time there is.
        temp_c: the highest temperature known now; None where none is.
        error_k: what the thermometer may be wrong by.
    """
    if batch.hung_s is None or batch.state == "complete":
        return batch
    was_s, was_c = batch.blind_s, batch.blind_at_c
    at_c = temp_c if was_c is None else was_c if temp_c is None else max(temp_c, was_c)
    batch = replace(batch, blind_s=was_s + more_s, blind_at_c=at_c)
    if at_c is None or (more_s == 0.0 and at_c == was_c):
        return batch
    batch = _grown(batch, counted(at_c, was_s + more_s, error_k), counted(was_c, was_s, error_k))
    if at_c == was_c or not any(sums.blind_s for sums in batch.ph_sums):
        return batch
    return recount(replace(batch, ph_sums=tuple(_warmer(sums, was_c, at_c, error_k) for sums in batch.ph_sums)))


def _grown(batch: Batch, more: Sums, less: Sums) -> Batch:
    """Return the batch with more counted; apart, once 5.3 has been measured."""
    if batch.passed_5_3:
        spare = Sums(
            batch.spare_f, batch.spare_c, batch.spare_guarded_f, batch.spare_guarded_c, batch.spare_highest_c
        )  # fmt: skip
        after = plus(spare, more, less)
        return replace(
            batch,
            spare_f=after.degree_hours_f,
            spare_c=after.degree_hours_c,
            spare_guarded_f=after.guarded_f,
            spare_guarded_c=after.guarded_c,
            spare_highest_c=after.highest_air_c,
        )
    after = plus(sums_now(batch), more, less)
    return replace(
        batch,
        degree_hours_f=after.degree_hours_f,
        degree_hours_c=after.degree_hours_c,
        guarded_f=after.guarded_f,
        guarded_c=after.guarded_c,
        highest_air_c=after.highest_air_c,
    )


def _warmer(sums: Sums, was_c: float | None, at_c: float, error_k: float) -> Sums:
    if not sums.blind_s:
        return sums
    return plus(sums, counted(at_c, sums.blind_s, error_k), counted(was_c, sums.blind_s, error_k))


def end_blind(batch: Batch, temp_c: float, error_k: float) -> Batch:
    """Return the batch with its time without a temperature counted for good, now that there is one again."""
    if not batch.blind_s:
        return batch
    batch = count_blind(batch, 0.0, temp_c, error_k)
    sums = tuple(replace(one, blind_s=0.0) if one.blind_s else one for one in batch.ph_sums)
    return replace(batch, blind_s=0.0, blind_at_c=None, ph_sums=sums)


def open_gap(batch: Batch, highest_c: float | None, *, again: bool = False, shared: bool = False) -> Batch:
    """Return the batch after a gap whose length nobody knows yet; the highest temperature before it is given.

    `again`: the one before it was not looked into yet, and will be together with it. `shared`: another gap is open that
    was before this batch, and a clock will tell only how long all were together.
    """
    if batch.hung_s is not None and batch.gap_at_s is not None and not waits_for_gap(batch):
        # What lies before hanging is none of the meat; a batch that waits for it waits on.
        undecided = max(batch.away.holes - batch.away.decided, 0)
        batch = replace(batch, away=replace(batch.away, holes=undecided, decided=0))
    here = batch.stage.where == "chamber"
    before_c = highest_c if here else batch.stage.air_temp_c
    holes = batch.away.holes + (not (again and batch.away.holes))
    temps = [temp_c for temp_c in (batch.gap_at_c, before_c) if temp_c is not None]
    return replace(
        batch,
        gap_at_s=batch.elapsed_s,
        gap_at_c=max(temps, default=None),
        gap_here=here or (batch.gap_at_s is not None and batch.gap_here),
        away=replace(
            batch.away,
            holes=holes,
            decided=min(batch.away.decided, holes - 1),
            since_s=batch.elapsed_s if batch.away.since_s is None else batch.away.since_s,
            since_in=batch.stage_index if batch.away.since_s is None else batch.away.since_in,
            shared=batch.away.shared or shared,
        ),
    )


def beside_gap(batch: Batch, temp_c: float | None) -> Batch:
    """Return the batch with what its open gap counts at, not lower than any temperature known since."""
    if batch.gap_at_s is None or not batch.gap_here or temp_c is None:
        return batch
    return batch if batch.gap_at_c is not None and temp_c <= batch.gap_at_c else replace(batch, gap_at_c=temp_c)


def bound_gap(batch: Batch, more_s: float, temp_c: float | None, error_k: float, *, for_good: bool) -> Batch:
    """Return the batch with its open gap counted as long as it can have been at most.

    Its time is not moved on by it: no stage may end earlier because a gap may have been long.

    Args:
        batch: the batch.
        more_s: how long the newest open gap can have been.
        temp_c: the highest temperature known now, beside what the gap counts at already.
        error_k: what the thermometer may be wrong by.
        for_good: no clock can tell more; else the gap stays open, and a clock that tells it takes this back.
    """
    if batch.gap_at_s is None:
        return batch
    if batch.hung_s is None or batch.state == "complete" or not waits_for_gap(batch):  # None of it counts.
        return without_gap(batch) if for_good else _less_one(batch)
    away, at_c = batch.away, batch.gap_at_c
    if batch.gap_here and temp_c is not None:
        at_c = temp_c if at_c is None else max(at_c, temp_c)
    if at_c is None:
        return lose_gap(batch) if for_good else batch
    batch = without_bound(batch)
    bound_s = away.bound_s + more_s
    batch = _grown(batch, counted(at_c, bound_s, error_k), NOTHING)
    sums = tuple(
        plus(replace(one, gap_bound_s=one.gap_bound_s + more_s), counted(at_c, one.gap_bound_s + more_s, error_k))
        if one.gap_pending
        else one
        for one in batch.ph_sums
    )
    if for_good:
        lost = leaves_another(batch)
        sums = tuple(
            replace(one, gap_pending=False, gap_bound_s=0.0, gap_lost=lost or one.gap_lost) if one.gap_pending else one
            for one in sums
        )
        return recount(without_gap(replace(batch, gap_lost=lost or batch.gap_lost, ph_sums=sums)))
    away = replace(batch.away, bound_s=bound_s, bound_c=at_c, bound_error_k=error_k)
    return recount(_less_one(replace(batch, ph_sums=sums, away=away)))


def _less_one(batch: Batch) -> Batch:
    """Return the batch with one gap less that has no bound."""
    return replace(batch, away=replace(batch.away, holes=max(batch.away.holes - 1, 0)))


def without_bound(batch: Batch) -> Batch:
    """Return the batch without what has been counted of its open gap for the time being."""
    away = batch.away
    if not away.bound_s:
        return batch
    at_c, error_k = away.bound_c, away.bound_error_k
    batch = _grown(batch, NOTHING, counted(at_c, away.bound_s, error_k))
    sums = tuple(
        replace(plus(one, NOTHING, counted(at_c, one.gap_bound_s, error_k)), gap_bound_s=0.0)
        if one.gap_bound_s
        else one
        for one in batch.ph_sums
    )
    away = replace(away, bound_s=0.0, bound_c=None, bound_error_k=0.0)
    return recount(replace(batch, ph_sums=sums, away=away))


def close_gap(batch: Batch, gap_s: float, error_k: float) -> Batch:
    """Return the batch with its gap counted, now that a clock has told how long it was.

    What was counted of it for the time being is taken back. A batch that was hung after it has no part in it; nor has
    one that did not exist. Of several gaps that a clock tells as one it tells no more than how long one of them was at
    most: degree-hours count all of it, but time passes only for a batch, and in a stage, that lived through all.
    """
    gap_at_s = batch.gap_at_s
    if gap_at_s is None:
        return batch
    batch = without_bound(batch)
    if batch.hung_s is not None and not waits_for_gap(batch):
        return without_gap(batch)
    elapsed_s, stage_s = batch.elapsed_s, batch.stage_elapsed_s
    since_s = gap_at_s if batch.away.since_s is None else batch.away.since_s
    if not batch.away.shared:
        same_stage = batch.away.since_in in {None, batch.stage_index} and elapsed_s - stage_s <= since_s + SAME_S
        stage_s += gap_s if same_stage and not batch.waits_for_meat else 0.0
        elapsed_s += gap_s
    after = replace(batch, elapsed_s=elapsed_s, stage_elapsed_s=stage_s)
    if batch.hung_s is None:
        return without_gap(after)
    if batch.gap_at_c is not None:
        return without_gap(count_gap(after, batch.gap_at_c, gap_s, error_k))
    if not batch.gap_here:
        return lose_gap(after)
    sums = tuple(_pending_blind(one, gap_s) for one in batch.ph_sums)
    return without_gap(replace(after, blind_s=batch.blind_s + gap_s, ph_sums=sums))


def _pending_blind(sums: Sums, gap_s: float) -> Sums:
    return replace(sums, gap_pending=False, blind_s=sums.blind_s + gap_s) if sums.gap_pending else sums


def leave_gap(batch: Batch) -> Batch:
    """Return the batch that waits for none of its open gaps any more: a person has decided, or it is none of it."""
    away = batch.away
    return batch if away.decided == away.holes else replace(batch, away=replace(away, decided=away.holes))


def leaves_another(batch: Batch) -> bool:
    """Say whether beside the gap that is bounded now another one is open that nothing bounds."""
    return batch.away.holes > 1


def leaves_untold(batch: Batch) -> bool:
    """Say whether that other one makes the batch wait, for nobody has let it go on since."""
    return batch.away.holes - batch.away.decided > 1


def waits_untold(batch: Batch) -> bool:
    """Say whether a gap is open of which nothing has told yet how long it was, nor has a person let the batch go on.

    No newer gap ends the wait for an older one, nor may its alarm speak of the newer one alone.
    """
    return batch.gap_at_s is not None and batch.away.holes > batch.away.decided


def without_gap(batch: Batch) -> Batch:
    """Return the batch with no gap open any more; what a bound has counted stays counted."""
    away = batch.away
    if away.bound_s or away.holes or away.since_s is not None:
        away = replace(
            away,
            bound_s=0.0,
            bound_c=None,
            bound_error_k=0.0,
            holes=0,
            decided=0,
            since_s=None,
            since_in=None,
            shared=False,
        )
    return replace(batch, gap_at_s=None, gap_at_c=None, gap_here=True, away=away)


def lose_gap(batch: Batch) -> Batch:
    """Return the batch after a gap whose length nobody can ever tell: where the meat hung, that is kept for good.

    Where its cooling has bounded it, it is counted as long as that for good.
    """
    if batch.hung_s is None or batch.state == "complete" or (batch.gap_at_s is not None and not waits_for_gap(batch)):
        return without_gap(batch)
    lost = batch.gap_at_s is None or not batch.away.bound_s or batch.away.holes > 0
    sums = tuple(
        replace(one, gap_pending=False, gap_bound_s=0.0, gap_lost=lost or one.gap_lost) if one.gap_pending else one
        for one in batch.ph_sums
    )
    return without_gap(replace(batch, gap_lost=lost or batch.gap_lost, ph_sums=sums))


def is_incomplete(batch: Batch) -> bool:
    """Say whether a gap that no clock can tell lies before the pH that ended the count, or is in a count under way."""
    if not batch.gap_lost:
        return False
    kept = kept_sums(batch)
    return kept is None or kept.gap_lost


def tell_uncounted(batch: Batch) -> str:
    """Return what the degree-hours of this batch lack, or are only counted so far; empty where nothing."""
    parts = [NEVER] if is_incomplete(batch) else []
    kept = kept_sums(batch) if batch.passed_5_3 else None
    if (waits_for_gap(batch) if kept is None else kept.gap_pending) and (batch.away.holes or not batch.away.bound_s):
        parts.append("a gap of unknown length is not counted yet")
    blind_s = batch.blind_s if kept is None else kept.blind_s
    if blind_s >= TOLD_S:
        hours = blind_s / 3600.0
        how = "not counted yet" if batch.blind_at_c is None else f"counted at {batch.blind_at_c:.1f} °C so far"
        parts.append(f"{hours:.1f} h without a temperature {how}")
    return "; ".join(parts)
