"""Scan climate files by column name, in pieces of some megabytes: never more of them is in memory.

Polars reads a piece at once. Where anything in it is odd (a torn line, zero bytes, a quote, a figure that is none), its
files are read line by line instead (`lines`), so both ways give the same rows; what is damaged is told with its number.

What makes the quick way as strict as the slow one: without its letters and figures, a piece must be nothing but lines of
as many commas as the header has. Polars takes no figure that is none; that all are finite, no time has a blank in it and
all texts can be printed is asked afterwards.
"""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final, NamedTuple

import polars as pl

from controller.core.people.desk import LATEST_WALL_S
from controller.errors import DataError
from controller.review.logs.damage import NO_END, NO_TIME, Unread
from controller.review.logs.lines import (
    AIR,
    CLOSINGS,
    DUTIES,
    FIGURES,
    HUMIDITY,
    ClimateRow,
    Damaged,
    climate_row,
    fields_of,
    places_of,
    whole,
)

PIECE_BYTES: Final = 16_000_000
FLESH: Final = bytes(sign for sign in range(0x20, 0x100) if sign not in b',"\x7f')
"""What is between the signs that make a line of CSV; any other sign below a blank is odd."""
TIME_FORMAT: Final = "%Y-%m-%dT%H:%M:%SZ"
TIME_BYTES: Final = 20
SCHEMA: Final[dict[str, type[pl.DataType]]] = {
    "time_s": pl.Float64,
    "stage": pl.String,
    "state": pl.String,
    **dict.fromkeys(FIGURES, pl.Float64),
    **dict.fromkeys(CLOSINGS, pl.Int64),
}
"""The columns of every frame that a scan gives; what a file does not have is null."""
Tell = Callable[[int], None]
"""Is told how many bytes have been read since it was told last."""


class Piece(NamedTuple):
    """Hold whole lines of one file, without its header."""

    path: Path
    header: str
    first_line: int
    body: bytes


def climate_files(folder: Path) -> list[Path]:
    """Return the climate files of a batch folder, in the order of their days."""
    return sorted(folder.glob("climate-*.csv"))


def scan(paths: Sequence[Path], unread: Unread, tell: Tell | None = None) -> Iterator[pl.DataFrame]:
    """Yield the rows of climate files in their order, as frames of the columns of `SCHEMA`.

    Args:
        paths: files with a header; each may have columns of its own.
        unread: takes what could not be read.
        tell: is told of the bytes that have been read.

    Raises:
        DataError: a file cannot be read at all.
    """
    for pieces in _grouped(_pieces(paths, unread, tell or _nobody)):
        frame = _quick(pieces)
        frames = [frame] if frame is not None else [_either(piece, unread) for piece in pieces]
        yield from (frame for frame in frames if frame.height)


def _nobody(read: int) -> None:
    """Tell nobody."""


def _pieces(paths: Sequence[Path], unread: Unread, tell: Tell) -> Iterator[Piece]:
    for path in paths:
        try:
            with path.open("rb") as file:
                head = file.readline()
                tell(len(head))
                if head and not head.endswith(b"\n"):
                    unread.add(path.name, 1, NO_END)
                header, line, rest = head.decode("utf-8", "replace").rstrip("\n"), 2, b""
                while data := file.read(PIECE_BYTES):
                    tell(len(data))
                    body, ended, more = (rest + data).rpartition(b"\n")
                    rest = more
                    if ended:
                        yield Piece(path, header, line, body + ended)
                        line += body.count(b"\n") + 1
                if rest:
                    unread.add(path.name, line, NO_END)
        except FileNotFoundError:
            continue
        except OSError as error:
            raise DataError(f"{path}: cannot be read: {error.strerror or error}") from error


def _grouped(pieces: Iterator[Piece]) -> Iterator[list[Piece]]:
    """Gather pieces of files with the same header, so that many small files are read at once."""
    group: list[Piece] = []
    size = 0
    for piece in pieces:
        if group and (piece.header != group[0].header or size + len(piece.body) > PIECE_BYTES):
            yield group
            group, size = [], 0
        group.append(piece)
        size += len(piece.body)
    if group:
        yield group


def _quick(pieces: Sequence[Piece]) -> pl.DataFrame | None:
    """Return the rows as Polars reads them; None where anything is odd."""
    header = fields_of(pieces[0].header)
    if not {"time", "stage", "state"} <= set(header) or len(set(header)) != len(header):
        return None
    body = pieces[0].body if len(pieces) == 1 else b"".join(piece.body for piece in pieces)
    bones = body.translate(None, FLESH)
    lines = bones.count(b"\n")
    commas = b"," * (len(header) - 1)
    if bones not in ((commas + b"\r\n") * lines, (commas + b"\n") * lines):
        return None
    known = {name: kind for name, kind in SCHEMA.items() if name in header}
    try:
        table = pl.read_csv(
            body,
            has_header=False,
            schema={name: known.get(name, pl.String) for name in header},
            quote_char=None,
        )
    except pl.exceptions.PolarsError:
        return None
    frame = table.select(
        pl.col("time").str.to_datetime(TIME_FORMAT, time_unit="ms", strict=False).dt.epoch("s").alias("time_s"),
        *(pl.col(name).fill_null("") if kind is pl.String else pl.col(name) for name, kind in known.items()),
    )
    return fitted(frame) if table.height == lines and _is_sound(table["time"], frame) else None


def _is_sound(texts: pl.Series, frame: pl.DataFrame) -> bool:
    """Say whether all times and figures are such as the slow way takes, too."""
    times = frame["time_s"]
    if times.null_count() or texts.str.len_bytes().ne(TIME_BYTES).any() or texts.str.contains(" ", literal=True).any():
        return False  # Polars takes a blank for a figure's first place.
    early, late = times.min(), times.max()
    if not (isinstance(early, int) and isinstance(late, int) and early >= 0 and late <= LATEST_WALL_S):
        return False
    finite = frame.select((pl.col(pl.Float64).is_finite()).all())
    if not all(finite.row(0)):
        return False
    return all(text.isprintable() for name in ("stage", "state") for text in frame[name].unique())


def fitted(frame: pl.DataFrame) -> pl.DataFrame:
    """Return a frame with the columns of `SCHEMA`, in their order."""
    return frame.select(
        pl.col(name).cast(kind) if name in frame.columns else pl.lit(None, kind).alias(name)
        for name, kind in SCHEMA.items()
    )


def _either(piece: Piece, unread: Unread) -> pl.DataFrame:
    """Return the rows of one piece the quick way where it is in order, else the slow one."""
    frame = _quick([piece])
    return _careful(piece, unread) if frame is None else frame


def _careful(piece: Piece, unread: Unread) -> pl.DataFrame:
    """Return the rows line by line, and tell of the damaged ones."""
    name = piece.path.name
    columns = places_of(fields_of(piece.header))
    lines = piece.body.decode("utf-8", "replace").split("\n")[:-1]
    if "time" not in columns:
        # Its header counts as well: nothing of this file can be read.
        first = piece.first_line == 2  # noqa: PLR2004 - the line after the header
        unread.add(name, piece.first_line - first, NO_TIME, len(lines) + first)
        return framed([])
    rows = []
    for number, line in enumerate(lines, piece.first_line):
        try:
            rows.append(climate_row(whole(line, columns), columns))
        except Damaged as why:
            unread.add(name, number, str(why))
    return framed(rows)


def framed(rows: Sequence[ClimateRow]) -> pl.DataFrame:
    """Return rows as a frame of the columns of `SCHEMA`."""
    flat = [(*row[:-2], *row.duties, *row.closings) for row in rows]
    return pl.DataFrame(flat, schema=SCHEMA, orient="row")


def rows_of(frame: pl.DataFrame) -> Iterator[ClimateRow]:
    """Yield the rows of a frame one by one, for what goes through a batch row by row."""
    plain, duties = 3 + len(AIR) + len(HUMIDITY) + 1, len(DUTIES)
    for row in frame.iter_rows():
        yield ClimateRow._make((*row[:plain], row[plain : plain + duties], row[plain + duties :]))
