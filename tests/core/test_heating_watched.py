"""Heat that does not warm, and warmth without heat, told by numbers: where each of them is no fault."""

import pytest
from msgspec.structs import replace

from controller.core.requests import Adjust
from controller.core.thresholds import Thresholds
from tests.helpers.bench_chamber import PROFILE
from tests.helpers.lively_air import FERMENT, PLAIN, Air, hung


def below(wanted_c: float, air_c: float) -> Air:
    """Return meat that was hung long ago, in air that is too cold, with the lamp at full power since now."""
    air = hung(replace(FERMENT, air_temp_c=wanted_c), c=wanted_c)
    air.true = (air_c, air.true[1])
    air.memory = replace(air.memory, judge=replace(air.memory.judge, channels={}), watch=type(air.memory.watch)())
    return air.go(1)


def has_a3(air: Air) -> bool:
    return air.has("A3")


@pytest.mark.fault_row("A3")
def test_heat_that_is_asked_for_while_the_air_still_falls_is_measured_from_the_lowest_point() -> None:
    air = below(36.0, 32.0)
    air.go(12, c=30.8, k_per_min=0.1)
    air.go(30, c=33.9, k_per_min=0.1)
    assert not has_a3(air)
    air = below(36.0, 32.0).go(60, c=26.0, k_per_min=0.1)
    assert has_a3(air), "a lamp that is dead lets it fall on"


@pytest.mark.fault_row("A3")
def test_a_new_wish_begins_the_minutes_anew() -> None:
    air = below(24.0, 21.0).go(18)
    air.tick(Adjust(id="a", air_temp_c=26.0, because="faster", sure=True))
    assert air.batch.stage.air_temp_c == 26.0
    air.go(10)
    assert not has_a3(air)
    air.go(20)
    assert has_a3(air)


@pytest.mark.fault_row("A3")
@pytest.mark.parametrize(("kind", "priority"), [("ferment", "1"), ("rest", "2")])
def test_a_dead_lamp_is_more_urgent_in_a_ferment(kind: str, priority: str) -> None:
    stage = replace(FERMENT, kind=kind)
    air = Air(PLAIN, replace(PROFILE, stages=(stage,))).begin(19.0, 85.0).go(100)
    (alarm,) = [alarm for alarm in air.memory.alarms if alarm.row == "A3"]
    assert alarm.priority == priority


@pytest.mark.fault_row("P2")
def test_air_that_stays_warmer_than_any_room_is_no_dead_lamp() -> None:
    air = below(36.0, 30.0).go(95)  # The room has 15 to 24 °C. So sudden a fall is taken for a door at first: 20 min.
    assert not has_a3(air)
    assert air.has("P2")


@pytest.mark.fault_row("A3")
@pytest.mark.fault_row("P2")
@pytest.mark.parametrize("k_per_min", [0.0, 0.01])
def test_a_lamp_whose_heat_all_goes_into_cold_meat_is_no_dead_one_and_not_too_weak(k_per_min: float) -> None:
    air = Air(PLAIN, replace(PROFILE, stages=(replace(FERMENT, air_temp_c=36.0),)))
    air.memory = replace(air.memory, batches=tuple(replace(one, meat_kg=12.0) for one in air.memory.batches))
    air.begin(27.0, 85.0)  # 12 kg of 4 °C take 116 W from it, and 49 W are left of the lamp.
    air.go(130, c=25.0, k_per_min=k_per_min)
    assert air.rows == []
    air.go(50, c=25.0, k_per_min=k_per_min)
    assert air.has("A3"), "by then they would have been warm enough"


@pytest.mark.fault_row("A1")
@pytest.mark.parametrize(("k_per_min", "told"), [(0.04, False), (0.2, True)])
def test_warming_without_heat_is_the_lamp_only_where_it_takes_a_lamp(k_per_min: float, told: bool) -> None:  # noqa: FBT001
    air = hung().go(90, c=30.0, k_per_min=k_per_min)
    assert ("A1" in [row for row, _, _ in air.rows]) is told


def test_the_figures_of_the_rules_are_settings() -> None:
    patient = replace(PLAIN, thresholds=Thresholds(off_s=3600.0))
    air = hung(chamber=patient).go(55, c=15.5)
    assert air.rows == []
    air.go(15)
    assert air.rows == [("P4", "3", True)]
