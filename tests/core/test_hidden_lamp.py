"""A lamp that burns on while a compressor keeps the air as it is wanted, told by the compressor's runs."""

import pytest
from msgspec.structs import replace

from controller.core.memory import OutputMemory
from controller.core.plan import StageKind
from controller.core.values import Health, Known, Wanted
from controller.core.watch.hidden import MEAT_S, hidden_by_cold
from controller.core.watch.memory import IdleWatch
from controller.core.watch.seen import Seen
from tests.helpers.bench_chamber import CHAMBER

WARMEST_C = CHAMBER.room_c[1]


def seen(wanted_c: float, room_c: float | None, *, kind: StageKind = "ferment", hung_h: float = 10.0) -> Seen:
    """Return a ferment that is as warm as it is wanted."""
    return Seen(
        known=Known(air_temp_c=wanted_c, ambient_temp_c=room_c),
        wanted=Wanted(wanted_c, 85.0),
        kind=kind,
        chamber=CHAMBER,
        duty={},
        outputs={},
        blocks=(),
        settling=False,
        opened=False,
        ajar=False,
        arrived=True,
        hung_kg=5.0,
        hung_for_s=hung_h * 3600.0,
        ramp_share=None,
        batch="bench",
        complete=False,
        heats=True,
        health=Health(),
        disobedient=(),
        strangers=(),
        trouble=(),
        since_start_s=1e5,
        now_s=0.0,
        dt_s=5.0,
    )


def told(now: Seen, *, runs: int, first_k: float = 0.0) -> str:
    """Return what is found after an hour with the lamp off and so many runs of the compressor."""
    assert now.wanted.air_temp_c is not None
    watch = IdleWatch(0.0, first_c=now.wanted.air_temp_c + first_k)
    watch, text = hidden_by_cold(watch, replace(now, outputs={"cooler": OutputMemory(closings=40)}))
    assert not text
    later = replace(now, outputs={"cooler": OutputMemory(closings=40 + runs)}, now_s=3600.0)
    return hidden_by_cold(watch, later)[1]


@pytest.mark.fault_row("A1")
def test_three_runs_in_an_hour_that_nothing_but_the_lamp_can_ask_for_are_told() -> None:
    assert "3 times in an hour" in told(seen(24.0, 20.0), runs=3)
    assert not told(seen(24.0, 20.0), runs=2)
    assert not told(seen(24.0, 23.5), runs=4), "the room is nearly as warm"
    assert not told(seen(24.0, 20.0, kind="dry"), runs=4), "a drying is dried by cold"
    assert not told(seen(24.0, 20.0), runs=4, first_k=8.0), "a colder climate is wanted than was"
    assert not told(seen(24.0, 20.0, hung_h=MEAT_S / 3600.0 - 1.0), runs=4), "warm meat"


@pytest.mark.fault_row("A1")
def test_a_hot_day_where_no_thermometer_hangs_in_the_room_is_no_lamp() -> None:
    assert not told(seen(WARMEST_C + 9.0, None), runs=4), "the room may have this itself"
    assert "by the chamber file" in told(seen(WARMEST_C + 12.0, None), runs=4)
