"""The simulated sensors: late, coarse, creeping, and repeatable."""

from math import exp
from random import Random

import pytest
from msgspec.structs import replace

from controller.core.values import Reading
from controller.food.air import saturation_pressure_pa, vapour_pressure_pa
from controller.simulator.sensors import HUMIDITY_KINDS, HumiditySensor, Probe
from controller.simulator.world import World
from tests.helpers.simulated_chambers import BEGIN_WALL_S, chamber_of


def test_a_probe_in_a_step_follows_the_exponential() -> None:
    probe = Probe(120.0, phase_s=0.0, start_c=20.0)
    probe.follow(1e-9, 30.0)  # The step, in no time.
    for second in range(1, 601):
        probe.follow(float(second), 30.0)
        if second % 5 == 0:
            assert probe.lagged_c == pytest.approx(30.0 - 10.0 * exp(-second / 120.0), abs=0.11)
    assert probe.lagged_c == pytest.approx(30.0 - 10.0 * exp(-5.0), abs=0.01)


def test_a_probe_on_a_ramp_runs_behind_by_rate_times_response() -> None:
    probe = Probe(120.0, phase_s=0.0, start_c=10.0)
    for tick in range(1, 401):
        probe.follow(5.0 * tick, 10.0 + 0.01 * 5.0 * tick)
    assert probe.lagged_c == pytest.approx(10.0 + 0.01 * (2000.0 - 120.0), abs=1e-4)


def test_a_probe_asked_seldom_agrees_with_one_asked_often() -> None:
    often, seldom = Probe(120.0, phase_s=1.3, start_c=10.0), Probe(120.0, phase_s=1.3, start_c=10.0)
    for second in range(1, 901):
        often.follow(float(second), 10.0 + 0.02 * second)
        if second % 10 == 0:
            seldom.follow(float(second), 10.0 + 0.02 * second)
    assert seldom.lagged_c == pytest.approx(often.lagged_c, abs=1e-6)
    assert seldom.taken_s == often.taken_s


def test_a_probe_shows_sixteenths_and_measures_every_two_and_a_half_seconds() -> None:
    probe = Probe(45.0, phase_s=0.7, start_c=20.0)
    taken = set()
    for second in range(1, 101):
        if probe.follow(float(second), 20.0 + second / 37.0):
            taken.add(probe.taken_s)
            assert (probe.shown_c * 16.0).is_integer()
            assert 0.0 <= second - probe.taken_s < 2.5
    assert len(taken) == 40


def creeping(hours: int, rh_pct: float, sensor: HumiditySensor, begin_s: float = 0.0) -> float:
    """Let a sensor hang in air of 13 °C for so long; return the end."""
    vapour_pa = vapour_pressure_pa(13.0, rh_pct)
    for tick in range(1, hours * 60 + 1):
        sensor.follow(begin_s + 60.0 * tick, 13.0, vapour_pa)
    return begin_s + hours * 3600.0


def test_humidity_creeps_up_above_80_percent_and_back_below() -> None:
    """SHT2x data sheet (December 2011), table 1, note 4: +3 %RH after 60 h; here as a time constant of 60 h."""
    sensor = HumiditySensor(HUMIDITY_KINDS["sht4x"], Random(1), response_s=8.0, start_c=13.0, start_pct=90.0)
    end_s = creeping(60, 90.0, sensor)
    assert sensor.creep_pct == pytest.approx(3.0 * (1.0 - exp(-1.0)), abs=0.01)
    shown = [sensor.show()[0] for _ in range(200)]
    assert sum(shown) / 200 == pytest.approx(90.0 + sensor.creep_pct, abs=0.05)
    creeping(96, 70.0, sensor, end_s)
    assert sensor.creep_pct < 0.5


def test_humidity_is_felt_at_the_sensors_own_temperature() -> None:
    """A chip half a kelvin warm reads 13 °C air of 80 % about 2.6 %RH too low; published as 2.6 %RH per 0.5 K."""
    sensor = HumiditySensor(HUMIDITY_KINDS["sht4x"], Random(1), response_s=8.0, start_c=13.5, start_pct=80.0)
    sensor.follow(2.5, 13.5, vapour_pressure_pa(13.0, 80.0))
    for tick in range(2, 60):
        sensor.follow(2.5 * tick, 13.5, vapour_pressure_pa(13.0, 80.0))
    shown = sum(sensor.show()[0] for _ in range(100)) / 100
    assert shown == pytest.approx(80.0 * saturation_pressure_pa(13.0) / saturation_pressure_pa(13.5), abs=0.1)
    assert 80.0 - shown == pytest.approx(2.6, abs=0.2)


def readings_of(seed: int, *, vary: bool = False) -> list[str]:
    world = World(chamber_of("insulated-box"), begin_wall_s=BEGIN_WALL_S, seed=seed, vary=vary)
    said = []
    for _ in range(200):
        said.append(repr(world.sensors.newest()))
        world.clock.sleep_until(world.clock.monotonic_s() + 5.0)
    return said


def test_the_same_seed_gives_the_same_readings_and_another_gives_others() -> None:
    assert readings_of(3) == readings_of(3)
    assert readings_of(3) != readings_of(4)
    assert readings_of(3) != readings_of(3, vary=True)


def test_every_channel_of_the_chamber_is_read_with_the_time_it_was_taken() -> None:
    world = World(chamber_of("insulated-box"), begin_wall_s=BEGIN_WALL_S, seed=1)
    for _ in range(20):
        world.clock.sleep_until(world.clock.monotonic_s() + 5.0)
        readings, now_s = world.sensors.newest(), world.clock.monotonic_s()
        assert set(readings) == {"air_temp", "rh", "rh_temp", "core_temp", "ambient_temp", "door"}
        for reading in readings.values():
            assert isinstance(reading, Reading)
            assert 0.0 <= now_s - reading.taken_s < 2.5


def test_the_offsets_of_the_chamber_file_are_added_as_the_real_sensors_do() -> None:
    plain, shifted = chamber_of("old-fridge"), chamber_of("old-fridge")
    shifted = replace(
        shifted,
        sensor=tuple(
            replace(entry, offset_k=-0.3, offset_pct=2.4) if entry.channel in {"air_temp", "rh"} else entry
            for entry in shifted.sensor
        ),
    )
    worlds = [World(file, begin_wall_s=BEGIN_WALL_S, ambient_c=18.0) for file in (plain, shifted)]
    for _ in range(24):
        for world in worlds:
            world.clock.sleep_until(world.clock.monotonic_s() + 5.0)
        before, after = (world.sensors.newest() for world in worlds)
    apart = {
        channel: round(after[channel].value - before[channel].value, 9)  # type: ignore[union-attr]
        for channel in ("air_temp", "rh", "rh_temp", "ambient_temp")
    }
    assert apart == {"air_temp": -0.3, "rh": 2.4, "rh_temp": -0.3, "ambient_temp": 0.0}
