"""Read what a spreadsheet has saved again: other separators, decimal commas, local times without a zone.

Nothing is guessed: where a time has no zone, or a date may be read in two ways, the reader is asked.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Final, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec import Struct

from controller.core.people.desk import LATEST_WALL_S
from controller.errors import DataError, UsageError

MARK: Final = "\ufeff"
"""The byte order mark that some spreadsheets write before the first column."""
SEPARATORS: Final = (",", ";", "\t")
MONTHS: Final = 12
LOOKED_AT: Final = 20
YEAR_FIRST: Final = re.compile(r"(\d{4})[-/.](\d\d?)[-/.](\d\d?)[ T]+(\d\d?):(\d\d)(?::(\d\d))?")
YEAR_LAST: Final = re.compile(
    r"(\d\d?)[-/.](\d\d?)[-/.](\d{4})[ T,]+(\d\d?):(\d\d)(?::(\d\d))?(?: ?([AaPp])\.?[Mm]\.?)?"
)
Dates = Literal["day-first", "month-first"]


class Hints(Struct, frozen=True):
    """Hold what a person says about the times of a log.

    Attributes:
        zone: where its clock stood, as Europe/Vienna; None: not said.
        dates: which figure of 05/01/2026 is the day; None: not said.
        form: of a time in the codes of strptime(3); None: it is found out.
    """

    zone: str | None = None
    dates: Dates | None = None
    form: str | None = None


class Clock:
    """Read the times of one file, in their order."""

    def __init__(self, name: str, hints: Hints) -> None:
        """Take the name of the file, for the question, and what is known.

        Raises:
            UsageError: there is no such zone.
        """
        self._name, self._form = name, hints.form
        self._dates: Dates | None = hints.dates
        self._last_s = 0.0
        try:
            self._zone = None if hints.zone is None else ZoneInfo(hints.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise UsageError(
                f"{hints.zone}: there is no such time zone; right is for instance Europe/Vienna"
            ) from error

    def learn(self, texts: Iterable[str]) -> None:
        """Find the order of day and month from dates that can be read in one way only.

        Raises:
            DataError: some can only be read with the day first, others only with the month first.
        """
        found = [YEAR_LAST.fullmatch(text.strip()) for text in texts]
        pairs = {(int(match[1]), int(match[2])) for match in found if match is not None}
        day_first, month_first = any(a > MONTHS for a, _ in pairs), any(b > MONTHS for _, b in pairs)
        if day_first and month_first:
            raise DataError(
                f"{self._name}: in some dates only the first figure can be the day, in others the second one"
            )
        if self._dates is None and (day_first or month_first):
            self._dates = "day-first" if day_first else "month-first"

    def read(self, text: str) -> float:
        """Return an instant in seconds since 1970 UTC. An hour that a clock shows twice is read in the order of rows.

        Raises:
            DataError: it has no zone, or may be read in two ways, and nobody has said which: the message asks.
            ValueError: it is no time.
        """
        local = self._local(text.strip())
        if local.tzinfo is not None:
            time_s = local.timestamp()
        elif self._zone is None:
            raise DataError(
                f"{self._name}: {text} has no time zone. Where did this clock stand?\n"
                "Say it: --zone Europe/Vienna, or --zone UTC (in a column map: zone, under [time])"
            )
        else:
            time_s = self._in_zone(local, self._zone)
        if not 0.0 <= time_s <= LATEST_WALL_S:
            raise ValueError("no clock that works shows this")
        self._last_s = time_s
        return time_s

    def _in_zone(self, local: datetime, zone: ZoneInfo) -> float:
        first, second = (local.replace(tzinfo=zone, fold=fold).timestamp() for fold in (0, 1))
        if datetime.fromtimestamp(first, UTC).astimezone(zone).replace(tzinfo=None) != local:
            raise ValueError("no clock there has shown this")
        return second if first <= self._last_s < second else first

    def _local(self, text: str) -> datetime:
        if self._form is not None:
            moment = datetime.strptime(text, self._form)  # noqa: DTZ007 - the zone follows
            return moment.replace(tzinfo=UTC) if self._form.endswith("Z") else moment
        match = YEAR_FIRST.fullmatch(text)
        if match is not None:
            year, month, day, hour, minute = (int(match[part]) for part in range(1, 6))
            return datetime(year, month, day, hour, minute, int(match[6] or 0))  # noqa: DTZ001 - the zone follows
        match = YEAR_LAST.fullmatch(text)
        return datetime.fromisoformat(text) if match is None else self._year_last(match, text)

    def _year_last(self, match: re.Match[str], text: str) -> datetime:
        first, second, year, hour, minute = (int(match[part]) for part in range(1, 6))
        if first != second and self._dates is None:
            raise DataError(
                f"{self._name}: {text} is day {first} of month {second}, or day {second} of month {first}. Which one?\n"
                "Say it: --dates day-first, or --dates month-first (in a column map: dates, under [time])"
            )
        day, month = (second, first) if self._dates == "month-first" else (first, second)
        half = (match[7] or "").lower()
        if half and not 1 <= hour <= MONTHS:
            raise ValueError("no clock of twelve hours shows this")
        hour = hour % MONTHS + MONTHS * (half == "p") if half else hour
        return datetime(year, month, day, hour, minute, int(match[6] or 0))  # noqa: DTZ001 - the zone follows


def separator_of(header: str, column: str = "time") -> str:
    """Return what separates the columns of a first line: the sign by which this column is found, else a comma."""
    names = {sign: [name.strip('"') for name in header.rstrip("\r").split(sign)] for sign in SEPARATORS}
    return next((sign for sign in SEPARATORS if column in names[sign]), ",")


def is_local(texts: Sequence[str]) -> bool:
    """Say whether most of these times were written by a spreadsheet: local, without a zone."""
    looked_at = texts[:LOOKED_AT]
    local = sum(any(form.fullmatch(text.strip()) for form in (YEAR_FIRST, YEAR_LAST)) for text in looked_at)
    return 2 * local > len(looked_at)
