"""pH and weights on the page: a row for each measurement, with a dot on a scale beside it."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from controller.food.degree_hours import TARGET_PH
from controller.review.page.tables import Column, dots, scale, table, thinned
from controller.review.page.words import Look, lasted, many

MOST: Final = 14
WIDE: Final = 34
MOST_PH: Final = 14.0
"""A damaged file may hold anything; the scale does not."""
STEP_PH: Final = 0.2
STEP_PCT: Final = 5.0
MOST_PIECES: Final = 8
LESS_THAN_ALL: Final = "all are in --csv"


def ph(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the course of the pH: strips and what was only noted are marked, and draw no dot."""
    rows = figures["ph_course"]
    counted = [min(max(row["ph"], 0.0), MOST_PH) for row in rows if row["counts"]]
    if not rows:
        return ["pH: not measured"]
    low, high = _ends([*counted, TARGET_PH], STEP_PH)
    passed = next((place for place, row in enumerate(rows) if row["counts"] and row["ph"] <= TARGET_PH), None)
    shown = thinned(len(rows), MOST, () if passed is None else (passed - 1, passed))
    made = [
        [_after(rows[place], look), f"{rows[place]['ph']:.2f}",
         dots(rows[place]["ph"], low, high, WIDE, TARGET_PH) if rows[place]["counts"] else "noted only",
         _how(rows[place])]
        for place in shown
    ]  # fmt: skip
    columns = [
        Column("after", "right"), Column("pH", "right"), Column(scale(low, high, WIDE, TARGET_PH)), Column("", most=18),
    ]  # fmt: skip
    return [f"pH, {_shown(len(shown), len(rows), 'reading')}", *table(columns, made)]


def _shown(shown: int, total: int, word: str) -> str:
    return many(total, word) if shown == total else f"{shown} of {many(total, word)}; {LESS_THAN_ALL}"


def _after(row: Mapping[str, Any], look: Look) -> str:
    return look.short(row["time"]) if row["hours"] is None else lasted(row["hours"])


def _how(row: Mapping[str, Any]) -> str:
    return ", ".join(part for part in (row["instrument"], row["note"].removeprefix("sample: ").split(";")[0]) if part)


def _ends(values: Sequence[float], step: float) -> tuple[float, float]:
    """Return the ends of a scale that holds all of these, on whole steps."""
    low, high = min(values) // step * step, -(-max(values) // step) * step
    return round(low, 6), round(high if high > low else low + step, 6)


def weights(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the course of the loss: at each weighing the slowest and the fastest piece, and a dot for the slowest."""
    by_time: dict[str, list[Mapping[str, Any]]] = {}
    for row in figures["weight_course"]:
        by_time.setdefault(row["time"], []).append(row)
    if not by_time:
        return ["Weight: not weighed"]
    aims = [one["until"]["weight_loss_pct"] for one in figures["planned"] if one["until"]["weight_loss_pct"]]
    aim = max(aims, default=None)
    losses = [row["loss_pct"] for row in figures["weight_course"]]
    low, high = _ends([0.0, *losses, *([] if aim is None else [aim])], STEP_PCT)
    all_of = list(by_time.values())
    shown = thinned(len(all_of), MOST)
    made = [_weighing(all_of[place], look, low, high, aim) for place in shown]
    columns = [
        Column("after", "right"), Column("pieces", "right"), Column("slowest", "right"), Column("fastest", "right"),
        Column(scale(low, high, WIDE, aim, 0)),
    ]  # fmt: skip
    title = f"Weight loss in %, {_shown(len(shown), len(all_of), 'weighing')}"
    return [title, *table(columns, made), *_pieces(figures)]


def _weighing(rows: Sequence[Mapping[str, Any]], look: Look, low: float, high: float, aim: float | None) -> list[str]:
    slow, fast = min(rows, key=_loss), max(rows, key=_loss)
    left = sum(row["out"] for row in rows)
    count = f"{len(rows)} ({left} out)" if left else str(len(rows))
    dot = dots(slow["loss_pct"], low, high, WIDE, aim)
    return [_after(rows[0], look), count, _one(slow), _one(fast) if len(rows) > 1 else "", dot]


def _loss(row: Mapping[str, Any]) -> float:
    return float(row["loss_pct"])


def _one(row: Mapping[str, Any]) -> str:
    return f"{row['piece']} {row['loss_pct']:.1f}"


def _pieces(figures: Mapping[str, Any]) -> list[str]:
    """Return first and last grams of each piece, the slowest first."""
    first: dict[str, Mapping[str, Any]] = {}
    last: dict[str, Mapping[str, Any]] = {}
    for row in figures["weight_course"]:
        first.setdefault(row["piece"], row)
        last[row["piece"]] = row
    order = sorted(last, key=lambda piece: _loss(last[piece]))
    said = [
        f"{piece} {first[piece]['grams']:.0f} to {last[piece]['grams']:.0f} g ({last[piece]['loss_pct']:.1f} %"
        f"{', out' if last[piece]['out'] else ''})"
        for piece in order[:MOST_PIECES]
    ]
    more = f"; {len(order) - MOST_PIECES} more in --csv" if len(order) > MOST_PIECES else ""
    apart = figures["pieces_apart_pct"]
    spread = "" if apart is None else f"; {apart:.1f} % lie between slowest and fastest"
    return [f"  each piece: {', '.join(said)}{more}{spread}"]
