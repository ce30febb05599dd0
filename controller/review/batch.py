"""Read a batch folder: columns by their names, damaged lines skipped and counted.

Every row is one line. A line is damaged when it holds zero bytes, has not as many fields as the header, a time or a
figure in it cannot be read, or it is the last one of its file and has no end.
"""

import csv
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from math import isfinite
from pathlib import Path
from typing import NamedTuple, TypeVar

from msgspec import Struct

from controller.core.people.desk import LATEST_WALL_S
from controller.errors import DataError, NoInputError
from controller.records.batch_folder import BatchCard, read_card
from controller.records.climate_log import SWITCHES
from controller.records.csv_text import printable

T = TypeVar("T")
NUMBERS = frozenset({"ph", "weight", "core_temp", "smoker_temp", "water_activity"})


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
    closings: tuple[int | None, ...]
    core_temp_c: float | None = None


class EventRow(NamedTuple):
    """Hold one row of the diary."""

    time_s: float
    kind: str
    id: str
    priority: str
    text: str
    actor: str


class ReadingRow(NamedTuple):
    """Hold one row of what was measured; `value` is a number where the kind has one, else None."""

    id: str
    time_s: float
    kind: str
    value: float | None
    piece: str
    instrument: str
    replaces: str
    text: str = ""  # The value as it was typed.
    note: str = ""
    actor: str = ""
    unit: str = ""
    entered_s: float | None = None  # When it was typed; None where nobody can read that.


class BatchRecord(Struct, frozen=True):
    """Hold everything that was recorded of one batch, in the order of the files."""

    folder: Path
    card: BatchCard
    rows: Sequence[ClimateRow]
    events: Sequence[EventRow]
    readings: Sequence[ReadingRow]
    damaged: Mapping[str, int]  # Rows that could not be read, by the name of their file.

    @property
    def damaged_rows(self) -> int:
        """Return how many rows could not be read."""
        return sum(self.damaged.values())

    @property
    def every_s(self) -> float:
        """Return the length of a climate row in seconds."""
        return self.card.chamber.limits.log_every_s


class _Lines:
    """Give out the fields of each whole line of CSV files, and count the damaged ones."""

    def __init__(self) -> None:
        self.damaged: Counter[str] = Counter()

    def read(self, path: Path, make: Callable[[Sequence[str], dict[str, int]], T]) -> Iterator[T]:
        """Yield what `make` makes of each line; it says ValueError, IndexError or KeyError for a damaged one."""
        try:
            data = path.read_bytes()
        except FileNotFoundError:
            return
        except OSError as error:
            raise DataError(f"{path}: cannot be read: {error.strerror or error}") from error
        *lines, rest = data.decode("utf-8", "replace").split("\n")
        if rest:
            self.damaged[path.name] += 1
        columns: dict[str, int] = {}
        for line in lines:
            fields = _fields(printable(line.removesuffix("\r")))
            if not columns:
                columns = {name: place for place, name in enumerate(fields)}
                if "time" not in columns:
                    self.damaged[path.name] += len(lines)
                    return
                continue
            try:
                if len(fields) != len(columns) or "\0" in line:
                    self.damaged[path.name] += 1
                    continue
                made = make(fields, columns)
            except (ValueError, IndexError, KeyError):
                self.damaged[path.name] += 1
                continue
            yield made


def _fields(line: str) -> list[str]:
    """Return the fields of a line; none where it is too long to be one."""
    if '"' not in line:
        return line.split(",")
    try:
        return next(csv.reader([line.replace("\0", " ")]), [])
    except csv.Error:
        return []


def read_batch(folder: Path) -> BatchRecord:
    """Return what was recorded of a batch.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged, or a file cannot be read.
    """
    if not folder.is_dir():
        raise NoInputError(f"{folder}: there is no such folder; name a batch folder, as batches/2026-01-05-tangy-1")
    lines = _Lines()
    climate = [row for path in sorted(folder.glob("climate-*.csv")) for row in lines.read(path, _climate_row)]
    return BatchRecord(
        folder,
        read_card(folder),
        climate,
        list(lines.read(folder / "events.csv", _event_row)),
        list(lines.read(folder / "readings.csv", _reading_row)),
        dict(lines.damaged),
    )


def _time_s(text: str) -> float:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a time without a zone")
    time_s = moment.timestamp()
    if not 0.0 <= time_s <= LATEST_WALL_S:
        raise ValueError("no clock that works shows this")
    return time_s


def _number(text: str) -> float | None:
    if not text:
        return None
    value = float(text)
    if not isfinite(value):
        raise ValueError(text)
    return value


CLOSINGS = tuple(f"{role}_closings" for role in SWITCHES)


def _climate_row(fields: Sequence[str], columns: dict[str, int]) -> ClimateRow:
    def number(name: str) -> float | None:
        return _number(fields[columns[name]]) if name in columns else None

    closings = tuple(
        int(text) if name in columns and (text := fields[columns[name]]) else None  # A chamber may lack the output.
        for name in CLOSINGS
    )
    return ClimateRow(
        _time_s(fields[columns["time"]]),
        fields[columns["stage"]],
        fields[columns["state"]],
        number("air_temp_c"),
        number("air_temp_min_c"),
        number("air_temp_max_c"),
        number("air_temp_set_c"),
        number("rh_pct"),
        number("rh_min_pct"),
        number("rh_max_pct"),
        number("rh_set_pct"),
        closings,
        number("core_temp_c"),
    )


def _event_row(fields: Sequence[str], columns: dict[str, int]) -> EventRow:
    def field(name: str) -> str:
        return fields[columns[name]]

    return EventRow(
        _time_s(field("time")), field("kind"), field("id"), field("priority"), field("text"), field("actor")
    )


def _reading_row(fields: Sequence[str], columns: dict[str, int]) -> ReadingRow:
    def field(name: str) -> str:
        return fields[columns[name]]

    def maybe(name: str) -> str:
        return field(name) if name in columns else ""

    kind = field("kind")
    value = _number(field("value")) if kind in NUMBERS else None
    if kind in NUMBERS and value is None:
        raise ValueError("a reading without a value")
    return ReadingRow(
        field("id"), _time_s(field("time")), kind, value, field("piece"), field("instrument"), field("replaces"),
        field("value"), maybe("note"), maybe("actor"), maybe("unit"), _maybe_time_s(maybe("entered_at")),
    )  # fmt: skip


def _maybe_time_s(text: str) -> float | None:
    """Return an instant, or None: a reading counts also where nobody knows when it was typed."""
    try:
        return _time_s(text)
    except ValueError:
        return None
