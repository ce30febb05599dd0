"""The shelf of profiles, each run to its end on a chamber that can do it, by the modelled maker.

Thin sausage and little of it, and a tick of eight seconds: what is asked is whether every stage ends as the profile
says and nobody is refused, not how long thick sausage takes. Tangy and mild go through by hand in `test_by_hand`.
"""

import pytest
from msgspec.structs import replace

from controller.core.memory import Batch
from controller.core.requests import Hang, Ph, Start
from controller.food.degree_hours import CANADA, US, verdict
from controller.settings.profile_file import find_profile, read_profile
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.shipped_chambers import shipped_chamber

MEAT_KG = 2.0
THIN_MM = 26.0
LONGEST_DAYS = 30


def run_to_the_end(profile: str, loss_pct: float | None = None) -> tuple[ChamberStory, Batch]:
    """Run one batch until it is complete; every stage has ended as the profile says, and nothing was refused."""
    fridge = replace(shipped_chamber("old-fridge"), tick_s=8.0)
    story = ChamberStory(profile=profile, changed=fridge, maker=True)
    if loss_pct is not None:
        *before, last = story.profile.stages
        last = replace(last, until=replace(last.until, weight_loss_pct=loss_pct))
        story.profile = replace(story.profile, stages=(*before, last))
    story.ask(Start(id="start", batch="story", profile=story.profile, meat_kg=MEAT_KG, diameter_mm=THIN_MM))
    while not story.memory.batches or story.batch.state != "complete":
        story.run_for(hours=6)
        assert story.world.elapsed_s < LONGEST_DAYS * 86_400.0, f"{profile} does not end: {story.batch.stage.name}"
    batch = story.batch
    card = read_profile(find_profile(profile))
    assert [(end.name, end.by) for end in batch.ended] == [
        (stage.name, "hang" if stage.kind == "warm-up" else "until") for stage in card.stages
    ]
    assert [answer.text for answer in story.book.answers if not answer.done] == []
    return story, batch


def assert_soured_in_time(batch: Batch) -> None:
    highest_c = batch.highest_air_c or 0.0
    assert batch.passed_5_3
    assert verdict(US, batch.guarded_f, highest_c) == "within"
    assert verdict(CANADA, batch.guarded_c, highest_c) == "within"
    last = batch.ph_readings[-1]
    assert last.from_sausage
    at_most = next(stage.until.ph_at_most for stage in batch.profile.stages if stage.kind == "ferment")
    assert at_most is not None
    assert last.value + last.error <= at_most


@pytest.mark.long
def test_the_slow_cool_one_sours_in_days_dries_to_38_pct_under_mould_and_evens_out_sealed() -> None:
    _, batch = run_to_the_end("slow-cool")
    assert_soured_in_time(batch)
    ferment = next(end for end in batch.ended if end.name == "ferment")
    assert 2.0 <= (ferment.ended_wall_s - ferment.began_wall_s) / 86_400.0 <= 7.0
    assert (batch.weight_loss_pct or 0.0) >= 38.0
    sealed = next(end for end in batch.ended if end.name == "equalise")
    assert sealed.ended_wall_s - sealed.began_wall_s >= 72 * 3600.0


@pytest.mark.parametrize("loss_pct", [6.0, pytest.param(15.0, marks=pytest.mark.long)])
def test_the_cooked_semi_dry_one_sours_cooks_chills_and_dries_a_little(loss_pct: float) -> None:
    """Takes seconds; to the 15 % of the profile, days more."""
    story, batch = run_to_the_end("cooked-semi-dry", loss_pct)
    assert_soured_in_time(batch)
    assert (batch.weight_loss_pct or 0.0) >= loss_pct
    cooked = [text for text in (answer.text for answer in story.book.answers) if "of 6.5 log" in text]
    assert "6.5 of 6.5 log" in cooked[-1]
    chilled = [text for text in (answer.text for answer in story.book.answers) if "Chill, slow, with nitrite" in text]
    assert "through every window in time" in chilled[-1]


@pytest.mark.long
def test_what_was_fermented_elsewhere_shows_its_ph_and_then_dries_only() -> None:
    _, batch = run_to_the_end("dry-only")
    arrival = batch.ph_readings[-1]  # The first one, of a wrapped sample, was asked again in the sausage itself.
    assert arrival.from_sausage
    assert arrival.value + arrival.error <= 5.3
    assert arrival.at_wall_s <= batch.ended[0].ended_wall_s
    assert max(batch.degree_hours_f, batch.degree_hours_c) < 2.0  # The room's air, until the box had cooled.
    assert (batch.weight_loss_pct or 0.0) >= 35.0


@pytest.mark.parametrize("ph", ["5.4", "5.27"])
def test_what_arrives_without_its_acid_is_not_dried(ph: str) -> None:

    story = ChamberStory("old-fridge", "dry-only").start().run_for(minutes=2)
    story.ask(Hang(id="hang", pieces_g={"A": 400.0})).run_for(minutes=1)
    story.ask(Ph(id="ph", at_wall_s=story.world.clock.wall_s(), value=float(ph), instrument="meter"))
    story.run_for(hours=2)
    assert story.batch.stage.name == "arrival"
