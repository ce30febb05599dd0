"""A door that no contact watches is guessed from the air: never from the chamber's own mist, soon when it is opened.

No shipped chamber has a contact. What an open door does to the modelled air stands in `simulator/chamber_model.py`.
"""

import pytest

from controller.core.chamber.door import NOTHING_GIVEN, Given, see_door
from controller.core.memory import JudgeMemory
from controller.core.plan import Figures
from controller.core.values import Reading
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.watched import chamber_with, drying, fermenting

CHAMBERS = ("insulated-box", "old-fridge", "plywood-cabinet")
STRONG = Figures(mist_pct_per_s=1.0)


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


RISES = ((1000.0, 13.0, 78.0), (1030.0, 18.0, 92.0), (1060.0, 20.0, 92.0))
LAMP = Figures(heater_w=60.0, air_j_per_k=400.0)


@pytest.mark.parametrize(
    ("lamp_s", "warmest_c", "then_c", "is_open"),
    [
        (0.0, 24.0, 15.0, False),  # Shut: the walls take the warmth back,
        (0.0, 24.0, 12.2, False),  # all of it and a little more.
        (0.0, 24.0, 11.9, True),  # Colder than it was before: it has opened.
        (90.0, 24.0, 15.0, True),  # The lamp was on all the time: 60 W lift 400 J/K by 9 K in a minute.
        (0.0, 17.0, 15.0, True),  # No door makes the air warmer than the warmest room.
    ],
)
def test_air_that_warmed_without_the_lamp_and_falls_again_is_no_door_that_opens(
    lamp_s: float, warmest_c: float, then_c: float, *, is_open: bool
) -> None:
    memory = JudgeMemory()
    for now_s, temp_c, rh_pct in (*RISES, (1090.0, then_c, 80.0)):
        given = Given(lamp_s=lamp_s * (now_s - 1000.0) / 90.0)
        readings = {"rh": Reading(rh_pct, now_s), "rh_temp": Reading(temp_c, now_s)}
        seen, memory = see_door(memory, readings, now_s, now_s - 12.0, LAMP, given, warmest_c)  # type: ignore[arg-type]
        assert seen is (is_open and now_s == 1090.0)


def test_a_second_opening_soon_after_the_first_is_seen_too() -> None:
    """A box no warmer than its room may get: after the first its air warms by its walls, and that is no opening."""
    memory = JudgeMemory()
    course = ((24.0, 85.0), (24.0, 85.0), (20.0, 60.0), (23.5, 80.0), (23.8, 84.0), (23.8, 84.0), (20.0, 60.0))
    seen_at = []
    for place, (temp_c, rh_pct) in enumerate(course):
        now_s = 1000.0 + 60.0 * place
        readings = {"rh": Reading(rh_pct, now_s), "rh_temp": Reading(temp_c, now_s)}
        _, memory = see_door(memory, readings, now_s, now_s - 12.0, STRONG, NOTHING_GIVEN, 24.0)  # type: ignore[arg-type]
        if memory.door_seen_s == now_s:
            seen_at.append(place)
    assert seen_at == [2, 6]


def after(given: Given, c: float, pct: float, figures: Figures = STRONG) -> bool:
    """Say whether air that was at 34 °C and 40 % half a minute ago, and before, looks like an open door."""
    memory = JudgeMemory()
    for now_s, (temp_c, rh_pct), did in (
        (1000.0, (34.0, 40.0), NOTHING_GIVEN),
        (1030.0, (34.0, 40.0), NOTHING_GIVEN),
        (1060.0, (c, pct), given),
    ):
        readings = {"rh": Reading(rh_pct, now_s), "rh_temp": Reading(temp_c, now_s)}
        is_open, memory = see_door(memory, readings, now_s, now_s - 12.0, figures, did, 24.0)  # type: ignore[arg-type]
    return is_open


@pytest.mark.parametrize(
    ("given", "c", "pct", "is_open"),
    [
        (Given(20.0), 31.0, 55.0, False),  # A puff: colder, moister, and more vapour than before.
        (NOTHING_GIVEN, 31.0, 55.0, True),  # The same without a puff.
        (Given(20.0), 31.0, 36.0, True),  # A puff does not dry the air.
        (Given(20.0), 27.0, 41.0, True),  # It is moister in per cent only: vapour has left.
        (Given(5.0), 31.0, 55.0, True),  # 5 % of mist cool by 1.8 K at most.
        (NOTHING_GIVEN, 33.6, 31.0, True),  # A fifth of the vapour has left, and it is colder.
        (Given(0.0, dries=True), 33.6, 31.0, False),  # But a cold plate does that too.
        (NOTHING_GIVEN, 33.8, 31.0, False),
        (NOTHING_GIVEN, 33.6, 33.5, False),
    ],
)
def test_mist_and_a_cold_plate_explain_what_they_can_do_and_no_more(
    given: Given, c: float, pct: float, *, is_open: bool
) -> None:
    assert after(given, c, pct) is is_open
