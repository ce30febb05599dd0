"""The world's ports: outputs that end by themselves, meat that comes and goes, two plants."""

import time

import pytest
from msgspec.structs import replace

from controller.core.values import Commands, Reading
from controller.settings.model_figures import MEAT_J_PER_KG_K
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.meat import Elsewhere
from controller.simulator.sausage import Sausage
from controller.simulator.weather import ConstantRoom
from controller.simulator.world import World
from tests.helpers.second_plant import SecondPlant
from tests.helpers.simulated_chambers import BEGIN_WALL_S, NAMES, SteadyMeat, chamber_of, published


def world_of(name: str = "insulated-box", *, plant: type[ChamberModel] = ChamberModel, **options: float) -> World:
    return World(chamber_of(name), begin_wall_s=BEGIN_WALL_S, seed=1, plant=plant, **options)  # type: ignore[arg-type]


def wait(world: World, seconds: float) -> bool:
    return world.clock.sleep_until(world.clock.monotonic_s() + seconds)


def test_an_output_ends_at_its_instant_within_the_tick() -> None:
    world = world_of()
    now_s = world.clock.monotonic_s()
    world.relays.apply(Commands({"heater": now_s + 1.25}))
    wait(world, 5.0)
    assert world.lamp_edges == [(0.0, True), (1.25, False)]
    assert world.model.ledger.lamp_j == pytest.approx(60.0 * 1.25)
    assert (world.relays.closings["heater"], world.relays.openings["heater"]) == (1, 1)


def test_a_hung_daemon_leaves_the_lamp_on_for_two_ticks_and_no_longer() -> None:
    world = world_of()
    world.relays.apply(Commands({"heater": world.clock.monotonic_s() + 3600.0}))
    wait(world, 60.0)
    assert world.lamp_edges == [(0.0, True), (10.0, False)]


def test_an_output_that_is_renewed_is_switched_once() -> None:
    world = world_of()
    for _ in range(100):
        world.relays.apply(Commands({"heater": world.clock.monotonic_s() + 10.0}))
        wait(world, 5.0)
    assert world.relays.closings["heater"] == 1
    assert world.model.ledger.lamp_j == pytest.approx(60.0 * 500.0)
    world.relays.apply(Commands({"heater": world.clock.monotonic_s()}))  # Its instant is past.
    assert not world.heat_on


def test_an_output_the_chamber_does_not_have_is_nothing() -> None:
    world = world_of()
    world.relays.apply(Commands({"cooler": world.clock.monotonic_s() + 5.0}))
    assert not world.model.cooler_on


def test_the_room_is_twenty_degrees_or_the_nearest_the_chamber_file_allows() -> None:
    assert world_of().room_temp_c == 20.0
    assert world_of(ambient_c=12.0).room_temp_c == 12.0
    cold = World(chamber_of("insulated-box"), begin_wall_s=BEGIN_WALL_S, weather=ConstantRoom(-3.0, 90.0))
    assert cold.room_temp_c == -3.0
    assert cold.true_air_temp_c == -3.0


def test_cold_meat_warms_and_loses_what_the_air_gains() -> None:
    world, meat = world_of(), SteadyMeat(5.0, temp_c=4.0)
    wait(world, 3600.0)
    world.hang(meat)
    wait(world, 12 * 3600.0)
    assert world.true_meat_temp_c is not None
    assert 15.0 < world.true_meat_temp_c < 20.0
    ledger = world.model.ledger
    assert meat.green_kg - meat.mass_kg == pytest.approx(ledger.water_evaporated_kg, rel=1e-12)
    assert meat.lived_s == 12 * 3600.0
    assert ledger.meat_j == pytest.approx(5.0 * 4.0 * MEAT_J_PER_KG_K)
    probe = world.sensors.newest()["core_temp"]
    assert isinstance(probe, Reading)
    assert probe.value == pytest.approx(meat.core_temp_c, abs=0.05)


@pytest.mark.parametrize("name", NAMES)
def test_a_sausage_of_55_mm_has_the_area_of_the_published_table(name: str) -> None:
    row = published(name)
    sausage = Sausage(diameter_mm=55.0, mass_kg=float(row["meat_kg"]["value"]))
    assert sausage.area_m2 == pytest.approx(float(row["meat_area_m2"]["value"]), rel=0.02)


def test_the_sausage_loses_to_the_gram_what_the_chamber_gains() -> None:
    world, sausage = world_of("old-fridge"), Sausage(diameter_mm=55.0, mass_kg=12.0, culture="mesophilic")
    begun_kg = world.model.stored_water_kg()
    world.hang(sausage)
    wait(world, 2 * 86_400.0)
    ledger = world.model.ledger
    assert 12.0 - sausage.mass_kg == pytest.approx(ledger.water_evaporated_kg, rel=1e-11)
    assert world.model.stored_water_kg() - ledger.water_kg() == pytest.approx(begun_kg, rel=1e-9)
    assert sausage.ph < 5.8
    assert sausage.core_temp_c == pytest.approx(world.true_meat_temp_c, abs=0.2)


def test_meat_that_is_elsewhere_lives_by_that_place_and_comes_back_as_warm_as_it_is() -> None:
    world, meat = world_of(), SteadyMeat(3.0, temp_c=20.0)
    world.hang(meat)
    wait(world, 1800.0)
    world.take_out(Elsewhere(75.0, 95.0, 20.0))
    wait(world, 4 * 3600.0)
    assert meat.core_temp_c > 68.0
    assert world.true_air_temp_c < 21.0
    world.take_out(Elsewhere(12.0, 75.0))
    wait(world, 5 * 86_400.0)
    assert meat.core_temp_c == pytest.approx(12.0, abs=1.5)  # A little under: it dries.
    lost_kg = meat.green_kg - meat.mass_kg
    assert lost_kg > 0.1
    world.hang(meat)
    assert world.true_meat_temp_c == pytest.approx(meat.core_temp_c, abs=0.01)
    wait(world, 600.0)
    assert meat.green_kg - meat.mass_kg > lost_kg


def test_a_door_opened_by_a_person_closes_in_time() -> None:
    world = world_of()
    wait(world, 7.0)
    world.open_door(60.0)
    assert world.door_open
    wait(world, 59.0)
    assert world.door_open
    wait(world, 1.0)
    assert not world.door_open


def test_the_summary_is_due_once_a_day_at_eight() -> None:
    world = world_of()  # Begins at 06:00 UTC.
    due = []
    for hour in range(72):
        if world.chores.summary_due():
            due.append(hour)
        wait(world, 3600.0)
    assert due == [2, 26, 50]


def test_the_summary_comes_at_eight_of_the_makers_clock_also_over_a_change_of_summer_time() -> None:
    begin_s = 1_772_884_800.0  # Saturday 2026-03-07 12:00 UTC, 6:00 in Chicago, where summer time begins at night.
    world = World(replace(chamber_of("old-fridge"), timezone="America/Chicago"), begin_wall_s=begin_s)
    due = []
    for hour in range(60):
        if world.chores.summary_due():
            due.append(hour)
        wait(world, 3600.0)
    assert due == [2, 25, 49]  # 8:00 CST is 14:00 UTC, 8:00 CDT is 13:00.


def test_the_run_ends_when_it_was_to_end() -> None:
    world = world_of(ends_s=100.0)
    assert wait(world, 60.0)
    assert not wait(world, 60.0)
    assert world.elapsed_s == 100.0


def test_the_second_plant_is_another_chamber_with_the_same_habits() -> None:
    """Other equations, same figures: the full lamp ends within a few per cent of the first plant's rise."""
    for name in ("insulated-box", "old-fridge"):
        rises, falls = [], []
        for plant in (ChamberModel, SecondPlant):
            world = world_of(name, plant=plant)
            world.hang(SteadyMeat(2.0, temp_c=20.0, aw=0.0))
            world.model.lamp_on = True
            world.model.changed()
            world.model.advance(24 * 3600.0)
            rises.append(world.true_air_temp_c - 20.0)
            world.model.lamp_on = False
            world.model.changed()
            world.model.advance(6 * 3600.0)
            falls.append(world.true_air_temp_c - 20.0)
        assert rises[1] == pytest.approx(rises[0], rel=0.05)
        assert falls[1] == pytest.approx(falls[0], rel=0.25, abs=0.5)
        assert rises[1] != rises[0]


def test_the_second_plant_is_felt_later_than_the_first() -> None:
    shown = []
    for plant in (ChamberModel, SecondPlant):
        world = world_of(plant=plant)
        world.model.lamp_on = True
        world.model.changed()
        world.model.advance(30.0)
        shown.append(world.true_air_temp_c - 20.0)
    assert shown[1] < 0.5 * shown[0]


def test_a_tick_of_the_world_alone_is_cheap() -> None:
    """A batch of 30 days is 518,400 ticks; 60 µs for each of them would be half of the minute it may take."""
    world = world_of("old-fridge")
    world.hang(SteadyMeat(12.0))
    began = time.process_time()
    for tick in range(4000):
        world.sensors.newest()
        now_s = world.clock.monotonic_s()
        world.relays.apply(Commands({"heater": now_s + (2.5 if tick % 4 else 10.0), "fan": now_s + 10.0}))
        world.clock.sleep_until(now_s + 5.0)
    assert (time.process_time() - began) / 4000 < 200e-6  # Measured: 20 to 22 µs. Others may be at work too.
