"""Read a batch folder: columns by their names, damaged lines skipped and counted.

What counts as a damaged line is the same in every file (`logs.lines`); the climate is read when it is asked for.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property, partial
from pathlib import Path
from typing import NamedTuple, TypeVar

from msgspec import Struct

from controller.errors import DataError, NoInputError
from controller.records.batch_folder import BatchCard, read_card
from controller.review.logs.damage import NO_END, NO_TIME, NO_VALUE, Unread
from controller.review.logs.lines import ClimateRow, Damaged, fields_of, number_of, places_of, time_of, whole
from controller.review.logs.log import Log
from controller.review.logs.scan import NO_HINTS, Tell, climate_files, scan
from controller.review.logs.spreadsheet import Hints
from controller.review.logs.survey import Survey

T = TypeVar("T")
NUMBERS = frozenset({"ph", "weight", "core_temp", "smoker_temp", "water_activity"})


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


class BatchRecord(Struct, frozen=True, dict=True):
    """Hold everything that was recorded of one batch, in the order of the files."""

    folder: Path
    card: BatchCard
    log: Log
    events: Sequence[EventRow]
    readings: Sequence[ReadingRow]
    unread: Unread  # Of the diary and the readings.

    @cached_property
    def climate(self) -> Survey:
        """Return what the climate log says; it is gone through once."""
        from controller.review.question import survey_of  # It asks of a record.

        return survey_of(self)

    @property
    def rows(self) -> Sequence[ClimateRow]:
        """Return every climate row by itself, for what follows a batch row by row."""
        return self.log.rows

    @property
    def damaged(self) -> Mapping[str, int]:
        """Return how many rows could not be read, by the name of their file."""
        return {**self.log.unread.counts, **self.unread.counts}

    @property
    def damaged_rows(self) -> int:
        """Return how many rows could not be read."""
        return sum(self.damaged.values())

    @property
    def every_s(self) -> float:
        """Return the length of a climate row in seconds."""
        return self.card.chamber.limits.log_every_s


class _Lines:
    """Give out what whole lines of CSV files hold, and tell of the damaged ones."""

    def __init__(self) -> None:
        self.unread = Unread()

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
            self.unread.add(path.name, len(lines) + 1, NO_END)
        if not lines:
            return
        columns = places_of(fields_of(lines[0]))
        if "time" not in columns:
            self.unread.add(path.name, 1, NO_TIME, len(lines))
            return
        for number, line in enumerate(lines[1:], 2):
            try:
                made = make(whole(line, columns), columns)
            except (ValueError, IndexError, KeyError) as error:
                self.unread.add(path.name, number, str(error) if isinstance(error, Damaged) else NO_VALUE)
                continue
            yield made


def read_batch(folder: Path, tell: Tell | None = None, hints: Hints = NO_HINTS) -> BatchRecord:
    """Return what was recorded of a batch.

    Args:
        folder: of the batch.
        tell: is told of the bytes of climate that have been read.
        hints: what a person says about the times of a climate file that a spreadsheet has saved again.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged, or a file cannot be read.
    """
    if not folder.is_dir():
        raise NoInputError(f"{folder}: there is no such folder; name a batch folder, as batches/2026-01-05-tangy-1")
    card, lines = read_card(folder), _Lines()
    return BatchRecord(
        folder,
        card,
        Log(climate_files(folder), card.chamber.limits.log_every_s, tell=tell, read=partial(scan, hints=hints)),
        list(lines.read(folder / "events.csv", _event_row)),
        list(lines.read(folder / "readings.csv", _reading_row)),
        lines.unread,
    )


def _event_row(fields: Sequence[str], columns: dict[str, int]) -> EventRow:
    def field(name: str) -> str:
        return fields[columns[name]]

    return EventRow(
        time_of(field("time")), field("kind"), field("id"), field("priority"), field("text"), field("actor")
    )


def _reading_row(fields: Sequence[str], columns: dict[str, int]) -> ReadingRow:
    def field(name: str) -> str:
        return fields[columns[name]]

    def maybe(name: str) -> str:
        return field(name) if name in columns else ""

    kind = field("kind")
    value = number_of(field("value")) if kind in NUMBERS else None
    if kind in NUMBERS and value is None:
        raise ValueError("a reading without a value")
    return ReadingRow(
        field("id"), time_of(field("time")), kind, value, field("piece"), field("instrument"), field("replaces"),
        field("value"), maybe("note"), maybe("actor"), maybe("unit"), _maybe_time_s(maybe("entered_at")),
    )  # fmt: skip


def _maybe_time_s(text: str) -> float | None:
    """Return an instant, or None: a reading counts also where nobody knows when it was typed."""
    try:
        return time_of(text)
    except ValueError:
        return None
