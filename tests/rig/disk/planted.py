"""Faults that are planted into the records, to show that states of a disk find them.

Each takes one of the rules of `controller.records.durable` away, as somebody might who wants it quicker.
"""

import contextlib
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

import pytest

from controller.records import asking, batch_folder, durable, request_box, steps

_FORCING: Final = (durable, asking, batch_folder, request_box, steps)


def _nothing(*_args: Any, **_named: Any) -> None:  # noqa: ANN401 - it stands for anything
    """Do nothing."""


def rows_are_not_forced(patch: pytest.MonkeyPatch) -> None:
    """Let a row be written and not forced."""
    made = durable.AppendFile.__init__

    def make(self: durable.AppendFile, *args: Any, **named: Any) -> None:  # noqa: ANN401 - as it takes them
        made(self, *args, **{**named, "sync": _nothing})

    patch.setattr(durable.AppendFile, "__init__", make)


def states_are_not_forced(patch: pytest.MonkeyPatch) -> None:
    """Let a file be renamed over the old one before its bytes are on disk."""
    write = durable.WholeFile._write_aside

    def write_aside(self: durable.WholeFile, data: bytes) -> None:
        forced, self._force = self._force, False
        try:
            write(self, data)
        finally:
            self._force = forced

    patch.setattr(durable.WholeFile, "_write_aside", write_aside)


def names_are_not_forced(patch: pytest.MonkeyPatch) -> None:
    """Let no folder be forced."""
    for module in _FORCING:
        patch.setattr(module, "sync_folder", _nothing)


def states_are_written_in_place(patch: pytest.MonkeyPatch) -> None:
    """Let a file be written over where it lies, and forced."""

    def replace(self: durable.WholeFile, data: bytes) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        fd = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, durable.FILE_MODE)
        with contextlib.closing(os.fdopen(fd, "wb")) as file:
            file.write(data)
            file.flush()
            os.fsync(fd)
        durable.sync_folder(self.path.parent)

    patch.setattr(durable.WholeFile, "replace", replace)


def answers_come_before_the_state(patch: pytest.MonkeyPatch) -> None:
    """Let an answer be given when its rows are written, and the state be saved afterwards."""
    from controller.records import writer

    do = writer.Writer._do

    def hasty(self: writer.Writer, hand_over: Any) -> None:  # noqa: ANN401 - as the writer has it
        while hand_over.answers:
            hand_over.answers.pop(0).give(False)
        do(self, hand_over)

    patch.setattr(writer.Writer, "_do", hasty)


def posts_are_not_forced(patch: pytest.MonkeyPatch) -> None:
    """Let a request be posted without its folder being forced."""
    patch.setattr(asking, "sync_folder", _nothing)


def ends_are_not_looked_at(patch: pytest.MonkeyPatch) -> None:
    """Let no end of a file be put right, and rows not be forced, so that there are such ends."""
    rows_are_not_forced(patch)
    patch.setattr(durable, "recover_tail", _nothing)
    patch.setattr("controller.records.keeper.recover_tail", _nothing)


PLANTED: Final[dict[str, Callable[[pytest.MonkeyPatch], None]]] = {
    planted.__name__.replace("_", "-"): planted
    for planted in (
        rows_are_not_forced,
        states_are_not_forced,
        names_are_not_forced,
        states_are_written_in_place,
        answers_come_before_the_state,
        posts_are_not_forced,
        ends_are_not_looked_at,
    )
}


@contextmanager
def planted(name: str) -> Iterator[None]:
    """Have this fault in the records while the block lasts; none where the name is empty."""
    with pytest.MonkeyPatch.context() as patch:
        if name:
            PLANTED[name](patch)
        yield
