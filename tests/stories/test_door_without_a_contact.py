"""A door that no contact watches is guessed from the air: never from the chamber's own mist, soon when it is opened.

No shipped chamber has a contact. What an open door does to the modelled air stands in `simulator/chamber_model.py`.
"""

import pytest

from tests.helpers.chamber_story import ChamberStory
from tests.helpers.watched import chamber_with, drying, fermenting

CHAMBERS = ("insulated-box", "old-fridge", "plywood-cabinet")


def told(story: ChamberStory) -> list[tuple[float, str]]:
    """Return what was told of the door, and how many minutes after the begin."""
    return [(at_s / 60.0, event.text) for at_s, event in story.book.events if event.kind == "door"]


@pytest.mark.fault_row("P1")
@pytest.mark.parametrize(
    "chamber", ["insulated-box", *(pytest.param(name, marks=pytest.mark.long) for name in CHAMBERS[1:])]
)
def test_no_puff_of_the_own_humidifier_is_taken_for_a_door(chamber: str) -> None:
    """The warm-up begins with dry air, in which mist cools most."""
    story = ChamberStory(chamber, "tangy").start().run_for(minutes=75)
    assert story.memory.outputs["humidifier"].on_total_s > 20.0, "there were puffs"
    assert told(story) == []
    story.hang().run_for(hours=24)
    assert [at_min for at_min, _ in told(story) if not 75.0 < at_min < 80.0] == [], "only the lid, when it was hung"


@pytest.mark.fault_row("P1")
@pytest.mark.parametrize(
    ("chamber", "profile"),
    [
        ("insulated-box", "tangy"),
        ("old-fridge", "mild"),
        ("plywood-cabinet", "tangy"),
        pytest.param("insulated-box", "mild", marks=pytest.mark.long),
        pytest.param("old-fridge", "tangy", marks=pytest.mark.long),
        pytest.param("plywood-cabinet", "mild", marks=pytest.mark.long),
    ],
)
def test_each_opening_in_a_ferment_is_told_within_two_minutes(chamber: str, profile: str) -> None:
    openings = {300.0: 3, 347.3: 10, 394.4: 3, 441.7: 3, 488.2: 10}  # Some of them in the midst of a puff.
    faults = [f"door-open@{at}m/{lasts}m" for at, lasts in openings.items()]
    story = fermenting(chamber_with(chamber), *faults, profile=profile, hours=8.5)
    opened = [at_min for at_min, text in told(story) if text == "The door seems to be open." and at_min > 299.0]
    assert len(opened) == len(openings)
    for (at_min, _), told_min in zip(openings.items(), opened, strict=True):
        assert 0.0 < told_min - at_min <= 2.0
    assert not any("is shut after" in text for _, text in told(story)), "nobody can know that without a contact"


@pytest.mark.fault_row("P4")
def test_a_door_forgotten_open_at_a_full_fridge_calls_within_an_hour_and_a_half() -> None:
    """The meat is slow to show whether the lamp does anything: nobody waits for that longer than three quarters."""
    story = fermenting(chamber_with("old-fridge"), "door-open@6h/2h", profile="tangy", hours=5.9).run_for(hours=2)
    called = [at_s for at_s, event in story.book.events if event.kind == "alarm" and at_s > 6 * 3600.0]
    assert called
    assert called[0] - 6 * 3600.0 <= 90 * 60.0


@pytest.mark.fault_row("P1")
def test_a_door_of_a_drying_box_that_is_shut_again_is_not_taken_for_one_that_opens() -> None:
    """Its air gets warmer while the door is open, and colder when it is shut; the compressor may go on at once."""
    story = drying(chamber_with("old-fridge"), "door-open@6h/1m", hours=5.99, ambient_c=32.0)
    for _ in range(60):
        story.run_for(seconds=5.0)
        assert story.memory.judge.door_seen_s < 0.1 * 3600.0, "that was when the meat was hung"
    assert story.memory.judge.rose_s > float("-inf"), "it was seen to warm"
