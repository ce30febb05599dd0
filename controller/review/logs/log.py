"""Hold one climate log: its frames in order, as often as they are asked for; a short one is read once only."""

from collections.abc import Callable, Iterator, Sequence
from math import inf
from pathlib import Path
from typing import Final

import polars as pl

from controller.review.logs.damage import Unread
from controller.review.logs.lines import ClimateRow
from controller.review.logs.order import Disorder, in_order
from controller.review.logs.scan import SCHEMA, Schema, Tell, rows_of, scan

REMEMBERED_ROWS: Final = 250_000
"""A log of so many rows stays in memory (60 MB at most); half a year of minutes, a month of 10 s."""
Read = Callable[[Sequence[Path], Unread, Tell | None], Iterator[pl.DataFrame]]


class Log:
    """Give out the rows of some climate files, and what was odd about them."""

    def __init__(
        self,
        paths: Sequence[Path],
        every_s: float,
        *,
        tell: Tell | None = None,
        until_s: float = inf,
        read: Read = scan,
        schema: Schema = SCHEMA,
    ) -> None:
        """Name the files; nothing is read yet.

        Args:
            paths: the files, in their order.
            every_s: the length of a row.
            tell: is told of the bytes that have been read.
            until_s: what ended later is left out.
            read: reads them,
            schema: into frames of these columns.
        """
        self.paths, self.every_s = paths, every_s
        self._tell, self._until_s, self._read = tell, until_s, read
        self._schema = schema
        self._found: tuple[Unread, Disorder] | None = None
        self._kept: list[pl.DataFrame] | None = None
        self._rows: list[ClimateRow] | None = None

    def frames(self) -> Iterator[pl.DataFrame]:
        """Yield the rows in order: the columns of `SCHEMA`, and `grown_s`.

        Raises:
            DataError: a file cannot be read at all.
        """
        if self._kept is not None:
            yield from self._kept
            return
        unread, disorder = Unread(), Disorder()
        kept: list[pl.DataFrame] | None = []
        rows = 0
        for frame in in_order(self._read(self.paths, unread, self._tell), self.every_s, disorder, self._schema):
            early = frame if self._until_s == inf else frame.filter(pl.col("time_s") <= self._until_s)
            rows += early.height
            if kept is not None:
                kept = [*kept, early] if rows <= REMEMBERED_ROWS else None
            if early.height:
                yield early
        self._found = unread, disorder
        self._kept = None if kept is None else [frame for frame in kept if frame.height]

    @property
    def unread(self) -> Unread:
        """Return the lines that could not be read."""
        return self._seen()[0]

    @property
    def disorder(self) -> Disorder:
        """Return what was out of order."""
        return self._seen()[1]

    def _seen(self) -> tuple[Unread, Disorder]:
        if self._found is None:
            for _ in self.frames():
                pass
        return self._found or (Unread(), Disorder())

    @property
    def rows(self) -> Sequence[ClimateRow]:
        """Return every row by itself: some 500 bytes of memory each, so nothing for years of them."""
        if self._rows is None:
            self._rows = [row for frame in self.frames() for row in rows_of(frame)]
        return self._rows

    def until(self, time_s: float) -> "Log":
        """Return the log as it was at an instant."""
        early = Log(self.paths, self.every_s, until_s=min(self._until_s, time_s), read=self._read)
        self._seen()
        if self._kept is not None:
            frames = (frame.filter(pl.col("time_s") <= time_s) for frame in self._kept)
            early._kept = [frame for frame in frames if frame.height]
            early._found = self._found
        return early
