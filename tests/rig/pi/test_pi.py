"""A Raspberry Pi 3B with the kernel's real pin controller: what a killed daemon leaves, and what the program takes.

Each test boots the guest and takes some minutes: `pytest -m rig tests/rig/pi`.
"""

import pytest

from tests.rig.pi.__main__ import off_s
from tests.rig.pi.guest import Story, tell
from tests.rig.pi.image import why_no_pi

pytestmark = pytest.mark.rig
GOAL_KB = 45 * 1024
SLOW_GUEST_S = 3.0


def told(story: str, *, persist: bool) -> Story:
    if why_not := why_no_pi():
        pytest.skip(f"NO RASPBERRY PI GUEST: {why_not}")
    return tell(story, persist=persist)


def test_where_released_outputs_stay_driven_a_killed_daemon_leaves_the_lamp_on_until_the_safe_off_ends_it() -> None:
    runs = [one for one in told("killed", persist=True).told if "run" in one]
    assert len(runs) == 5
    assert {run["after_kill"] for run in runs} == {"gpio_out in hi"}
    assert runs[0]["ten_seconds_later"] == "gpio_out in hi"  # Nothing else ends it.
    for run in runs:
        assert run["safe_off_code"] == 0
        assert run["at_the_end"] == "gpio_out in lo"
    ends_s = [at_s for run in runs[1:] if (at_s := off_s(run)) is not None]
    assert len(ends_s) == 4
    assert max(ends_s) < SLOW_GUEST_S


def test_where_released_outputs_become_inputs_a_killed_daemon_ends_the_lamp_at_once() -> None:
    runs = [one for one in told("killed", persist=False).told if "run" in one]
    assert len(runs) == 5
    assert all(run["after_kill"].startswith("gpio_in") for run in runs)


def test_the_first_hour_of_a_ferment_fits_into_a_small_board() -> None:
    end = told("hour", persist=True).told[-1]
    assert end["stopped"] == 0
    assert end["climate_rows"] >= 60
    assert end["minutes_with_lamp"] >= 15
    assert end["largest_kb"]["group_peak"] < GOAL_KB
    assert end["pin"] == "gpio_out in lo"
