"""Read a curve of measured points between its points, and never beyond them."""

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

Points = Sequence[tuple[float, float]]
"""(hours or days, value), by rising time."""


def value_at(points: Points, at: float) -> float | None:
    """Return the value on the line between the two neighbours; None before the first and after the last point."""
    place = bisect_left(points, at, key=_time)
    if place == len(points):
        return None
    time, value = points[place]
    if time == at:
        return value
    if not place:
        return None
    before, from_value = points[place - 1]
    return from_value + (value - from_value) * (at - before) / (time - before)


def _time(point: tuple[float, float]) -> float:
    return point[0]


def crossing(points: Points, level: float, *, falling: bool) -> tuple[float, float] | None:
    """Return when a level was first passed, on the line between the two neighbours, and how steep that line is.

    None where the first point is past it already, or none is: nobody knows then when it was.

    Args:
        points: of the curve.
        level: to be passed.
        falling: whether it is passed downwards.
    """
    sign = -1.0 if falling else 1.0
    for (before, from_value), (time, value) in pairwise(points):
        if sign * (from_value - level) >= 0.0:
            return None
        if sign * (value - level) >= 0.0:
            steep = (value - from_value) / (time - before)
            return before + (level - from_value) / steep, steep
    return None
