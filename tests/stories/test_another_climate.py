"""A person sets another climate on the modelled chamber: the air follows, a power cut does not forget it."""

from msgspec.structs import replace

from controller.core.plan import Stage, Until
from controller.core.requests import Adjust
from tests.helpers.chamber_story import ChamberStory

REST = Stage(
    name="rest", kind="rest", air_temp_c=25.0, until=Until(confirm=True)
)  # fmt: skip


def test_the_air_follows_what_was_set_and_a_power_cut_does_not_forget_it() -> None:
    story = ChamberStory("insulated-box", faults=("power-cut@150m/10m",))
    story.profile = replace(story.profile, stages=(REST,))
    story.start().run_for(minutes=60)
    assert abs(story.outcomes[-1][1].known.air_temp_c - 25.0) < 0.5  # type: ignore[operator]
    story.ask(Adjust(id="set", air_temp_c=30.0, because="a trial", sure=True)).run_for(minutes=80)
    assert abs(story.outcomes[-1][1].known.air_temp_c - 30.0) < 0.5  # type: ignore[operator]
    story.run_for(minutes=60)
    assert any(event.kind == "gap" for _, event in story.book.events)
    assert story.outcomes[-1][1].wanted.air_temp_c == 30.0
    assert abs(story.outcomes[-1][1].known.air_temp_c - 30.0) < 0.5  # type: ignore[operator]
    assert story.batch.profile.stages == (REST,)
