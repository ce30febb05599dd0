"""The gate can only take away, and each of its conditions counts."""

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.chamber.gate import heat_blocks
from controller.core.plan import Chamber
from controller.core.values import Known
from tests.helpers.bench_chamber import CHAMBER, Bench

NOW_S = 5000.0
WELL = Known(
    air_temp_c=30.0,
    highest_c=30.2,
    highest_firm_c=30.2,
    good_air_taken_s=NOW_S - 2.0,
    good_in_a_row=10,
    spread_k=0.4,
)
LOCKED = Alarm("A2-1", "A2", "1", "too hot", 0.0, active=False, latched=True, locks=True)
UNLOCKED = Alarm("P1-1", "P1", "2", "door", 0.0)


def blocks(
    known: Known = WELL,
    chamber: Chamber = CHAMBER,
    alarms: tuple[Alarm, ...] = (),
    since_start_s: float = 600.0,
    *,
    apart: bool = False,
    state_allows: bool = True,
    over: bool = False,
    uncounted: str = "",
) -> tuple[str, ...]:
    return heat_blocks(
        known,
        chamber,
        alarms,
        since_start_s,
        NOW_S,
        apart=apart,
        state_allows=state_allows,
        over=over,
        uncounted=uncounted,
    )


def test_heat_is_allowed_when_all_is_well() -> None:
    assert blocks() == ()
    assert blocks(alarms=(UNLOCKED,)) == ()


def test_a_start_after_a_crash_that_could_not_be_written_down_gives_no_heat_by_the_disks_row() -> None:
    assert blocks(uncounted="C7") == ("C7",)


def test_only_an_alarm_that_is_latched_and_locks_takes_the_heat_away() -> None:
    assert blocks(alarms=(replace(LOCKED, locks=False), replace(LOCKED, latched=False))) == ()


def test_a_humidity_that_stands_still_and_a_witness_that_is_missing_take_no_heat_away() -> None:
    assert blocks(replace(WELL, faults={"rh": "frozen", "core_temp": "frozen", "rh_temp": "missing"})) == ()


def test_every_reason_is_told_once_and_in_the_order_of_the_house() -> None:
    all_is_wrong = Known(highest_c=50.0, spread_k=9.0, faults={"air_temp": "missing"})
    refused = replace(CHAMBER, heat_refused="no cut-out")
    told = blocks(
        all_is_wrong,
        refused,
        (LOCKED, replace(LOCKED, row="S6"), LOCKED),
        0.0,
        apart=True,
        state_allows=False,
        over=True,
    )
    assert told == ("H11", "settling", "S1", "A2", "S9", "S6", "P9", "state")


def test_an_old_air_temperature_is_named_for_its_own_sensor_and_for_no_other() -> None:
    assert blocks(replace(WELL, good_air_taken_s=NOW_S - 13.0, faults={"rh_temp": "missing"})) == ("S3",)


@pytest.mark.parametrize(
    ("broken", "row"),
    [
        (lambda: blocks(chamber=replace(CHAMBER, heat_refused="no cut-out")), "H11"),
        (lambda: blocks(since_start_s=29.9), "settling"),
        (lambda: blocks(replace(WELL, good_in_a_row=2)), "settling"),
        (lambda: blocks(replace(WELL, good_air_taken_s=NOW_S - 12.1)), "S3"),
        (lambda: blocks(replace(WELL, good_air_taken_s=NOW_S - 12.1, faults={"air_temp": "checksum"})), "S2"),
        (lambda: blocks(replace(WELL, highest_c=45.0)), "A2"),
        (lambda: blocks(replace(WELL, highest_c=None)), "S3"),
        (lambda: blocks(replace(WELL, spread_k=3.01)), "S9"),
        (lambda: blocks(replace(WELL, faults={"air_temp_2": "frozen"})), "S6"),
        (lambda: blocks(replace(WELL, faults={"core_temp": "missing", "rh_temp": "frozen"})), "S6"),
        (lambda: blocks(apart=True), "S9"),
        (lambda: blocks(alarms=(UNLOCKED, LOCKED)), "A2"),
        (lambda: blocks(over=True), "P9"),
        (lambda: blocks(state_allows=False), "state"),
    ],
)
def test_every_condition_alone_takes_the_heat_away(broken: Callable[[], tuple[str, ...]], row: str) -> None:
    assert broken() == (row,)


@pytest.mark.parametrize(
    "edge",
    [
        lambda: blocks(since_start_s=30.0),
        lambda: blocks(replace(WELL, good_in_a_row=3)),
        lambda: blocks(replace(WELL, good_air_taken_s=NOW_S - 12.0)),
        lambda: blocks(replace(WELL, highest_c=44.9)),
        lambda: blocks(replace(WELL, spread_k=3.0)),
        lambda: blocks(replace(WELL, spread_k=None)),
    ],
)
def test_at_the_limit_itself_heat_is_still_allowed(edge: Callable[[], tuple[str, ...]]) -> None:
    assert edge() == ()


def test_after_a_start_heat_waits_thirty_seconds() -> None:
    bench = Bench()
    for _ in range(5):
        assert not bench.tick().heat_on
    assert bench.tick().heat_on


def test_no_heat_is_commanded_beyond_twelve_seconds_after_the_newest_good_reading() -> None:
    bench = Bench().run(minutes=2)
    last_good_s = bench.now_s - 1.0
    for _ in range(4):
        bench.tick(air_temp="missing")
    assert bench.lamp_off_after(bench.now_s) <= last_good_s + 12.0
    assert not bench.heat_on


def test_the_master_contactor_opens_with_the_gate() -> None:
    bench = Bench().run(minutes=2)
    assert bench.outcome is not None
    assert bench.outcome.commands.is_on("master", bench.now_s)
    bench.tick(rh_temp=46.0).tick(rh_temp=46.0)
    assert not bench.outcome.commands.is_on("master", bench.now_s)


def test_a_full_batch_in_pause_gets_no_heat() -> None:
    bench = Bench().run(minutes=2)
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, state="held"),))
    assert not bench.tick().heat_on
