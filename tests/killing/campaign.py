"""Kill the running command again and again while people type, and look at the files after each kill."""

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.status import read_status
from tests.killing.chamber import ChamberOnDisk
from tests.killing.checker import Checker
from tests.killing.process import WRITING, Daemon, InCall, can_trace
from tests.killing.typist import AtTheBox, AtTheCommand, Ledger

TYPISTS: Final = 5
FIRST_S: Final = 0.7
"""About how long the command takes from its start to its first tick on a small machine; kills hit before it too."""

LIFE_S: Final = 4.0
BEGINNINGS: Final = 5
START: Final = "2026-01-05-tangy-{}"


@dataclass(slots=True)
class Told:
    """Hold what came of a campaign."""

    kills: int = 0
    before_ready: int = 0
    at_random: int = 0
    in_vain: int = 0  # Of these: no system call of the chosen kind came in time.
    in_call: Counter[tuple[str, str]] = field(default_factory=Counter)
    typed: int = 0
    acknowledged: int = 0
    refused: int = 0
    rows: int = 0
    torn: int = 0
    seconds: float = 0.0
    wrong: list[str] = field(default_factory=list)


class Campaign:
    """Be one chamber that is killed so many times."""

    def __init__(self, root: Path, seed: int) -> None:
        """Make the chamber's files."""
        self._chamber = ChamberOnDisk(root)
        self._rng = random.Random(seed)
        self._ledger = Ledger()
        self._checker = Checker(self._chamber.state, self._ledger)
        self._command = AtTheCommand(self._chamber, self._ledger)
        self._typists = [AtTheBox(self._chamber, self._ledger, f"{seed} {name}") for name in range(TYPISTS)]
        self._traces = can_trace()
        self._batch = Path()
        self._lives: list[Daemon] = []
        self.told = Told()

    def run(self, times: int, show: Callable[[Told], None] = lambda _told: None) -> Told:
        """Kill it so many times; return what was found."""
        try:
            return self._run(times, show)
        finally:
            for daemon in self._lives[-1:]:
                daemon.kill()  # Also where something went wrong: nothing is left running.

    def _run(self, times: int, show: Callable[[Told], None]) -> Told:
        began_s = time.monotonic()
        self._begin_batch(min(BEGINNINGS, times // 10))
        for typist in self._typists:
            typist.start()
        for _ in range(times - self.told.kills):
            self._live_and_die()
            self.told.wrong += self._checker.after_kill() + self._command.look()
            show(self.told)
            if self.told.wrong:
                break
        self._end()
        self.told.seconds = time.monotonic() - began_s
        return self.told

    def _begin_batch(self, kills: int) -> None:
        """Have a batch begun while the program is killed where it makes the batch's folder and remembers it."""
        state = self._chamber.state
        starter = AtTheBox(self._chamber, self._ledger, "start")
        start = starter.type_start()
        for number in range(1, kills + 1):
            daemon = self._start(self._choose_beginning(number) if self._traces else None)
            self.told.kills += 1
            if daemon.wait_end(LIFE_S):
                self._book(daemon)
            else:
                daemon.kill()
                self.told.at_random += 1
            self.told.wrong += self._checker.after_kill()
        daemon = self._start()
        daemon.wait_ready()
        starter.fetch(start)
        process = self._command.type_line("hang")
        out, err = process.communicate(timeout=60.0)
        ends_s = time.monotonic() + 20.0
        while not (opened := read_status(state).batches) and time.monotonic() < ends_s:
            daemon.wait_end(0.2)  # The status is written every few seconds.
        if not start.answers[:1] or not start.answers[0][0] or process.returncode != 0 or len(opened) != 1:
            self.told.wrong.append(f"start: {start.answers}; hang: {out}{err}; open: {[batch.id for batch in opened]}")
        self._batch = state / "batches" / (opened[0].id if opened else "none")
        self.told.wrong += self._checker.after_kill()
        daemon.kill()

    def _choose_beginning(self, number: int) -> InCall:
        """Return where a life ends in which a batch begins; each unfinished beginning leaves a folder."""
        state = self._chamber.state
        folder = state / "batches" / START.format(number)
        call, path = self._rng.choice(
            (
                ("write", folder / "recipe.toml.new"), ("fsync", folder / "recipe.toml.new"), ("fsync", folder),
                ("rename", folder / "recipe.toml.new"), ("fsync", state / "batches"), ("write", folder / "events.csv"),
                ("fdatasync", folder / "events.csv"), ("rename", state / f"{CHECKPOINT}.new"),
            )
        )  # fmt: skip
        return InCall(call, 2 if path.name.startswith(CHECKPOINT) else 1, path)

    def _start(self, kill: InCall | None = None) -> Daemon:
        daemon = Daemon(self._chamber, kill)
        self._lives = [daemon]
        return daemon

    def _live_and_die(self) -> None:
        told, rng = self.told, self._rng
        told.kills += 1
        inside = self._traces and rng.random() < 0.6
        kill = self._choose_call() if inside else None
        from_start = kill is not None and rng.random() < 0.3
        daemon = self._start(kill if from_start else None)
        if rng.random() < 0.25 and not inside:
            daemon.wait_end(rng.uniform(0.05, FIRST_S))
            daemon.kill()
            told.before_ready += 1
            return
        if not daemon.wait_ready():
            self._book(daemon)
            return
        if rng.random() < 0.5:
            self._command.begin_ph(f"{round(rng.uniform(5.40, 5.95), 2):g}")
        if kill is None:
            daemon.wait_end(rng.uniform(0.0, 2.0))
            daemon.kill()
            told.at_random += 1
            return
        if not from_start:
            daemon.wait_end(rng.uniform(0.0, 0.5))
            daemon.attach(kill)
        if daemon.wait_end(LIFE_S):
            self._book(daemon)
        else:
            daemon.kill()
            told.at_random += 1
            told.in_vain += 1

    def _book(self, daemon: Daemon) -> None:
        """Count a life that ended by itself: by strace, in a system call, or else it is a fault."""
        daemon.close()
        place = daemon.killed_in()
        if place is None:
            said = daemon.said.read_text("utf-8", "replace")[-2000:]
            self.told.wrong.append(f"the command ended and nobody had killed it: {said}")
        else:
            self.told.in_call[place] += 1

    def _choose_call(self) -> InCall:
        """Return where the next life is to end: at a file that matters, or at any call that writes."""
        rng = self._rng
        if rng.random() < 0.2:
            return InCall(rng.choice(WRITING), rng.randint(1, 12))
        call, path = rng.choice(list(places(self._chamber.state, self._batch)))
        return InCall(call, rng.randint(1, 3), path)

    def _end(self) -> None:
        """Let all be answered, stop it as the service manager does, and look for the last time."""
        daemon = self._start()
        daemon.wait_ready()
        for typist in self._typists:
            typist.end()
        for typist in self._typists:
            typist.join(90.0)
            self.told.wrong += typist.wrong
        self.told.wrong += self._command.look(wait=True)
        ends_s = time.monotonic() + 20.0
        new = self._chamber.state / "requests" / "new"
        while any(new.iterdir()) and time.monotonic() < ends_s:
            daemon.wait_end(0.1)
        code = daemon.stop()
        if code != 0:
            self.told.wrong.append(f"the clean stop ended with {code}")
        self.told.wrong += self._checker.at_the_end()
        typed = self._ledger.all()
        self.told.typed = len(typed)
        self.told.acknowledged = sum(bool(one.answers) and one.answers[0][0] for one in typed)
        self.told.refused = sum(bool(one.answers) and not one.answers[0][0] for one in typed)
        self.told.rows = sum(len(one.readings) + one.check for one in typed if one.answers and one.answers[0][0])
        self.told.torn = self._checker.torn


def places(state: Path, batch: Path) -> Iterator[tuple[str, Path]]:
    """Yield every system call with which the records and the box write, and the file on which it is done."""
    for path in (batch / "readings.csv", batch / "events.csv", state / "instruments.csv"):
        yield "write", path
        yield "fdatasync", path
    for name in ("write", "fsync", "rename"):
        yield name, state / f"{CHECKPOINT}.new"
    yield "unlink", state / f"{CHECKPOINT}.previous"
    yield "rename", state / CHECKPOINT  # Out of the way of the new one; that one's rename is above.
    for folder in (state, state / "answers", state / "requests" / "new"):
        yield "fsync", folder
