"""How much of the time each output was on lately, from the newest rows of the climate log."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Final

ROLES: Final = ("heater", "humidifier", "cooler", "dehumidifier", "fan")
ROWS: Final = 60
TAIL_BYTES: Final = 65_536
"""A row has some 200 bytes, so this holds more than an hour of them."""


@dataclass(frozen=True, slots=True)
class Duty:
    """Hold over how many rows (minutes) it was looked at, and the share of the time in per cent by output."""

    rows: int
    on_pct: dict[str, float]


def read_duty(batch_folder: Path) -> Duty | None:
    """Return how much of its newest hour each output was on; None where nothing has been recorded yet."""
    newest = max(batch_folder.glob("climate-*.csv"), default=None)
    if newest is None:
        return None
    with newest.open("rb") as file:
        header = file.readline().decode()
        begin = max(file.tell(), newest.stat().st_size - TAIL_BYTES)
        file.seek(begin)
        tail = file.read().decode(errors="replace")
    whole = tail[: tail.rfind("\n") + 1]  # A row that is just being written has no line end yet.
    if begin > len(header):
        whole = whole[whole.find("\n") + 1 :]
    rows = list(csv.DictReader(io.StringIO(header + whole)))[-ROWS:]
    on_pct: dict[str, float] = {}
    for role in ROLES:
        given = [float(text) for row in rows if (text := row.get(f"{role}_pct"))]
        if given:
            on_pct[role] = sum(given) / len(given)
    return Duty(len(rows), on_pct) if rows else None
