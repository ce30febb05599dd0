"""A story whose beginning was told for another one too goes on to the last bit as one that was told from its begin."""

import pytest

from controller.core.values import Role
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.lively_air import hung
from tests.helpers.watched import fermenting

HOURS = 1.25


def of_its_own(*faults: str) -> ChamberStory:
    """Return the same hours as `fermenting`, told for this one alone, with its faults ordered at the begin."""
    story = ChamberStory("insulated-box", "mild", faults=faults).start().run_for(minutes=45).hang()
    return story.run_for(seconds=HOURS * 3600.0 - 60.0 - story.world.elapsed_s).run_for(minutes=1)


def left(story: ChamberStory) -> tuple[object, ...]:
    """Return all that a test can look at."""
    world = story.world
    true = (world.true_air_temp_c, world.true_rh_pct, world.true_meat_temp_c, world.core_temp_c, world.elapsed_s)
    told = (story.outcomes, story.book.events, story.book.answers, story.memory, story.book.memory)
    return (
        *true,
        *told,
        world.lamp_edges,
        world.relays.closings,
        {key: vars(one) for key, one in story.truth.stages.items()},
    )


@pytest.mark.parametrize(
    "faults",
    [
        (),
        ("missing@75m/5m",),
        ("frozen:rh_temp@76m", "door-open@80m/3m"),
        ("relay-welded@75m/20m", "loop-late@90m/25s"),
        ("power-cut@78m/4m", "clock-lost@82m"),
        ("clock-step:+3h@80m", "stranger@85m"),
    ],
)
def test_a_copied_beginning_goes_on_as_one_of_its_own(faults: tuple[str, ...]) -> None:
    copied = fermenting("insulated-box", *faults, hours=HOURS)
    alone = of_its_own(*faults)
    for story in (copied, alone):
        story.run_for(hours=1)
    assert left(copied) == left(alone)
    assert copied.world.lamp_edges, "something must have happened"


def test_who_goes_on_with_a_copy_leaves_the_others_as_they_were() -> None:
    before = left(fermenting("insulated-box", hours=HOURS))
    story = fermenting("insulated-box", "jump@75m", hours=HOURS).run_for(hours=1)
    assert left(story) != before
    assert left(fermenting("insulated-box", hours=HOURS)) == before


@pytest.mark.parametrize("order", ["missing@1h", "missing@75m"])
def test_a_fault_that_has_begun_before_is_not_ordered_afterwards(order: str) -> None:
    with pytest.raises(AssertionError, match="begun already"):
        fermenting("insulated-box", hours=HOURS).befall(order)


def test_air_that_is_copied_goes_on_as_air_of_its_own() -> None:
    first, second = hung().go(30, c=10.0), hung().go(30, c=10.0)
    assert first.memory == second.memory
    assert first.events == second.events
    role: Role = "heater"
    assert first.heat_on == second.heat_on == (role in (first.outcome.commands.on_until_s if first.outcome else {}))
