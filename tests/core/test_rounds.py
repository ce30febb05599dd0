"""What the slow rules take away: what the fault table says, unless they only warn or the output is tried."""

import pytest

from controller.core.alarms import Condition
from controller.core.fault_table import ROWS
from controller.core.plant.memory import ColdWatch, PlantWatch
from controller.core.watch.memory import MistWatch, Watch
from controller.core.watch.rounds import forbids_heat, taken_away
from tests.helpers.bench_chamber import Bench

NOW_S = 10_000.0
EACH = [Condition(row, "found") for row in ROWS]


@pytest.mark.parametrize("condition", EACH, ids=lambda condition: condition.row)
def test_each_row_takes_away_what_the_table_says_and_what_only_warns_takes_nothing(condition: Condition) -> None:
    row = ROWS[condition.row]
    off = {"A5": {"humidifier"}, "A3": set(), "A7": set(), "A8": set()}.get(row.id, set(row.off))
    assert taken_away([condition], Watch(), NOW_S) == off
    warning = Condition(row.id, "found", warns=True)
    assert taken_away([warning], Watch(), NOW_S) == set()
    assert forbids_heat([warning]) == ()
    assert forbids_heat([condition]) == ((row.id,) if "heater" in row.off or row.id == "A3" else ())


def test_what_several_rows_take_away_adds_up_and_a_warning_before_them_hides_none() -> None:
    found = [
        Condition("S9", "doubt", warns=True),
        Condition("A5", "dry"),
        Condition("A2", "hot"),
        Condition("A3", "cold"),
    ]
    assert taken_away(found, Watch(), NOW_S) == {"humidifier", *ROWS["A2"].off}
    assert forbids_heat(found) == ("A2", "A3")
    assert taken_away([], Watch(), NOW_S) == set()
    assert forbids_heat([]) == ()


def test_a_humidifier_that_gives_nothing_is_off_but_for_its_trials() -> None:
    dry = [Condition("A5", "dry"), Condition("C9", "weak")]
    off = ["humidifier" in taken_away(dry, Watch(mist=MistWatch(since_s=0.0)), at_s) for at_s in range(0, 36_000, 60)]
    assert 0.0 < off.count(False) / len(off) < 0.25


@pytest.mark.parametrize("row", ["A7", "A8"])
def test_a_compressor_that_brings_no_cold_rests_for_as_long_as_was_said(row: str) -> None:
    watch = Watch(plant=PlantWatch(cold=ColdWatch(rests_until_s=NOW_S)))
    assert taken_away([Condition(row, "warm"), Condition("C9", "weak")], watch, NOW_S - 0.1) == {"cooler"}
    assert taken_away([Condition(row, "warm")], watch, NOW_S) == set()


def test_each_rule_finds_its_own_memory_again() -> None:
    bench = Bench().run(minutes=30)
    for watch in (bench.memory.watch, bench.run(minutes=30, air_temp=46.0, rh="missing", rh_temp=30.0).memory.watch):
        for name in Watch.__struct_fields__:
            assert type(getattr(watch, name)) is type(getattr(Watch(), name))
