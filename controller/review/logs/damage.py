"""Keep what of the files could not be read: how many lines of which file, their numbers, and why."""

from collections.abc import Mapping
from typing import Final

from msgspec import Struct, field

MOST_NUMBERS: Final = 1000
"""So many line numbers of one file are kept; how many there are in all is always told."""
MOST_RANGES: Final = 12
NO_END: Final = "the last line has no end"
NO_TIME: Final = "the first line names no column time"
NO_VALUE: Final = "a time or a figure in it cannot be read"


class FileDamage(Struct):
    """Hold what of one file could not be read."""

    rows: int = 0
    lines: list[int] = field(default_factory=list)  # The first ones, counted from 1, the header being line 1.
    why: dict[str, int] = field(default_factory=dict)  # How many lines for which reason.


class Unread:
    """Gather the lines that could not be read."""

    def __init__(self) -> None:
        """Begin with none."""
        self.files: dict[str, FileDamage] = {}

    def add(self, name: str, line: int, why: str, rows: int = 1) -> None:
        """Take one line of a file, or several from this one on."""
        damage = self.files.setdefault(name, FileDamage())
        damage.rows += rows
        damage.lines += range(line, min(line + rows, line + MOST_NUMBERS - len(damage.lines)))
        damage.why[why] = damage.why.get(why, 0) + rows

    @property
    def counts(self) -> Mapping[str, int]:
        """Return how many lines of each file could not be read."""
        return {name: damage.rows for name, damage in sorted(self.files.items())}


def numbers_text(lines: list[int], rows: int) -> str:
    """Return line numbers as ranges: 5, 8-11, and 40 more."""
    ranges: list[list[int]] = []
    for line in sorted(lines):
        if ranges and line == ranges[-1][1] + 1:
            ranges[-1][1] = line
        else:
            ranges.append([line, line])
    told = ranges[:MOST_RANGES]
    text = ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in told)
    left = rows - sum(last - first + 1 for first, last in told)
    return f"{text} and {left} more" if left else text
