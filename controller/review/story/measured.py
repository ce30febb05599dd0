"""The course of what was measured: each pH and each weight, by the hours after hanging."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, Final

from controller.records.csv_text import time_text
from controller.review.batch import ReadingRow
from controller.review.readings import OUT, is_ph_that_counts

HOUR_S: Final = 3600.0
MOST_GAIN_PCT: Final = -1000.0
"""Beyond this a weight is a slip, and a figure of 300 digits tells no more of it."""
FEWEST: Final = 2


def after_h(at_s: float, hung_s: float | None) -> float | None:
    """Return the hours from hanging to an instant, below 0 before it; None where nobody has hung the meat."""
    return None if hung_s is None else round((at_s - hung_s) / HOUR_S, 3)


def ph_course(readings: Sequence[ReadingRow], hung_s: float | None) -> list[dict[str, Any]]:
    """Return each pH that stands, by its time; `counts` is false for what was only noted, as by strips."""
    return [
        {
            "time": time_text(row.time_s),
            "hours": after_h(row.time_s, hung_s),
            "ph": row.value,
            "counts": is_ph_that_counts(row),
            "instrument": row.instrument,
            "note": row.note,
            "actor": row.actor,
        }
        for row in readings
        if row.kind == "ph"
    ]


def weight_course(readings: Sequence[ReadingRow], hung_s: float | None) -> list[dict[str, Any]]:
    """Return each weighing that stands, by its time: its piece, grams, loss in per cent of the piece's first weight.

    `loss_pct` may be below 0, down to -1000, where a piece took up water or was weighed wrong; `out`: the piece left.
    """
    green: dict[str, float] = {}
    course = []
    for row in readings:
        if row.kind != "weight" or row.value is None or row.value <= 0.0:
            continue
        first_g = green.setdefault(row.piece, row.value)
        course.append(
            {
                "time": time_text(row.time_s),
                "hours": after_h(row.time_s, hung_s),
                "piece": row.piece,
                "grams": row.value,
                "loss_pct": round(max(100.0 * (1.0 - row.value / first_g), MOST_GAIN_PCT), 2),
                "out": row.note.split(";")[0] == OUT,
                "actor": row.actor,
            }
        )
    return course


def spread_pct(weights: Sequence[Mapping[str, Any]]) -> float | None:
    """Return how far the pieces' last losses lie apart, in per cent of the green weight; None with fewer than two."""
    last = {row["piece"]: row["loss_pct"] for row in weights}
    weighed = Counter(row["piece"] for row in weights)
    losses = [loss_pct for piece, loss_pct in last.items() if weighed[piece] >= FEWEST]
    return round(max(losses) - min(losses), 2) if len(losses) >= FEWEST else None
