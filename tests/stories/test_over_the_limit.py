"""A starter that does nothing: the degree-hours run out, and the lamp goes dark before anybody has to think of it."""

from msgspec.structs import replace

from controller.core.batch.margin import OVER, margins
from controller.core.concerns import OVER_FIRST
from controller.core.plan import Profile
from controller.core.requests import Resume
from controller.settings.profile_file import find_profile, read_profile
from tests.helpers.chamber_story import ChamberStory


def without_starter() -> Profile:
    """Return the tangy profile with no sugar that could sour the meat."""
    profile = read_profile(find_profile("tangy"))
    return replace(profile, per_kg=replace(profile.per_kg, dextrose_pct=0.0), stages=profile.stages[:2])


def test_a_ferment_over_its_degree_hours_is_dark_and_stays_so_until_a_person_decides() -> None:
    story = ChamberStory(stages=without_starter()).start().run_for(hours=1).hang().run_for(hours=28)
    batch = story.batch
    assert (batch.state, batch.stage.name) == ("held", "ferment")
    assert OVER in batch.held_because
    held_s = next(at_s for at_s, event in story.book.events if event.kind == "state" and OVER in event.text)
    assert story.burns_between(held_s + 15.0, story.world.elapsed_s) == 0.0
    assert story.burns_between(held_s - 3600.0, held_s) > 60.0
    called = [event for _, event in story.book.events if event.kind in {"alarm", "alarm again"} and event.id == "P9-1"]
    assert list(dict.fromkeys(event.priority for event in called)) == ["2", "1"]
    assert OVER_FIRST in called[-1].text
    assert "Measure the pH" not in called[-1].text
    # By hand: 36 °C is 20.4 K over 15.6 °C, 0.5 K more for the thermometer, against 555 °C·h: some 26.6 h.
    assert 26.0 < (held_s / 3600.0 - 1.0) < 27.5
    assert any(margin.over for margin in margins(batch, 0.5))
    story.ask(Resume(id="r1")).run_for(minutes=5)
    assert story.batch.state == "held"
    story.ask(Resume(id="r2", because="the laboratory found nothing")).run_for(minutes=20)
    assert story.batch.state == "running"
    assert story.burns_between(story.world.elapsed_s - 900.0, story.world.elapsed_s) > 0.0
