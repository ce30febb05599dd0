"""Each cause that ends the heat, once: the lamp is out in time, and stays out as long as the cause lasts."""

import pytest

from tests.rig.guest_chamber import Chamber, off_after
from tests.rig.scenarios import BUS, HEAT_ENDS, Scenario
from tests.rig.table import measure

pytestmark = pytest.mark.rig


def test_without_a_cause_the_lamp_burns_on(chamber: Chamber) -> None:
    since_s = chamber.guest.now_s()
    chamber.pass_(60.0)
    changes = chamber.changes("heater", chamber.trace())
    assert chamber.is_on()
    assert not [change for change in changes if change.at_s > since_s], "else no end of it could be put down to a cause"


IN_SLICE = ("air probe: checksum fails", "daemon: kill -9", "daemon: SIGTERM")


@pytest.mark.parametrize(
    "scenario",
    [pytest.param(one, id=one.name, marks=[pytest.mark.rig_slice] * (one.name in IN_SLICE)) for one in HEAT_ENDS],
)
def test_the_lamp_is_out_in_time(chamber: Chamber, scenario: Scenario) -> None:
    measured = measure(chamber, scenario)
    assert measured.off_s is not None, chamber.journal()
    assert measured.off_s <= scenario.within_s
    if scenario.kills:
        assert measured.safe_off_s is not None, "the switching-off after the service's end must have driven the line"
        assert measured.safe_off_s <= scenario.within_s


@pytest.mark.parametrize("scenario", BUS, ids=lambda scenario: scenario.name)
def test_a_lost_humidity_sensor_ends_the_mist_and_is_told(chamber: Chamber, scenario: Scenario) -> None:
    scenario.cause(chamber)
    chamber.pass_(scenario.watch_s)
    trace, until_s = chamber.trace(), chamber.guest.now_s()
    late_s = trace.at("cause") + scenario.within_s
    mist = [change for change in chamber.changes("humidifier", trace) if change.level and change.at_s > late_s]
    assert not mist
    assert until_s > late_s
    assert "humidity" in chamber.status().lower()


def test_heat_comes_back_when_the_probe_does(chamber: Chamber) -> None:
    chamber.set(w1_badcrc=1).pass_(20.0)
    assert not chamber.is_on()
    chamber.mend().wait_for_heat(within_s=90.0)
    cause_s = (trace := chamber.trace()).at("cause")
    assert off_after(chamber.changes("heater", trace), cause_s, until_s=chamber.guest.now_s()) is not None


@pytest.mark.xfail(strict=True, reason="a program that cannot die keeps its lines; only cut-out or reset end that heat")
def test_a_read_that_nothing_can_end_does_not_keep_the_lamp_of_a_killed_program(chamber: Chamber) -> None:
    chamber.set(i2c_hang=2).pass_(4.0)  # A driver that waits without end and heeds no signal.
    chamber.signal(9).pass_(100.0)
    assert not chamber.is_on()
