"""The rows of what the checks of instruments showed. Appended, never rewritten: a better check is a new row."""

from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Final, cast, get_args

from controller.core.people.desk import LATEST_WALL_S
from controller.core.values import CheckEntry, CheckMethod, InstrumentCheck
from controller.records.csv_text import read_rows, row_of, time_text

COLUMNS: Final = (
    "id",
    "time",
    "instrument",
    "method",
    "points",
    "unit",
    "temp_c",
    "offset",
    "slope_pct",
    "error",
    "verdict",
    "actor",
    "entered_at",
    "note",
)
HEADER: Final = row_of(COLUMNS)
FILE: Final = "instruments.csv"
KEY: Final = (COLUMNS.index("id"),)


def check_row(entry: CheckEntry) -> bytes:
    """Return the row of one check; its points are `name/true/shown`, with `; ` between them, in its unit."""
    check = entry.check
    return row_of(
        (
            entry.id,
            time_text(entry.at_wall_s),
            check.instrument,
            check.method,
            "; ".join(f"{name}/{true:.6g}/{shown:.6g}" for name, true, shown in check.points),
            check.unit,
            _figure(check.temp_c),
            _figure(check.offset),
            _figure(check.slope_pct),
            _figure(check.error),
            check.verdict,
            entry.actor,
            time_text(entry.entered_wall_s),
            entry.note,
        )
    )


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def read_checks(state_dir: Path) -> list[CheckEntry]:
    """Return all checks that stand in the file, in its order; none where there is no file yet.

    A line that cannot be read, as one that is just being written, is left out.

    Raises:
        AccessError: it may not be read.
        DataError: the disk does not give it.
    """
    return read_rows(state_dir / FILE, _entry_of)


def _entry_of(row: dict[str, str]) -> CheckEntry:
    if not row["instrument"].strip() or row["method"] not in get_args(CheckMethod):
        raise ValueError("no check of an instrument")
    check = InstrumentCheck(
        instrument=row["instrument"],
        method=cast("CheckMethod", row["method"]),
        points=tuple(_point(text) for text in row["points"].split("; ")),
        unit=row["unit"],
        temp_c=_number(row["temp_c"]),
        error=_number(row["error"]),
        offset=_number(row["offset"]),
        slope_pct=_number(row["slope_pct"]),
        verdict=row["verdict"],
    )
    return CheckEntry(row["id"], _wall_s(row["time"]), check, row["actor"], _wall_s(row["entered_at"]), row["note"])


def _point(text: str) -> tuple[str, float, float]:
    name, true, shown = text.rsplit("/", 2)
    return name, _finite(true), _finite(shown)


def _number(text: str) -> float | None:
    return _finite(text) if text else None


def _finite(text: str) -> float:
    value = float(text)
    if not isfinite(value):
        raise ValueError(text)
    return value


def _wall_s(text: str) -> float:
    wall_s = datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC).timestamp()
    if not 0.0 <= wall_s <= LATEST_WALL_S:
        raise ValueError(text)
    return wall_s
