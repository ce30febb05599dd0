"""Count the degree-hours of a batch, and tell those up to pH 5.3 from what came after.

Counting ends with a pH that stands at or below 5.3 with its instrument's error added, at the moment it was typed in:
an upper bound where it was measured earlier. Of several the one with the least counted ends it: one that is typed in
later, for an earlier hour, brings nothing back. What is counted after it is kept apart, for a correction may bring it
back. So nothing is ever lost, whichever of several readings is corrected.
"""

from math import inf
from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, PhReading, Sums
from controller.food.degree_hours import CANADA, US, accumulate, standing_passes

HOUR_S: Final = 3600.0
NOTHING: Final = Sums()


def count(batch: Batch, temp_c: float | None, dt_s: float, error_k: float) -> Batch:
    """Return the batch with the degree-hours of this time counted; apart, once 5.3 has been measured.

    Each is counted twice: as the thermometer shows, and with its error added.
    """
    if batch.hung_s is None or batch.state == "complete" or temp_c is None:
        return batch
    hours = dt_s / HOUR_S
    fahrenheit, celsius = accumulate(US, temp_c, hours), accumulate(CANADA, temp_c, hours)
    guarded_f, guarded_c = accumulate(US, temp_c + error_k, hours), accumulate(CANADA, temp_c + error_k, hours)
    if batch.passed_5_3:
        if guarded_f == guarded_c == 0.0 and temp_c <= (batch.spare_highest_c or temp_c):
            return batch  # Cooler than both rules count, for weeks.
        return replace(
            batch,
            spare_f=batch.spare_f + fahrenheit,
            spare_c=batch.spare_c + celsius,
            spare_guarded_f=batch.spare_guarded_f + guarded_f,
            spare_guarded_c=batch.spare_guarded_c + guarded_c,
            spare_highest_c=temp_c if batch.spare_highest_c is None else max(temp_c, batch.spare_highest_c),
        )
    return replace(
        batch,
        degree_hours_f=batch.degree_hours_f + fahrenheit,
        degree_hours_c=batch.degree_hours_c + celsius,
        guarded_f=batch.guarded_f + guarded_f,
        guarded_c=batch.guarded_c + guarded_c,
        highest_air_c=temp_c if batch.highest_air_c is None else max(temp_c, batch.highest_air_c),
    )


def sums_now(batch: Batch) -> Sums:
    """Return all that has been counted so far, to be kept beside a pH that is typed in now."""
    temps = [temp_c for temp_c in (batch.highest_air_c, batch.spare_highest_c) if temp_c is not None]
    return Sums(
        batch.degree_hours_f + batch.spare_f,
        batch.degree_hours_c + batch.spare_c,
        batch.guarded_f + batch.spare_guarded_f,
        batch.guarded_c + batch.spare_guarded_c,
        max(temps, default=None),
        waits_for_gap(batch),
        batch.gap_lost,
        batch.blind_s,
        batch.away.bound_s,
    )


def waits_for_gap(batch: Batch) -> bool:
    """Say whether the meat hung in a gap whose length nobody knows yet."""
    return batch.gap_at_s is not None and batch.hung_s is not None and batch.hung_s <= batch.gap_at_s


def moved(batch: Batch, old: Sums, later_s: float, error_k: float) -> Sums:
    """Return the most that can have been counted at a pH whose time is corrected.

    Args:
        batch: the batch now.
        old: what had been counted as it stood.
        later_s: how much later it was measured than it stood; below 0 changes nothing.
        error_k: what the thermometer may be wrong by.
    """
    now = sums_now(batch)
    if later_s <= 0.0:
        return old
    if now.highest_air_c is None or now.blind_s > 0.0 or now.gap_pending != old.gap_pending:
        return now
    more = replace(counted(now.highest_air_c, later_s, error_k), gap_pending=old.gap_pending, gap_lost=now.gap_lost)
    return min(plus(old, more), now, key=_size)


def recount(batch: Batch) -> Batch:
    """Return the batch with the degree-hours that its readings leave: up to the one that passed 5.3 with the least."""
    total = sums_now(batch)
    kept = kept_sums(batch)
    passed = kept is not None
    kept = kept or total
    return replace(
        batch,
        passed_5_3=passed,
        degree_hours_f=kept.degree_hours_f,
        degree_hours_c=kept.degree_hours_c,
        guarded_f=kept.guarded_f,
        guarded_c=kept.guarded_c,
        highest_air_c=kept.highest_air_c,
        spare_f=total.degree_hours_f - kept.degree_hours_f,
        spare_c=total.degree_hours_c - kept.degree_hours_c,
        spare_guarded_f=total.guarded_f - kept.guarded_f,
        spare_guarded_c=total.guarded_c - kept.guarded_c,
        spare_highest_c=total.highest_air_c if passed else None,
    )


def kept_sums(batch: Batch) -> Sums | None:
    """Return what had been counted at the reading that ends the count; None where none does."""
    total = sums_now(batch)
    passed = [reading.sums or total for reading in ending_readings(batch)]
    return min(passed, key=_size, default=None)


def ending_readings(batch: Batch) -> list[PhReading]:
    """Return the readings that may end the count: what a real sausage contradicted before the ferment ended does not.

    Later, in ripening, the pH of a sausage rises again: that brings nothing back.
    """
    until_s = _souring_until_s(batch)
    early = [reading for reading in batch.ph_readings if reading.at_wall_s <= until_s]
    late = [reading for reading in batch.ph_readings if reading.at_wall_s > until_s and reading.has_passed_5_3]
    places = standing_passes([(reading.has_passed_5_3, reading.from_sausage) for reading in early])
    return [*(early[place] for place in places), *late]


def _souring_until_s(batch: Batch) -> float:
    """Return when the last stage that waits for a pH was over, in wall seconds; infinite before that."""
    waits = {stage.name for stage in batch.profile.stages if stage.until.ph_at_most is not None}
    if batch.state != "complete" and batch.stage.name in waits:
        return inf
    return max((end.ended_wall_s for end in batch.ended if end.name in waits), default=inf)


def _size(sums: Sums) -> tuple[float, float]:
    return sums.guarded_f, sums.guarded_c


def count_gap(batch: Batch, highest_c: float | None, gap_s: float, error_k: float) -> Batch:
    """Return the batch with a gap of unknown length, known now, counted at this temperature: the upper bound.

    A pH that was typed in before its length was known was measured within or after it: the gap counts for it.
    """
    before = sums_now(batch)
    batch = count(batch, highest_c, gap_s, error_k)
    after = sums_now(batch)
    if not any(sums.gap_pending for sums in batch.ph_sums):
        return batch
    sums = tuple(_with_gap(sums, before, after) if sums.gap_pending else sums for sums in batch.ph_sums)
    return recount(replace(batch, ph_sums=sums))


def _with_gap(sums: Sums, before: Sums, after: Sums) -> Sums:
    return replace(plus(sums, after, before), gap_pending=False)


def counted(temp_c: float | None, lasts_s: float, error_k: float) -> Sums:
    """Return what so many seconds at this temperature come to; nothing where it is not known."""
    if temp_c is None:
        return Sums()
    hours, guarded_c = lasts_s / HOUR_S, temp_c + error_k
    return Sums(
        accumulate(US, temp_c, hours),
        accumulate(CANADA, temp_c, hours),
        accumulate(US, guarded_c, hours),
        accumulate(CANADA, guarded_c, hours),
        temp_c,
    )


def plus(sums: Sums, more: Sums, less: Sums = NOTHING) -> Sums:
    """Return these sums with more added, less what of it was in them already."""
    temps = [temp_c for temp_c in (sums.highest_air_c, more.highest_air_c) if temp_c is not None]
    return Sums(
        sums.degree_hours_f + more.degree_hours_f - less.degree_hours_f,
        sums.degree_hours_c + more.degree_hours_c - less.degree_hours_c,
        sums.guarded_f + more.guarded_f - less.guarded_f,
        sums.guarded_c + more.guarded_c - less.guarded_c,
        max(temps, default=None),
        sums.gap_pending or more.gap_pending,
        sums.gap_lost or more.gap_lost,
        sums.blind_s,
        sums.gap_bound_s,
    )
