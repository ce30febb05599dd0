"""How much of the time each output was on lately, from the newest rows of the climate log."""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from controller.records.climate_log import LONGEST_HEADER_BYTES

ROLES: Final = ("heater", "humidifier", "cooler", "dehumidifier", "fan")
ROWS: Final = 60
WHOLE_PCT: Final = 100.0
TAIL_BYTES: Final = 65_536
"""A row has some 200 bytes, so this holds more than an hour of them."""


@dataclass(frozen=True, slots=True)
class Duty:
    """Hold over how many rows (minutes) it was looked at, and the share of the time in per cent by output."""

    rows: int
    on_pct: dict[str, float]


def read_duty(batch_folder: Path) -> Duty | None:
    """Return how much of its newest hour each output was on; None where nothing has been recorded yet."""
    try:
        newest = max(batch_folder.glob("climate-*.csv"), default=None)
        if newest is None:
            return None
        with newest.open("rb") as file:
            header = file.readline(LONGEST_HEADER_BYTES).decode(errors="replace")
            begin = max(file.tell(), newest.stat().st_size - TAIL_BYTES)
            file.seek(begin)
            tail = file.read().decode(errors="replace")
    except OSError:
        return None
    lines = tail.split("\n")[:-1]  # A row that is just being written has no line end yet.
    if begin > len(header):
        lines = lines[1:]
    rows = [row for line in lines[-ROWS:] if (row := _shares(header, line)) is not None]
    on_pct: dict[str, float] = {}
    for role in ROLES:
        given = [row[role] for row in rows if role in row]
        if given:
            on_pct[role] = sum(given) / len(given)
    return Duty(len(rows), on_pct) if rows else None


def _shares(header: str, line: str) -> dict[str, float] | None:
    """Return how much of a row's minute each output was on, in per cent; None for a damaged row."""
    try:
        row = next(csv.DictReader([header, line]))
        shares = {role: float(text) for role in ROLES if (text := row.get(f"{role}_pct"))}
    except (StopIteration, ValueError, TypeError, csv.Error):
        return None
    return shares if all(0.0 <= share <= WHOLE_PCT for share in shares.values()) else None
