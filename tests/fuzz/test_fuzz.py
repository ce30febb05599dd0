"""A few spoiled and invented files for every reader; `python -m tests.fuzz` feeds many."""

import random
import time
from pathlib import Path
from typing import Any

import pytest

from controller.errors import DataError
from tests.fuzz.harness import Hung, Target, require_readable, run, within
from tests.fuzz.invented import require_nothing_comes_out
from tests.fuzz.mutate import spoil_bytes, spoil_table, spoil_tree
from tests.fuzz.targets import TARGETS
from tests.fuzz.welltyped import places_of, spoil_typed


@pytest.mark.parametrize("kind", TARGETS, ids=[kind.name for kind in TARGETS])
def test_no_file_brings_a_reader_to_raise_to_hang_or_to_speak_gibberish(kind: type[Target], tmp_path: Path) -> None:
    target = kind()
    told = run([target], 8, 20260105, tmp_path)
    assert [f"{find.what} at {find.where}: {find.text} ({find.replay})" for find in told.finds.values()] == []
    assert told.inputs.total() == 8
    require_nothing_comes_out(target, 5, 20260105)


class Faulty(Target):
    """Be a reader that raises at odd inputs, hangs at 4, speaks gibberish at 6, and refuses 8."""

    name = "faulty"

    def prepare(self, folder: Path) -> None:
        """Need nothing."""
        del folder
        self._number = 0

    def make(self, rng: random.Random) -> int:
        """Count."""
        del rng
        self._number += 1
        return self._number

    def of_bytes(self, data: bytes) -> int:
        """Return how many."""
        return len(data)

    def feed(self, made: int) -> bool:
        """Do as is said above."""
        if made % 2:
            raise IndexError(made)
        if made == 4:
            raise Hung
        if made in {6, 8}:
            raise DataError("\x1b[2J" if made == 6 else "this is refused")
        return True


def test_the_harness_finds_what_raises_hangs_or_cannot_be_read(tmp_path: Path) -> None:
    told = run([Faulty()], 10, 1, tmp_path)
    assert sorted((find.what, find.times) for find in told.finds.values()) == [
        ("AssertionError", 1),
        ("Hung", 1),
        ("IndexError", 5),
    ]
    assert told.accepted.total() == 2
    assert any(find.replay == "python -m tests.fuzz --replay faulty:1:0" for find in told.finds.values())
    with pytest.raises(IndexError):
        require_nothing_comes_out(Faulty(), 50, 1)


def work_for_ever() -> None:
    while True:
        pass


def test_an_input_that_keeps_the_processor_busy_is_ended() -> None:
    began_s = time.process_time()
    with pytest.raises(Hung), within(0.1):
        work_for_ever()
    assert time.process_time() - began_s < 2.0


@pytest.mark.parametrize("text", ["", " \n", "\x07", "\u202e", "x" * 100_000])
def test_words_that_no_screen_shows_are_no_words(text: str) -> None:
    with pytest.raises(AssertionError):
        require_readable(text)


def test_the_same_seed_spoils_in_the_same_way_and_nearly_always_changes_something() -> None:
    good = b"time,kind,value\r\n2026-01-05T06:00:00Z,ph,5.6\r\n"
    for spoil in (spoil_bytes, spoil_table):
        made = [spoil(random.Random(number), good) for number in range(50)]
        assert made == [spoil(random.Random(number), good) for number in range(50)]
        assert sum(one != good for one in made) > 40
    tree = {"a": [1.0, {"b": "x"}], "c": True}
    assert sum(spoil_tree(random.Random(number), tree) != tree for number in range(50)) > 40
    assert tree == {"a": [1.0, {"b": "x"}], "c": True}


def test_values_are_spoiled_within_their_types() -> None:
    kind = dict[str, list[float | None]]
    for number in range(50):
        tree: dict[str, Any] = {"a": [1.0, None], "b": []}
        spoil_typed(random.Random(number), kind, tree)
        assert all(item is None or isinstance(item, float) for items in tree.values() for item in items)
    assert len(places_of(kind, {"a": [1.0, None], "b": []})) == 4
