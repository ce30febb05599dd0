"""One fault of every kind that the simulator knows: exactly one alarm speaks for it, in one sentence and in time."""

import re
from pathlib import Path
from typing import get_args

import pytest

from controller.core.alarms.message import SHORT
from controller.core.fault_table import ROWS
from controller.core.values import Channel
from controller.simulator.faults import KINDS
from tests.bench.one_alarm_each import CASES, HEALTHY, speaking, story_of, told


def worded(text: str) -> str:
    """Return a text without its figures: they are those of one run, the words are what a maker goes by."""
    return re.sub(r"\d+(?:[.:]\d+)?", "#", text)


README = worded((Path(__file__).parents[2] / "README.md").read_text("utf-8"))
RAW = [channel for channel in get_args(Channel) if "_" in channel]


def test_every_kind_of_fault_has_its_story() -> None:
    assert set(CASES) == set(KINDS)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_one_fault_is_one_alarm(kind: str, tmp_path: Path) -> None:
    case = CASES[kind]
    story = story_of(kind, tmp_path)
    speaks = speaking(story)
    assert [event.id for event in speaks] == [f"{case.row}-1"]
    assert len(told(story)) <= 3, "at most two came up before their cause could be found"
    row = ROWS[case.row]
    assert (case.first or row.first) in speaks[0].text
    assert not [name for name in RAW if name in speaks[0].text], "a maker reads of sensors, not of channels"
    assert "Since 2026-01-0" in speaks[0].text
    assert "Do this by 2026-01-0" in speaks[0].text
    assert len(f"{speaks[0].id}: {row.title}. {row.first}") <= SHORT
    assert worded(f"| {speaks[0].text} |") in README, "print the table anew: python -m tests.bench.one_alarm_each"


def test_a_chamber_without_a_fault_raises_none(tmp_path: Path) -> None:
    story = story_of("", tmp_path)
    assert story.world.elapsed_s >= (HEALTHY.at_min + HEALTHY.minutes) * 60.0
    assert told(story) == []
