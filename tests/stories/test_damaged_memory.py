"""A damaged memory at the start: the copy before it is taken, or nothing; either is an alarm, and no bytes are lost."""

import errno
import os
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.app import begin
from controller.core.memory import Inputs, Memory
from controller.core.restart import first_memory
from controller.core.step import step
from controller.records.checkpoint import FILE, PAUSES_S, load_checkpoint, save_checkpoint
from controller.records.durable import previous_of
from tests.helpers.bench_chamber import CHAMBER, WALL_S
from tests.helpers.recorded import batch


class Clock:
    """Stand still, a minute after the memory was saved."""

    def monotonic_s(self) -> float:
        return 1060.0

    def wall_s(self) -> float:
        return WALL_S + 60.0

    def wall_trusted(self) -> bool:
        return True

    def boot_id(self) -> str:
        return "boot-1"

    def sleep_until(self, monotonic_s: float) -> bool:
        raise NotImplementedError(monotonic_s)


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    """Leave the memory of a run with one batch, and the copy before it."""
    path = tmp_path / FILE
    memory = replace(first_memory(CHAMBER, 1000.0, WALL_S, "boot-1"), batches=(batch("ours"),), ended_cleanly=True)
    save_checkpoint(path, memory, force=True)
    save_checkpoint(path, memory, force=True)
    return path


def begin_and_tick(path: Path) -> tuple[Memory, list[str]]:
    """Return the memory after the first tick, and what was told until then."""
    memory, told = begin(path, CHAMBER, Clock())
    memory, outcome = step(memory, Inputs(1060.0, WALL_S + 60.0, wall_trusted=True, readings={}), CHAMBER)
    return memory, [event.text for event in (*told, *outcome.events)]


def alarms(memory: Memory) -> list[tuple[str, str]]:
    return [(alarm.row, alarm.priority) for alarm in memory.alarms if alarm.row == "C13"]


def test_a_whole_memory_raises_nothing(saved: Path) -> None:
    memory, _ = begin_and_tick(saved)
    assert alarms(memory) == []
    assert [one.id for one in memory.batches] == ["ours"]
    assert len(list(saved.parent.iterdir())) == 2


@pytest.mark.fault_row("C13")
def test_one_damaged_copy_is_an_alarm_and_the_one_before_it_leads_on(saved: Path) -> None:
    saved.write_bytes(saved.read_bytes()[:-1])
    memory, told = begin_and_tick(saved)
    assert alarms(memory) == [("C13", "2")]
    assert [one.id for one in memory.batches] == ["ours"]
    assert any("checkpoint.msgpack is kept as checkpoint.msgpack.damaged-1" in text for text in told)


@pytest.mark.fault_row("C13")
def test_two_damaged_copies_are_an_urgent_alarm_that_says_what_is_forgotten(saved: Path) -> None:
    for path in (saved, previous_of(saved)):
        path.write_bytes(bytes(1000))  # What a file system leaves where the data never came.
    memory, _ = begin_and_tick(saved)
    assert alarms(memory) == [("C13", "1")]
    assert memory.batches == ()
    assert "open batches are forgotten, their folders are not" in memory.alarms[-1].text
    assert "Compare the open batches with what hangs" in memory.alarms[-1].text
    kept = sorted(path.name for path in saved.parent.iterdir())
    assert kept == ["checkpoint.msgpack.damaged-1", "checkpoint.msgpack.previous.damaged-1"]


@pytest.mark.fault_row("C13")
def test_a_copy_that_cannot_be_read_is_like_a_damaged_one(saved: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read = Path.read_bytes

    def bad_block(path: Path) -> bytes:
        if path.name == FILE:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", bad_block)
    memory, told = begin_and_tick(saved)
    assert alarms(memory) == [("C13", "2")]
    assert [one.id for one in memory.batches] == ["ours"]
    assert any("cannot be read: Input/output error" in text for text in told)


def fail_to_read(failures: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the newest copy be given by the disk only after so many failures."""
    read = Path.read_bytes

    def loose_card(path: Path) -> bytes:
        if path.name == FILE and failures:
            failures.pop()
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", loose_card)


def test_a_copy_that_can_be_read_at_the_third_try_is_no_damaged_one(
    saved: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failures = [1.0, 2.0]
    fail_to_read(failures, monkeypatch)
    memory, told = begin_and_tick(saved)
    assert alarms(memory) == []
    assert [one.id for one in memory.batches] == ["ours"]
    assert not any("cannot be read" in text for text in told)


def test_a_copy_that_the_disk_gives_again_a_moment_later_is_taken_though_there_is_no_other(
    saved: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its last save took the older copy out of the way, and failed at the next call."""
    previous_of(saved).unlink()
    failures = [*PAUSES_S, 0.0]
    fail_to_read(failures, monkeypatch)
    memory, _ = begin_and_tick(saved)
    assert failures == []
    assert alarms(memory) == []
    assert [one.id for one in memory.batches] == ["ours"]


def test_a_program_that_was_killed_between_two_renames_has_damaged_nothing(saved: Path) -> None:
    saved.unlink()
    memory, told = begin_and_tick(saved)
    assert alarms(memory) == []
    assert any("is missing; the copy before it is taken" in text for text in told)


@pytest.mark.parametrize("dies_before", ["unlink", "rename", "fsync"])
def test_the_only_whole_copy_outlives_a_kill_in_the_first_save_after_the_damage(
    saved: Path, monkeypatch: pytest.MonkeyPatch, dies_before: str
) -> None:
    """The damaged copy is out of the way, so the first save has nothing to put in the place of the whole one."""
    saved.write_bytes(b"damaged")
    memory, _ = begin(saved, CHAMBER, Clock())

    class Killed(BaseException):
        pass

    def die(*_: object) -> None:
        raise Killed

    with monkeypatch.context() as patched:
        patched.setattr(os, dies_before, die)
        try:
            save_checkpoint(saved, memory, force=True)
        except Killed:
            pass
        else:
            assert dies_before == "unlink"  # It must not have been asked for: nothing may be deleted now.
    loaded = load_checkpoint(saved)
    assert loaded.memory is not None
    assert [one.id for one in loaded.memory.batches] == ["ours"]
    assert loaded.damaged == ()
