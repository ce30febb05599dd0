"""Logs from elsewhere, and the maps of their columns, spoiled."""

import random
from pathlib import Path

import msgspec

from controller.cli.pages.log_page import log_page
from controller.review.foreign import review_foreign
from controller.review.logs.column_map import read_map
from controller.review.logs.spreadsheet import Hints
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import spoil_table
from tests.fuzz.of_files import spoiled_toml

MAP = b"""missing = ["", "NA"]
[time]
column = "When"
[air_temp]
column = "Temp"
unit = "F"
[rh]
column = "Hum"
[wanted]
air_temp_c = 13.0
[power.heater]
w = 60.0
"""
ZONED = b"When,Temp,Hum\r\n" + b"".join(
    b"2026-01-05T%02d:00:00Z,55.4,8%d.5\r\n" % (hour, hour % 10) for hour in range(24)
)
LOCAL = b"When;Temp;Hum\n" + b"".join(
    b"25.10.2026 0%d:%02d;55,4;NA\n" % (place // 6, place % 6 * 10) for place in range(30)
)
AMERICAN = b"When\tTemp\tHum\n" + b"".join(b"10/25/2026 %d:15 PM\t55.4\t80\n" % hour for hour in range(1, 12))
HINTS = (Hints(), Hints("UTC", "day-first"), Hints("Europe/Vienna", "month-first"))


class ForeignLogs(Target):
    """Spoil a log from elsewhere."""

    name = "foreign logs"

    def prepare(self, folder: Path) -> None:
        """Write the map."""
        self._log, path = folder / "log.csv", folder / "map.toml"
        path.write_bytes(MAP)
        self._map = read_map(path)

    def make(self, rng: random.Random) -> tuple[int, bytes]:
        """Return which hints, and what is to stand in the log."""
        return rng.randrange(len(HINTS)), spoil_table(rng, rng.choice((ZONED, LOCAL, AMERICAN)))

    def of_bytes(self, data: bytes) -> tuple[int, bytes]:
        """Return them as the log."""
        return 1, data

    def feed(self, made: tuple[int, bytes]) -> bool:
        """Review it."""
        self._log.write_bytes(made[1])
        figures = review_foreign(self._log, self._map, HINTS[made[0]])
        msgspec.json.encode(figures)
        for line in log_page(figures):
            require_readable(line or "-")
        return True


class ColumnMaps(Target):
    """Spoil a column map."""

    name = "column maps"
    share = 0.5

    def prepare(self, folder: Path) -> None:
        """Write the log."""
        self._log, self._path = folder / "log.csv", folder / "map.toml"
        self._log.write_bytes(ZONED)

    def make(self, rng: random.Random) -> bytes:
        """Return a spoiled map."""
        return spoiled_toml(rng, [MAP])

    def of_bytes(self, data: bytes) -> bytes:
        """Return them as the map."""
        return data

    def feed(self, made: bytes) -> bool:
        """Review a good log through it."""
        self._path.write_bytes(made)
        for line in log_page(review_foreign(self._log, read_map(self._path), Hints())):
            require_readable(line or "-")
        return True
