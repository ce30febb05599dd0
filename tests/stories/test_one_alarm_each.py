"""One fault of every kind that the simulator knows: exactly one alarm speaks for it, in one sentence and in time."""

from pathlib import Path

import pytest

from controller.core.alarms.message import SHORT
from controller.core.fault_table import ROWS
from controller.simulator.faults import KINDS
from tests.bench.one_alarm_each import CASES, HEALTHY, speaking, story_of, told


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
    assert row.first in speaks[0].text
    assert "Since 2026-01-0" in speaks[0].text
    assert "Do this by 2026-01-0" in speaks[0].text
    assert len(f"{speaks[0].id}: {row.title}. {row.first}") <= SHORT


def test_a_chamber_without_a_fault_raises_none(tmp_path: Path) -> None:
    story = story_of("", tmp_path)
    assert story.world.elapsed_s >= (HEALTHY.at_min + HEALTHY.minutes) * 60.0
    assert told(story) == []
