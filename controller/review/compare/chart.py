"""Draw curves of several batches on one axis with plain characters: capitals where it was measured, small ones between.

Between two points the straight line is drawn, and never beyond them. Where two curves share a place there is a +.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Final

from controller.review.compare.curves import Points, value_at

WIDTH: Final = 70
MOST_ROWS: Final = 14
LEAST_SPAN: Final = 0.5
"""A curve that hardly moves is not blown up to fill the drawing."""
LABEL: Final = 7
SHARED: Final = "+"
LINE: Final = "."


@dataclass(frozen=True, slots=True)
class Curve:
    """Hold one curve: its letter, its points, how far apart neighbours may lie to have a line between them."""

    letter: str
    points: Points
    apart: float = float("inf")
    dots: bool = True  # Capitals at the points themselves.


@dataclass(frozen=True, slots=True)
class _Scale:
    """Hold the axis at the side: the value of its lowest row, how much a row is, how many there are."""

    low: float
    step: float
    rows: int

    def row(self, value: float) -> int:
        """Return the row of a value, counted from the top."""
        return self.rows - 1 - min(max(round((value - self.low) / self.step), 0), self.rows - 1)

    def label(self, row: int) -> str:
        """Return the value of a row, with as many decimals as its step has."""
        decimals = max(-floor(log10(self.step) + 1e-9), 0) + (not _is_whole(self.step))
        return f"{self.low + (self.rows - 1 - row) * self.step:.{decimals}f}"


def _is_whole(step: float) -> bool:
    """Say whether a step has one digit only, as 0.2 and 5, and not 2.5."""
    return abs(step / 10.0 ** floor(log10(step) + 1e-9) % 1.0) < 1e-6  # noqa: PLR2004 - a hair


def _scale_of(low: float, high: float) -> _Scale:
    """Return a scale of round numbers that holds both values."""
    rough = max(high - low, LEAST_SPAN) / (MOST_ROWS - 2)
    tens = 10.0 ** floor(log10(rough))
    step = next(tens * factor for factor in (1.0, 2.0, 2.5, 5.0, 10.0) if tens * factor >= rough - 1e-12)
    begin = floor(low / step + 1e-9) * step
    return _Scale(begin, step, ceil((high - begin) / step - 1e-9) + 1)


def chart(curves: Sequence[Curve], unit: str, level: float | None = None) -> list[str]:
    """Return the lines of the drawing, at most 80 wide; none where there is no point.

    Args:
        curves: at least one.
        unit: of the axis of time.
        level: a value that is marked by a line of dots.
    """
    points = [point for curve in curves for point in curve.points if point[0] >= 0.0]
    if not points:
        return []
    longest = max(at for at, _ in points) or 1.0
    values = [value for _, value in points] + ([] if level is None else [level])
    scale = _scale_of(min(values), max(values))
    cells = [[" "] * WIDTH for _ in range(scale.rows)]
    if level is not None:
        cells[scale.row(level)] = [LINE if place % 2 else " " for place in range(WIDTH)]
    drawn: dict[tuple[int, int], str] = {}
    for curve in curves:
        for place, sign in _places(curve, longest, scale).items():
            before = drawn.get(place)
            other = before is not None and before.lower() != curve.letter.lower()
            drawn[place] = SHARED if other else sign
    for (row, column), sign in drawn.items():
        cells[row][column] = sign
    lines = [f"{scale.label(row):>{LABEL}} |{''.join(cells[row])}".rstrip() for row in range(scale.rows)]
    return [*lines, *_axis(longest, unit)]


def _places(curve: Curve, longest: float, scale: _Scale) -> dict[tuple[int, int], str]:
    found: dict[tuple[int, int], str] = {}
    known = [point for point in curve.points if point[0] >= 0.0]
    for column in range(WIDTH):
        at = longest * column / (WIDTH - 1)
        value = value_at(known, at)
        if value is not None and _gap(known, at) <= curve.apart:
            found[scale.row(value), column] = curve.letter.lower()
    for at, value in known:
        place = (scale.row(value), round(at / longest * (WIDTH - 1)))
        found[place] = curve.letter if curve.dots else curve.letter.lower()
    return found


def _gap(points: Points, at: float) -> float:
    """Return how far apart the two points around an instant lie."""
    after = next((place for place, point in enumerate(points) if point[0] >= at), len(points) - 1)
    return points[after][0] - points[after - 1][0] if after and points[after][0] != at else 0.0


def _axis(longest: float, unit: str) -> list[str]:
    """Return the axis of time with about six round numbers."""
    rough = longest / 6.0
    tens = 10.0 ** floor(log10(rough)) if rough > 0.0 else 1.0
    step = next(tens * factor for factor in (1.0, 2.0, 5.0, 10.0) if tens * factor >= rough)
    if unit == "h":
        step = next((hours for hours in (1.0, 2.0, 4.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0) if hours >= rough), step)
    ticks = [step * number for number in range(int(longest / step) + 1)]
    line, labels = ["-"] * WIDTH, [" "] * (WIDTH + 2)
    for tick in ticks:
        column = round(tick / longest * (WIDTH - 1))
        line[column] = "|"
        text = f"{tick:g}"
        begin = min(max(column - len(text) // 2, 0), WIDTH + 2 - len(text))
        labels[begin : begin + len(text)] = list(text)
    return [f"{'':>{LABEL}} +{''.join(line)}", f"{unit:>{LABEL}}  {''.join(labels)}".rstrip()]
