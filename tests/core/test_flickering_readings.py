"""A cable that flickers: one reading is missing every five minutes, and what is wrong is found all the same.

It may be the very cable that a hand has pulled, with the probe out of the box.
"""

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from tests.helpers.bench_chamber import Bench
from tests.helpers.outages import HOURS_S, clock_set, cut, hung
from tests.helpers.readings import fermenting

EVERY_TICKS = 60


def flickering(
    bench: Bench, minutes: float, shows: Callable[[float], dict[str, float]], missing: tuple[str, ...]
) -> Bench:
    """Let these minutes pass with what the sensors show by the minute; those named miss one reading in five minutes."""
    for count in range(round(minutes * 12)):
        says: dict[str, object] = dict(shows(count / 12.0))
        if count % EVERY_TICKS == EVERY_TICKS - 1:
            says |= dict.fromkeys(missing, "missing")
        bench.tick(**says)  # type: ignore[arg-type]
    return bench


def lamp_s(bench: Bench) -> float:
    return bench.memory.outputs["heater"].on_total_s


def alarm_rows(bench: Bench) -> set[str]:
    return {alarm.row for alarm in bench.memory.alarms}


def lonely(room_c: float, heater_w: float = 60.0) -> Bench:
    """Return a ferment in a box whose one thermometer shows this."""
    bench = hung()
    figures = replace(bench.chamber.figures, heater_w=heater_w)
    bench.chamber = replace(
        bench.chamber,
        channels=("air_temp",),
        response_s={"air_temp": 120.0},
        figures=figures,
        room_c=(15.0, 25.0),
    )
    bench.says = {"air_temp": room_c}
    return bench


def as_cold_as_the_room(minute: float) -> dict[str, float]:
    return {"air_temp": 20.0 + 0.06 * (int(minute * 4) % 2)}


def test_a_lamp_that_does_not_warm_the_probe_is_found_and_stays_told() -> None:
    bench = flickering(lonely(20.0), 60.0, as_cold_as_the_room, ("air_temp",))
    assert "A3" in alarm_rows(bench)
    before_s = lamp_s(bench)
    flickering(bench, 120.0, as_cold_as_the_room, ("air_temp",))
    assert lamp_s(bench) - before_s <= 5 * 300.0  # Trials alone.
    assert not any("heating without warming: Over by itself" in event for event in bench.events)


def test_a_lamp_that_burns_on_is_found() -> None:
    bench = fermenting(air_c=36.5)

    def warms(minute: float) -> dict[str, float]:
        return {"air_temp": 38.0 + 0.2 * minute, "rh_temp": 38.0 + 0.2 * minute}

    flickering(bench, 20.0, warms, ("air_temp", "rh_temp"))
    assert "A1" in alarm_rows(bench)


def test_mist_that_does_not_come_is_found() -> None:
    bench = fermenting(air_c=36.0)
    flickering(bench, 120.0, lambda minute: {"rh": 60.0 + 0.1 * (int(minute * 4) % 3)}, ("rh",))
    assert "A5" in alarm_rows(bench)
    assert not any("humidifier gives nothing: Over by itself" in event for event in bench.events)


def test_a_lid_held_up_and_one_missing_reading_pause_nothing() -> None:
    bench = hung().run(minutes=5, air_temp=36.0, rh_temp=36.0)
    for count in range(60):
        bench.tick(air_temp=36.0 - 0.02 * count, rh_temp=max(36.0 - 0.5 * count, 30.5))
        if bench.memory.watch.agree.apart_since_s is not None:
            break
    bench.run(minutes=65.0 / 60.0)
    bench.tick(rh_temp="missing")
    bench.run(minutes=10, air_temp=36.0, rh_temp=36.0)
    assert not alarm_rows(bench) & {"S9", "H9"}
    assert bench.batch.state == "running"


def test_one_that_stays_silent_after_they_were_apart_still_pauses() -> None:
    bench = hung().run(minutes=5, air_temp=36.0, rh_temp=36.0).run(minutes=1, air_temp=22.0, rh_temp=36.0)
    bench.run(minutes=2, rh_temp="missing")
    assert alarm_rows(bench) & {"S9", "H9"}
    assert bench.batch.state == "held"


@pytest.mark.parametrize("later_h", [0.02, 2.5])
def test_a_probe_that_came_back_outside_is_judged_by_when_it_came_back(later_h: float) -> None:
    bench = lonely(20.0, heater_w=250.0)
    for count in range(120):
        bench.tick(air_temp=36.0 + 0.06 * (count // 3 % 2))
    bench.run(minutes=5, air_temp="missing")
    cut(bench, 1.0 / 60.0, told=False).run(minutes=later_h * 60.0, air_temp=20.0)
    before_s = lamp_s(bench)
    clock_set(bench, 60.0 / HOURS_S).run(minutes=20)
    assert "H9" in alarm_rows(bench)
    assert lamp_s(bench) - before_s <= bench.chamber.tick_s
