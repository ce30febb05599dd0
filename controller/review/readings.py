"""Say what people measured: corrections honoured, the slowest piece's loss, the pH."""

from collections.abc import Iterable, Sequence

from controller.food.degree_hours import has_reached
from controller.review.batch import ReadingRow

METER = "meter"
STRIPS = "strips"
NOTED_ONLY = "noted only"
OUT = "out"


def standing(readings: Iterable[ReadingRow]) -> list[ReadingRow]:
    """Return the readings that no other one replaces, by their time.

    A correction names the entry it replaces; where an entry holds several pieces, it replaces the same piece.
    """
    readings = list(readings)
    replaced = {(row.replaces, row.kind, row.piece) for row in readings if row.replaces}
    kept = [row for row in readings if (row.id, row.kind, row.piece) not in replaced]
    return sorted(kept, key=_time_s)


def _time_s(row: ReadingRow) -> float:
    return row.time_s


def weight_loss_pct(readings: Sequence[ReadingRow]) -> float | None:
    """Return the loss of the slowest piece, in per cent of its first weight, 0 to 100; else None.

    Pieces that have left (the note of their last row begins with "out") do not count, unless all have. One that hangs
    still and was weighed green alone leaves it open: nobody knows then which one is the slowest.
    """
    green: dict[str, float] = {}
    losses: dict[str, float] = {}
    out: set[str] = set()
    for row in readings:
        if row.kind != "weight" or row.value is None or row.value <= 0.0:
            continue
        (out.add if row.note.split(";")[0] == OUT else out.discard)(row.piece)
        if row.piece in green:
            losses[row.piece] = min(max(100.0 * (1.0 - row.value / green[row.piece]), 0.0), 100.0)
        else:
            green[row.piece] = row.value
    if any(piece not in losses and piece not in out for piece in green):
        return None
    left = {piece: loss for piece, loss in losses.items() if piece not in out}
    return min((left or losses).values(), default=None)


def measured_ph(readings: Sequence[ReadingRow]) -> list[tuple[float, float]]:
    """Return (time, pH) of what was measured with a meter: strips are noted, but nothing is concluded from them."""
    return [(row.time_s, row.value) for row in readings if row.value is not None and is_ph_that_counts(row)]


def is_ph_that_counts(row: ReadingRow) -> bool:
    """Say whether this is a pH by a meter that could be believed when it was typed in, by its name and its note."""
    by_meter = row.instrument.split(maxsplit=1)[:1] == [METER]
    return row.kind == "ph" and by_meter and NOTED_ONLY not in row.note.split("; ")


def reached_s(ph: Sequence[tuple[float, float]], begin_s: float, error: float = 0.0) -> float | None:
    """Return when the first reading since then at or below 5.3 was taken, the meter's error added; None before it."""
    return next((time_s for time_s, value in ph if time_s >= begin_s and has_reached(value, error=error)), None)
