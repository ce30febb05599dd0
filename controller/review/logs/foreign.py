"""Read a CSV from elsewhere through a column map, as if a chamber had written it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

import polars as pl

from controller.errors import DataError
from controller.records.csv_text import printable
from controller.review.logs.column_map import ColumnMap
from controller.review.logs.damage import Unread
from controller.review.logs.lines import Damaged, fields_of, number_of, places_of, whole
from controller.review.logs.scan import SCHEMA, Piece, Tell, pieces_of
from controller.review.logs.spreadsheet import MARK, Clock, separator_of
from controller.settings.units import to_c

STAGE: Final = "log"
"""The one stage that a log from elsewhere is in."""
STATE: Final = "running"
LONGEST_NAME: Final = 40
MOST_NAMES: Final = 30
TWICE: Final = {
    "air_temp_min_c": "air_temp_c",
    "air_temp_max_c": "air_temp_c",
    "rh_min_pct": "rh_pct",
    "rh_max_pct": "rh_pct",
}


def reader_of(columns: ColumnMap) -> Callable[[Sequence[Path], Unread, Tell | None], Iterator[pl.DataFrame]]:
    """Return what reads such files into frames of the columns of `SCHEMA`."""

    def read(paths: Sequence[Path], unread: Unread, tell: Tell | None) -> Iterator[pl.DataFrame]:
        clocks = {path: Clock(path.name, columns.time.hints) for path in paths}
        for piece in pieces_of(paths, unread, tell or (lambda _: None)):
            frame = _frame(piece, columns, clocks[piece.path], unread)
            if frame.height:
                yield frame

    return read


def _frame(piece: Piece, wanted: ColumnMap, clock: Clock, unread: Unread) -> pl.DataFrame:
    header = piece.header.removeprefix(MARK)
    separator = wanted.separator or separator_of(header, wanted.time.column)
    columns = places_of(fields_of(header, separator))
    lacking = [name for name in wanted.needed if name not in columns]
    if lacking:
        raise DataError(
            f"{piece.path.name}: its first line names no column {_shown(lacking)}; there are {_shown(list(columns))}"
        )
    lines = piece.body.decode("utf-8", "replace").split("\n")[:-1]
    place = columns[wanted.time.column]
    clock.learn(fields[place] for line in lines if len(fields := fields_of(line, separator)) == len(columns))
    comma = (wanted.decimal or ("." if separator == "," else ",")) == ","
    rows: list[dict[str, float | str | None]] = []
    for number, line in enumerate(lines, piece.first_line):
        try:
            fields = whole(line, columns, separator)
            if all(fields[columns[name]] == value for name, value in wanted.only.items()):
                rows.append(_row(fields, columns, wanted, clock, comma=comma))
        except Damaged as why:
            unread.add(piece.path.name, number, str(why))
    return pl.DataFrame(rows, schema=SCHEMA)


def _shown(names: Sequence[str]) -> str:
    """Return names for a message; none is endless."""
    told = ", ".join(printable(name[:LONGEST_NAME]) for name in names[:MOST_NAMES])
    return told if len(names) <= MOST_NAMES else f"{told} and {len(names) - MOST_NAMES} more"


def _row(
    fields: Sequence[str], columns: Mapping[str, int], wanted: ColumnMap, clock: Clock, *, comma: bool
) -> dict[str, float | str | None]:
    """Return one row by our names; °C of °F are rounded to a thousandth, as our own rows have them."""

    def figure(name: str) -> float | None:
        text = fields[columns[name]].strip()
        if text in wanted.missing:
            return None
        try:
            return number_of(text.replace(",", ".") if comma else text)
        except ValueError:
            raise Damaged(f"{name} is no figure") from None

    try:
        time_s = clock.read(fields[columns[wanted.time.column]])
    except DataError:  # What is asked of a person is no damage.
        raise
    except (ValueError, OverflowError):
        raise Damaged(f"{wanted.time.column} is no time") from None
    row: dict[str, float | str | None] = {"time_s": time_s, "stage": STAGE, "state": STATE}
    row |= {"air_temp_set_c": wanted.wanted.air_temp_c, "rh_set_pct": wanted.wanted.rh_pct}
    for name, temp in wanted.temps.items():
        value = figure(temp.column)
        row[name] = round(to_c(value), 3) if value is not None and temp.unit == "F" else value
    for name, share in wanted.shares.items():
        value = figure(share.column)
        row[name] = None if value is None else value * 100.0 / share.per
    return row | {name: row.get(other) for name, other in TWICE.items()}
