"""Calls to the disk that fail: a slice of what `python -m tests.rig.disk --failures` tries in full."""

import errno
import os
from collections.abc import Callable

import pytest

from controller.records import durable
from controller.records.request_box import OneAnswer
from tests.rig.disk.failing import LASTS_S, SHORT, Failure
from tests.rig.disk.failures import Undisturbed, failures, try_all, try_failure, undisturbed
from tests.rig.disk.planted import PLANTED


@pytest.fixture(scope="module")
def plain() -> Undisturbed:
    return undisturbed()


def test_one_failed_call_of_a_day_loses_nothing_that_was_promised_and_control_goes_on(plain: Undisturbed) -> None:
    """Takes some seconds: the day is told a score of times, each time another call fails."""
    chosen = list(failures(plain, every=419, lasting_every=1201, first=60))
    tried = try_all(plain, chosen)
    assert tried.wrong == []
    assert len(chosen) > 12
    assert len({kind for kind, _ in tried.tried}) >= 4
    assert sum(tried.lasting.values()) > 2


def call(plain: Undisturbed, kind: str, name: str, nth: int = 0) -> int:
    """Return the number of the n-th call of a kind on a file."""
    return [number for number in range(len(plain.calls)) if is_call(plain, number, kind, name)][nth]


def is_call(plain: Undisturbed, number: int, kind: str, name: str) -> bool:
    return plain.calls[number].kind == kind and plain.calls[number].name.endswith(name)


def forget_the_error(patch: pytest.MonkeyPatch) -> None:
    """Go on after a failed fsync as if it had been done."""

    def sync(self: durable.AppendFile, *_: object) -> None:
        pass

    made = durable.AppendFile.__init__

    def make(self: durable.AppendFile, *args: object, **named: object) -> None:
        made(self, *args, **named)  # type: ignore[arg-type]
        force = self._sync

        def careless(fd: int) -> None:
            try:
                force(fd)
            except OSError:
                sync(self)

        self._sync = careless

    patch.setattr(durable.AppendFile, "__init__", make)


def leave_the_part(patch: pytest.MonkeyPatch) -> None:
    """Take a short write for a whole one."""

    def write(fd: int, data: bytes) -> None:
        os.write(fd, data)

    patch.setattr(durable, "write_all", write)


def answer_anew(patch: pytest.MonkeyPatch) -> None:
    """Put an answer there at every try."""
    give = OneAnswer.give

    def again(self: OneAnswer) -> None:
        self._is_there = self._was_tried = False
        give(self)

    patch.setattr(OneAnswer, "give", again)


@pytest.mark.parametrize(
    ("fault", "kind", "name", "error", "says"),
    [
        (forget_the_error, "fsync", "readings.csv", errno.EIO, "a row that was promised is not there"),
        (leave_the_part, "write", "readings.csv", SHORT, "a row"),
        (leave_the_part, "write", "checkpoint.msgpack.new", SHORT, "holds no version that was ever begun"),
        (answer_anew, "fsync of a folder", "requests/new", errno.EIO, "was put there again"),
        (PLANTED["answers-come-before-the-state"], "fsync", "checkpoint.msgpack.new", errno.EIO, "answered as done"),
    ],
)
def test_a_fault_in_the_records_is_found_by_a_call_that_fails(
    plain: Undisturbed,
    monkeypatch: pytest.MonkeyPatch,
    fault: Callable[[pytest.MonkeyPatch], None],
    kind: str,
    name: str,
    error: int,
    says: str,
) -> None:
    first = call(plain, "write", "readings.csv")  # From here on something is answered.
    places = [number for number in range(first, len(plain.calls)) if is_call(plain, number, kind, name)]
    with monkeypatch.context() as patched:
        fault(patched)
        wrong = [line for number in places[:2] for line in try_failure(Failure(number, error), plain).wrong]
    assert any(says in line for line in wrong), wrong


def test_a_disk_that_only_reads_for_ten_minutes_costs_nothing_that_was_promised(plain: Undisturbed) -> None:
    told = try_failure(Failure(call(plain, "fsync", "readings.csv", 1), errno.EROFS, LASTS_S), plain)
    assert told.wrong == []
    assert len(told.disk.failed) > 50
