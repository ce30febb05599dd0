"""Where everything of the drawing stands: parts beside the header, and wires that do not cross where they need not.

Theory of operation. All heights of the header lie on a grid of 10: a pin's row, and the gap above and below it, through
which a pin of the far row reaches this side. All terminals of parts lie 5 beside that grid, so no two wires ever run on
each other. Parts stand in the order in which their wires leave the header. Each wire has one upright stretch on a track
of its own; where wires go down, the upper one turns farther out, and where they go up, the lower one: so wires with one
end each never cross (river routing). Wires that several sensors share may be crossed; a dot says where wires join.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from controller.cli.wires.listed import Part, Wire, Wires

GRID: Final = 10.0
ROW: Final = 30.0
ROWS: Final = 20
TOP: Final = 92.0
"""The middle of the first row of pins."""
GAP: Final = 10.0
LINE: Final = 12.0
"""From one line of words to the next."""
RESISTOR_ROW: Final = 20.0
HALF_RESISTOR: Final = 6.5
TWO_ROWS: Final = 5.0
"""A box with two terminals on a side begins so much lower, that they stand in the middle of its halves."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Hold one part, the top of its box, its height, and the heights of its terminals, rails and resistor."""

    part: Part
    top: float
    height: float
    terminals: tuple[float, ...]
    rails: tuple[float, ...]
    resistor: float | None

    @property
    def bottom(self) -> float:
        """Return where it ends, its resistor with it."""
        return self.top + self.height if self.resistor is None else self.resistor + HALF_RESISTOR


@dataclass(frozen=True, slots=True)
class Run:
    """Hold how a wire runs on one side: where it leaves the header, on which track, and to which heights it goes."""

    wire: Wire
    exit: float | None  # None: it leaves no pin of the header.
    track: int
    ends: tuple[float, ...]


def row_of(pin: int) -> float:
    """Return the height of a pin's row."""
    return TOP + ROW * ((pin - 1) // 2)


def exit_of(pin: int, *, left: bool) -> float:
    """Return at which height the wire of a pin leaves the header on this side.

    A pin of the row on this side leaves straight; one of the far row through the gap, above or below it.
    """
    odd = pin % 2 == 1
    if odd == left:
        return row_of(pin)
    return row_of(pin) + (GRID if odd else -GRID)


def place(found: Wires, side: str) -> list[Placed]:
    """Return the parts of one side from top to bottom, each as near to its pin as there is room."""
    left = side == "reads"
    parts = [part for part in found.parts if part.side == side]

    def leaves(part: Part) -> float:
        pin = found.by_number[part.terminals[0][1]].pin
        return float("inf") if pin is None else exit_of(pin, left=left)

    parts.sort(key=leaves)
    heights = [_height(part) + (RESISTOR_ROW if part.resistor else 0.0) + GAP for part in parts]
    placed: list[Placed] = []
    top = TOP - GRID
    lowest = TOP + ROW * (ROWS - 1) + GRID
    for part, rest in zip(parts, [sum(heights[at:]) for at in range(len(parts))], strict=True):
        wanted = min(leaves(part) - 15.0, lowest - rest)
        top = max(top, TOP - GRID + GRID * ((wanted - TOP + GRID) // GRID)) if wanted > top else top
        placed.append(_placed(part, top))
        top += _height(part) + (RESISTOR_ROW if part.resistor else 0.0) + GAP
    return placed


def _height(part: Part) -> float:
    words = LINE * len(part.lines) + 4.0
    return GRID * -(-max(words, 20.0 * _rows(part)) // GRID)


def _placed(part: Part, top: float) -> Placed:
    height = _height(part)
    lower = TWO_ROWS if _rows(part) > 1 else 0.0

    def heights(count: int) -> tuple[float, ...]:
        return tuple(top + 15.0 + 20.0 * at for at in range(count))

    resistor = top + height + 15.0 if part.resistor else None
    return Placed(part, top + lower, height, heights(len(part.terminals)), heights(len(part.rails)), resistor)


def _rows(part: Part) -> int:
    return max(len(part.terminals), len(part.rails))


def runs(found: Wires, placed: Sequence[Placed], side: str) -> list[Run]:
    """Return how the wires of one side run, each on a track of its own; track 0 is the nearest to the header."""
    ends: dict[int, list[float]] = {}
    for one in placed:
        for (_, number), height in zip(one.part.terminals, one.terminals, strict=True):
            ends.setdefault(number, []).append(height)
        if one.part.resistor is not None and one.resistor is not None:
            ends.setdefault(one.part.resistor.wire, []).append(one.resistor)
    known: list[tuple[float, int]] = []
    for number in ends:
        pin = found.by_number[number].pin
        if pin is not None:
            known.append((exit_of(pin, left=side == "reads"), number))
    known.sort()
    upwards = [number for leaves, number in known if max(ends[number]) < leaves]
    downwards = [number for leaves, number in known if min(ends[number]) > leaves]
    both = [number for _, number in known if number not in {*upwards, *downwards}]
    tracks = {number: track for track, number in enumerate((*upwards, *reversed(downwards), *both))}
    exits = {number: leaves for leaves, number in known}
    unknown = [number for number in ends if number not in exits]
    return [
        Run(found.by_number[number], exits.get(number), tracks.get(number, len(known)), tuple(sorted(ends[number])))
        for number in (*exits, *unknown)
    ]
