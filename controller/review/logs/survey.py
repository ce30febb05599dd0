"""Go through a climate log once, and keep what the figures of a review need; never more than some frames of it."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

import polars as pl
from msgspec import Struct

from controller.review.logs.heat import Counting, points_of
from controller.review.logs.order import GAP_ROWS
from controller.review.logs.runs import Run, Runs

Key = tuple[bool, float | None]
"""Whether the instruments' errors are added, and when the count ends."""
Count = Callable[[float, float], Mapping[Key, Counting]]
"""Returns what is to be counted, once it is known when counting begins, and when the first row ended."""


class Row(Struct, frozen=True):
    """Hold the stage and state of one row, and when it ended."""

    time_s: float
    stage: str
    state: str


class Gap(Struct, frozen=True):
    """Hold the rows before and behind a gap."""

    before: Row
    row: Row


class Asked(Struct, frozen=True):
    """Hold what is asked of a log.

    Attributes:
        every_s: the length of a row.
        hung_s: when the meat was hung; None where nobody said so.
        begin_s: when counting begins; None: with the first row of one of the stages in `begins_with`.
        count: what is counted then.
    """

    every_s: float
    hung_s: float | None
    begin_s: float | None
    begins_with: frozenset[str]
    count: Count


class Survey(Struct, frozen=True):
    """Hold what a log says."""

    rows: int
    first: Row | None
    last: Row | None
    runs: Sequence[Run]
    gaps: Sequence[Gap]
    begin_s: float | None  # When counting began.
    counts: Mapping[Key, Counting]

    @property
    def first_s(self) -> float | None:
        """Return when the first row ended."""
        return None if self.first is None else self.first.time_s

    @property
    def last_s(self) -> float | None:
        """Return when the last row ended."""
        return None if self.last is None else self.last.time_s


WHERE: Final = ("time_s", "stage", "state")


def survey(frames: Iterable[pl.DataFrame], asked: Asked) -> Survey:
    """Return what a log says, gone through once.

    Args:
        frames: in order, as `in_order` gives them.
        asked: what is asked.
    """
    runs = Runs(asked.every_s, asked.hung_s)
    heat = _Heat(asked)
    gaps: list[Gap] = []
    first = last = None
    rows = 0
    for frame in frames:
        ends = frame.select(WHERE)
        if first is None:
            first = Row(*ends.row(0))
        gaps += _gaps(ends, last, GAP_ROWS * asked.every_s)
        last = Row(*ends.row(-1))
        runs.feed(frame)
        heat.feed(frame, runs, first.time_s)
        rows += frame.height
    return Survey(rows, first, last, runs.all, gaps, heat.begin_s, heat.counts)


def _gaps(ends: pl.DataFrame, before: Row | None, longest_s: float) -> Iterator[Gap]:
    times = ends["time_s"]
    if before is not None and times[0] - before.time_s > longest_s:
        yield Gap(before, Row(*ends.row(0)))
    for place in (times.diff() > longest_s).arg_true():
        yield Gap(Row(*ends.row(place - 1)), Row(*ends.row(place)))


class _Heat:
    """Feed what is counted, from the row on from which it is."""

    def __init__(self, asked: Asked) -> None:
        self.begin_s = asked.begin_s
        self.counts: Mapping[Key, Counting] = {}
        self._asked = asked
        self._waiting: list[pl.DataFrame] = []

    def feed(self, frame: pl.DataFrame, runs: Runs, first_s: float) -> None:
        points = points_of(frame)
        if not self.counts:
            if self.begin_s is None:
                self.begin_s = self._begins(runs)
            if self.begin_s is None:
                self._waiting = [points.tail(1)] if points.height else self._waiting
                return
            self.counts = self._asked.count(self.begin_s, first_s)
            points = pl.concat([*self._waiting, points])
        for counting in set(self.counts.values()):  # Two keys may stand for one count.
            counting.feed(points)

    def _begins(self, runs: Runs) -> float | None:
        found: Any = next((run for run in runs.all if run.name in self._asked.begins_with), None)
        return None if found is None else found.first_s - self._asked.every_s
