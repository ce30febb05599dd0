"""How warm the chamber has been lately, as a checkpoint holds it for the case that the power fails."""

from math import inf

import pytest
from msgspec.structs import replace

from controller.core.memory import OutputMemory
from controller.core.outage.warmth import BREAK_S, Warmth, carried_over, follow
from controller.core.values import Known, Role
from tests.helpers.outages import hung, waiting

POWERS = (60.0, 150.0)


def followed(
    seconds: float,
    air: float | None = 36.0,
    *,
    begin: Warmth | None = None,
    duty: float = 0.25,
    window_s: float = 60.0,
    meat: str = "",
    **more: float,
) -> Warmth:
    """Follow a chamber whose lamp is on for its share of each window, asked every 5 s."""
    warmth = begin or Warmth()
    now_s = 0.0 if begin is None else begin.at_s
    until_s, on = now_s + seconds, {"heater": 0.0, "humidifier": 0.0, "cooler": 0.0}
    if begin is not None:
        on["heater"], on["humidifier"], _ = begin.totals_s
    while now_s < until_s:
        now_s += 5.0
        on["heater"] += 5.0 if (now_s % window_s) < duty * window_s else 0.0
        on["humidifier"] += 5.0 * more.get("mist", 0.0)
        on["cooler"] += 5.0 * more.get("cold", 0.0)
        outputs: dict[Role, OutputMemory] = {
            role: OutputMemory(on_total_s=on[role]) for role in ("heater", "humidifier", "cooler")
        }
        known = Known(air_temp_c=air, core_temp_c=more.get("core"), ambient_temp_c=more.get("room"))
        warmth = follow(warmth, known, outputs, POWERS, meat, now_s, hung_c=more.get("hung_c", 25.0))
    return warmth


@pytest.mark.parametrize("window_s", [60.0, 300.0])
@pytest.mark.parametrize("duty", [0.25, 0.5, 1.0])
def test_the_lamps_power_is_its_mean_whatever_its_rhythm(window_s: float, duty: float) -> None:
    warmth = followed(6 * 3600.0, duty=duty, window_s=window_s)
    assert warmth.hour_w == pytest.approx(60.0 * duty, rel=0.05)
    assert warmth.heat_w == pytest.approx(60.0 * duty, rel=0.15)


def test_a_lamp_that_went_out_is_forgotten_within_the_hour() -> None:
    warmth = followed(3600.0, begin=followed(2 * 3600.0), duty=0.0)
    assert warmth.heat_w < 0.05 * 15.0
    assert warmth.hour_w < 0.45 * 15.0


def test_mist_takes_the_heat_of_its_evaporation_and_what_cools_is_told_as_a_share_of_time() -> None:
    warmth = followed(6 * 3600.0, mist=0.1, cold=0.5)
    assert warmth.mist_w == pytest.approx(0.1 * 150.0 * 2470.0 / 3600.0, rel=0.05)
    assert warmth.moved == pytest.approx(0.5, rel=0.05)


def test_the_highest_and_lowest_of_late_are_kept_for_about_an_hour() -> None:
    warmth = followed(60.0, 37.0, begin=followed(3600.0))
    assert warmth.high_c == 37.0
    later = followed(2 * 3600.0, 36.0, begin=warmth)
    assert 36.0 < later.high_c < 36.2
    assert later.air_c == pytest.approx(36.0, abs=0.01)


def test_a_break_begins_the_means_anew_and_a_short_silence_does_not() -> None:
    warmth = followed(3600.0)
    silent = followed(BREAK_S - 30.0, None, begin=warmth)
    assert silent is warmth
    assert followed(30.0, 36.0, begin=warmth).since_s == warmth.since_s
    late = replace(warmth, at_s=warmth.at_s - 2 * BREAK_S)
    known = Known(air_temp_c=30.0)
    outputs: dict[Role, OutputMemory] = {}
    begun = follow(late, known, outputs, POWERS, "", warmth.at_s)
    assert begun.since_s == warmth.at_s
    assert (begun.air_c, begun.hour_c, begun.heat_w) == (30.0, 30.0, 0.0)


def test_fresh_meat_may_be_as_cold_as_a_fridge_and_comes_to_the_air_within_hours() -> None:
    warmth = followed(60.0, begin=followed(3600.0), meat="b:chamber")
    assert (round(warmth.meat_low_c), round(warmth.meat_high_c)) == (0, 36)
    later = followed(18 * 3600.0, begin=warmth, meat="b:chamber")
    assert later.meat_low_c > 33.5
    smoked = followed(60.0, 12.0, begin=followed(3600.0, 12.0), meat="b:chamber", hung_c=80.0)
    assert smoked.meat_high_c > 75.0  # It may come from a smoker.


def test_where_warm_meat_has_hung_the_next_to_lead_takes_nothing_from_how_warm_some_of_it_may_be() -> None:
    warm = followed(3600.0, 36.0, meat="a:chamber")
    cooled = followed(1800.0, 20.0, begin=warm, meat="a:chamber")
    assert followed(60.0, 20.0, begin=cooled, meat="b:chamber").meat_high_c > 33.0
    assert followed(60.0, 20.0, begin=followed(60.0, 20.0, begin=cooled), meat="b:chamber").meat_high_c < 26.0


def test_a_restart_keeps_of_it_only_between_which_temperatures_the_meat_lies() -> None:
    kept = carried_over(followed(3600.0, meat="b:chamber"), (10.0, 40.0))
    assert kept.air_c is None
    assert kept.at_s == -inf
    assert kept.meat_low_c <= 10.0
    assert kept.meat_high_c >= 40.0


def test_the_daemon_follows_the_meat_that_leads() -> None:
    assert waiting().memory.warmth.meat == ""
    story = hung()
    assert story.memory.warmth.meat == "b:chamber"
    assert story.memory.warmth.air_c == pytest.approx(36.0)
    assert story.memory.warmth.followed_s() > 3600.0
