"""What all pictures share: the two papers they are drawn on, frames, legends, time axes with stages, gaps, alarms."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from controller.review.drawing.axis import Axis, TimeAxis
from controller.review.drawing.svg import Point, box, line, runs, text
from controller.review.report.shown import Table

SMALL: Final = 11.0
LETTER: Final = 5.9
"""About how wide a letter of the small size is."""
INK: Final = "#111"
SOFT: Final = "#595959"
"""Seven to one against white: also thin lines and small words can be read."""
GRID: Final = "#d0d0d0"
CLOUD: Final = "#dcdcdc"
DASHES: Final = ("", "6,2", "2,2", "8,2,2,2", "4,4")
SHAPES: Final = ("circle", "square", "up", "diamond", "down")
"""How pieces are told apart."""
LANES: Final = 4
ROW: Final = 14.0


class Paper(Struct, frozen=True, kw_only=True):
    """Hold how wide a picture is, where its plot begins and ends, and how many marks a time axis bears."""

    name: str
    width: float
    left: float
    right: float
    marks: int


WIDE: Final = Paper(name="wide", width=700, left=46, right=690, marks=9)
NARROW: Final = Paper(name="narrow", width=330, left=38, right=324, marks=4)
PAPERS: Final = (WIDE, NARROW)


class Picture(Struct, frozen=True, kw_only=True):
    """Hold one picture: its words, its drawings by the name of the paper, and the table beside it."""

    id: str
    title: str
    says: str  # What it shows, in words, for who cannot see it and for who can.
    drawn: dict[str, str]
    table: Table
    note: str = ""


class Lane(Struct, frozen=True, kw_only=True):
    """Hold one alarm as a mark on a time axis."""

    name: str
    from_s: float
    until_s: float
    urgent: bool


class Times(Struct, frozen=True, kw_only=True):
    """Hold what every time axis of a batch shows: its ends, stages, times without a record, alarms."""

    begin_s: float
    end_s: float
    zone: ZoneInfo
    stages: Sequence[tuple[str, float, float, bool]]  # Name, began, ended, elsewhere.
    gaps: Sequence[tuple[float, float]]
    alarms: Sequence[Lane]


def svg(key: str, title: str, says: str, paper: Paper, height: float, parts: Iterable[str]) -> str:
    """Return a whole drawing with its title and description; `key` makes its names the only ones on the page."""
    name = f"{key}-{paper.name}"
    return "\n".join(
        (
            (
                f"<svg xmlns='http://www.w3.org/2000/svg' class='{paper.name}' "
                f"viewBox='0 0 {paper.width:g} {height:g}' role='img' aria-labelledby='{name}-t {name}-d'>"
            ),
            f"<title id='{name}-t'>{escape(title)}</title><desc id='{name}-d'>{escape(says)}</desc>",
            f"<defs>{_hatch(f'{name}-gap', 45)}{_hatch(f'{name}-away', -45)}</defs>",
            *parts,
            "</svg>",
        )
    )


def _hatch(name: str, turn: int) -> str:
    step = 5 if turn > 0 else 9
    return (
        f"<pattern id='{name}' width='{step}' height='{step}' patternUnits='userSpaceOnUse' "
        f"patternTransform='rotate({turn})'><line x1='0' y1='0' x2='0' y2='{step}' stroke='#767676' "
        "stroke-width='1'/></pattern>"
    )


def small(x: float, y: float, words: str, anchor: str = "start", more: str = "") -> str:
    """Return small words."""
    return text(x, y, words, SMALL, anchor, more or f"fill='{INK}'")


def width_of(words: str) -> float:
    """Return about how wide small words are."""
    return LETTER * len(words)


def frame(x: Axis, y: Axis, unit: str, about: int = 5) -> Iterator[str]:
    """Yield the frame of a plot, with the marks of its upright axis and lines across."""
    for value in y.ticks(about):
        yield line([(x.first, y(value)), (x.last, y(value))], 0.6, "", GRID)
        yield small(x.first - 5, y(value) + 4, f"{value:g}".replace("-", "\N{MINUS SIGN}"), "end")
    corners = [(x.first, y.first), (x.last, y.first), (x.last, y.last), (x.first, y.last), (x.first, y.first)]
    yield line(corners, 0.9, "", INK)
    if unit:
        yield small(x.first, y.last - 6, unit)


def time_marks(x: TimeAxis, bottom: float, paper: Paper, words: bool = True) -> Iterator[str]:  # noqa: FBT001, FBT002
    """Yield the marks of a time axis, and their words below."""
    for at_s, said in x.marks(paper.marks):
        yield line([(x(at_s), bottom), (x(at_s), bottom + 4)], 0.9, "", INK)
        if words:
            anchor = "middle"
            if x(at_s) + width_of(said) / 2 > paper.width:
                anchor = "end"
            yield small(x(at_s), bottom + 16, said, anchor)


def background(times: Times, x: TimeAxis, top: float, bottom: float, key: str) -> Iterator[str]:
    """Yield the times that the batch was elsewhere, those without a record, and the bounds of the stages."""
    for _, from_s, until_s, elsewhere in times.stages:
        if elsewhere:
            yield _stretch(x, from_s, until_s, top, bottom, f"url(#{key}-away)")
        if from_s > x.low:
            yield line([(x.within(from_s), top), (x.within(from_s), bottom)], 0.8, "1,3", SOFT)
    for from_s, until_s in times.gaps:
        yield _stretch(x, from_s, until_s, top, bottom, f"url(#{key}-gap)")


def _stretch(x: TimeAxis, from_s: float, until_s: float, top: float, bottom: float, fill: str) -> str:
    left = x.within(from_s)
    return box(left, top, max(x.within(until_s) - left, 2.0), bottom - top, fill, "stroke='#767676' stroke-width='0.5'")


def stage_rows(times: Times, x: TimeAxis, paper: Paper) -> list[list[tuple[float, float, str]]]:
    """Return the names of the stages in as many rows as they need, the lowest first: (place, of its stage, words).

    Where they would meet the earlier one stands higher, so that no line to a stage crosses the name of another.
    """
    rows: list[list[tuple[float, float, str]]] = []
    begins: list[float] = []  # Of each row, where its leftmost name begins.
    for name, from_s, _, _ in reversed(times.stages):
        place = x.within(from_s)
        wide = width_of(name) + 8
        at = min(place, paper.width - wide)
        row = next((number for number, begin in enumerate(begins) if at + wide <= begin), len(rows))
        if row == len(rows):
            rows.append([])
            begins.append(paper.width)
        rows[row].append((at, place, name))
        begins[row] = at
    return rows


def stage_names(times: Times, x: TimeAxis, paper: Paper, plot_top: float) -> Iterator[str]:
    """Yield the names of the stages above the plot, each with a tick down to where it begins."""
    rows = stage_rows(times, x, paper)
    for number, row in enumerate(rows):
        y = plot_top - 6 - ROW * number
        for at, place, name in row:
            yield line([(place, plot_top), (place, y - 8)], 0.8, "", SOFT)
            yield small(at + 3, y, name, more=f"fill='{INK}' font-style='italic'")


def names_height(times: Times, x: TimeAxis, paper: Paper) -> float:
    """Return the height that the names of the stages take."""
    return ROW * len(stage_rows(times, x, paper)) + 4


def alarm_lanes(times: Times, x: TimeAxis, top: float, paper: Paper) -> tuple[list[str], float]:
    """Return the alarms as marks on the time axis, one below the other where they meet, and the height they take.

    What is urgent has a full mark. A mark without a name stands where there is no room for it; the table has all.
    """
    ends = [0.0] * LANES
    parts = []
    used = 0
    for lane in times.alarms:
        from_x, until_x = x.within(lane.from_s), max(x.within(lane.until_s), x.within(lane.from_s) + 1.5)
        wide = width_of(lane.name) + 8
        is_right = until_x + wide > paper.width
        needs = from_x - wide if is_right else from_x - 5
        row = next((number for number, end in enumerate(ends) if end <= needs), None)
        is_named = row is not None
        if row is None:
            row = next((number for number, end in enumerate(ends) if end <= from_x - 5), LANES - 1)
        ends[row] = max(until_x + (wide if is_named and not is_right else 3), ends[row])
        used = max(used, row + 1)
        y = top + 6 + ROW * row
        fill = INK if lane.urgent else "white"
        parts.append(line([(from_x, y), (until_x, y)], 3, "", SOFT))
        mark = f"{from_x - 4.5:.1f},{y - 5:.1f} {from_x + 4.5:.1f},{y - 5:.1f} {from_x:.1f},{y + 4:.1f}"
        parts.append(f"<polygon points='{mark}' fill='{fill}' stroke='{INK}' stroke-width='1.1'/>")
        if is_named:
            at = from_x - 7 if is_right else until_x + 5
            parts.append(small(at, y + 4, lane.name, "end" if is_right else "start"))
    return parts, ROW * used + (4 if used else 0)


def legend(paper: Paper, top: float, entries: Sequence[tuple[str, str]]) -> tuple[list[str], float]:
    """Return a legend that flows over as many rows as it needs, and its height: (sample, words), the sample 26 wide.

    A sample is drawn around the place 0, 0, its left end.
    """
    parts, x, y = [], paper.left, top + 10
    for sample, words in entries:
        wide = 32 + width_of(words) + 14
        if x > paper.left and x + wide > paper.width:
            x, y = paper.left, y + 16
        parts += [f"<g transform='translate({x:.1f} {y - 4:.1f})'>{sample}</g>", small(x + 32, y, words)]
        x += wide
    return parts, y - top + 8


def stroke(width: float, dash: str = "", grey: str = INK) -> str:
    """Return the sample of a line."""
    return line([(0, 0), (26, 0)], width, dash, grey)


def broken(points: Iterable[Point | None], width: float, dash: str = "", grey: str = INK) -> Iterator[str]:
    """Yield a line that breaks where nothing is known; a point alone is a dot."""
    for run in runs(points):
        if len(run) == 1:
            yield f"<circle cx='{run[0][0]:.1f}' cy='{run[0][1]:.1f}' r='{max(width, 1):g}' fill='{grey}'/>"
        else:
            yield line(_corners(run), width, dash, grey)


def _corners(run: Sequence[Point]) -> list[Point]:
    """Leave out the points that lie level between two others."""
    between = zip(run, run[1:], run[2:], strict=False)
    return [run[0], *(here for before, here, after in between if not before[1] == here[1] == after[1]), run[-1]]


def cloud(lower: Sequence[Point | None], upper: Sequence[Point | None]) -> Iterator[str]:
    """Yield the space between the lowest and the highest, with a thin edge, so that it shows on any printer."""
    for low, high in zip(runs(lower), runs(upper), strict=True):
        shape = [*high, *reversed(low)]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in shape)
        yield f"<polygon points='{path}' fill='{CLOUD}' stroke='#767676' stroke-width='0.5'/>"


def mark(shape: str, x: float, y: float) -> str:
    """Return the mark of one measurement."""
    style = f"fill='white' stroke='{INK}' stroke-width='1.3'"
    if shape == "circle":
        return f"<circle cx='{x:.1f}' cy='{y:.1f}' r='3.6' {style}/>"
    corners = {
        "square": ((-3.3, -3.3), (3.3, -3.3), (3.3, 3.3), (-3.3, 3.3)),
        "up": ((-4, 3.4), (4, 3.4), (0, -4)),
        "down": ((-4, -3.4), (4, -3.4), (0, 4)),
        "diamond": ((0, -4.8), (4.8, 0), (0, 4.8), (-4.8, 0)),
    }[shape]
    path = " ".join(f"{x + right:.1f},{y + down:.1f}" for right, down in corners)
    return f"<polygon points='{path}' {style}/>"
