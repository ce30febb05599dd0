"""What lets a batch wait by itself, what brings it back, and what makes it wait for a person."""

import pytest
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.batch.margin import OVER
from controller.core.batch.states import pause_past_limit, settle_state
from controller.core.fault_table import ROWS
from controller.core.memory import Batch, State
from controller.core.values import Event
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S

HOUR_S = 3600.0
BATCH = Batch(id="b", profile=PROFILE, began_wall_s=WALL_S, meat_kg=5.0, elapsed_s=100.0 * HOUR_S)
LOCK = Alarm("S6-1", "S6", "1", "stands still", WALL_S, active=False, latched=True, locks=True)
UNTIL_YOU = "Heat and mist are off; elapsed time and degree-hours go on."


def later(batch: Batch, seconds: float, *blocks: str) -> tuple[Batch, tuple[Event, ...]]:
    """Let so much of the batch's time pass, and settle its state."""
    return settle_state(replace(batch, elapsed_s=batch.elapsed_s + seconds), blocks, ())


def waiting(batch: Batch = BATCH, cause: str = "S1") -> Batch:
    """Return a batch that has just begun to wait by itself."""
    after, _ = settle_state(batch, (cause,), ())
    assert after.state == "suspended"
    return after


def test_a_batch_whose_chamber_is_well_is_left_alone() -> None:
    assert settle_state(BATCH, (), ()) == (BATCH, ())
    assert settle_state(BATCH, ("H11", "settling", "state", "P9"), ()) == (BATCH, ())


def test_every_row_of_which_the_table_says_so_lets_the_batch_wait_by_itself() -> None:
    for row in ROWS.values():
        if row.effect == "suspended":
            after, events = settle_state(BATCH, ("settling", row.id), ())
            assert after.state == "suspended"
            assert after.suspicion.cause == row.id
            text = f"Waits by itself: {row.title}. Heat is off."
            assert events == (Event("state", text, id=row.id, batch="b"),)


@pytest.mark.parametrize("row", ["S9", "H9"])
def test_thermometers_that_disagree_let_it_wait_before_they_are_latched(row: str) -> None:
    assert waiting(cause=row).suspicion.cause == row


def test_the_first_reason_is_told() -> None:
    after, _ = settle_state(BATCH, ("P9", "S4", "S1"), ())
    assert after.suspicion.cause == "S4"


@pytest.mark.parametrize("state", ["held", "stopped", "aborted", "complete", "idle"])
def test_what_waits_for_a_person_or_is_over_is_neither_let_wait_nor_let_go_on(state: State) -> None:
    batch = replace(BATCH, state=state, held_because="looked at")
    assert settle_state(batch, ("S1",), (LOCK,)) == (batch, ())
    assert settle_state(batch, (), ()) == (batch, ())


@pytest.mark.parametrize("state", ["running", "suspended"])
def test_an_alarm_that_locks_makes_it_wait_for_a_person_at_once(state: State) -> None:
    batch = replace(BATCH, state=state, held_by_gap=True)
    after, events = settle_state(batch, (), (replace(LOCK, latched=False), replace(LOCK, locks=False), LOCK))
    because = f"S6-1: {ROWS['S6'].title}"
    assert after == replace(batch, state="held", held_because=because, held_by_gap=False)
    assert events == (Event("state", f"Paused, waits for you: {because}. {UNTIL_YOU}", batch="b"),)


def test_an_alarm_that_is_not_latched_or_does_not_lock_makes_nothing_wait() -> None:
    assert settle_state(BATCH, (), (replace(LOCK, latched=False), replace(LOCK, locks=False))) == (BATCH, ())


def test_a_row_that_holds_makes_it_wait_for_a_person_though_nothing_is_locked_and_a_lock_is_told_first() -> None:
    batch, events = settle_state(BATCH, ("S1",), (), ("P4", "P7"))
    assert (batch.state, batch.held_because) == ("held", ROWS["P4"].title)
    assert len(events) == 1
    batch, _ = settle_state(BATCH, (), (LOCK, replace(LOCK, id="A2-1", row="A2")), ("P4",))
    assert batch.held_because == f"S6-1: {ROWS['S6'].title}"


def test_it_goes_on_by_itself_when_the_cause_is_over_and_says_which() -> None:
    batch, events = later(waiting(), 60.0)
    assert batch.state == "running"
    assert batch.suspicion.cause == ""
    assert batch.suspicion.starts_s == (100.0 * HOUR_S,)
    assert events == (Event("state", f"Goes on: {ROWS['S1'].title} is over.", id="S1", batch="b"),)


def test_while_three_good_readings_are_still_wanted_it_does_not_go_on() -> None:
    batch, events = later(waiting(), 60.0, "settling")
    assert batch.state == "suspended"
    assert events == ()


def test_a_quarter_of_an_hour_sharp_makes_it_wait_for_a_person() -> None:
    batch, events = later(waiting(), 899.0, "S1")
    assert (batch.state, events) == ("suspended", ())
    batch, events = later(batch, 1.0, "S1")
    because = f"{ROWS['S1'].title} for 15 min"
    assert (batch.state, batch.held_because) == ("held", because)
    assert events == (Event("state", f"Paused, waits for you: {because}. {UNTIL_YOU}", batch="b"),)


def test_one_sensor_after_another_has_one_quarter_of_an_hour_together() -> None:
    batch, _ = later(waiting(), 600.0, "S2")
    batch, _ = later(batch, 300.0, "S2")
    assert batch.state == "held"


def test_the_third_time_within_a_day_makes_it_wait_for_a_person() -> None:
    once, _ = later(waiting(), 60.0)
    twice, _ = later(waiting(replace(once, elapsed_s=once.elapsed_s + HOUR_S)), 60.0)
    third, events = later(twice, 22.0 * HOUR_S, "S1")
    because = f"{ROWS['S1'].title}, the third time in 24 h"
    assert (third.state, third.held_because) == ("held", because)
    assert events == (Event("state", f"Paused, waits for you: {because}. {UNTIL_YOU}", batch="b"),)


def test_what_is_a_day_old_to_the_second_is_counted_no_more() -> None:
    starts = (BATCH.elapsed_s - 24.0 * HOUR_S, BATCH.elapsed_s - HOUR_S)
    batch = replace(BATCH, suspicion=replace(BATCH.suspicion, starts_s=starts))
    assert waiting(batch).suspicion.starts_s == (BATCH.elapsed_s - HOUR_S, BATCH.elapsed_s)
    younger = replace(BATCH, suspicion=replace(BATCH.suspicion, starts_s=(starts[0] + 1.0, starts[1])))
    assert settle_state(younger, ("S1",), ())[0].state == "held"


@pytest.mark.parametrize("row", ["A3", "A10", "C14"])
def test_what_puts_no_sensor_in_doubt_waits_as_long_and_as_often_as_it_takes(row: str) -> None:
    batch, _ = later(waiting(cause=row), 10.0 * HOUR_S, row)
    assert batch.state == "suspended"
    for _ in range(5):
        batch, _ = later(batch, 60.0)
        assert batch.state == "running"
        batch = waiting(batch, row)
    assert batch.suspicion.starts_s == ()


def test_a_sensor_that_fails_while_the_lamp_is_tried_has_a_quarter_of_an_hour_of_its_own() -> None:
    batch, events = later(waiting(cause="A3"), 2.0 * HOUR_S, "S1", "A3")
    assert batch.state == "suspended"
    assert [event.id for event in events] == ["S1"]
    back, events = later(batch, 60.0, "A3")
    assert back.state == "suspended"
    assert [event.id for event in events] == ["A3"]
    assert later(back, 2.0 * HOUR_S, "S1", "A3")[0].state == "suspended"
    assert later(batch, 900.0, "S1", "A3")[0].state == "held"


OVER_LIMIT = replace(
    BATCH, hung_s=0.0, highest_air_c=36.0, degree_hours_f=990.0, guarded_f=1001.0, stage_index=1, state="running"
)
"""In a ferment; at 36.0 °C and half a kelvin more the US limit is 1000 °F hours, at 96.8 to 97.7 °F."""
BECAUSE = f"over the degree-hours (1001 of 1000, °F): {OVER}"


def paused(batch: Batch) -> tuple[Batch, tuple[Event, ...]]:
    (after,), events = pause_past_limit((batch,), CHAMBER)
    return after, events


@pytest.mark.parametrize("state", ["running", "suspended"])
def test_a_batch_over_its_degree_hours_waits_for_a_person_and_is_called_once(state: State) -> None:
    batch = replace(OVER_LIMIT, state=state, held_by_gap=True, held_by_person=True)
    held, events = paused(batch)
    assert held == replace(batch, state="held", held_because=BECAUSE, held_by_gap=False, held_by_person=False)
    text = (
        f"Paused, waits for you: {BECAUSE}. Heat and mist are off in the whole chamber; "
        "elapsed time and degree-hours go on."
    )
    assert events == (Event("state", text, id="P9", priority="1", batch="b"),)
    assert paused(held) == (held, ())


def test_one_that_is_paused_already_says_why_it_was() -> None:
    held, events = paused(replace(OVER_LIMIT, state="held", held_because="a long gap", held_by_person=True))
    assert held.held_because == f"{BECAUSE}; paused before: a long gap"
    assert not held.held_by_person
    assert len(events) == 1


def test_of_one_that_is_elsewhere_it_says_that_nothing_here_cools_it() -> None:
    stages = tuple(replace(stage, where="elsewhere") for stage in PROFILE.stages)
    _, events = paused(replace(OVER_LIMIT, profile=replace(PROFILE, stages=stages)))
    assert "It is not in this chamber: cool it yourself, now; elapsed time" in events[0].text


def test_a_batch_within_its_limit_or_accepted_or_over_is_left_as_it_is() -> None:
    for batch in (
        replace(OVER_LIMIT, guarded_f=1000.0),
        replace(OVER_LIMIT, over_accepted=True),
        replace(OVER_LIMIT, hung_s=None),
        replace(OVER_LIMIT, state="complete"),
        replace(OVER_LIMIT, state="stopped"),
        replace(OVER_LIMIT, state="aborted"),
    ):
        assert paused(batch) == (batch, ())


def test_of_several_batches_only_the_one_over_its_limit_is_paused() -> None:
    other = replace(OVER_LIMIT, id="c", guarded_f=10.0)
    batches, events = pause_past_limit((other, OVER_LIMIT, other), CHAMBER)
    assert [batch.state for batch in batches] == ["running", "held", "running"]
    assert [event.batch for event in events] == ["b"]
