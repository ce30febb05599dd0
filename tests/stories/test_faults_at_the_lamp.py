"""Every simulated fault, measured at the lamp itself: dark in time, and back by itself only where it may be.

The production daemon runs a ferment in the modelled insulated box; the fault begins three hours after the start, when
cold meat still asks for heat most of the time. Limits: the heat rule (12 s after the newest good reading, 15 s in all)
and, for what cannot be seen in one reading, the times of the fault table.
"""

from functools import cache

import pytest

from controller.core.requests import Clear, Resume
from tests.helpers.chamber_story import ChamberStory

FAULT_S = 3 * 3600.0


def fermenting(*faults: str, seed: int = 1, chamber: str = "insulated-box") -> ChamberStory:
    """Return a chamber a minute before the fault."""
    return healthy(seed, chamber).once_more().befall(*faults)


@cache
def healthy(seed: int, chamber: str) -> ChamberStory:
    """Return the hours that all these stories have in common; nobody tells this one on."""
    story = ChamberStory(chamber, seed=seed).start().run_for(minutes=45).hang()
    return story.run_for(seconds=FAULT_S - story.world.elapsed_s - 60.0)


@pytest.mark.parametrize(
    ("fault", "row"),
    [
        ("missing", "S1"), ("checksum", "S2"), ("empty", "S2"), ("nan", "S8"), ("power-on-value", "S5"),
        ("low-supply", "S5"), ("no-reply", "S8"), ("jump", "S7"), ("stale", "S3"),
    ],
)  # fmt: skip
def test_a_fault_that_can_be_seen_in_a_reading_has_the_lamp_off_within_fifteen_seconds(fault: str, row: str) -> None:
    story = fermenting(f"{fault}@3h/10m").run_for(minutes=6)
    assert story.burns_between(0.0, FAULT_S) > 3600.0, "the lamp must have had something to do"
    assert story.burns_between(FAULT_S + 15.0, FAULT_S + 300.0) == 0.0
    if fault == "jump":
        return  # Three readings that agree are a new level; the other witness then disagrees. See below.
    assert story.rows == [row]
    assert story.state == "suspended"
    end_s = FAULT_S + 600.0
    story.run_for(minutes=7)
    assert story.burns_between(end_s, end_s + 60.0) > 0.0
    assert story.state == "running"
    assert story.rows == [row], "one cause, one alarm"


def test_a_jump_that_stays_is_a_disagreement_and_waits_for_a_person() -> None:
    story = fermenting("jump@3h/20m").run_for(minutes=15)
    assert story.burns_between(FAULT_S + 15.0, FAULT_S + 840.0) == 0.0
    assert "S9" in story.rows
    assert story.state == "held"
    story.run_for(minutes=30)
    assert story.burns_between(FAULT_S + 15.0, story.world.elapsed_s) == 0.0


def test_a_short_jump_comes_back_by_itself() -> None:
    story = fermenting("jump@3h/5s").run_for(minutes=4)
    assert story.rows == []
    assert story.state == "running"


def test_the_probe_that_slips_out_takes_the_lamp_with_it() -> None:
    story = fermenting("probe-out@3h/20m").run_for(minutes=10)
    assert story.burns_between(FAULT_S + 45.0, FAULT_S + 540.0) == 0.0
    assert story.rows[0] in {"H9", "S7"}
    assert max(outcome.known.highest_c or 0.0 for _, outcome in story.outcomes) < 38.0


def test_a_frozen_probe_is_found_when_the_other_one_moves_and_waits_for_a_person() -> None:
    story = fermenting("frozen@3h").run_for(minutes=80)
    assert set(story.rows) & {"S6", "S9"}
    assert story.state == "held"
    assert story.world.true_air_temp_c < 39.5
    assert story.burns_between(story.world.elapsed_s - 600.0, story.world.elapsed_s) == 0.0


def test_a_welded_relay_is_called_out_and_the_trip_is_reported() -> None:
    story = fermenting("relay-welded@3h").run_for(minutes=45)
    assert story.rows[0] in {"A1", "A2", "S7"}
    assert {"A1", "A2"} & set(story.rows)
    assert story.state == "held"


def test_a_master_contactor_ends_what_a_welded_relay_began() -> None:
    story = ChamberStory.with_master(faults=("relay-welded@3h",)).start().run_for(minutes=45).hang()
    story.run_for(hours=3.5)
    assert {"A1", "A2"} & set(story.rows)
    assert not story.world.heat_on
    assert story.world.true_air_temp_c < 48.0


def test_a_burnt_lamp_is_told_from_a_healthy_warm_up_and_ends_by_itself_with_a_new_lamp() -> None:
    story = fermenting("lamp-burnt@3h/2h").run_for(minutes=100)
    assert story.rows == ["A3"]
    assert story.state == "suspended"
    story.run_for(minutes=85)
    assert story.state == "running"
    assert story.rows == ["A3"]


def test_an_open_door_stops_the_mist_and_is_called_out_after_ten_minutes_only_by_its_contact() -> None:
    story = fermenting("door-open@3h/5m").run_for(minutes=15)
    assert story.rows == []
    assert story.state == "running"


def test_an_empty_humidifier_is_called_out() -> None:
    story = ChamberStory("plywood-cabinet", "mild", faults=("humidifier-empty@0s",)).start().run_for(minutes=40)
    story.hang().run_for(hours=6)
    assert "A5" in story.rows


def test_humidity_lost_takes_the_mist_and_not_the_heat() -> None:
    story = fermenting("missing:rh@3h/30m").run_for(minutes=20)
    assert story.burns_between(FAULT_S + 60.0, FAULT_S + 1000.0) > 200.0
    assert [(row, story.state) for row in story.rows] == [("S1", "running")]
    assert not any(
        outcome.commands.is_on("humidifier", outcome.now_s) for at_s, outcome in story.outcomes if at_s > FAULT_S + 30.0
    )


def test_a_short_power_cut_goes_on_by_itself_and_a_long_one_waits() -> None:
    story = fermenting("power-cut@3h/5m").run_for(minutes=12)
    assert story.state == "running"
    assert story.rows == []
    assert story.burns_between(FAULT_S, FAULT_S + 330.0) == 0.0
    assert story.burns_between(FAULT_S + 330.0, FAULT_S + 500.0) > 0.0
    story = fermenting("power-cut@3h/9h").run_for(hours=10)
    assert story.state == "held"
    assert story.burns_between(FAULT_S, story.world.elapsed_s) == 0.0


def test_a_step_of_the_clock_changes_nothing_but_the_label() -> None:
    story, other = fermenting("clock-step:-2d@3h"), fermenting()
    story.run_for(minutes=30)
    other.run_for(minutes=30)
    assert story.world.lamp_edges == other.world.lamp_edges
    assert [event.id for _, event in story.book.events if event.kind == "clock"] == ["C4"]


def test_a_latched_alarm_is_cleared_and_the_batch_resumed_by_a_person() -> None:
    story = fermenting("frozen@3h/80m").run_for(minutes=100)
    alarm = next(alarm.id for alarm in story.memory.alarms if alarm.latched)
    story.ask(Clear(id="c", alarm=alarm)).run_for(seconds=10).ask(Resume(id="r")).run_for(minutes=2)
    assert story.state == "running"
