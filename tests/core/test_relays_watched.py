"""A fan that stands, relays that switch too often or are worn out, and that nobody switches by hand."""

import datetime as dt
from typing import get_args

import pytest
from msgspec.structs import fields, replace

from controller.core import requests
from controller.core.chamber.timing import begin, time_outputs
from controller.core.memory import OutputMemory
from controller.core.plan import Chamber, Output, Stage, Until
from controller.core.requests import Hang, Request
from controller.core.values import ROLES, Role
from controller.settings.chamber_file import OutputEntry, plan_of
from tests.helpers.bench_chamber import CHAMBER, PROFILE, Bench
from tests.helpers.shipped_chambers import shipped_chamber

HOUR_S = 3600.0
STIRRED = Stage(
    name="dry", kind="dry", until=Until(weight_loss_pct=35.0), air_temp_c=24.0, rh_pct=78.0, fan_min_per_h=60.0
)


def changed(role: Role, **figures: object) -> Chamber:
    """Return the bench's chamber with another figure of one output."""
    outputs = tuple(replace(output, **figures) if output.role == role else output for output in CHAMBER.outputs)
    return replace(CHAMBER, outputs=outputs)


def rows(bench: Bench) -> list[str]:
    return [alarm.row for alarm in bench.memory.alarms if alarm.active]


def lively(bench: Bench, minutes: float, *, apart_k: float = 0.0, air_c: float = 23.0) -> Bench:
    """Let minutes pass in air that trembles a little, with the second thermometer so far off the first."""
    for number in range(round(minutes * 60.0 / bench.chamber.tick_s)):
        hair = 0.0625 * (number % 2)
        second = {"air_temp_2": air_c + apart_k - hair} if "air_temp_2" in bench.chamber.channels else {}
        bench.tick(air_temp=air_c + hair, rh=78.0 + hair, rh_temp=air_c - hair, **second)
    return bench


@pytest.mark.fault_row("A9")
def test_thermometers_that_drift_apart_in_stirred_air_halve_the_heat() -> None:
    channels = (*CHAMBER.channels, "air_temp_2")
    chamber = replace(CHAMBER, channels=channels, response_s={**CHAMBER.response_s, "air_temp_2": 120.0})
    bench = Bench(chamber, replace(PROFILE, stages=(STIRRED,)))
    lively(bench.tick(Hang(id="h"), air_temp_2=23.0), 100, apart_k=0.5)
    assert rows(bench) == []
    assert bench.memory.watch.plant.fan.usual_k == pytest.approx(0.5, abs=0.1), "so far they are usually apart"
    lively(bench, 25, apart_k=2.8, air_c=20.0)
    assert bench.memory.watch.plant.fan.why.startswith("Two thermometers are 2.")
    calling = [alarm.row for alarm in bench.memory.alarms if alarm.active and not alarm.follows]
    assert calling == ["S9"], "a thermometer is wrong, or the fan stands: one alarm"
    assert bench.outcome is not None
    assert "humidifier" not in bench.outcome.commands.on_until_s
    before_s = bench.memory.outputs["heater"].on_total_s
    lively(bench, 20, apart_k=2.8, air_c=20.0)
    assert (bench.memory.outputs["heater"].on_total_s - before_s) / 1200.0 == pytest.approx(0.5, abs=0.06)
    lively(bench, 30, apart_k=0.5)
    assert bench.memory.watch.plant.fan.why == ""


@pytest.mark.fault_row("A11")
@pytest.mark.parametrize(
    ("window_s", "switch", "told"),
    [(120.0, "mechanical", True), (300.0, "mechanical", False), (60.0, "solid-state", False)],
)
def test_a_lamp_relay_that_clicks_more_than_fifteen_times_an_hour_is_told_with_what_is_left_of_its_life(
    window_s: float,
    switch: str,
    told: bool,  # noqa: FBT001
) -> None:
    chamber = changed("heater", window_s=window_s, switch=switch)
    bench = Bench(chamber, replace(PROFILE, stages=(replace(STIRRED, fan_min_per_h=0.0),)))
    lively(bench.tick(Hang(id="h")), 190, air_c=23.7)
    found = [alarm for alarm in bench.memory.alarms if alarm.row == "A11"]
    assert bool(found) is told
    for alarm in found:
        assert (alarm.priority, alarm.about) == ("3", "heater")
        assert "closings in an hour, limit 15; at this rate its relay lasts" in alarm.text


@pytest.mark.fault_row("A11")
def test_a_compressor_that_starts_more_than_eight_times_an_hour_is_told() -> None:
    chamber = changed("cooler", window_s=180.0, min_on_s=30.0, min_off_s=30.0)
    bench = Bench(chamber, replace(PROFILE, stages=(replace(STIRRED, air_temp_c=13.0),)))
    bench.tick(Hang(id="h"))
    for number in range(1560):
        bench.tick(air_temp=14.6 + 0.5 * ((number // 18) % 2), rh=78.0 + 0.1 * (number % 2), rh_temp=14.6)
    assert any(alarm.row == "A11" and alarm.about == "cooler" for alarm in bench.memory.alarms)


def test_a_compressor_that_is_asked_for_twenty_times_an_hour_starts_six_times_at_most() -> None:
    cooler = Output(role="cooler", window_s=600.0, min_on_s=180.0, min_off_s=300.0)  # As a chamber file has it.
    chamber = replace(CHAMBER, outputs=(cooler,))
    memories, now_s = begin(chamber, {}, 0.0), 0.0
    for tick in range(int(6 * HOUR_S / 5.0)):
        asked = {"cooler": 0.5 if (tick // 18) % 2 else 0.0}
        memories, _ = time_outputs(memories, asked, (), now_s, now_s + 5.0, chamber)  # type: ignore[arg-type]
        now_s += 5.0
    assert 6 < memories["cooler"].closings <= 36


@pytest.mark.fault_row("A12")
def test_a_relay_near_the_end_of_its_life_is_told_and_how_the_count_begins_anew() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, outputs={**bench.memory.outputs, "heater": OutputMemory(closings=90_000)})
    lively(bench, 1)
    assert rows(bench) == [], "a solid-state relay has no contacts"
    bench = Bench(changed("heater", switch="mechanical", window_s=300.0))
    bench.memory = replace(bench.memory, outputs={**bench.memory.outputs, "heater": OutputMemory(closings=80_000)})
    lively(bench, 1)
    assert rows(bench) == ["A12"]
    assert "80,000 operations of the 100,000" in bench.memory.alarms[0].text
    assert "fitted_on" in bench.memory.alarms[0].text


@pytest.mark.fault_row("A12")
def test_another_day_of_fitting_in_the_chamber_file_begins_the_count_anew_and_the_same_day_does_not() -> None:
    old: dict[Role, OutputMemory] = {"heater": OutputMemory(closings=81_000, on_total_s=5.0, fitted_on="2025-01-02")}
    kept = begin(changed("heater", fitted_on="2025-01-02"), old, 0.0)["heater"]
    assert (kept.closings, kept.on_total_s) == (81_000, 5.0)
    assert begin(CHAMBER, old, 0.0)["heater"].closings == 81_000, "a day that is left out says nothing"
    new = begin(changed("heater", fitted_on="2026-03-04"), old, 0.0)["heater"]
    assert (new.closings, new.fitted_on, new.on_total_s) == (0, "2026-03-04", 5.0)


def test_the_chamber_file_names_day_and_life_of_a_relay() -> None:
    file = shipped_chamber("plywood-cabinet")
    lamp = OutputEntry(role="heater", pin=17, w=100.0, fitted_on=dt.date(2026, 3, 4), rated_operations=30_000.0)
    plan = plan_of(replace(file, output=(lamp,))).output("heater")
    assert plan is not None
    assert (plan.fitted_on, plan.rated_operations) == ("2026-03-04", 30_000.0)
    bench = Bench(changed("heater", switch="mechanical", window_s=300.0, rated_operations=30_000.0))
    bench.memory = replace(bench.memory, outputs={**bench.memory.outputs, "heater": OutputMemory(closings=25_000)})
    assert rows(lively(bench, 1)) == ["A12"]


@pytest.mark.fault_row("H8")
def test_no_request_switches_an_output() -> None:
    """There is no manual mode that could be left on: no verb takes an output, a duty or a time of being on."""
    for request in get_args(Request):
        names = {field.name for field in fields(request)}
        assert not names & {"role", "output", "on", "off", "duty", "on_until_s", "switch"}, request
        assert not names & set(ROLES), request
    assert "Commands" not in vars(requests)


@pytest.mark.fault_row("H8")
def test_a_wish_for_another_climate_ends_with_its_stage() -> None:
    wish = requests.Adjust(id="a", air_temp_c=20.0, because="slower")
    stages = (replace(STIRRED, until=Until(confirm=True)), replace(STIRRED, name="later"))
    bench = Bench(profile=replace(PROFILE, stages=stages)).tick(Hang(id="h")).tick(wish)
    assert bench.batch.stage.air_temp_c == 20.0
    bench.tick(requests.Confirm(id="c")).tick()
    assert (bench.batch.stage.name, bench.batch.stage.air_temp_c) == ("later", 24.0)


def is_cooled(bench: Bench) -> bool:
    return bench.outcome is not None and "cooler" in bench.outcome.commands.on_until_s


@pytest.mark.fault_row("A10")
def test_an_output_that_does_not_follow_is_told_as_it_is_against_how_it_was_switched() -> None:
    bench = Bench().run(minutes=5, air_temp=38.0, rh_temp=38.0)
    bench.disobedient = ("heater",)
    bench.tick().tick()
    text = next(alarm.text for alarm in bench.memory.alarms if alarm.row == "A10")
    assert "The computer's output for the lamp is ON although it was switched off, for 5 s." in text
    bench = Bench().run(minutes=5, air_temp="missing")  # The air is stirred meanwhile.
    bench.disobedient = ("heater",)
    bench.tick()
    bench.disobedient = ("heater", "fan")
    bench.tick()
    text = next(alarm.text for alarm in bench.memory.alarms if alarm.row == "A10")
    assert (
        "for the lamp is ON although it was switched off, and that for the fan is OFF although it was switched" in text
    )


@pytest.mark.fault_row("A10")
def test_a_compressor_whose_pin_was_not_as_set_is_off_and_rests_its_full_time() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_index=2),))
    bench.run(minutes=10, air_temp=17.0, rh_temp=17.0, rh=80.0)
    assert is_cooled(bench)
    bench.disobedient = ("cooler",)
    assert not is_cooled(bench.tick())
    bench.disobedient, let_go_s = (), bench.now_s
    while not is_cooled(bench.tick()):
        assert bench.now_s < let_go_s + 900.0, "it runs again some time"
    assert bench.now_s - let_go_s >= next(output.min_off_s for output in CHAMBER.outputs if output.role == "cooler")


@pytest.mark.fault_row("P1")
def test_an_open_door_in_a_warm_up_gets_no_more_heat_than_would_hold_the_air() -> None:
    chamber = replace(CHAMBER, channels=(*CHAMBER.channels, "door"))
    bench = Bench(chamber)
    bench.run(minutes=3, air_temp=20.0, rh_temp=20.0, rh=60.0, door=0.0)
    assert bench.memory.loops.heat_duty == 1.0
    bench.tick(door=1.0)
    figures, room_c = chamber.figures, sum(chamber.room_c) / 2.0
    assert bench.memory.loops.heat_duty <= figures.ua_w_per_k * (36.0 - room_c) / figures.heater_w
    bench.tick(door=0.0)
    assert bench.memory.loops.heat_duty == 1.0
