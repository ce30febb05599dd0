"""A memory whose check sum is right and that cannot be gone on with is told for what it is, and nothing else is."""

from typing import Any

import pytest
from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.memory import LastCheck, Memory
from controller.core.outage.away import Starts
from controller.core.plant.memory import ArmWatch
from controller.core.restart import after_restart, first_memory
from controller.core.soundness import why_unsound
from controller.core.values import Event, Trouble
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench

ALARM = Alarm("A2-1", "A2", "1", "Too hot.", WALL_S)
NO_PH = replace(PROFILE, stages=(replace(PROFILE.stages[1], until=PROFILE.stages[0].until),))


def kept(**changes: Any) -> Memory:  # noqa: ANN401 - any field of a memory
    """Return the memory of a batch under way, with something changed."""
    return replace(Bench().run(minutes=2).memory, **changes)


def of_batch(**changes: Any) -> Memory:  # noqa: ANN401 - any field of a batch
    """Return the memory with something of its batch changed."""
    memory = kept()
    return replace(memory, batches=(replace(memory.batches[0], **changes),))


def of_air(**changes: Any) -> Memory:  # noqa: ANN401 - any field of the watch over the air
    """Return the memory with something changed of what is remembered of the air."""
    watch = kept().watch
    return kept(watch=replace(watch, plant=replace(watch.plant, air=replace(watch.plant.air, **changes))))


@pytest.mark.parametrize(
    ("memory", "says"),
    [
        (kept(last_s=float("nan")), "last_s is nan"),
        (kept(wall_s=1e17), "wall_s is 1e+17"),
        (kept(starts=Starts(crashes_s=(1.0, float("inf")))), "crashes_s is inf"),
        (kept(counts={"A2": -1}), "counts of A2: -1"),
        (kept(last_checks={"meter": LastCheck(WALL_S, float("nan"), 0.0, "good")}), "the last check of meter left nan"),
        (kept(alarms=(replace(ALARM, priority="top"),)), "alarm A2-1: its priority is top"),
        (kept(alarms=(replace(ALARM, since_wall_s=float("nan")),)), "alarm A2-1: since_wall_s is nan"),
        (kept(batches=(*kept().batches, *kept().batches)), "two batches are called b"),
        (of_air(mean_pct=float("nan")), "mean_pct is nan"),
        (of_air(arms=ArmWatch(wanted_c=float("inf"))), "wanted_c is inf"),
        (of_air(found=(Condition("P6", "Cold.", priority="top"),)), "what was found has the priority top"),
        (kept(found_at_start=(Trouble("C13", "Lost.", priority="top"),)), "what was found has the priority top"),
        (kept(alarms=(replace(ALARM, batch="../b"),)), "alarm A2-1: ../b is no name of a batch"),
        (kept(untold=(Event("gap", "one\r\ntwo"),)), "what was not told yet has signs that no screen shows"),
        (kept(found_at_start=(Trouble("C13", "a\x07"),)), "what was not told yet has signs that no screen shows"),
        (kept(alarms=(replace(ALARM, did="\0"),)), "alarm A2-1: its did has signs that no screen shows"),
        (of_batch(id="../b"), "batch ../b: this is no name of a folder"),
        (of_batch(stage_index=9), "batch b: it has no stage 9"),
        (of_batch(stage_index=-1), "batch b: it has no stage -1"),
        (of_batch(profile=replace(PROFILE, stages=())), "batch b: its profile has no stage"),
        (of_batch(profile=NO_PH), "batch b: its ferment ferment lacks air_temp_c or ph_at_most"),
        (of_batch(elapsed_s=float("nan")), "batch b: elapsed_s is nan"),
        (of_batch(guarded_f=float("inf")), "batch b: guarded_f is inf"),
        (of_batch(ph=((WALL_S, 5.6),)), "batch b: 1 pH readings have 0 ids"),
        (of_batch(core_temps=((WALL_S, 56.0),)), "batch b: 1 core temperatures have 0 ids"),
        (of_batch(now_g={"A": 390.0}), "batch b: A was weighed and has no green weight"),
        (of_batch(green_g={"A": 0.0}), "batch b: a piece weighs nothing"),
    ],
)
def test_what_no_run_leaves_behind_is_told(memory: Memory, says: str) -> None:
    assert why_unsound(memory) == says


def test_what_runs_leave_behind_is_sound() -> None:
    assert why_unsound(first_memory(CHAMBER, 0.0, 0.0, "")) == ""
    assert why_unsound(kept(alarms=(ALARM,))) == ""
    assert why_unsound(of_batch(began_wall_s=-5_000.0)) == "", "a clock that was set later made it so"
    assert why_unsound(of_batch(ph=((WALL_S, 5.6),), ph_ids=("r",))) == "", "an older program kept no errors beside it"


def test_an_alarm_of_a_rule_that_this_program_has_not_is_left_out_and_told() -> None:
    memory = kept(alarms=(ALARM, replace(ALARM, id="Z9-1", row="Z9")))
    after, events = after_restart(memory, CHAMBER, 90.0, WALL_S + 600.0, "boot-2", wall_trusted=True)
    assert "Z9" not in [alarm.row for alarm in after.alarms]
    assert "A2" in [alarm.row for alarm in after.alarms]
    assert any("Z9-1 is of a rule that this program has not" in event.text for event in events)
