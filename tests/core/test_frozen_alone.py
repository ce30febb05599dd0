"""A thermometer that nobody can be compared with: it is never judged by standing still alone, but asked by the lamp."""

import pytest
from msgspec.structs import replace

from controller.core.requests import Clear, Resume
from controller.core.values import Known
from controller.core.watch.frozen import warmest_c
from tests.helpers.bench_chamber import Bench
from tests.helpers.sensor_bench import ALONE, alarms, seconds_until_alarm, the_alarm, with_more


@pytest.mark.fault_row("S6")
def test_a_lonely_thermometer_that_stands_still_for_two_hours_is_asked_by_the_lamp_and_found_stuck() -> None:
    warm_only = replace(ALONE, outputs=tuple(output for output in ALONE.outputs if output.role != "cooler"))
    bench = Bench(warm_only).run(minutes=10, air_temp=36.0)
    bench.memory = replace(bench.memory, loops=replace(bench.memory.loops, heat_integral=0.2))
    began_s = bench.now_s - 600.0
    bench.run(minutes=111)
    assert bench.memory.alarms == ()
    before = sum(until - at for at, until in bench.heat_spans)
    seconds_until_alarm(bench, 1200.0)
    assert alarms(bench) == [("S6", "1")]
    assert bench.now_s - began_s <= 7920.0 + 10.0
    assert bench.now_s - bench.memory.watch.frozen.pulse_s >= 600.0
    assert sum(until - at for at, until in bench.heat_spans) > before
    assert "although the lamp was switched on for it" in the_alarm(bench).text
    assert not bench.heat_on
    assert bench.tick().batch.state == "held"
    bench.run(minutes=30, air_temp=34.5)  # A changed sensor alone is not enough: a person has to say so.
    assert not bench.heat_on
    bench.tick(Clear(id="c", alarm=the_alarm(bench).id), Resume(id="r"))
    cleared_s = bench.now_s
    bench.run(minutes=15)  # It was cooled while it waited, and lamp and cold keep ten minutes apart.
    assert bench.heat_spans[-1][0] > cleared_s


@pytest.mark.fault_row("S6")
def test_a_lonely_thermometer_that_answers_to_the_lamp_by_one_step_raises_none_in_half_a_day() -> None:
    bench = Bench(replace(ALONE, tick_s=8.0)).run(minutes=10, air_temp=36.0)
    asked = set()
    for _ in range(12 * 450):
        watch = bench.memory.watch.frozen
        if watch.pulse:
            asked.add(watch.pulse_s)
        # One step of a DS18B20 five minutes after the lamp was switched, and back again when it has been seen.
        answers = watch.pulse == "lamp on" and bench.now_s > watch.pulse_s + 300.0
        bench.tick(air_temp=36.0625 if answers else 36.0)
    assert len(asked) == 5  # Every two hours and five minutes.
    assert bench.memory.alarms == ()
    assert bench.batch.state == "running"


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize(("air_temp_c", "pulse"), [(36.0, "lamp off"), (36.5, "cold on")])
def test_near_its_limit_the_lamp_is_not_switched_on_for_the_purpose(air_temp_c: float, pulse: str) -> None:
    bench = Bench(replace(ALONE, limits=replace(ALONE.limits, trip_c=40.0))).run(minutes=119, air_temp=air_temp_c)
    closings = bench.memory.outputs["heater"].closings
    bench.run(minutes=1.5)
    assert bench.memory.watch.frozen.pulse == pulse
    assert bench.outcome is not None
    assert bench.outcome.commands.is_on("cooler", bench.now_s) is (pulse == "cold on")
    assert not bench.heat_on
    assert bench.memory.outputs["heater"].closings - closings <= 1  # Its last turn before.


@pytest.mark.fault_row("S6")
def test_what_the_gate_did_not_let_pass_proves_nothing() -> None:
    bench = Bench(replace(ALONE, heat_refused="no cut-out", outputs=ALONE.outputs[:1])).run(minutes=300, air_temp=36.0)
    assert "S6" not in [row for row, _ in alarms(bench)]


@pytest.mark.fault_row("S6")
def test_two_long_phases_of_the_lamp_without_an_answer_are_enough() -> None:
    bench = Bench(ALONE).run(minutes=5, air_temp=22.0)
    bench.run(minutes=100)  # Full power, then the trials of "heating, but not warming": five minutes in each half hour.
    assert "the lamp was switched twice for long" in next(
        alarm.text for alarm in bench.memory.alarms if alarm.row == "S6"
    )
    assert bench.batch.state == "held"


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize(
    ("known", "warmest"),
    [
        (Known(faults={"air_temp": "frozen"}), 24.0),
        (Known(faults={"air_temp": "frozen"}, ambient_temp_c=29.5), 29.5),
        (Known(faults={"air_temp": "frozen"}, slowed_c={"air_temp_2": 20.0}), None),  # Another one tells.
        (Known(faults={"air_temp": "missing"}), None),
        (Known(air_temp_c=20.0), None),
    ],
)
def test_the_air_behind_a_stuck_thermometer_may_be_as_warm_as_the_warmest_room(
    known: Known, warmest: float | None
) -> None:
    assert warmest_c(known, replace(ALONE, room_c=(15.0, 24.0))) == warmest


@pytest.mark.fault_row("S6")
def test_one_that_moves_again_is_believed_by_nobody_before_a_person_has_cleared_it() -> None:
    bench = Bench(ALONE).run(minutes=135, air_temp=36.0)
    assert alarms(bench) == [("S6", "1")]
    assert bench.outcome is not None
    cooled_s = bench.memory.outputs["cooler"].on_total_s
    bench.run(minutes=20, air_temp=39.0)
    assert (bench.outcome.known.air_temp_c, bench.outcome.known.stuck_air_c) == (None, 39.0)
    assert bench.memory.outputs["cooler"].on_total_s == cooled_s
    assert bench.memory.air_temp_c == 36.0  # The last one that was believed.
    assert not the_alarm(bench).active
    bench.tick(Clear(id="c", alarm=the_alarm(bench).id), Resume(id="r")).run(minutes=20)
    assert bench.outcome.known.air_temp_c == 39.0
    assert bench.memory.outputs["cooler"].on_total_s > cooled_s + 180.0


@pytest.mark.fault_row("S6")
def test_where_the_lamp_was_found_dead_two_thermometers_that_stand_still_are_not_blamed() -> None:
    both = with_more("air_temp_2")
    chamber = replace(both, channels=("air_temp", "air_temp_2"), response_s={"air_temp": 120.0, "air_temp_2": 120.0})
    bench = Bench(chamber).run(minutes=180, air_temp=22.0, air_temp_2=22.0)
    assert [row for row, _ in alarms(bench)] == ["A3"]


@pytest.mark.fault_row("S6")
def test_one_thermometer_that_moves_by_a_step_in_nine_minutes_clears_both() -> None:
    both = with_more("air_temp_2")
    chamber = replace(both, channels=("air_temp", "air_temp_2"), response_s={"air_temp": 120.0, "air_temp_2": 120.0})
    bench = Bench(chamber).tick(air_temp=36.0)
    for number in range(40):
        bench.run(minutes=9, air_temp_2=36.0 + 0.0625 * (number % 2))
        assert bench.memory.watch.frozen.value is None
    assert bench.memory.alarms == ()
