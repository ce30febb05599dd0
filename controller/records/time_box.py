"""Carry "let time pass" to a simulated run in which time stands still, and back what came of it: files in its folder.

A wait is written aside and renamed, as every request; what it brought takes its place. A run that has ended answers
nothing any more, which its status file tells.
"""

import contextlib
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec
from msgspec import Struct

from controller.core.values import LookKind
from controller.errors import DataError, StorageError, UnavailableError
from controller.records.durable import replace_whole
from controller.records.status import is_alive

FOLDER: Final = "time"
LOOK_EVERY_S: Final = 0.05


class Wait(Struct, frozen=True, kw_only=True):
    """Ask that so many simulated seconds pass; with `until_asked` only until the program has something to say."""

    id: str
    seconds: float
    until_asked: bool = False


class Said(Struct, frozen=True, kw_only=True):
    """Hold one thing that the program said meanwhile."""

    wall_s: float
    text: str


class Measured(Struct, frozen=True, kw_only=True):
    """Hold what a person could measure now at the modelled meat; temperatures in °C, weights gross in grams."""

    ph_mince: float
    ph_sausage: float
    sample_temp_c: float | None
    pieces_g: dict[str, float]
    tare_g: float
    core_temp_c: float
    water_activity: float
    looks: dict[LookKind, str]


class Waited(Struct, frozen=True, kw_only=True):
    """Hold what came of a wait."""

    id: str
    wall_s: float
    waited_s: float
    ended: bool = False  # The run is over.
    said: tuple[Said, ...] = ()
    measured: Measured | None = None  # None while there is no batch.


class TimeBox:
    """Be the simulated run's side of the box."""

    def __init__(self, out: Path) -> None:
        """Make the folder, empty: what was asked of an earlier run there means nothing."""
        self._folder = out / FOLDER
        self._folder.mkdir(parents=True, exist_ok=True)
        for path in self._folder.glob("*.json"):
            path.unlink()

    def take(self) -> Wait | None:
        """Return the wait that was asked for first and has no answer yet, or None; what cannot be read is dropped."""
        for path in sorted(self._folder.glob("*.wait.json"), key=_age):
            try:
                return msgspec.json.decode(path.read_bytes(), type=Wait)
            except (msgspec.DecodeError, UnicodeDecodeError):
                path.unlink()
        return None

    def answer(self, waited: Waited) -> None:
        """Put what came of a wait in its place; where the disk has no room for it, only the question goes."""
        with contextlib.suppress(StorageError):
            _write(self._folder / f"{waited.id}.waited.json", waited)
        (self._folder / f"{waited.id}.wait.json").unlink(missing_ok=True)


def _age(path: Path) -> tuple[int, str]:
    return path.stat().st_mtime_ns, path.name


def ask(out: Path, wait: Wait, *, sleep: Callable[[float], None] = time.sleep) -> Waited:
    """Let time pass in a simulated run, and return what came of it.

    Raises:
        UnavailableError: no run stands still in this folder, or it ended without an answer.
        StorageError: the disk took no answer.
        DataError: the answer is damaged.
    """
    folder = out / FOLDER
    if not folder.is_dir() or not is_alive(out):
        raise UnavailableError(
            f"{out}: no simulation by hand is running there.\n"
            f"Begin one with: hangroom simulate PROFILE --by-hand --out {out}"
        )
    question, answer = folder / f"{wait.id}.wait.json", folder / f"{wait.id}.waited.json"
    _write(question, wait)
    while not answer.exists():
        if not is_alive(out) and not answer.exists():
            question.unlink(missing_ok=True)
            raise UnavailableError(f"{out}: the simulation ended meanwhile.")
        if not question.exists() and not answer.exists():
            raise StorageError(
                f"{answer}: could not be written. The time has passed, but what came of it found no room on the disk.\n"
                "Make room there; hangroom status shows where things stand."
            )
        sleep(LOOK_EVERY_S)
    try:
        return msgspec.json.decode(answer.read_bytes(), type=Waited)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise DataError(f"{answer}: is damaged ({error}).") from error
    finally:
        with contextlib.suppress(OSError):
            answer.unlink()


def _write(path: Path, value: Struct) -> None:
    replace_whole(path, msgspec.json.encode(value), force=False, keep_previous=False)
