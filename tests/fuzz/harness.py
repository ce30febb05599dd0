"""Feed one input after another to the readers, and tell what none of them may do: raise, hang, or speak gibberish.

Each input is made from its own seed, so that the line that is printed with a find makes the very same input again.
"""

import contextlib
import faulthandler
import random
import signal
import sys
import time
import traceback
import warnings
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from controller.errors import HangroomError

CPU_S: Final = 5.0
WALL_S: Final = 20.0
"""No reader may be busy for so long with one input, on however slow a machine."""
LONGEST_MESSAGE: Final = 30_000


class Hung(BaseException):
    """Say that an input took too long. No `except Exception` can swallow it."""


class Target(ABC):
    """Be one reader of the program with a way to make inputs for it."""

    name: str
    share: float = 1.0
    """How many of all inputs it gets, in proportion to the others."""

    @abstractmethod
    def prepare(self, folder: Path) -> None:
        """Make what is needed once, below a folder of its own."""

    @abstractmethod
    def make(self, rng: random.Random) -> Any:  # noqa: ANN401 - its own kind of input
        """Return an input."""

    @abstractmethod
    def of_bytes(self, data: bytes) -> Any:  # noqa: ANN401
        """Return the input in which these bytes stand for the file; hypothesis invents them."""

    @abstractmethod
    def feed(self, made: Any) -> bool:  # noqa: ANN401
        """Give an input to the reader; say whether it was accepted. A refusal in words may be raised as it comes."""


@dataclass(slots=True)
class Find:
    """Hold one fault that was found, with the first input that shows it."""

    target: str
    seed: int
    number: int
    what: str
    where: str
    text: str
    times: int = 1

    @property
    def replay(self) -> str:
        """Return the line that shows it again."""
        return f"python -m tests.fuzz --replay {self.target}:{self.seed}:{self.number}"


@dataclass(slots=True)
class Told:
    """Hold what came of a run."""

    inputs: Counter[str] = field(default_factory=Counter)
    accepted: Counter[str] = field(default_factory=Counter)
    slowest_s: dict[str, float] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    finds: dict[tuple[str, str, str], Find] = field(default_factory=dict)


def run(
    targets: list[Target], inputs: int, seed: int, folder: Path, show: Callable[[Told], None] = lambda _told: None
) -> Told:
    """Feed so many inputs, shared out among the targets; return what was found."""
    told = Told()
    total = sum(target.share for target in targets)
    for target in targets:
        place = folder / target.name
        place.mkdir(parents=True, exist_ok=True)
        target.prepare(place)
        began_s = time.monotonic()
        for number in range(round(inputs * target.share / total)):
            _one(target, seed, number, told)
        told.seconds[target.name] = time.monotonic() - began_s
        show(told)
    return told


def made_by(target: Target, seed: int, number: int) -> Any:  # noqa: ANN401
    """Return the input of this number."""
    return target.make(random.Random(f"{target.name} {seed} {number}"))


def _one(target: Target, seed: int, number: int, told: Told) -> None:
    try:
        made = made_by(target, seed, number)
    except Exception as error:
        raise RuntimeError(f"no input could be made for {target.name}:{seed}:{number}") from error
    told.inputs[target.name] += 1
    began_s = time.monotonic()
    try:
        with within(CPU_S):
            told.accepted[target.name] += feed(target, made)
    except (Exception, Hung) as error:  # noqa: BLE001 - whatever comes out is the find
        _book(told, target.name, seed, number, error)
    told.slowest_s[target.name] = max(told.slowest_s.get(target.name, 0.0), time.monotonic() - began_s)


def feed(target: Target, made: Any) -> bool:  # noqa: ANN401
    """Feed one input, warnings as errors; a refusal in words is no fault where the words can be read."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return target.feed(made)
        except HangroomError as error:
            require_readable(str(error))
            return False


def require_readable(text: str) -> None:
    """Raise where a person could not read this on a screen."""
    if not text.strip():
        raise AssertionError("it was refused without a word")
    text.encode("utf-8")
    odd = {letter for letter in text if not letter.isprintable() and letter not in "\n\t"}
    if odd:
        raise AssertionError(f"a message holds {sorted(odd)!r}: {text[:300]!r}")
    if len(text) > LONGEST_MESSAGE:
        raise AssertionError(f"a message of {len(text)} letters: {text[:300]!r}")


@contextlib.contextmanager
def within(cpu_s: float) -> Iterator[None]:
    """Raise Hung in here after so many seconds of processor time, or a minute of the clock."""

    def ring(number: int, frame: object) -> None:
        del number, frame
        raise Hung(f"still busy after {cpu_s:g} s of processor time or {WALL_S:g} s of the clock")

    for signal_, timer, seconds in (
        (signal.SIGPROF, signal.ITIMER_PROF, cpu_s),
        (signal.SIGALRM, signal.ITIMER_REAL, WALL_S),
    ):
        signal.signal(signal_, ring)
        signal.setitimer(timer, seconds)
    if sys.__stderr__ is not None:
        faulthandler.dump_traceback_later(3 * WALL_S, exit=True, file=sys.__stderr__)  # What no signal gets out of.
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        faulthandler.cancel_dump_traceback_later()


def _book(told: Told, target: str, seed: int, number: int, error: BaseException) -> None:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/controller/" in frame.filename] or frames[-1:]
    last = ours[-1]
    where = f"{last.filename.rpartition('/controller/')[2]}:{last.lineno} in {last.name}"
    what = type(error).__name__
    key = (target, what, where)
    if key in told.finds:
        told.finds[key].times += 1
    else:
        told.finds[key] = Find(target, seed, number, what, where, str(error)[:400])


def spoken(text: str) -> str:
    """Return a text that can be printed anywhere."""
    return text.encode("ascii", "backslashreplace").decode()
