"""The rows of a step test: one a tick, with what each thermometer said itself and what was commanded.

They stand in `learned/<date>-<n>/steps.csv` below the state folder. A value is there only while its sensor gives one
that is good. The on-times are counted from the first row; what is on has been so for the whole tick before, or a part
of it. The last row of a test that ended in order has the phase `end`, and one that was broken off says why.
"""

from datetime import date
from pathlib import Path
from typing import Final

import msgspec
import tomli_w
from msgspec import Struct

from controller.core.learn.memory import Learning
from controller.core.memory import Memory, Outcome
from controller.core.values import Channel, Role
from controller.records.batch_folder import named
from controller.records.csv_text import row_of, time_text
from controller.records.durable import replace_whole, sync_folder
from controller.settings.chamber_file import ChamberFile

FOLDER: Final = "learned"
FILE: Final = "steps.csv"
HEAD: Final = "test.toml"
CHANNELS: Final[tuple[Channel, ...]] = ("air_temp", "air_temp_2", "rh_temp", "rh", "ambient_temp", "evaporator_temp")
OUTPUTS: Final[tuple[Role, ...]] = ("heater", "humidifier", "cooler", "dehumidifier", "fan", "fresh_air")
COLUMNS: Final = (
    "time",
    "elapsed_s",
    "phase",
    *(f"{channel}_{'pct' if channel == 'rh' else 'c'}" for channel in CHANNELS),
    *(f"{channel}_age_s" for channel in CHANNELS),
    *(f"{role}_on_s" for role in OUTPUTS),
    "door_open",
    "note",
)
HEADER: Final = row_of(COLUMNS)


class StepHead(Struct, frozen=True, kw_only=True):
    """Hold what a step test was made with: the chamber file frozen at its begin, and the load."""

    name: str
    began: str
    loaded_kg: float
    chamber: ChamberFile


def tests_of(state_dir: Path) -> Path:
    """Return the folder that holds the step tests."""
    return state_dir / FOLDER


def next_test_name(state_dir: Path, day: date) -> str:
    """Return the name of the next step test of this day: 2026-01-05-1, then -2, and so on."""
    number = 1
    while (tests_of(state_dir) / f"{day.isoformat()}-{number}").exists():
        number += 1
    return f"{day.isoformat()}-{number}"


def make_test_folder(state_dir: Path, learning: Learning, chamber: ChamberFile, *, force: bool) -> None:
    """Make the folder of a step test with its head; where both are there, nothing is changed.

    Raises:
        OSError: it could not be made.
    """
    folder = tests_of(state_dir) / learning.name
    if (folder / HEAD).exists():
        return
    folder.mkdir(parents=True, exist_ok=True)
    if force:
        sync_folder(folder.parent)
        sync_folder(state_dir)
    head = StepHead(
        name=learning.name,
        began=time_text(learning.began_wall_s),
        loaded_kg=learning.loaded_kg,
        chamber=chamber,
    )
    replace_whole(folder / HEAD, encode_head(head), force=force, keep_previous=False)


def encode_head(head: StepHead) -> bytes:
    """Return the head as TOML; what is None is left out."""
    comment = "# What the step test beside this was made with. Do not edit.\n\n"
    return (comment + tomli_w.dumps(named(msgspec.to_builtins(head, builtin_types=(date,))))).encode()


class StepLog:
    """Turn the ticks of a step test into rows."""

    def __init__(self) -> None:
        """Begin with no test."""
        self._name = ""
        self._newest_s = float("-inf")
        self._before: dict[Role, float] = {}

    def row(self, memory: Memory, outcome: Outcome) -> bytes | None:
        """Return the row of this tick; None while no step test runs, and where the tick has its row already."""
        learning = memory.learning
        if learning is None or outcome.now_s == self._newest_s:
            return None
        self._newest_s = outcome.now_s
        if learning.name != self._name:
            self._name = learning.name
            self._before = {role: output.on_total_s for role, output in memory.outputs.items()}
        values, ages = self._readings(memory, outcome)
        on = []
        for role in OUTPUTS:
            output = memory.outputs.get(role)
            on.append("" if output is None else f"{output.on_total_s - self._before.get(role, 0.0):.3f}")
        return row_of(
            (
                time_text(outcome.wall_s),
                f"{outcome.now_s - learning.began_s:.3f}",
                learning.phase,
                *values,
                *ages,
                *on,
                "yes" if outcome.known.door_open else "",
                " ".join(learning.notes) if not learning.because else learning.because,
            )
        )

    def _readings(self, memory: Memory, outcome: Outcome) -> tuple[list[str], list[str]]:
        """Return what each sensor says now, and how old that is."""
        values, ages = [], []
        for channel in CHANNELS:
            judged = memory.judge.channels.get(channel)
            good = None if judged is None or judged.fault is not None else judged.good
            values.append("" if good is None else f"{good.value:.4f}")
            ages.append("" if good is None else f"{outcome.now_s - good.taken_s:.3f}")
        return values, ages
