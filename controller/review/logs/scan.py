"""Scan climate files by column name, in pieces of some megabytes: never more of them is in memory.

Polars reads a piece at once. Where anything in it is odd (a torn line, zero bytes, a quote, a figure that is none), its
files are read line by line instead (`lines`), so both ways give the same rows, and damaged lines are told by number.

What makes the quick way as strict as the slow one: without its letters and figures, a piece must be nothing but lines
of as many commas as the header has. Polars takes no figure that is none; that all are finite, that no time has a blank
in it and all texts can be printed, is asked besides.
"""

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from math import isfinite
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple, TypeVar

import polars as pl

from controller.core.people.desk import LATEST_WALL_S
from controller.errors import DataError
from controller.review.logs.damage import NO_END, NO_TIME, Unread
from controller.review.logs.lines import (
    AIR,
    BESIDE,
    CLOSINGS,
    DUTIES,
    FIGURES,
    HUMIDITY,
    ClimateRow,
    Damaged,
    climate_row,
    fields_of,
    places_of,
    time_of,
    whole,
)
from controller.review.logs.spreadsheet import MARK, Clock, Hints, is_local, separator_of

PLAIN: Final = 3 + len(AIR) + len(HUMIDITY) + 1
"""So many values of a row stand for themselves."""
PIECE_BYTES: Final = 16_000_000
PARSED_AHEAD: Final = 2
"""So many groups of pieces are parsed while the rows of the one before are looked at: each of them costs some 40 MB."""
SPELL_BYTES: Final = 1_000_000
FLESH: Final = bytes(sign for sign in range(0x20, 0x100) if sign not in b',"\x7f')
"""What is between the signs that make a line of CSV; any other sign below a blank is odd."""
TIME_FORMAT: Final = "%Y-%m-%dT%H:%M:%SZ"
TIME_BYTES: Final = 20
BLANK: Final = "[^!-~]"
"""Whatever may pass for a blank: no time has a sign that is none of ASCII."""
SCHEMA: Final[dict[str, type[pl.DataType]]] = {
    "time_s": pl.Float64,
    "stage": pl.String,
    "state": pl.String,
    **dict.fromkeys(FIGURES, pl.Float64),
    **dict.fromkeys(CLOSINGS, pl.Int64),
}
"""The columns of every frame that a scan gives; what a file does not have is null."""
WIDE_SCHEMA: Final[dict[str, type[pl.DataType]]] = {
    **SCHEMA,
    **{name: pl.Float64 if kind is float else pl.String for name, kind in BESIDE.items()},
}
"""The columns of a frame for an export."""
NO_HINTS: Final = Hints()
T = TypeVar("T")
Schema = Mapping[str, type[pl.DataType]]
Tell = Callable[[int], None]
"""Is told how many bytes have been read since it was told last."""


class Piece(NamedTuple):
    """Hold whole lines of one file below its header, which stands above them whichever lines they are."""

    path: Path
    header: str
    first_line: int
    data: bytes

    @property
    def body(self) -> bytes:
        """Return the lines without the header."""
        return self.data[self.data.index(b"\n") + 1 :]


_Group = tuple[list[Piece], list[int | None], Future[pl.DataFrame | None]]


def climate_files(folder: Path) -> list[Path]:
    """Return the climate files of a batch folder, in the order of their days."""
    return sorted(folder.glob("climate-*.csv"))


def scan(
    paths: Sequence[Path],
    unread: Unread,
    tell: Tell | None = None,
    hints: Hints = NO_HINTS,
    schema: Schema = SCHEMA,
) -> Iterator[pl.DataFrame]:
    """Yield the rows of climate files in their order, as frames of the columns of `SCHEMA`.

    Args:
        paths: files with a header; each may have columns of its own.
        unread: takes what could not be read.
        tell: is told of the bytes that have been read.
        hints: what a person says about the times of a file that a spreadsheet has saved again.
        schema: `SCHEMA`, or `WIDE_SCHEMA`.

    Raises:
        DataError: a file cannot be read at all, or its times may be read in several ways: the message asks.
    """
    clocks: dict[Path, Clock] = {}
    endless = Unread()  # Another thread finds last lines without an end.

    def counted() -> Iterator[tuple[list[Piece], list[int | None]]]:
        for pieces in _grouped(pieces_of(paths, endless, tell or _nobody)):
            yield pieces, [_whole_lines(piece) for piece in pieces]

    def finished(group: _Group) -> Iterator[pl.DataFrame]:
        pieces, lines, coming = group
        whole = coming.result()
        if whole is not None:
            each = [whole]
        else:
            both = zip(pieces, lines, strict=True)
            each = [_either(piece, count, unread, hints, clocks, schema) for piece, count in both]
        yield from (frame for frame in each if frame.height)

    with ThreadPoolExecutor(PARSED_AHEAD, "parse") as parsers:
        groups: deque[_Group] = deque()
        for pieces, lines in _ahead(counted()):
            groups.append((pieces, lines, parsers.submit(_quick, pieces, lines, schema)))
            if len(groups) > PARSED_AHEAD:
                yield from finished(groups.popleft())
        for group in groups:
            yield from finished(group)
    for name, damage in endless.files.items():
        for line in damage.lines:
            unread.add(name, line, NO_END)


def _ahead(made: Iterator[T]) -> Iterator[T]:
    """Yield what is made, and make the next one while the last one is looked at."""
    with ThreadPoolExecutor(1, "read") as maker:
        coming = maker.submit(next, made, None)
        while (one := coming.result()) is not None:
            coming = maker.submit(next, made, None)
            yield one


def _nobody(read: int) -> None:
    """Tell nobody."""


def pieces_of(paths: Sequence[Path], unread: Unread, tell: Tell) -> Iterator[Piece]:
    """Yield files in pieces of whole lines; a last line without an end is told as unread."""
    for path in paths:
        try:
            with path.open("rb") as file:
                yield from _pieces_in(path, file, unread, tell)
        except FileNotFoundError:
            continue
        except OSError as error:
            raise DataError(f"{path}: cannot be read: {error.strerror or error}") from error


def _pieces_in(path: Path, file: BinaryIO, unread: Unread, tell: Tell) -> Iterator[Piece]:
    head, rest, before, line = b"", b"", b"", 2
    while data := file.read(PIECE_BYTES):
        tell(len(data))
        end = data.rfind(b"\n") + 1
        if end:
            whole = b"".join((head, rest, data[:end])) if head or rest or end < len(data) else data
            head, rest = head or whole[: whole.index(b"\n") + 1], b""
            line += max(before.count(b"\n") - 1, 0)
            yield Piece(path, head.decode("utf-8", "replace").rstrip("\n"), line, whole)
            before = whole
        rest += data[end:]
    if rest:
        unread.add(path.name, line + before.count(b"\n") - 1, NO_END)


def _grouped(pieces: Iterator[Piece]) -> Iterator[list[Piece]]:
    """Gather pieces of files with the same header, so that many small files are read at once."""
    group: list[Piece] = []
    size = 0
    for piece in pieces:
        if group and (piece.header != group[0].header or size + len(piece.data) > PIECE_BYTES):
            yield group
            group, size = [], 0
        group.append(piece)
        size += len(piece.data)
    if group:
        yield group


def _whole_lines(piece: Piece) -> int | None:
    """Return how many lines are in a piece; None where it is not only lines of as many fields as the header has."""
    # Spell by spell, so that a thread that waits for the interpreter need not wait for the whole of a piece.
    spells = (piece.data[at : at + SPELL_BYTES] for at in range(0, len(piece.data), SPELL_BYTES))
    bones = b"".join([spell.translate(None, FLESH) for spell in spells])
    commas, lines = b"," * piece.header.count(","), bones.count(b"\n")
    return lines - 1 if bones in ((commas + b"\r\n") * lines, (commas + b"\n") * lines) else None


def _quick(pieces: Sequence[Piece], lines: Sequence[int | None], schema: Schema) -> pl.DataFrame | None:
    """Return the rows as Polars reads them; None where anything is odd.

    Args:
        pieces: of files with the same header.
        lines: how many are in each, None where any is torn.
        schema: the columns of the frame.
    """
    counts = [count for count in lines if count is not None]
    if len(counts) < len(pieces):
        return None
    header = fields_of(pieces[0].header)
    if not {"time", "stage", "state"} <= set(header) or len(set(header)) != len(header):
        return None
    known = {name: kind for name, kind in schema.items() if name in header}
    text = pl.col("time")
    time = text.str.to_datetime(TIME_FORMAT, time_unit="ms", strict=False, cache=False).dt.epoch("s")
    is_ascii = all(piece.data.isascii() for piece in pieces)
    is_exact = text.str.len_bytes() == TIME_BYTES
    if not is_ascii or any(b" " in piece.data for piece in pieces):
        is_exact &= ~text.str.contains(BLANK)  # Polars takes a blank for the first place of a figure.
    try:
        frame = (
            pl.scan_csv(
                [piece.data for piece in pieces],
                schema={name: known.get(name, pl.String) for name in header},
                quote_char=None,
                empty_string_is_null=False,
            )
            .select(
                is_exact.alias("is_exact"),
                time.cast(pl.Float64).alias("time_s"),
                *(
                    pl.lit("" if kind is pl.String else None, kind).alias(name) if name not in known else pl.col(name)
                    for name, kind in schema.items()
                    if name != "time_s"
                ),
            )
            .collect(engine="streaming")
        )
    except pl.exceptions.PolarsError:
        return None
    if frame.height != sum(counts):
        return None
    return frame.drop("is_exact") if _is_sound(frame, is_ascii=is_ascii) else None


def _is_sound(frame: pl.DataFrame, *, is_ascii: bool) -> bool:
    """Say whether all times and figures are such as the slow way takes, too."""
    times = frame["time_s"]
    if times.null_count() or not frame["is_exact"].all():
        return False
    early, late = times.min(), times.max()
    if not (isinstance(early, float) and isinstance(late, float) and early >= 0.0 and late <= LATEST_WALL_S):
        return False
    if not all(isfinite(total) for total in frame.select(pl.col(pl.Float64).sum()).row(0)):
        return False  # What is not finite makes its sum so.
    return is_ascii or all(
        text.isprintable()
        for name in frame.columns
        if frame.schema[name] == pl.String
        for text in frame[name].unique()
        if text
    )


def _either(
    piece: Piece, lines: int | None, unread: Unread, hints: Hints, clocks: dict[Path, Clock], schema: Schema
) -> pl.DataFrame:
    """Return the rows of one piece the quick way where it is in order, else the slow one."""
    frame = _quick([piece], [lines], schema)
    return _careful(piece, unread, hints, clocks, schema) if frame is None else frame


def _careful(piece: Piece, unread: Unread, hints: Hints, clocks: dict[Path, Clock], schema: Schema) -> pl.DataFrame:
    """Return the rows line by line, and tell of the damaged ones."""
    name = piece.path.name
    header = piece.header.removeprefix(MARK)
    separator = separator_of(header)
    columns = places_of(fields_of(header, separator))
    lines = piece.body.decode("utf-8", "replace").split("\n")[:-1]
    if "time" not in columns:
        first = piece.first_line == 2  # noqa: PLR2004 - then its header counts as well
        unread.add(name, piece.first_line - first, NO_TIME, len(lines) + first)
        return framed([], schema)
    texts = [fields[columns["time"]] for line in lines if len(fields := fields_of(line, separator)) == len(columns)]
    at: Callable[[str], float] = time_of
    if piece.path in clocks or is_local(texts):
        clock = clocks.setdefault(piece.path, Clock(name, hints))
        clock.learn(texts)
        at = clock.read
    rows, beside = [], schema is WIDE_SCHEMA
    for number, line in enumerate(lines, piece.first_line):
        try:
            fields = whole(line, columns, separator)
            rows.append(climate_row(fields, columns, at, comma=separator != ",", beside=beside))
        except Damaged as why:
            unread.add(name, number, str(why))
    return framed(rows, schema)


def framed(rows: Sequence[ClimateRow], schema: Schema) -> pl.DataFrame:
    """Return rows as a frame of the columns of a schema."""
    flat = [(*row[:PLAIN], *row.duties, *row.closings, *row.beside) for row in rows]
    return pl.DataFrame(flat, schema=dict(schema), orient="row")


def rows_of(frame: pl.DataFrame) -> Iterator[ClimateRow]:
    """Yield the rows of a frame one by one, for what goes through a batch row by row."""
    duties, closings = PLAIN + len(DUTIES), PLAIN + len(DUTIES) + len(CLOSINGS)
    for row in frame.iter_rows():
        yield ClimateRow._make((*row[:PLAIN], row[PLAIN:duties], row[duties:closings], ()))
