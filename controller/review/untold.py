"""Find the time that no degree-hours can hold: gaps of the program whose length no clock ever told."""

from controller.core.outage.back import KNOWN, NEVER, UNKNOWN
from controller.review.batch import BatchRecord


def untold_gaps(record: BatchRecord, begin_s: float, end_s: float | None) -> int:
    """Return how many gaps of unknown length lie between hanging and the pH that ends the count.

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
    return never + open_still
