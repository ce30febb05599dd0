"""What the slow rules have found is not forgotten because the program was away for a moment."""

from math import isclose

import pytest
from msgspec.structs import replace

from controller.core.requests import Clear, Hang
from controller.core.values import Channel
from tests.helpers.bench_chamber import CHAMBER, PROFILE, Bench
from tests.helpers.outages import HOURS_S, cut
from tests.helpers.sensor_bench import ALONE, alarms, the_alarm, with_more

A_MOMENT_H = 5.0 / HOURS_S
STIRRED = replace(PROFILE, stages=tuple(replace(stage, fan_min_per_h=60.0) for stage in PROFILE.stages))


def lively(bench: Bench, minutes: float, air_c: float, apart_k: float) -> Bench:
    """Let minutes pass while the second thermometer is so much warmer, and neither stands still."""
    for number in range(round(minutes * 12.0)):
        air = air_c + 0.0625 * (number % 2)
        says: dict[Channel, float] = {"air_temp": air, "air_temp_2": air + apart_k, "rh_temp": air}
        says["rh"] = 84.0 + 0.1 * (number % 7)
        bench.says |= {name: value for name, value in says.items() if not isinstance(bench.says.get(name), str)}
        bench.tick()
    return bench


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize("boot_id", ["boot-1", "boot-2"])
def test_a_thermometer_that_was_found_stuck_is_not_believed_after_a_restart_before_a_person_has_said_so(
    boot_id: str,
) -> None:
    bench = Bench(ALONE).run(minutes=135, air_temp=36.0)
    assert alarms(bench) == [("S6", "1")]
    cut(bench, A_MOMENT_H, boot_id=boot_id).run(minutes=5)
    assert alarms(bench) == [("S6", "1")]
    assert "for 2.3 h" in the_alarm(bench).text
    for air_c in (36.0, 30.0):  # It is still stuck; then it moves.
        bench.run(minutes=70, air_temp=air_c)
        assert bench.outcome is not None
        assert bench.outcome.known.air_temp_c is None
        assert not bench.outcome.commands.is_on("cooler", bench.now_s)
    assert not the_alarm(bench).active
    bench.tick(Clear(id="c", alarm=the_alarm(bench).id)).tick()
    assert bench.outcome is not None
    assert bench.outcome.known.air_temp_c == 30.0


@pytest.mark.fault_row("S9")
def test_a_doubt_outlives_a_restart_while_one_of_the_two_is_silent() -> None:
    bench = Bench(with_more("air_temp_2"), PROFILE)
    bench.tick(air_temp_2=36.0, rh="missing", rh_temp="missing")
    lively(bench, 20, 34.0, 2.4)
    assert ("S9", "3") in alarms(bench)
    lead_k = bench.memory.watch.agree.lead_k
    assert isclose(lead_k, 2.4, abs_tol=0.1)
    bench.tick(air_temp_2="missing")
    cut(lively(bench, 2, 34.0, 0.0), A_MOMENT_H)
    lively(bench, 15, 35.9, 0.0)
    assert ("S9", "3") in alarms(bench)
    assert bench.memory.loops.heat_duty == 0.0  # For it may have 38.3 °C.
    lively(bench.tick(air_temp_2=36.0), 3, 35.9, 0.1)
    assert not bench.memory.watch.agree.doubted
    assert bench.memory.watch.agree.lead_k == 0.0


@pytest.mark.fault_row("S9")
def test_a_doubt_ends_with_a_restart_where_one_thermometer_was_taken_out_of_the_chamber_file() -> None:
    bench = Bench(with_more("air_temp_2"), PROFILE)
    bench.tick(air_temp_2=36.0, rh="missing", rh_temp="missing")
    lively(bench, 20, 34.0, 2.4)
    assert bench.memory.watch.agree.doubted
    bench.chamber = ALONE
    cut(bench, A_MOMENT_H)
    assert not bench.memory.watch.agree.doubted


@pytest.mark.fault_row("A9")
@pytest.mark.parametrize("boot_id", ["boot-1", "boot-2"])
def test_a_fan_that_stands_is_not_learned_as_usual_after_a_restart(boot_id: str) -> None:
    chamber = with_more("air_temp_2")
    bench = Bench(chamber, STIRRED)
    bench.tick(Hang(id="hang"), air_temp_2=36.2)
    lively(bench, 100, 36.0, 0.2)
    assert alarms(bench) == []
    lively(bench, 30, 36.0, 2.6)
    assert "A9" in [row for row, _ in alarms(bench)]
    cut(bench, A_MOMENT_H, boot_id=boot_id)
    lively(bench, 120, 36.0, 2.6)
    assert "A9" in [row for row, _ in alarms(bench)]
    assert isclose(bench.memory.watch.plant.fan.usual_k, 0.2, abs_tol=0.05)
    lively(bench, 20, 36.0, 0.2)  # It turns again.
    assert "A9" not in [row for row, _ in alarms(bench)]


@pytest.mark.fault_row("A9")
def test_of_a_fan_that_nobody_can_look_at_any_more_nothing_is_kept() -> None:
    bench = Bench(with_more("air_temp_2"), STIRRED)
    bench.tick(Hang(id="hang"), air_temp_2=36.2)
    lively(lively(bench, 100, 36.0, 0.2), 30, 36.0, 2.6)
    assert bench.memory.watch.plant.fan.why
    bench.chamber = CHAMBER
    cut(bench, A_MOMENT_H)
    assert bench.memory.watch.plant.fan.why == ""
