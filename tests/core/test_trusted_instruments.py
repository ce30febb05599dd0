"""What ends a ferment has to be measured with what can be believed, and at a time that has been."""

import pytest
from msgspec.structs import replace

from controller.core.batch.care import overdue_sentence
from controller.core.memory import PhReading
from controller.core.plan import Care
from controller.core.requests import Calibrate, CoreTemp, Ph, Report, Weigh
from controller.core.values import InstrumentCheck
from tests.helpers.bench_chamber import Bench
from tests.helpers.readings import answer, fermenting, later, refused

DAY_S = 86_400.0


def buffers(bench: Bench, seven: float, four: float, instrument: str = "meter 1", ago_s: float = 0.0) -> Calibrate:
    """Return the check of a meter in two buffers at 22 °C, so long ago."""
    points = (("7.00", 0.0, seven), ("4.01", 0.0, four))
    found = InstrumentCheck(instrument=instrument, method="buffers", points=points, unit="pH", temp_c=22.0)
    return Calibrate(id=f"c{bench.now_s}{seven}", at_wall_s=bench.wall_s - ago_s, check=found, sure=True)


def ice(bench: Bench, shown_c: float) -> Calibrate:
    """Return the check of the air thermometer in ice."""
    found = InstrumentCheck(instrument="air_temp", method="ice", points=(("ice", 0.0, shown_c),), unit="Cel")
    return Calibrate(id=f"c{bench.now_s}", at_wall_s=bench.wall_s, check=found, sure=True)


def ph(bench: Bench, value: float, instrument: str = "meter 1") -> Ph:
    """Return a pH of a real sausage, measured now."""
    return Ph(
        id=f"p{bench.now_s}", at_wall_s=bench.wall_s, value=value, instrument=instrument, sample="sausage", sure=True
    )


def newest(bench: Bench) -> PhReading:
    return bench.batch.ph_readings[-1]


def test_a_meter_just_found_bad_ends_no_ferment() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(buffers(bench, 6.6, 3.7))
    assert "Until a good check its readings end no stage" in answer(bench)
    bench.tick(ph(bench, 4.6)).tick()
    assert "the last check found the meter bad" in answer_of_ph(bench)
    assert bench.batch.stage.name == "ferment"
    assert not bench.batch.passed_5_3
    assert bench.outcome is not None
    bench.tick(ph(bench, 4.62))
    assert bench.outcome.entries[0].note == "sample: sausage; noted only"
    bench.tick(buffers(bench, 7.01, 4.01)).tick(ph(bench, 4.7)).tick()
    assert bench.batch.stage.name == "dry"


def test_the_daily_summary_names_what_was_found_bad() -> None:
    bench = later(fermenting(), 1.0)
    bench.tick(buffers(bench, 6.6, 3.7))
    assert overdue_sentence(bench.memory, Care(), bench.wall_s) == (
        "Found bad at the last check, and not checked since: meter 1."
    )
    bench.tick(buffers(bench, 7.01, 4.01))
    assert overdue_sentence(bench.memory, Care(), bench.wall_s) == ""


def answer_of_ph(bench: Bench) -> str:
    """Ask with another reading by the same meter, and return the answer."""
    bench.tick(ph(bench, 4.61))
    return answer(bench)


def test_a_bare_meter_may_be_the_bad_one_and_another_meter_is_not() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(buffers(bench, 6.6, 3.7))
    bench.tick(ph(bench, 5.2, "meter"))
    assert not bench.batch.passed_5_3
    bench.tick(ph(bench, 5.2, "meter 2"))
    assert bench.batch.passed_5_3


def test_a_good_check_of_before_does_not_clear_a_meter_found_bad_since() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(buffers(bench, 6.6, 3.7)).tick(buffers(bench, 7.01, 4.01, ago_s=DAY_S))
    bench.tick(ph(bench, 5.2))
    assert not bench.batch.passed_5_3


def test_what_the_last_check_left_is_added_where_it_is_more_than_the_chamber_file_says() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(buffers(bench, 7.03, 4.05)).tick(ph(bench, 5.24))  # 0.066, as test_instruments reckons it.
    assert newest(bench).error == pytest.approx(0.07)
    assert not bench.batch.passed_5_3
    assert "With 0.07 for the instrument it counts as 5.31" in answer(bench)


@pytest.mark.parametrize("instrument", ["strips", "paper", "", "Meter", "my meter", "metering"])
def test_only_what_is_called_a_meter_counts(instrument: str) -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(ph(bench, 4.7, instrument)).tick()
    assert bench.batch.stage.name == "ferment"
    assert not bench.batch.passed_5_3


def test_degree_hours_allow_for_what_the_ice_found() -> None:
    bench = later(fermenting(), 1.0)
    bench.tick(ice(bench, -1.4))
    assert "counted with 1.5 K more than it shows from now on" in answer(bench)
    before_f = bench.batch.guarded_f
    later(bench, 1.0)
    assert bench.batch.guarded_f - before_f == pytest.approx((36.0 + 1.5) * 1.8 + 32.0 - 60.0, rel=0.01)
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.6, instrument="meter"))
    assert "1.5 K for the thermometer counted in" in answer(bench)


@pytest.mark.parametrize(
    "request_",
    [
        Ph(id="x", at_wall_s=0.0, value=4.7, instrument="meter", sample="sausage", sure=True),
        Weigh(id="x", at_wall_s=0.0, pieces_g={"A": 390.0}, sure=True),
        CoreTemp(id="x", at_wall_s=0.0, value_c=35.0, sure=True),
    ],
)
def test_what_is_still_to_come_cannot_have_been_measured(request_: Report) -> None:
    bench = later(fermenting(), 20.0)
    bench.leaves_days_out = False
    at_wall_s = bench.wall_s + 3600.0
    why = refused(bench, replace(request_, at_wall_s=at_wall_s))
    assert "its time lies 60 min ahead" in why
    assert any(event.startswith("refused: ") for event in bench.events)
    bench.wall_trusted = False  # Then the daemon's own clock may be the one that is wrong.
    bench.tick(replace(request_, id="y", at_wall_s=at_wall_s))
    assert bench.outcome is not None
    assert bench.outcome.answers[-1].done, answer(bench)
