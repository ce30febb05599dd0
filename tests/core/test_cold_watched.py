"""A compressor that is watched by the air it cools: through a flickering cable, and over a restart of the program."""

import pytest
from msgspec.structs import replace

from controller.core.restart import after_restart
from tests.helpers.bench_chamber import PROFILE, Bench

SLOW_K_PER_MIN = 0.01
"""So slowly the air of a full fridge falls at the end of a long pull-down: 0.3 K in half an hour."""


def drying() -> Bench:
    return Bench(profile=replace(PROFILE, stages=(PROFILE.stages[2],)))


def shows(bench: Bench, air_c: float, *, missing: bool = False) -> None:
    """Let one tick pass in air of this temperature, with the small changes that it always has."""
    flutter_k = 0.06 * (round(bench.now_s) // 15 % 2)
    if missing:
        bench.tick(air_temp="missing", rh_temp="missing")
    else:
        bench.tick(air_temp=air_c + flutter_k, rh_temp=air_c + flutter_k + 0.02, rh=70.0 + round(bench.now_s) % 3)


def alarm_rows(bench: Bench) -> set[str]:
    return {alarm.row for alarm in bench.memory.alarms if alarm.active}


@pytest.mark.parametrize("every", [60, 10_000], ids=["flickers", "speaks"])
def test_a_healthy_compressor_at_the_end_of_a_long_pull_down_is_not_suspected(every: int) -> None:
    bench = drying()
    for count in range(120 * 12):
        shows(bench, 30.0 - 10.0 * count / (120 * 12), missing=count % every == every - 1)
    for count in range(100 * 12):
        shows(bench, 20.0 - SLOW_K_PER_MIN * count / 12.0, missing=count % every == every - 1)
        assert not alarm_rows(bench) & {"A7", "A8"}


@pytest.mark.parametrize("every", [60, 10_000], ids=["flickers", "speaks"])
def test_one_that_does_not_start_is_found(every: int) -> None:
    bench = drying()
    for count in range(40 * 12):
        shows(bench, 20.0, missing=count % every == every - 1)
    assert "A8" in alarm_rows(bench)


def test_one_that_rests_goes_on_resting_after_a_restart_and_is_not_told_of_anew() -> None:
    bench = drying()
    while "A8" not in alarm_rows(bench):
        shows(bench, 20.0)
    rests_until_s = bench.memory.watch.plant.cold.rests_until_s
    for _ in range(24):
        shows(bench, 20.0)
    kept = replace(bench.memory, ended_cleanly=True)
    bench.now_s, bench.wall_s = kept.last_s + 5.0, bench.wall_s + 5.0
    bench.memory, _ = after_restart(kept, bench.chamber, bench.now_s, bench.wall_s, kept.boot_id, wall_trusted=True)
    while bench.now_s < rests_until_s - 5.0:
        shows(bench, 20.0)
        assert bench.memory.outputs["cooler"].on_until_s <= bench.now_s
    for _ in range(15 * 12):
        shows(bench, 20.0)
    assert bench.memory.outputs["cooler"].on_until_s > bench.now_s - 60.0, "it is tried again"
    assert [alarm.id for alarm in bench.memory.alarms if alarm.row == "A8"] == ["A8-1"]
    assert not any("Over by itself" in event for event in bench.events)
