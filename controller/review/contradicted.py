"""Leave out the pH of a wrapped sample that a real sausage contradicted before the ferment was over."""

from collections.abc import Sequence
from math import inf
from typing import Final

from controller.food.degree_hours import has_reached, standing_passes
from controller.review.batch import ReadingRow
from controller.review.readings import is_ph_that_counts

SAUSAGE: Final = "sample: sausage"


def uncontradicted(
    readings: Sequence[ReadingRow], begin_s: float, until_s: float | None, error: float
) -> list[ReadingRow]:
    """Return the pH readings without those that passed 5.3 and do not stand, by rising time.

    Args:
        readings: what stands, by rising time.
        begin_s: when the meat was hung.
        until_s: when the ferment was over; None while it is not. What rises later, in ripening, contradicts nothing.
        error: what the meter may be wrong by.
    """
    taken = [row for row in readings if is_ph_that_counts(row) and row.value is not None]
    early = [row for row in taken if begin_s <= row.time_s <= (inf if until_s is None else until_s)]
    passed = [has_reached(row.value or 0.0, error=error) for row in early]
    places = standing_passes([(has, row.note.startswith(SAUSAGE)) for has, row in zip(passed, early, strict=True)])
    fallen = {row.id for place, row in enumerate(early) if passed[place] and place not in places}
    return [row for row in taken if row.id not in fallen]
