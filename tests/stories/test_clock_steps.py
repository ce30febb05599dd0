"""Steps of the clock on the wall, of any size and either sign: no stage, no lease and no count knows of them."""

from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from controller.core.memory import Memory
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.watched import fermenting

HOURS = 2.5
YEAR_S = 31_557_600
FIELDS = (
    "state", "stage_index", "elapsed_s", "stage_elapsed_s", "stage_at_conditions_s", "arrived", "hung_s",
    "degree_hours_f", "degree_hours_c", "guarded_f", "guarded_c", "highest_air_c", "blind_s", "ph_demanded",
)  # fmt: skip


def told(*faults: str) -> tuple[list[Any], Memory, ChamberStory]:
    """Run the beginning of a batch; return all that no clock on the wall may touch, the memory and the story."""
    story = ChamberStory("insulated-box", "tangy", faults=faults).start().run_for(hours=0.5).hang()
    story.run_for(hours=HOURS - 0.5)
    batch, world = story.batch, story.world
    commands = [outcome.commands for _, outcome in story.outcomes]
    facts = [*(getattr(batch, name) for name in FIELDS), world.lamp_edges, commands, world.relays.closings]
    return [*facts, {role: output.on_total_s for role, output in story.memory.outputs.items()}], story.memory, story


steps = st.tuples(
    st.sampled_from([-1, 1]),
    st.one_of(st.integers(3, 120), st.integers(120, 200_000), st.integers(200_000, 12 * YEAR_S)),
    st.integers(60, int(HOURS * 3600) - 60),
)


@settings(max_examples=2)
@given(wrong=st.lists(steps, min_size=1, max_size=4))
@example(wrong=[(1, 40 * YEAR_S, 1805), (-1, 60 * YEAR_S, 5000)])
def test_a_run_with_steps_is_the_run_without_them(wrong: list[tuple[int, int, int]]) -> None:
    """Takes a second each: the same two and a half hours of a ferment, with the clock jumping about.

    The run beside it has steps of 0 s at the same instants: where the model's own time is cut in two it rounds anew.
    """
    faults = [f"clock-step:{'+' if sign > 0 else '-'}{size}s@{at_s}s" for sign, size, at_s in wrong]
    assert told(*faults)[0] == told(*(f"clock-step:+0s@{at_s}s" for _, _, at_s in wrong))[0]


@pytest.mark.fault_row("C4")
@pytest.mark.parametrize(
    ("step", "called"),
    [("+30s", False), ("+59s", False), ("+61s", True), ("+3h", True), ("-2s", True), ("-400d", True)],
)
def test_a_step_is_told_and_one_of_a_minute_or_back_calls_until_it_was_seen(step: str, called: bool) -> None:  # noqa: FBT001
    _, memory, story = told(f"clock-step:{step}@1h")
    (event,) = [event for _, event in story.book.events if event.kind == "clock"]
    assert "from 20" in event.text
    assert " UTC to " in event.text
    assert [(alarm.row, alarm.priority) for alarm in memory.alarms if alarm.row == "C4"] == [("C4", "3")] * called


@pytest.mark.fault_row("C5")
def test_a_clock_that_nobody_has_set_is_one_alarm_until_it_is_and_the_step_that_sets_it_is_none() -> None:
    _, memory, story = told("clock-lost@1h/30m", "clock-step:+5h@1.5h")
    assert story.rows == ["C5"]
    assert [event.id.split("-")[0] for _, event in story.book.events if event.kind == "returned"] == ["C5"]
    assert [alarm.active for alarm in memory.alarms] == [False]
    lost = [outcome.wall_trusted for at_s, outcome in story.outcomes if 3605.0 < at_s < 5395.0]
    assert not any(lost)


@pytest.mark.fault_row("C4")
def test_a_step_of_a_clock_that_was_lost_moves_nothing_of_before_and_is_told_when_it_is_believed_again() -> None:
    faults = ("probe-out@4h/30m", "clock-lost@8h/6h", "clock-step:+1h@12h")
    story = fermenting("insulated-box", *faults, hours=7.9)
    known = {alarm.id: (alarm.since_wall_s, alarm.by_wall_s) for alarm in story.memory.alarms}
    hung_s = story.batch.hung_wall_s
    assert set(known) == {"H9-1"}
    story.run_for(hours=5.5)  # 12 h of the run are 13 h by its clock.
    assert [event.id for _, event in story.book.events if event.kind == "clock"] == ["C4"]
    assert {alarm.id: (alarm.since_wall_s, alarm.by_wall_s) for alarm in story.memory.alarms}.items() >= known.items()
    assert story.batch.hung_wall_s == hung_s, "these times were true"
    c5 = next(alarm for alarm in story.memory.alarms if alarm.row == "C5")
    assert "cannot be believed any more" in c5.text
    story.run_for(hours=1.5)
    told = [event.text for _, event in story.book.events if event.kind == "clock"][-1]
    assert "can be believed again, which it could not since 2026-01-05 14:00 UTC" in told
    assert "stepped by +3600 s: without that it would be 2026-01-05 20:00 UTC now, and it is 2026-01-05 21:00" in told
    assert "C4" in story.rows, "what was typed in meanwhile may have a wrong time"
    assert {alarm.id: (alarm.since_wall_s, alarm.by_wall_s) for alarm in story.memory.alarms}.items() >= known.items()
