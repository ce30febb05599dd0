"""A program that ends in its very first tick, each time: it is counted as any other crash, and forgets nothing."""

import csv
import errno
import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest
from msgspec.structs import replace

from controller import daemon
from controller.app import real
from controller.core.memory import Memory
from controller.core.restart import first_memory
from controller.core.step import step
from controller.errors import StorageError
from controller.hardware.clock import SystemClock
from controller.hardware.pins import HeaderFactory
from controller.hardware.sensors import Roots
from controller.records.batch_folder import batches_of, make_folder
from controller.records.checkpoint import FILE, load_checkpoint, save_checkpoint
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber
from tests.helpers.recorded import batch
from tests.helpers.shipped_chambers import with_day
from tests.killing.launcher import Chip


class Machine:
    """Be a machine on which the whole program is started again and again, with a batch that was open before."""

    def __init__(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.file, self.state, run_dir = root / "chamber.toml", root / "state", root / "run"
        self.state.mkdir()
        run_dir.mkdir()
        text = with_day(find_chamber("insulated-box").read_text("utf-8"))
        self.file.write_text(text.replace("/var/lib/hangroom", str(self.state)), "utf-8")
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(run_dir))
        monkeypatch.setattr(SystemClock, "sleep_until", lambda _clock, _until_s: False)  # One tick, and it ends.
        self._patch = monkeypatch
        self._roots = Roots(root / "w1", root / "hwmon", root / "iio")
        clock = SystemClock(clock_battery=False)
        file = read_chamber(self.file)
        memory = first_memory(plan_of(file), clock.monotonic_s() - 9.0, clock.wall_s() - 9.0, clock.boot_id())
        clock.close()
        ours = batch("ours")
        make_folder(self.state, ours, file, force=False)
        save_checkpoint(self.state / FILE, replace(memory, batches=(ours,), ended_cleanly=True), force=False)

    def start(self, *, breaks: bool) -> None:
        """Start the program; it breaks in its first tick, or is stopped after it."""
        self._patch.setattr(daemon, "step", broken if breaks else step)
        if breaks:
            with pytest.raises(RuntimeError, match="first tick"):
                self.once()
        else:
            self.once()

    def once(self) -> None:
        """Start it as it is."""
        real.run(self.file, pins=lambda _label: HeaderFactory(Chip()), roots=self._roots)

    @property
    def memory(self) -> Memory:
        """Return what is saved."""
        memory = load_checkpoint(self.state / FILE).memory
        assert memory is not None
        return memory

    def events(self) -> list[dict[str, str]]:
        """Return the batch's diary."""
        path = batches_of(self.state) / "ours" / "events.csv"
        if not path.exists():
            return []
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


def broken(*_of_step: Any) -> NoReturn:  # noqa: ANN401 - whatever it is called with
    raise RuntimeError("a mistake in the first tick")


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Machine]:
    handlers = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    yield Machine(tmp_path, monkeypatch)
    for number, handler in handlers.items():
        signal.signal(number, handler)


@pytest.mark.fault_row("C2")
def test_three_programs_that_ended_in_their_first_tick_lock_the_heat_and_all_is_told(machine: Machine) -> None:
    for _ in range(4):  # The first of them follows a stop.
        machine.start(breaks=True)
    assert machine.events() == []
    machine.start(breaks=False)
    (alarm,) = [alarm for alarm in machine.memory.alarms if alarm.row == "C2"]
    assert (alarm.latched, alarm.locks) == (True, True)
    kinds = [event["kind"] for event in machine.events()]
    assert kinds.count("gap") == 5, "what the four had found out too"
    assert machine.memory.untold == ()
    machine.start(breaks=False)
    assert [event["kind"] for event in machine.events()].count("gap") == 6, "and nothing twice"


def test_what_was_wrong_with_the_memory_is_told_by_the_first_that_outlives_its_first_tick(machine: Machine) -> None:
    save_checkpoint(machine.state / FILE, machine.memory, force=False)
    (machine.state / FILE).write_bytes(b"torn")
    machine.start(breaks=True)
    machine.start(breaks=False)
    assert [(alarm.row, alarm.priority) for alarm in machine.memory.alarms if alarm.row == "C13"] == [("C13", "2")]


@pytest.mark.fault_row("C6")
def test_a_start_that_cannot_be_saved_ends_no_program_and_is_told(
    machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_of_it: Any, **_more: Any) -> NoReturn:  # noqa: ANN401 - whatever it is called with
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    seen: list[str] = []

    def watched(memory: Memory, *more: Any) -> Any:  # noqa: ANN401 - as step has it
        after, outcome = step(memory, *more)
        seen.extend(alarm.row for alarm in after.alarms)
        return after, outcome

    monkeypatch.setattr(os, "rename", full)
    monkeypatch.setattr(daemon, "step", watched)
    with pytest.raises(StorageError, match="No space left"):  # What could not be written by the end is told: exit 74.
        machine.once()
    assert "C6" in seen
