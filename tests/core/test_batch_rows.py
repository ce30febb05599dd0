"""The rows of the fault table that a batch brings about: degree-hours, a late pH, long stages, pauses, a start."""

import pytest
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.alarms.message import SHORT, short
from controller.core.memory import Inputs, Memory
from controller.core.people.desk import serve
from controller.core.plan import Stage, Until
from controller.core.requests import End, Hang, Hold, Ph, Resume, Start
from controller.core.thresholds import Thresholds
from controller.core.values import Fault, Reading
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench

HOUR_S = 3600.0
ROOMY = replace(
    CHAMBER,
    channels=(*CHAMBER.channels, "ambient_temp"),
    outputs=tuple(output for output in CHAMBER.outputs if output.role != "cooler"),
    drying="none",
)


def fermenting() -> Bench:
    return Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="hang"))


def used(bench: Bench, share: float) -> Bench:
    """Let this share of the US limit at 36 °C, 1000 °F·h, be used by the guarded figure."""
    batch = replace(bench.batch, guarded_f=1000.0 * share, highest_air_c=36.0)
    bench.memory = replace(bench.memory, batches=(batch,))
    return bench.tick()


def late(bench: Bench, hours: float) -> Bench:
    """Let a pH have been due so many hours ago."""
    batch = replace(bench.batch, elapsed_s=100 * HOUR_S, ph_due_since_s=(100.0 - hours) * HOUR_S)
    bench.memory = replace(bench.memory, batches=(batch,))
    return bench.tick()


def alarm(bench: Bench, row: str) -> Alarm:
    return next(alarm for alarm in bench.memory.alarms if alarm.row == row)


@pytest.mark.fault_row("P9")
def test_degree_hours_warn_by_when_the_ph_is_wanted_and_only_what_is_over_stays() -> None:
    bench = used(fermenting(), 0.75)
    warning = alarm(bench, "P9")
    # By hand: 36.5 °C is 97.7 °F, 37.7 over 60; 250 °F·h of 1000 are left.
    assert warning.by_wall_s == pytest.approx(bench.wall_s + 250.0 / 37.7 * HOUR_S, abs=120.0)
    assert (warning.priority, warning.latched) == ("2", False)
    assert "No stage ends by itself. Measure the pH now. Do this by 2026-01-05 1" in warning.text
    used(bench, 1.01)
    over = alarm(bench, "P9")
    assert (over.id, over.priority, over.latched) == (warning.id, "1", True)
    assert "Heat and mist are off in the whole chamber; the batch is paused." in over.text
    assert "Do not taste. Keep the batch cold and apart, and mark it; a laboratory" in over.text
    assert "Measure the pH" not in over.text, "no pH that is measured now makes it good again"
    assert len(short(over.id, "P9", "x" * 300, over.first)) <= SHORT
    assert not bench.heat_on
    bench.tick(End(id="e", aborted=True, sure=True)).tick()
    assert alarm(bench, "P9").latched, "it stays until somebody has cleared it, also without its batch"


@pytest.mark.fault_row("P9")
def test_a_ph_of_5_3_ends_the_warning_by_itself() -> None:
    bench = used(fermenting(), 0.75)
    bench.tick(Ph(id="p", at_wall_s=None, value=5.1, instrument="meter 1", sure=True)).tick()
    assert not alarm(bench, "P9").active


@pytest.mark.fault_row("H2")
@pytest.mark.parametrize(
    ("share", "hours", "found"),
    [
        (0.1, 1.9, []),
        (0.1, 2.1, [("H2", "3")]),
        (0.55, 2.1, [("H2", "2")]),
        (0.75, 2.1, [("P9", "2")]),
        (0.95, 2.1, [("P9", "1")]),
    ],
)
def test_a_late_ph_is_the_more_urgent_the_more_of_the_degree_hours_is_used(
    share: float, hours: float, found: list[tuple[str, str]]
) -> None:
    bench = late(used(fermenting(), share), hours)
    assert [(alarm.row, alarm.priority) for alarm in bench.memory.alarms] == found
    if found and found[0][0] == "P9":
        assert alarm(bench, "P9").hides == ("H2",), "one thing is to be done: one alarm says so"


@pytest.mark.fault_row("H2")
def test_a_late_ph_that_gets_more_urgent_calls_again_and_ends_with_the_ph() -> None:
    bench = late(used(fermenting(), 0.1), 3.0)
    assert "The pH that was due 3.0 h ago has not been entered." in alarm(bench, "H2").text
    used(bench, 0.55)
    assert any(event.startswith("alarm again: The pH that was due") for event in bench.events)
    bench.tick(Ph(id="p", at_wall_s=None, value=5.6, instrument="meter 1", sure=True)).tick()
    assert "H2" not in [alarm.row for alarm in bench.memory.alarms], "the pH answers it"


@pytest.mark.fault_row("H2")
def test_how_late_a_ph_may_be_is_a_setting() -> None:
    patient = Bench(replace(CHAMBER, thresholds=Thresholds(ph_late_s=3.0 * HOUR_S)))
    patient.run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="hang"))
    assert late(patient, 2.9).memory.alarms == ()
    assert [one.row for one in late(patient, 3.1).memory.alarms] == ["H2"]


@pytest.mark.fault_row("P10")
@pytest.mark.parametrize(
    ("until", "at_most_h", "late_after_h"),
    [
        (Until(hours=10.0), None, 15.0),
        (Until(hours=0.25, confirm=True), None, 2.25),
        (Until(hours=10.0), 12.0, 12.0),
        (Until(weight_loss_pct=30.0), 40.0, 40.0),
        (Until(weight_loss_pct=30.0), None, float("inf")),
    ],
)
def test_a_stage_is_late_after_its_most_hours_or_one_and_a_half_times_its_hours(
    until: Until, at_most_h: float | None, late_after_h: float
) -> None:
    dry = Stage(name="dry", kind="dry", until=until, at_most_h=at_most_h, air_temp_c=13.0, rh_pct=78.0)
    for off_h, is_late in ((-0.01, False), (0.01, True)):
        bench = Bench(profile=replace(PROFILE, stages=(dry, dry)))
        elapsed_s = min(late_after_h + off_h, 1000.0) * HOUR_S
        bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_elapsed_s=elapsed_s),))
        bench.tick()
        assert [alarm.row for alarm in bench.memory.alarms] == (["P10"] if is_late and late_after_h < 1000.0 else [])
        assert bench.batch.stage_index == 0, "no stage ends by the clock"


@pytest.mark.fault_row("P11")
def test_a_pause_of_the_program_is_an_alarm_of_its_own_only_where_nothing_else_says_so() -> None:
    bench = fermenting()
    for _ in range(3):
        bench.run(minutes=0.25, air_temp="missing").run(minutes=5, air_temp=36.0)
    assert bench.batch.state == "held"
    assert [alarm.row for alarm in bench.memory.alarms] == ["P11"]
    assert "b is paused: sensor missing, the third time in 24 h." in alarm(bench, "P11").text
    bench.tick(Resume(id="r")).tick()
    assert bench.memory.alarms == (), "it asked for this; the sounder of a batch that goes on calls nobody"


@pytest.mark.fault_row("P11")
def test_a_pause_that_a_person_asked_for_is_none() -> None:
    assert fermenting().tick(Hold(id="h")).run(minutes=5).memory.alarms == ()


@pytest.mark.fault_row("P12")
def test_two_batches_in_one_chamber_are_told_and_the_first_one_leads() -> None:
    bench = fermenting()
    dry = replace(PROFILE, stages=PROFILE.stages[2:])
    other = replace(bench.batch, id="b2", profile=dry, stage_index=0, hung_s=None)
    bench.memory = replace(bench.memory, batches=(bench.batch, other))
    bench.tick().tick()
    assert bench.memory.leader == "b"
    assert [(alarm.row, alarm.batch, alarm.priority) for alarm in bench.memory.alarms] == [("P12", "b2", "3")]
    assert alarm(bench, "P12").what == "b2 (dry) hangs in a climate that b leads."
    bench.tick(End(id="e", batch="b2")).tick()
    assert not any(alarm.active for alarm in bench.memory.alarms)


# Asked back at the start.


def started(room: Reading | Fault | None, *, air_temp_c: float, sure: bool = False) -> tuple[Memory, bool, str]:
    bench = Bench(ROOMY)
    bench.memory = replace(bench.memory, batches=())
    first = Stage(name="dry", kind="dry", until=Until(hours=24.0), air_temp_c=air_temp_c, rh_pct=78.0)
    request = Start(id="s", batch="b", profile=replace(PROFILE, stages=(first,)), meat_kg=3.0, sure=sure)
    readings = {} if room is None else {"ambient_temp": room}
    inputs = Inputs(bench.now_s, WALL_S, wall_trusted=True, readings=readings, requests=(request,))  # type: ignore[arg-type]
    done, answer = serve(bench.memory, request, inputs, ROOMY)
    return done.memory, answer.done, answer.text


@pytest.mark.fault_row("P3")
@pytest.mark.parametrize(
    ("room", "begins"),
    [
        (Reading(27.0, 0.0), False),
        (Reading(12.1, 0.0), False),
        (Reading(11.9, 0.0), True),
        (Fault("missing"), True),
        (None, True),
        (Reading(float("nan"), 0.0), True),
    ],
)
def test_a_room_too_warm_for_a_chamber_without_cooling_is_asked_back(
    room: Reading | Fault | None, *, begins: bool
) -> None:
    memory, done, text = started(room, air_temp_c=13.0)
    assert (done, bool(memory.batches)) == (begins, begins)
    if not begins:
        assert "dry wants 13 °C, and this chamber has no cooling: it cannot be held." in text
        assert text.endswith("say it again with --sure")
        assert started(room, air_temp_c=13.0, sure=True)[1]


@pytest.mark.fault_row("H1")
def test_a_start_says_which_product_and_which_climate_it_begins() -> None:
    _, done, text = started(None, air_temp_c=24.0)
    assert done
    assert text.startswith("b started: Invented for the tests, 3 kg. Wanted: 24 °C and 78 % humidity. Now dry.")


@pytest.mark.fault_row("H1")
def test_a_start_refuses_what_cannot_be() -> None:
    memory, done, text = started(None, air_temp_c=43.0)
    assert (done, memory.batches) == (False, ())
    assert "43 °C" in text
