"""Whole ferments by the production daemon on the modelled chamber, with the modelled maker: five seeds each.

What has to come out is what the two styles are known for: fast and warm, 36 °C, to pH 4.8 in 24 to 36 h; slow and mild,
24 °C, to pH 5.3 in 36 to 72 h and inside the degree-hours (common practice, no source; the degree-hour limits are
those of `controller.food.degree_hours`). How well the climate is held is counted from the first arrival after hanging.
"""

from dataclasses import dataclass

import pytest

from controller.core.fault_table import ROWS
from controller.food.degree_hours import CANADA, US, verdict
from controller.simulator.truth import StageTruth
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.second_plant import SecondPlant

SEEDS = (0, *(pytest.param(seed, marks=pytest.mark.long) for seed in (1, 2, 3, 4)))
IN_THE_BOX, IN_THE_FRIDGE = (pytest.param(name, marks=pytest.mark.long) for name in ("insulated-box", "old-fridge"))
"""Each style goes through in one of them every time; in the other one, and with other seeds, in the long tests."""
EARLY_WARNING = ("P9", "2")
"""70 % of the degree-hours: at 36 °C that is 19 h, and a reading that counts as 5.3 comes about then."""


@dataclass(frozen=True)
class Ferment:
    """Hold how a ferment went."""

    hours_to_5_3: float
    hours_to_end: float
    within_f: str
    within_c: str
    climate: StageTruth
    alarms: tuple[str, ...]


def ferment(profile: str, chamber: str, seed: int, *, second: bool = False) -> Ferment:
    """Run one ferment to its end."""
    story = ChamberStory(chamber, profile, seed=seed, maker=True, plant=SecondPlant if second else None).start()
    while not story.memory.batches or story.batch.stage.kind in {"warm-up", "ferment"}:
        story.run_for(hours=4)
        assert story.world.elapsed_s < 100 * 3600.0, "the ferment does not end"
    batch = story.batch
    hung_s = batch.hung_wall_s or 0.0
    reached = next(wall_s for wall_s, value in batch.ph if value <= 5.3)
    ended = next(end for end in batch.ended if end.name == "ferment")
    assert ended.by == "until"
    return Ferment(
        hours_to_5_3=(reached - hung_s) / 3600.0,
        hours_to_end=(ended.ended_wall_s - hung_s) / 3600.0,
        within_f=verdict(US, batch.degree_hours_f, batch.highest_air_c or 0.0),
        within_c=verdict(CANADA, batch.degree_hours_c, batch.highest_air_c or 0.0),
        climate=next(account for account in story.truth.stages.values() if account.kind == "ferment"),
        alarms=tuple(
            event.id.rsplit("-", 1)[0]
            for _, event in story.book.events
            if event.kind == "alarm" and (event.id.rsplit("-", 1)[0], event.priority) != EARLY_WARNING
        ),
    )


def assert_held(result: Ferment) -> None:
    """Assert what every ferment has to keep: climate, degree-hours, and no alarm without a fault."""
    climate = result.climate
    assert climate.within_pct >= 95.0
    assert climate.overshoot_k <= 0.5
    assert climate.rh_below <= 0.05 * climate.rh_minutes, "the humidifier can reach this humidity"
    assert (result.within_f, result.within_c) == ("within", "within")
    assert result.alarms == (), [ROWS[row].title for row in result.alarms]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("chamber", ["insulated-box", IN_THE_FRIDGE])
def test_the_fast_style_reaches_4_8_in_24_to_36_hours_in_a_well_held_climate(chamber: str, seed: int) -> None:
    result = ferment("tangy", chamber, seed)
    assert 24.0 <= result.hours_to_end <= 36.0
    assert_held(result)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("chamber", [IN_THE_BOX, "old-fridge"])
def test_the_mild_style_reaches_5_3_in_36_to_72_hours_in_a_well_held_climate(chamber: str, seed: int) -> None:
    result = ferment("mild", chamber, seed)
    assert 36.0 <= result.hours_to_5_3 <= 72.0
    assert_held(result)


@pytest.mark.parametrize("chamber", ["insulated-box", IN_THE_FRIDGE])
def test_the_same_controller_holds_a_plant_of_other_equations(chamber: str) -> None:
    climate = ferment("tangy", chamber, 0, second=True).climate
    assert climate.within_pct >= 95.0
    assert climate.overshoot_k <= 0.5
