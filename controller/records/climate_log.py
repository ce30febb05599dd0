"""Gather ticks into one row a minute for every batch that is in the chamber.

A row's time is the end of its minute on the wall clock; what it holds is what has been since the row before, by the
monotonic clock. So a step of the wall clock loses nothing and doubles nothing: after a step forward there is a
hole in the times, after a step back they go back in the file, and rows are still appended.

The offsets that the values hold already stand in columns of their own, so that value less offset is what the sensor
said (but for a humidity that the offset would have lifted over 100 % or below 0). They are in every row because a
chamber file may be changed in the middle of a batch.
"""

import csv
from collections.abc import Mapping
from math import floor, inf
from pathlib import Path
from typing import Final

from controller.core.memory import Batch, Memory, Outcome, OutputMemory
from controller.core.values import Channel, Known, Role
from controller.records.csv_text import day_text, row_of, time_text

LONGEST_HEADER_BYTES: Final = 4096
"""What is longer is no header, but a file without a line end."""
OFFSETS: Final[tuple[Channel, ...]] = ("air_temp", "rh")
SWITCHES: Final[tuple[Role, ...]] = ("heater", "humidifier", "cooler", "dehumidifier", "fan")
COLUMNS: Final = (
    "time",
    "stage",
    "state",
    "air_temp_c",
    "air_temp_min_c",
    "air_temp_max_c",
    "air_temp_set_c",
    "rh_pct",
    "rh_min_pct",
    "rh_max_pct",
    "rh_set_pct",
    "core_temp_c",
    "ambient_temp_c",
    *(f"{role}_pct" for role in SWITCHES),
    "quality",
    "interlocks",
    *(f"{role}_closings" for role in SWITCHES),
    "air_temp_offset_k",
    "rh_offset_pct",
)
HEADER: Final = row_of(COLUMNS)
QUALITY: Final = COLUMNS.index("quality")
LATE: Final = "record:written_late"
"""In the form of the other marks: what it concerns, and what is the matter with it."""


def file_name(day: str) -> str:
    """Return the name of the file of one UTC day."""
    return f"climate-{day}.csv"


def older_columns(path: Path) -> int | None:
    """Return how many columns a file has that an older version began; None where it has all, or is not there."""
    try:
        with path.open("rb") as file:
            names = tuple(file.readline(LONGEST_HEADER_BYTES).decode("utf-8", "replace").rstrip("\r\n").split(","))
    except FileNotFoundError:
        return None
    return len(names) if len(names) < len(COLUMNS) and names == COLUMNS[: len(names)] else None


def fit_row(row: bytes, columns: int) -> bytes:
    """Return the first columns of a row, so that the day an older version began stays one table; new ones are last."""
    return row_of(next(csv.reader([row.decode("utf-8")]))[:columns])


def late_row(row: bytes) -> bytes:
    """Return a row with a mark in its quality that it was written late: the disk had not taken it when it was due."""
    fields = next(csv.reader([row.decode("utf-8")]))
    fields[QUALITY] = f"{fields[QUALITY]} {LATE}".strip()
    return row_of(fields)


class ClimateLog:
    """Take every tick, and give back rows when a minute is over. A tick between rows costs a few microseconds."""

    def __init__(self, every_s: float, offsets: Mapping[Channel, float] = {}) -> None:
        """Begin with nothing.

        Args:
            every_s: the length of a row in seconds, aligned to the wall clock.
            offsets: what has been added to each sensor's value, in K or %RH.
        """
        self._every_s = every_s
        self._offsets = tuple(f"{offsets[channel]:g}" if channel in offsets else "" for channel in OFFSETS)
        self._ends_s = -inf  # The wall instant at which the present row ends.
        self._outcome: Outcome | None = None
        self._outputs: dict[Role, OutputMemory] = {}
        self._before: dict[Role, float] = {}  # How long each output had been on when the row began,
        self._began_s = 0.0  # and the monotonic instant of that.
        self._started_s = -inf  # When the present run of the program began,
        self._boot_id = ""  # and in which boot.
        self._clear()

    def _clear(self) -> None:
        self._batches: dict[str, Batch] = {}
        self._air: list[float] = []
        self._rh: list[float] = []
        self._core: list[float] = []
        self._ambient: list[float] = []
        self._marks: dict[str, None] = {}
        self._interlocks: dict[str, None] = {}

    def add(self, memory: Memory, outcome: Outcome) -> list[tuple[str, str, bytes]]:
        """Take one tick; return the rows that are due now: (batch, UTC day, row)."""
        if memory.started_s != self._started_s or memory.boot_id != self._boot_id:
            self._begin_run(memory)
        known = outcome.known
        self._gather(known)
        if known.faults or not outcome.wall_trusted or outcome.interlocks:
            self._mark(outcome)
        for batch in memory.batches:
            if batch.state == "complete" or batch.stage.where == "chamber":
                self._batches[batch.id] = batch
        is_first, self._outcome = self._outcome is None, outcome
        self._outputs = memory.outputs
        if outcome.wall_s >= self._ends_s:
            return self._begin(outcome) if is_first else self._rows(outcome)
        if outcome.wall_s < self._ends_s - self._every_s:
            self._ends_s = self._end_after(outcome.wall_s)  # The clock has gone back; the row goes on under it.
        return []

    def _gather(self, known: Known) -> None:
        if known.air_temp_c is not None:
            self._air.append(known.air_temp_c)
        if known.rh_pct is not None:
            self._rh.append(known.rh_pct)
        if known.core_temp_c is not None:
            self._core.append(known.core_temp_c)
        if known.ambient_temp_c is not None:
            self._ambient.append(known.ambient_temp_c)

    def flush(self) -> list[tuple[str, str, bytes]]:
        """Return the rows of the unfinished minute, under the time at which it would end."""
        outcome = self._outcome
        return [] if outcome is None or outcome.now_s <= self._began_s else self._rows(outcome)

    def _begin_run(self, memory: Memory) -> None:
        """Forget the unfinished minute of a run that ended without a word, as a power cut does, and begin anew."""
        self._started_s, self._boot_id = memory.started_s, memory.boot_id
        self._outcome = None
        self._ends_s = -inf
        self._clear()

    def _begin(self, outcome: Outcome) -> list[tuple[str, str, bytes]]:
        """Begin to count from here; the first tick belongs to the row that begins. No row is due yet."""
        self._ends_s = self._end_after(outcome.wall_s)
        self._began_s = outcome.now_s
        self._before = {role: output.on_total_s for role, output in self._outputs.items()}
        return []

    def _end_after(self, wall_s: float) -> float:
        return (floor(wall_s / self._every_s) + 1) * self._every_s

    def _mark(self, outcome: Outcome) -> None:
        for channel, kind in outcome.known.faults.items():
            self._marks[f"{channel}:{kind}"] = None
        if not outcome.wall_trusted:
            self._marks["clock:untrusted"] = None
        for row in outcome.interlocks:
            self._interlocks[row] = None

    def _rows(self, outcome: Outcome) -> list[tuple[str, str, bytes]]:
        ends_s = self._ends_s
        rows = []
        if self._batches:
            time, day = time_text(ends_s), day_text(ends_s)
            figures = self._figures(outcome)
            for batch in self._batches.values():
                # A complete batch is in no stage any more, so the last stage's figures stay its own.
                stage = "" if batch.state == "complete" else batch.stage.name
                rows.append((batch.id, day, row_of((time, stage, batch.state, *figures))))
        self._clear()
        self._begin(outcome)
        return rows

    def _figures(self, outcome: Outcome) -> tuple[str, ...]:
        wanted = outcome.wanted
        lasted_s = outcome.now_s - self._began_s
        outputs = self._outputs
        duties = []
        for role in SWITCHES:
            output = outputs.get(role)
            if output is None or lasted_s <= 0.0:
                duties.append("")
                continue
            share = (output.on_total_s - self._before.get(role, output.on_total_s)) / lasted_s
            duties.append(_figure(100.0 * min(max(share, 0.0), 1.0), 2))
        return (
            *_spread(self._air, 3),
            "" if wanted.air_temp_c is None else _figure(wanted.air_temp_c, 3),
            *_spread(self._rh, 2),
            "" if wanted.rh_pct is None else _figure(wanted.rh_pct, 2),
            _mean(self._core, 3),
            _mean(self._ambient, 3),
            *duties,
            " ".join(self._marks),
            " ".join(self._interlocks),
            *(str(outputs[role].closings) if role in outputs else "" for role in SWITCHES),
            *self._offsets,
        )


def _mean(values: list[float], decimals: int) -> str:
    return _figure(sum(values) / len(values), decimals) if values else ""


def _spread(values: list[float], decimals: int) -> tuple[str, str, str]:
    """Return mean, lowest and highest."""
    if not values:
        return "", "", ""
    return _mean(values, decimals), _figure(min(values), decimals), _figure(max(values), decimals)


def _figure(value: float, decimals: int) -> str:
    """Return a figure with so many decimals, and never a minus before a zero."""
    text = f"{value:.{decimals}f}"
    return text[1:] if value > -1.0 and text[0] == "-" and not text.strip("-0.") else text
