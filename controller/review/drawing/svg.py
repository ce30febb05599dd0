"""The shapes of a picture as SVG text. Whatever could come from a file of somebody else is escaped here."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from typing import Final

FONT: Final = "font-family='Helvetica,Arial,sans-serif'"
Point = tuple[float, float]


def text(x: float, y: float, words: str, size: float = 14, anchor: str = "start", more: str = "") -> str:
    """Return words at a place; `more` are attributes of our own."""
    place = f"x='{x:.1f}' y='{y:.1f}' {FONT} font-size='{size:g}' text-anchor='{anchor}' {more}".rstrip()
    return f"<text {place}>{escape(words)}</text>"


def line(points: Sequence[Point], width: float, dash: str = "", grey: str = "black") -> str:
    """Return a line through points, solid or dashed."""
    dashed = f" stroke-dasharray='{dash}'" if dash else ""
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f"<polyline points='{path}' fill='none' stroke='{grey}' stroke-width='{width:g}'{dashed}/>"


def area(points: Sequence[Point], fill: str) -> str:
    """Return what a line through points shuts in, filled."""
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f"<polygon points='{path}' fill='{fill}'/>"


def box(x: float, y: float, width: float, height: float, fill: str, more: str = "") -> str:
    """Return a filled rectangle; `more` are attributes of our own."""
    return (
        f"<rect x='{x:.1f}' y='{y:.1f}' width='{width:.1f}' height='{height:.1f}' fill='{fill}' {more}".rstrip() + "/>"
    )


def runs(points: Iterable[Point | None]) -> Iterator[list[Point]]:
    """Yield the stretches between the breaks, where there is a None; one point alone is a stretch, too."""
    run: list[Point] = []
    for point in points:
        if point is not None:
            run.append(point)
        elif run:
            yield run
            run = []
    if run:
        yield run
