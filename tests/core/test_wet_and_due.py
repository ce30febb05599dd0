"""Humidity sensors that are wet or were wet for long, and instruments whose check has become too old."""

import pytest
from msgspec.structs import replace

from controller.core.batch.care import overdue
from controller.core.plan import Care
from controller.core.requests import Calibrate, Hang
from controller.core.values import InstrumentCheck
from tests.helpers.bench_chamber import CHAMBER, Bench
from tests.helpers.sensor_bench import alarms, alive, the_alarm

COOLERLESS = replace(CHAMBER, outputs=tuple(one for one in CHAMBER.outputs if one.role != "cooler"), drying="none")


def drying(bench: Bench) -> Bench:
    """Return the bench with its batch hung long ago and drying."""
    batch = replace(bench.batch, stage_index=2, hung_s=0.0, elapsed_s=4e5, stage_elapsed_s=2e5, arrived=True)
    bench.memory = replace(bench.memory, batches=(batch,))
    return bench


@pytest.mark.fault_row("S11")
def test_a_sensor_that_shows_saturated_air_for_half_an_hour_without_mist_is_wet_until_it_is_dry_again() -> None:
    bench = alive(drying(Bench()), 60.0, air_temp=13.0, rh_temp=13.0, rh=78.0)
    alive(bench, 29.0, air_temp=13.0, rh_temp=13.0, rh=99.6)
    assert "S11" not in [row for row, _ in alarms(bench)]
    alive(bench, 5.0, air_temp=13.0, rh_temp=13.0, rh=99.6)
    assert ("S11", "2") in alarms(bench)
    text = next(alarm.text for alarm in bench.memory.alarms if alarm.row == "S11")
    assert "shows 99.6 %, limit 99 % for 30 min without mist: it is probably wet" in text
    closings = bench.memory.outputs["humidifier"].closings
    alive(bench, 20.0, air_temp=13.0, rh_temp=13.0, rh=97.5)  # Not dry enough yet.
    assert ("S11", "2") in alarms(bench)
    alive(bench, 9.0, air_temp=13.0, rh_temp=13.0, rh=70.0)
    assert ("S11", "2") in alarms(bench)
    assert bench.memory.outputs["humidifier"].closings == closings
    alive(bench, 3.0, air_temp=13.0, rh_temp=13.0, rh=70.0)
    assert "S11" not in [row for row, _ in alarms(bench)]


@pytest.mark.fault_row("S11")
@pytest.mark.parametrize(("falls_pct_per_k", "wet"), [(0.0, True), (0.5, True), (5.0, False)])
def test_in_an_empty_box_that_gets_warmer_humidity_falls_or_its_sensor_is_wet(
    falls_pct_per_k: float,
    wet: bool,  # noqa: FBT001
) -> None:
    bench = Bench(COOLERLESS)
    for number in range(480):  # 20 to 22 °C in 40 min, far below what is wanted: no mist is given.
        rise_k = 2.0 * number / 480.0
        bench.tick(air_temp=20.0 + rise_k, rh_temp=20.0 + rise_k, rh=99.8 - falls_pct_per_k * rise_k)
    texts = [alarm.text for alarm in bench.memory.alarms if alarm.row == "S11"]
    assert bool(texts) is wet
    assert all(" %, and did not fall by 1 % in 15 min though the air got 1 K warmer: it is" in text for text in texts)


def test_the_film_of_a_cold_plate_keeps_a_warming_empty_box_as_wet_and_nothing_is_wrong_with_the_sensor() -> None:
    bench = Bench()  # It has a compressor, and nobody knows when it ran before the program began.
    for number in range(480):
        rise_k = 2.0 * number / 480.0
        bench.tick(air_temp=20.0 + rise_k, rh_temp=20.0 + rise_k, rh=99.8)
    assert "S11" not in [row for row, _ in alarms(bench)]


def test_in_a_damp_empty_box_whose_walls_give_their_water_back_nothing_is_wrong_with_the_sensor() -> None:
    bench = Bench(COOLERLESS)
    for number in range(480):
        rise_k = 2.0 * number / 480.0
        bench.tick(air_temp=20.0 + rise_k, rh_temp=20.0 + rise_k, rh=95.0)
    assert "S11" not in [row for row, _ in alarms(bench)]


def test_a_wet_box_in_a_ferment_raises_none() -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="hang"))
    alive(bench, 180.0, air_temp=36.0, rh_temp=36.0, rh=99.8)
    assert bench.memory.alarms == ()


@pytest.mark.fault_row("S12")
def test_after_72_hours_in_wet_air_the_humidity_sensor_is_asked_for_at_the_next_change_of_stage() -> None:
    chamber = replace(CHAMBER, care=Care(sensors=("air_temp", "rh")))
    bench = Bench(chamber).run(minutes=20, air_temp=36.0, rh_temp=36.0, rh=88.0)
    assert bench.memory.rh_wet_s == pytest.approx(1200.0, abs=10.0)
    bench.run(minutes=10, rh=80.0)
    assert bench.memory.rh_wet_s == pytest.approx(1200.0, abs=10.0)
    bench.memory = replace(bench.memory, rh_wet_s=72.0 * 3600.0 - 10.0)
    bench.run(minutes=1, rh=88.0)
    assert not any("salt" in told for told in bench.events)
    bench.tick(Hang(id="hang")).run(minutes=1)
    assert bench.batch.stage.name == "ferment"
    assert sum("prompt: The humidity sensor was in wet air for 72 h" in told for told in bench.events) == 1
    assert bench.memory.alarms == ()


@pytest.mark.fault_row("S14")
def test_a_check_that_has_become_too_old_is_told_once_and_is_over_with_the_next_one() -> None:
    chamber = replace(CHAMBER, care=Care(sensors=("air_temp", "rh")))
    bench = Bench(chamber).run(minutes=1, air_temp=35.0, rh_temp=35.0)
    assert bench.memory.alarms == ()  # Never checked: that is told elsewhere.
    year_s = 365.0 * 86_400.0
    bench.memory = replace(bench.memory, checked_wall_s={"air_temp": bench.wall_s - year_s - 60.0, "rh": bench.wall_s})
    bench.run(minutes=11)
    assert alarms(bench) == [("S14", "3")]
    assert "Air thermometer: last good check 365 days ago." in the_alarm(bench).text
    alive(bench, 30.0, air_temp=35.0, rh_temp=35.0)
    assert len([told for told in bench.events if told.startswith("alarm")]) == 1
    good = InstrumentCheck("air_temp", "ice", (("ice", 0.0, 0.1),), "Cel", 0.0)
    bench.tick(Calibrate(id="x", at_wall_s=bench.wall_s, check=good, sure=True)).tick()
    assert alarms(bench) == []


@pytest.mark.fault_row("S14")
def test_a_clock_that_nobody_knows_makes_no_check_too_old() -> None:
    bench = Bench(replace(CHAMBER, care=Care(sensors=("air_temp",))))
    bench.wall_trusted = False
    bench.memory = replace(bench.memory, checked_wall_s={"air_temp": bench.wall_s - 4e7})
    bench.run(minutes=15)
    assert "S14" not in [row for row, _ in alarms(bench)]


@pytest.mark.fault_row("S12")
def test_a_check_of_the_humidity_sensor_begins_its_hours_in_wet_air_anew() -> None:
    chamber = replace(CHAMBER, care=Care(sensors=("air_temp", "rh")))
    bench = Bench(chamber).run(minutes=2, rh=90.0)
    bench.memory = replace(bench.memory, rh_wet_s=3e5)
    assert overdue(bench.memory, chamber.care, bench.wall_s)[1] == "humidity sensor (no good check yet)"
    bench.memory = replace(bench.memory, checked_wall_s={"air_temp": bench.wall_s, "rh": bench.wall_s})
    words = "humidity sensor (83 h in wet air since its last check)"
    assert overdue(bench.memory, chamber.care, bench.wall_s) == (words,)
    salt = InstrumentCheck("rh", "salt", (("NaCl", 75.3, 75.0),), "%RH", 25.0)
    bench.tick(Calibrate(id="x", at_wall_s=bench.wall_s, check=salt, sure=True))
    assert bench.memory.rh_wet_s < 60.0
