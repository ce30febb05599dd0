"""Tables of plain text, at most 80 columns wide whatever the terminal is, and dots on a scale beside a column."""

import io
from collections.abc import Sequence
from typing import Final, Literal

from rich.console import Console
from rich.table import Table
from rich.text import Text

from controller.review.page.words import WIDTH, tied, untied

INDENT: Final = "  "
Side = Literal["left", "right"]


class Column:
    """Be one column of a table: its head, on which side it stands, and how wide it may be."""

    def __init__(self, head: str, side: Side = "left", most: int | None = None) -> None:
        """Take head, side, and the greatest width in signs."""
        self.head = head
        self.side: Side = side
        self.most = most


def table(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> list[str]:
    """Return the lines of a table, set in by two; a cell that is too long goes on below itself."""
    made = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), collapse_padding=True)
    for column in columns:
        made.add_column(Text(column.head), justify=column.side, overflow="fold", max_width=column.most, no_wrap=False)
    for row in rows:
        made.add_row(*(Text(tied(cell)) for cell in row))
    text = io.StringIO()
    console = Console(
        file=text, width=WIDTH - len(INDENT), color_system=None, force_terminal=False, legacy_windows=False
    )
    console.print(made)
    return [f"{INDENT}{untied(line)}".rstrip() for line in text.getvalue().splitlines()]


def dots(value: float, low: float, high: float, width: int, mark: float | None = None) -> str:
    """Return a line of signs with an "o" where a value lies between two ends, and a "|" at a mark.

    Args:
        value: what is shown; outside the ends it stands at the nearer one.
        low: the left end.
        high: the right end, more than the left one.
        width: of the line, in signs.
        mark: a value that is pointed at on each line; None for none.
    """
    signs = [" "] * width
    if mark is not None and low <= mark <= high:
        signs[_place(mark, low, high, width)] = "|"
    signs[_place(value, low, high, width)] = "o"
    return "".join(signs).rstrip()


def scale(low: float, high: float, width: int, mark: float | None, decimals: int = 1) -> str:
    """Return the head above such lines: both ends, and the mark where there is room for it."""
    left, right = f"{low:.{decimals}f}", f"{high:.{decimals}f}"
    signs = list(left.ljust(width - len(right)) + right)
    if mark is not None and low <= mark <= high:
        text = f"{mark:g}"
        place = min(max(_place(mark, low, high, width) - len(text) // 2, 0), width - len(text))
        if place > len(left) and place + len(text) < width - len(right):
            signs[place : place + len(text)] = text
    return "".join(signs)


def _place(value: float, low: float, high: float, width: int) -> int:
    share = (value - low) / (high - low) if high > low else 0.0
    return round(min(max(share, 0.0), 1.0) * (width - 1))


def thinned(count: int, most: int, keep: Sequence[int] = ()) -> list[int]:
    """Return which of so many rows are shown: the first, the last, those to keep, and others evenly between."""
    if count <= most:
        return list(range(count))
    chosen = {0, count - 1, *(place for place in keep if 0 <= place < count)}
    spare = max(most - len(chosen), 0)
    chosen |= {round((step + 1) * (count - 1) / (spare + 1)) for step in range(spare)}
    return sorted(chosen)
