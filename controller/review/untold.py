"""Find the time that no climate row can hold: gaps of the program whose length no clock ever told."""

from controller.core.outage.back import BOUNDED, KNOWN, NEVER, UNKNOWN
from controller.review.batch import BatchRecord


def untold_gaps(record: BatchRecord, begin_s: float, end_s: float | None) -> int:
    """Return how many gaps of unknown length lie between hanging and the pH that ends the count.

    One that the cooling has bounded is none of them: `bounded_gaps` has it.

    Args:
        record: the record of the batch.
        begin_s: when the meat was hung, by the clock on the wall.
        end_s: when that pH was measured; None while there is none.
    """
    never = open_still = 0
    for event in record.events:
        if event.kind != "gap":
            continue
        if event.id == KNOWN:
            open_still = 0  # It closes all that were open: they are one to the batch.
        elif begin_s <= event.time_s and (end_s is None or event.time_s <= end_s):
            never += event.id == NEVER
            open_still += event.id == UNKNOWN
            if open_still and (event.id == NEVER or _bound_s(event.id) is not None):
                open_still -= 1
    return never + open_still


def bounded_gaps(record: BatchRecord) -> list[tuple[float, float]]:
    """Return the gaps that only the cooling bounds: when the program was back, and how long they were at most, in s.

    Where a clock has told the length later, the rows themselves hold the gap.
    """
    found: list[tuple[float, float]] = []
    for event in record.events:
        if event.kind != "gap":
            continue
        bound_s = _bound_s(event.id)
        if event.id == KNOWN:
            found = []
        elif bound_s is not None:
            found.append((event.time_s, bound_s))
    return found


def _bound_s(name: str) -> float | None:
    """Return the seconds in the id of an event; None where it is no bound."""
    word, _, seconds = name.partition(":")
    return float(seconds) if word == BOUNDED and seconds.isascii() and seconds.isdigit() else None
