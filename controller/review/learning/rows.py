"""Read a step test back: its rows on an even grid of time, and what it was made with."""

import csv
import io
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from controller.core.values import Channel, Role
from controller.errors import DataError, NoInputError
from controller.records.steps import CHANNELS, FILE, HEAD, OUTPUTS, StepHead
from controller.records.untrusted import clean, require_sane, why_not

Series = NDArray[np.float64]

LARGEST_BYTES: Final = 20_000_000
FEWEST_ROWS: Final = 60
HOLE_S: Final = 60.0
"""A hole in the rows that is longer hides what happened in it. Common practice, no source."""
MISSING_SHARE: Final = 0.05


class NonsenseError(DataError):
    """Say why nothing can be learned from a step test, in words for a person."""


@dataclass(frozen=True, slots=True)
class Steps:
    """Hold the rows of a step test. `at_s` is the even grid; `on` the share of each step before it that was on."""

    head: StepHead
    at_s: Series
    phase: tuple[str, ...]
    values: dict[Channel, Series]  # Only of sensors that gave a value in nearly all rows.
    still_c: Series  # What the leading thermometer itself said at rest, between no two of its values.
    on: dict[Role, Series]
    began_wall: str
    notes: str

    @property
    def step_s(self) -> float:
        """Return the distance of two instants of the grid."""
        return float(self.at_s[1] - self.at_s[0])

    def during(self, *phases: str) -> NDArray[np.bool_]:
        """Return which instants lie in these phases."""
        return np.isin(np.array(self.phase), phases)

    def begin_s(self, phase: str) -> float | None:
        """Return when a phase began; None where there was none."""
        return float(self.at_s[self.phase.index(phase)]) if phase in self.phase else None


def read_steps(folder: Path) -> Steps:
    """Return the rows of a step test.

    Raises:
        NoInputError: this is no folder of a step test.
        DataError: its files are damaged.
        NonsenseError: it was broken off, or rows are missing.
    """
    head = read_head(folder)
    rows = _rows(folder / FILE)
    if rows[-1]["phase"] != "end":
        raise NonsenseError("the test was broken off: the program ended in the middle of it")
    if not any(row["phase"] == "heat" for row in rows) or "after" not in _last_phases(rows, head):
        raise NonsenseError(f"the test was broken off: {rows[-1]['note'] or 'no reason is known'}")
    if any(row["door_open"] for row in rows):
        raise NonsenseError("the door was opened in it; do it again, and leave the door shut")
    return _steps(head, rows)


def _last_phases(rows: list[dict[str, str]], head: StepHead) -> set[str]:
    """Return "after" if the test went to its end: its last phase but the end is the last that this chamber has."""
    from controller.core.learn.course import phases_of
    from controller.settings.chamber_file import plan_of

    there = [row["phase"] for row in rows if row["phase"] != "end"]
    expected = phases_of(plan_of(head.chamber))
    left_out = "left out" in rows[-1]["note"]
    whole = bool(there) and (there[-1] == expected[-1] or (left_out and there[-1] in {"off", "mist"}))
    return {"after"} if whole else set()


def read_head(folder: Path) -> StepHead:
    """Return what a step test was made with. Raises NoInputError, DataError."""
    path = folder / HEAD
    try:
        head = msgspec.convert(clean(tomllib.loads(path.read_text("utf-8"))), type=StepHead)
        require_sane(msgspec.to_builtins(head))
    except (FileNotFoundError, NotADirectoryError) as error:
        raise NoInputError(f"{folder}: is no folder of a step test; it would hold {HEAD} and {FILE}") from error
    except (ValueError, RecursionError) as error:
        raise DataError(f"{path}: is damaged: {why_not(error)}") from error
    return head


def _rows(path: Path) -> list[dict[str, str]]:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise DataError(f"{path}: is far too large for a step test")
        text = path.read_text("utf-8")
    except FileNotFoundError as error:
        raise NoInputError(f"{path}: is not there") from error
    except (OSError, UnicodeDecodeError) as error:
        raise DataError(f"{path}: cannot be read: {why_not(error)}") from error
    rows = [row for row in csv.DictReader(io.StringIO(text)) if row.get("phase") and row.get("note") is not None]
    if not rows:
        raise DataError(f"{path}: holds no row")
    return rows


def _number(row: dict[str, str], name: str) -> float:
    try:
        return float(row.get(name) or "nan")
    except ValueError:
        return float("nan")


def _steps(head: StepHead, rows: list[dict[str, str]]) -> Steps:
    """Return the rows on an even grid; a value stands where it was measured, an on-time is exact at its row."""
    at_s = np.array([_number(row, "elapsed_s") for row in rows])
    if len(rows) < FEWEST_ROWS or not np.all(np.isfinite(at_s)) or np.any(np.diff(at_s) <= 0.0):
        raise NonsenseError("its rows are too few, or their times do not go on")
    step_s = float(np.median(np.diff(at_s)))
    holes_s = np.diff(at_s) - step_s
    if np.max(holes_s) > HOLE_S or np.sum(holes_s[holes_s > 0.5 * step_s]) > MISSING_SHARE * at_s[-1]:
        raise NonsenseError(f"rows are missing: the longest hole is {np.max(np.diff(at_s)):.0f} s; do it again")
    grid_s = np.arange(at_s[0], at_s[-1], step_s)
    nearest = np.clip(np.searchsorted(at_s, grid_s, side="right") - 1, 0, len(rows) - 1)
    values: dict[Channel, Series] = {}
    for channel in CHANNELS:
        column = f"{channel}_{'pct' if channel == 'rh' else 'c'}"
        value = np.array([_number(row, column) for row in rows])
        age_s = np.nan_to_num(np.array([_number(row, f"{channel}_age_s") for row in rows]))
        good = np.isfinite(value)
        if np.mean(good) > 1.0 - MISSING_SHARE:
            values[channel] = np.interp(grid_s, (at_s - age_s)[good], value[good])
    on: dict[Role, Series] = {}
    for role in OUTPUTS:
        total_s = np.array([_number(row, f"{role}_on_s") for row in rows])
        if np.all(np.isfinite(total_s)):
            even_s = np.interp(grid_s, at_s, total_s)
            on[role] = np.clip(np.diff(even_s, prepend=even_s[0]) / step_s, 0.0, 1.0)
    phases = tuple(rows[int(place)]["phase"] for place in nearest)
    if "air_temp" not in values:
        raise NonsenseError("the leading thermometer gave too few good values in it")
    still_c = np.array([_number(row, "air_temp_c") for row in rows if row["phase"] == "rest"])
    still_c = still_c[np.isfinite(still_c)]
    if "heater" not in on:
        raise NonsenseError("it is not known when the lamp was on")
    return Steps(head, grid_s, phases, values, still_c, on, rows[0].get("time") or "", rows[-1]["note"])
