"""Count the degree-hours of a batch, and tell those up to pH 5.3 from what came after.

Counting ends with the first pH that stands at or below 5.3 with its instrument's error added, at the moment it was
typed in: an upper bound where it was measured earlier. What is counted after it is kept apart, for a correction may
bring it back. So nothing is ever lost, whichever of several readings is corrected.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Sums
from controller.food.degree_hours import CANADA, US, accumulate

HOUR_S: Final = 3600.0


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


def sums_now(batch: Batch, *, gap_pending: bool) -> Sums:
    """Return all that has been counted so far, to be kept beside a pH that is typed in now."""
    temps = [temp_c for temp_c in (batch.highest_air_c, batch.spare_highest_c) if temp_c is not None]
    return Sums(
        batch.degree_hours_f + batch.spare_f,
        batch.degree_hours_c + batch.spare_c,
        batch.guarded_f + batch.spare_guarded_f,
        batch.guarded_c + batch.spare_guarded_c,
        max(temps, default=None),
        gap_pending,
    )


def recount(batch: Batch) -> Batch:
    """Return the batch with the degree-hours that its readings leave: up to the first one that passed 5.3."""
    total = sums_now(batch, gap_pending=False)
    first = next((reading for reading in batch.ph_readings if reading.has_passed_5_3), None)
    kept = total if first is None else first.sums or total
    return replace(
        batch,
        passed_5_3=first is not None,
        degree_hours_f=kept.degree_hours_f,
        degree_hours_c=kept.degree_hours_c,
        guarded_f=kept.guarded_f,
        guarded_c=kept.guarded_c,
        highest_air_c=kept.highest_air_c,
        spare_f=total.degree_hours_f - kept.degree_hours_f,
        spare_c=total.degree_hours_c - kept.degree_hours_c,
        spare_guarded_f=total.guarded_f - kept.guarded_f,
        spare_guarded_c=total.guarded_c - kept.guarded_c,
        spare_highest_c=None if first is None else total.highest_air_c,
    )


def count_gap(batch: Batch, highest_c: float | None, gap_s: float, error_k: float) -> Batch:
    """Return the batch with a gap counted at the highest temperature known on either side of it: the upper bound.

    A pH that was typed in before the gap could be reckoned was measured within or after it: the gap counts for it.
    """
    before = sums_now(batch, gap_pending=False)
    batch = count(batch, highest_c, gap_s, error_k)
    after = sums_now(batch, gap_pending=False)
    if not any(sums.gap_pending for sums in batch.ph_sums):
        return batch
    sums = tuple(_with_gap(sums, before, after) if sums.gap_pending else sums for sums in batch.ph_sums)
    return recount(replace(batch, ph_sums=sums))


def _with_gap(sums: Sums, before: Sums, after: Sums) -> Sums:
    temps = [temp_c for temp_c in (sums.highest_air_c, after.highest_air_c) if temp_c is not None]
    return Sums(
        sums.degree_hours_f + after.degree_hours_f - before.degree_hours_f,
        sums.degree_hours_c + after.degree_hours_c - before.degree_hours_c,
        sums.guarded_f + after.guarded_f - before.guarded_f,
        sums.guarded_c + after.guarded_c - before.guarded_c,
        max(temps, default=None),
    )
