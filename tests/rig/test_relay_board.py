"""The relay board: no pulse at start, restart, stop or crash, by the kernel's trace of every edge; the right chip."""

import signal
from typing import Literal

import pytest

from tests.rig.guest_chamber import PINS, Chamber, off_after
from tests.rig.guest_maker import describe_chamber

pytestmark = pytest.mark.rig

Active = Literal["high", "low"]


def change_board(chamber: Chamber, active: Active) -> Chamber:
    """Stop the program, put in another board with its resistors, describe it, and mark the trace."""
    chamber.guest.sh("systemctl stop hangroom")
    describe_chamber(chamber.guest, active=active)
    chamber.active = active
    pull = "pull-up" if active == "low" else "pull-down"
    for pin in PINS.values():
        chamber.guest.sh(
            f"for f in /sys/devices/platform/gpio-sim.*/gpiochip*/sim_gpio{pin}/pull; do echo {pull} > $f; done"
        )
    chamber.guest.do(["mark", "board"])
    return chamber


def energised(chamber: Chamber, since: str, before_s: float = 1e9) -> list[float]:
    """Return after how many seconds since a mark a relay was energised."""
    trace = chamber.trace()
    since_s = trace.at(since)
    changes = [change for role in PINS for change in chamber.changes(role, trace)]
    return [change.at_s - since_s for change in changes if change.level and 0 < change.at_s - since_s < before_s]


@pytest.mark.parametrize("active", ["high", "low"])
def test_no_pulse_at_start_restart_crash_and_stop(chamber: Chamber, active: Active) -> None:
    change_board(chamber, active)
    chamber.cause("systemctl start hangroom").wait_for_heat(within_s=120.0)
    assert min(energised(chamber, "cause")) > 25.0, "heat waits for three good readings and 30 s; before, no pulse"

    chamber.cause("systemctl restart hangroom").pass_(25.0)
    assert not energised(chamber, "cause")
    chamber.wait_for_heat(within_s=120.0)

    chamber.signal(signal.SIGKILL).pass_(25.0)
    assert not energised(chamber, "cause")
    chamber.wait_for_heat(within_s=120.0)

    chamber.cause("systemctl stop hangroom").pass_(25.0)
    trace = chamber.trace()
    assert not energised(chamber, "cause")
    assert off_after(chamber.changes("heater", trace), trace.at("cause"), until_s=chamber.guest.now_s()) is not None
    assert not chamber.is_on("heater")
    assert not chamber.is_on("humidifier")


def test_the_header_is_found_by_its_label_whatever_its_number(chamber: Chamber) -> None:
    assert "gpiochip0 [pinctrl-bcm2711]" in chamber.guest.sh("gpiodetect")
    chamber.reboot(words="rig.chips=swapped")
    assert "gpiochip1 [pinctrl-bcm2711]" in chamber.guest.sh("gpiodetect")
    chamber.wait_for_heat()
    assert chamber.trace().driven[PINS["heater"]][-1][1:] == (1, "hangroom")
    other = chamber.guest.sh("cat /sys/kernel/debug/gpio").partition("other-expander")[2].partition("gpiochip")[0]
    assert "hangroom" not in other
