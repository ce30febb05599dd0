"""Every way in which a reading can be wrong has the lamp off in time, and the right name."""

import pytest

from controller.core.chamber.judge import impossible
from controller.core.plan import Limits
from controller.core.values import FaultKind
from tests.helpers.bench_chamber import Bench

LIMITS = Limits()


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        (float("nan"), "not_a_number"),
        (float("inf"), "not_a_number"),
        (85.0, "power_on_value"),
        (127.9375, "low_supply"),
        (-127.0, "no_reply"),
        (60.1, "out_of_range"),
        (-10.1, "out_of_range"),
        (60.0, None),
        (-10.0, None),
        (84.9375, "out_of_range"),
    ],
)
def test_a_bare_number_is_named_for_what_it_is(value: float, fault: FaultKind | None) -> None:
    assert impossible("air_temp", value, LIMITS) == fault


@pytest.mark.parametrize(
    ("value", "fault"), [(0.9, "out_of_range"), (1.0, None), (100.5, None), (100.6, "out_of_range")]
)
def test_humidity_has_its_own_range(value: float, fault: FaultKind | None) -> None:
    assert impossible("rh", value, LIMITS) == fault


def test_winter_air_in_a_warm_empty_box_is_dry_and_possible() -> None:
    # CoolProp (ASHRAE RP-1485): air of -10 °C and 70 %, warmed to 37 °C.
    from CoolProp.HumidAirProp import HAPropsSI  # It takes a second, and only one process needs it.

    vapour_pa = HAPropsSI("P_w", "T", 263.15, "R", 0.70, "P", 101325.0)
    rh_pct = 100.0 * HAPropsSI("R", "T", 310.15, "P_w", vapour_pa, "P", 101325.0)
    assert rh_pct < 5.0
    assert impossible("rh", rh_pct, LIMITS) is None


@pytest.mark.parametrize(
    "says",
    [
        "missing", "checksum", "empty", "half_read", "bus_error", "hung",
        float("nan"), 85.0, 127.9375, -127.0, 61.0, -11.0, 37.0, 23.0,
    ],
)  # fmt: skip
def test_a_bad_air_reading_has_the_lamp_off_within_fifteen_seconds(says: float | FaultKind) -> None:
    bench = Bench().run(minutes=3)
    assert bench.heat_on
    first_bad_s = bench.now_s + bench.chamber.tick_s
    for _ in range(5):
        bench.tick(air_temp=says)
        if bench.heat_on is False:
            break
    assert bench.lamp_off_after(first_bad_s) <= first_bad_s + 15.0
    assert not bench.heat_on


def test_a_single_damaged_reading_cuts_nothing_and_alarms_nobody() -> None:
    bench = Bench().run(minutes=3)
    bench.tick(air_temp="checksum").tick(air_temp=30.0)
    assert bench.heat_on
    assert bench.memory.alarms == ()
    assert bench.batch.state == "running"


def test_it_comes_back_by_itself_within_a_minute_after_three_good_readings() -> None:
    bench = Bench().run(minutes=3).run(minutes=1, air_temp="missing")
    assert bench.batch.state == "suspended"
    bench.says["air_temp"] = 30.0
    ticks = 0
    while not bench.tick().heat_on:
        ticks += 1
        assert ticks < 12
    assert ticks >= 2
    assert bench.batch.state == "running"


def test_a_sensor_that_stays_away_for_a_quarter_of_an_hour_waits_for_a_person() -> None:
    bench = Bench().run(minutes=3).run(minutes=14, air_temp="missing")
    assert bench.batch.state == "suspended"
    assert bench.run(minutes=2).batch.state == "held"
    assert bench.run(minutes=5, air_temp=30.0).batch.state == "held"


def test_the_third_fault_of_a_day_waits_for_a_person() -> None:
    bench = Bench().run(minutes=3)
    for state in ("suspended", "suspended", "held"):
        bench.run(minutes=1, air_temp="missing")
        assert bench.batch.state == state
        bench.run(minutes=2, air_temp=30.0)


def test_a_jump_is_believed_when_three_readings_agree_on_the_new_level() -> None:
    bench = Bench().run(minutes=3)
    assert not bench.run(minutes=0.5, air_temp=24.0, rh_temp=24.0).heat_on or bench.outcome is not None
    known = bench.run(minutes=1).outcome
    assert known is not None
    assert known.known.air_temp_c == 24.0


def test_a_rate_that_the_chamber_cannot_have_is_a_fault() -> None:
    bench = Bench().run(minutes=3)
    for _ in range(36):
        bench.tick(air_temp=float(bench.says["air_temp"]) + 0.4)  # 4.8 K/min
    assert bench.outcome is not None
    assert bench.outcome.known.faults["air_temp"] == "rate"


def test_a_number_that_stands_still_alone_is_no_fault() -> None:
    bench = Bench().run(minutes=130, air_temp=36.0, rh_temp=36.1)
    assert bench.memory.alarms == ()


def test_a_number_that_stands_still_while_the_other_moves_is_frozen_and_locks() -> None:
    bench = Bench().run(minutes=10, air_temp=36.0, rh_temp=36.0).run(minutes=25, rh_temp=37.5)
    assert [alarm.row for alarm in bench.memory.alarms] == ["S6"]
    assert bench.batch.state == "held"
    bench.run(minutes=5, air_temp=31.0)
    assert not bench.heat_on


def test_a_slow_probe_and_a_fast_one_agree_while_the_lamp_warms_the_box() -> None:
    bench = Bench()
    true_c, slow_c, spread_k = 20.0, 20.0, 0.0
    for _ in range(240):
        true_c += 1.0 / 12.0  # One kelvin a minute.
        slow_c += (true_c - slow_c) * 5.0 / 120.0
        bench.tick(air_temp=slow_c, rh_temp=true_c)
        assert bench.outcome is not None
        spread_k = max(spread_k, bench.outcome.known.spread_k or 0.0)
    assert true_c - slow_c > 1.5
    assert spread_k < 0.5


def test_the_probe_that_slipped_out_is_told_from_sensors_that_disagree() -> None:
    bench = Bench().run(minutes=10, air_temp=36.0, rh_temp=36.0)
    air_c = 36.0
    for _ in range(180):
        air_c += (20.0 - air_c) * 5.0 / 120.0
        bench.tick(air_temp=air_c, rh_temp=36.0)
    assert not bench.heat_on
    rows = [alarm.row for alarm in bench.memory.alarms]
    assert "H9" in rows
    assert "S9" not in rows
    text = next(alarm.text for alarm in bench.memory.alarms if alarm.row == "H9")
    assert "°C, another sensor 36.0 °C, limit 3 K apart: is it outside?" in text


def test_the_trip_needs_two_readings_and_a_person() -> None:
    bench = Bench().run(minutes=3, air_temp=42.0, rh_temp=42.0)
    bench.tick(rh_temp=45.5)
    assert not bench.heat_on
    assert not bench.memory.alarms
    bench.tick(rh_temp=45.5)
    assert [alarm.row for alarm in bench.memory.alarms] == ["A2"]
    bench.run(minutes=30, air_temp=30.0, rh_temp=30.0)
    assert not bench.heat_on
    assert bench.batch.state == "held"
