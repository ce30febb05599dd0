"""Cuts of simulated chambers: the bound is never below the truth, and a flicker is no long cut."""

from functools import cache

import pytest
from msgspec.structs import replace

from controller.simulator.chamber_model import ChamberModel
from tests.helpers.chamber_story import SELDOM_S, ChamberStory
from tests.helpers.cuts import LENGTHS_S, Scene, cuts_of
from tests.helpers.second_plant import SecondPlant
from tests.helpers.shipped_chambers import shipped_chamber

HOUR_S = 3600.0


@pytest.mark.parametrize(
    ("seed", "plant"), [pytest.param(9, ChamberModel, marks=pytest.mark.long), (15, ChamberModel), (22, SecondPlant)]
)
def test_no_bound_is_below_the_truth(seed: int, plant: type[ChamberModel]) -> None:
    """Takes seconds: hours of a chamber before the cut, half a day after it. `tests.bench.cuts` does it at large."""
    cuts = list(cuts_of(Scene.drawn(seed), LENGTHS_S[:9], plant))
    assert any(cut.bound_s is not None for cut in cuts)
    for cut in cuts:
        assert cut.bound_s is None or cut.bound_s >= cut.true_s, cut


def in_cellar(chamber: str, profile: str, *faults: str) -> ChamberStory:
    """Return a ferment of eight hours in a cellar of 12 °C, on a computer without a clock battery or network."""
    return before_the_cut(chamber, profile).once_more().befall(*faults, "clock-lost@9h")


@cache
def before_the_cut(chamber: str, profile: str) -> ChamberStory:
    file = replace(shipped_chamber(chamber), room_temp_c=(10.0, 14.0), tick_s=SELDOM_S)
    story = ChamberStory(chamber, profile, changed=file, ambient_c=12.0)
    return story.start().run_for(hours=1.0).hang().run_for(hours=7.99)


def gaps(story: ChamberStory) -> list[str]:
    return [event.text for _, event in story.book.events if event.kind == "gap"]


@pytest.mark.parametrize(("chamber", "profile"), [("insulated-box", "tangy"), ("old-fridge", "mild")])
def test_a_ten_second_flicker_in_a_cellar_goes_on_by_itself(chamber: str, profile: str) -> None:
    """Takes a second: a ferment of eight hours comes before it."""
    story = in_cellar(chamber, profile, "power-cut@9h/10s").run_for(minutes=10)
    assert story.state == "running"
    assert "C16" not in story.rows
    minutes = float(gaps(story)[-1].split("up to ")[1].split(" min")[0])
    assert minutes <= 12.0
    assert story.burns_between(9 * HOUR_S + 90.0, 9 * HOUR_S + 600.0) > 30.0


def test_four_hours_without_power_and_clock_wait_for_a_person_and_are_not_called_short() -> None:
    story = in_cellar("insulated-box", "tangy", "power-cut@9h/4h").run_for(hours=4.5)
    assert story.state == "held"
    assert "C16" in story.rows
    assert story.burns_between(9 * HOUR_S + 1.0, 14 * HOUR_S) == 0.0
