"""Judge one line of CSV after the other: what counts as damaged, and what a climate row holds.

Every row is one line. A line is damaged when it holds zero bytes, has not as many fields as the header, a time or a
figure in it cannot be read, or it is the last one of its file and has no end.
"""

import csv
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from math import isfinite
from typing import Final, NamedTuple

from controller.core.people.desk import LATEST_WALL_S
from controller.errors import DataError
from controller.records.climate_log import SWITCHES
from controller.records.csv_text import printable

CLOSINGS: Final = tuple(f"{role}_closings" for role in SWITCHES)
DUTIES: Final = tuple(f"{role}_pct" for role in SWITCHES)
AIR: Final = ("air_temp_c", "air_temp_min_c", "air_temp_max_c", "air_temp_set_c")
HUMIDITY: Final = ("rh_pct", "rh_min_pct", "rh_max_pct", "rh_set_pct")
BESIDE: Final[dict[str, type[float] | type[str]]] = {
    "ambient_temp_c": float,
    "quality": str,
    "interlocks": str,
    "air_temp_offset_k": float,
    "rh_offset_pct": float,
}
"""Columns on which no figure of a review rests; an export takes them along."""
FIGURES: Final = (*AIR, *HUMIDITY, "core_temp_c", *DUTIES)
LARGEST_COUNT: Final = 2**62
"""No counter of closings gets as far; it fits into 64 bits."""


class Damaged(ValueError):  # noqa: N818 - a line, not a program, is damaged
    """Say why a line cannot be read."""


class ClimateRow(NamedTuple):
    """Hold what the review needs of one row; `time_s` is the end of its minute, seconds since 1970 UTC."""

    time_s: float
    stage: str
    state: str
    air_temp_c: float | None
    air_temp_min_c: float | None
    air_temp_max_c: float | None
    air_temp_set_c: float | None
    rh_pct: float | None
    rh_min_pct: float | None
    rh_max_pct: float | None
    rh_set_pct: float | None
    core_temp_c: float | None
    duties: tuple[float | None, ...]
    closings: tuple[int | None, ...]
    beside: tuple[float | str | None, ...] = ()  # What an export takes along.


def fields_of(line: str, separator: str = ",") -> list[str]:
    """Return the fields of a line; none where it is too long to be one."""
    text = line.removesuffix("\r")
    if separator == "\t":  # No screen shows a tab, so what lies between is looked at.
        return [printable(field) for field in text.split(separator)]
    text = printable(text)
    if '"' not in text:
        return text.split(separator)
    try:
        return next(csv.reader([text.replace("\0", " ")], delimiter=separator), [])
    except csv.Error:
        return []


def places_of(header: Sequence[str]) -> dict[str, int]:
    """Return the place of each column by its name."""
    return {name: place for place, name in enumerate(header)}


def whole(line: str, columns: Mapping[str, int], separator: str = ",") -> list[str]:
    """Return the fields of a line that has as many as the header.

    Raises:
        Damaged: it has others, or zero bytes.
    """
    if "\0" in line:
        raise Damaged("zero bytes in it")
    fields = fields_of(line, separator)
    if len(fields) != len(columns):
        raise Damaged(f"{len(fields)} {'field' if len(fields) == 1 else 'fields'} where the header has {len(columns)}")
    return fields


def time_of(text: str) -> float:
    """Return an instant in seconds since 1970 UTC.

    Raises:
        ValueError: it is none, has no zone, or no clock that works shows it.
    """
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a time without a zone")
    time_s = moment.timestamp()
    if not 0.0 <= time_s <= LATEST_WALL_S:
        raise ValueError("no clock that works shows this")
    return time_s


def number_of(text: str) -> float | None:
    """Return a figure, None where the field is empty.

    Raises:
        ValueError: it is none, or not finite.
    """
    if not text:
        return None
    value = float(text)
    if not isfinite(value):
        raise ValueError(text)
    return value


def _count_of(text: str) -> int | None:
    if not text:
        return None
    count = int(text)
    if abs(count) > LARGEST_COUNT:
        raise ValueError(text)
    return count


def climate_row(
    fields: Sequence[str],
    columns: Mapping[str, int],
    at: Callable[[str], float] = time_of,
    *,
    comma: bool = False,
    beside: bool = False,
) -> ClimateRow:
    """Return what a climate row says; what its header does not have is None.

    Args:
        fields: as many as the header has.
        columns: their places by name.
        at: reads a time.
        comma: whether decimals stand behind a comma.
        beside: whether the columns of `BESIDE` are read as well.

    Raises:
        Damaged: a field cannot be read; the message names the column.
    """

    def field(name: str) -> str:
        text = fields[columns[name]] if name in columns else ""
        return text.replace(",", ".") if comma else text

    def figure(name: str) -> float | None:
        try:
            return number_of(field(name))
        except ValueError:
            raise Damaged(f"{name} is no figure") from None

    def count(name: str) -> int | None:
        try:
            return _count_of(field(name))
        except ValueError:
            raise Damaged(f"{name} is no count") from None

    if "stage" not in columns or "state" not in columns:
        raise Damaged("its file has no column stage or state")
    try:
        time_s = at(fields[columns["time"]])
    except DataError:  # What is asked of a person is no damage.
        raise
    except (ValueError, OverflowError):
        raise Damaged("time is none, or has no zone") from None
    return ClimateRow._make(
        (
            time_s,
            fields[columns["stage"]],
            fields[columns["state"]],
            *(figure(name) for name in (*AIR, *HUMIDITY, "core_temp_c")),
            tuple(figure(name) for name in DUTIES),
            tuple(count(name) for name in CLOSINGS),
            tuple(figure(name) if kind is float else field(name) for name, kind in BESIDE.items()) if beside else (),
        )
    )
