"""What the guess of a door makes of air that warms, that falls, and that mist cools; one look after the other."""

from collections.abc import Iterable

import pytest
from msgspec.structs import replace

from controller.core.chamber.door import NOTHING_GIVEN, Given, given, see_door
from controller.core.chamber.judge import judge
from controller.core.chamber.known import HOTTEST_BELIEVED_C
from controller.core.learn.memory import Learning
from controller.core.memory import JudgeMemory, Memory, OutputMemory
from controller.core.plan import Figures
from controller.core.values import Channel, Reading, Role
from tests.helpers.bench_chamber import CHAMBER

STRONG = Figures(mist_pct_per_s=1.0)
LAMP = Figures(heater_w=80.0, air_j_per_k=600.0)
"""It explains 0.2 K a second: half as much again as 80 W in 600 J/K."""

Look = tuple[float, float, float, Given]
"""When, °C, %RH, and what the chamber did up to then."""


def looks(course: Iterable[Look], figures: Figures = STRONG, warmest_c: float = 24.0) -> tuple[list[bool], JudgeMemory]:
    """Return of each look whether the door is open, and what is remembered after the last."""
    memory, seen = JudgeMemory(), []
    for now_s, temp_c, rh_pct, did in course:
        readings: dict[Channel, Reading] = {"rh": Reading(rh_pct, now_s), "rh_temp": Reading(temp_c, now_s)}
        is_open, memory = see_door(memory, readings, now_s, now_s - 12.0, figures, did, warmest_c)
        seen.append(is_open)
    return seen, memory


def test_the_judge_remembers_all_of_it_from_one_tick_to_the_next() -> None:
    """Each of these is told by another thing that is remembered: mist, vapour, the warmth before, the lamp, a rise."""
    courses: tuple[tuple[Look, ...], ...] = (
        ((0.0, 34.0, 40.0, NOTHING_GIVEN), (30.0, 34.0, 40.0, Given(20.0)), (60.0, 31.0, 55.0, Given(20.0))),
        ((0.0, 34.0, 40.0, NOTHING_GIVEN), (30.0, 33.8, 36.0, NOTHING_GIVEN), (60.0, 33.6, 31.0, NOTHING_GIVEN)),
        ((0.0, 13.0, 78.0, NOTHING_GIVEN), (30.0, 20.0, 92.0, NOTHING_GIVEN), (60.0, 15.0, 80.0, NOTHING_GIVEN)),
        ((0.0, 13.0, 78.0, Given(lamp_s=40.0)), (30.0, 20.0, 92.0, Given(lamp_s=41.0))),
    )
    box = replace(CHAMBER, channels=("rh", "rh_temp"), figures=replace(LAMP, mist_pct_per_s=1.0), room_c=(5.0, 24.0))
    for course in courses:
        alone, judged = JudgeMemory(), JudgeMemory()
        for now_s, temp_c, rh_pct, chamber_did in course:
            readings: dict[Channel, Reading] = {"rh": Reading(rh_pct, now_s), "rh_temp": Reading(temp_c, now_s)}
            warmest_c = box.room_c[1]
            is_open, alone = see_door(alone, readings, now_s, now_s - 12.0, box.figures, chamber_did, warmest_c)
            judged, known = judge(judged, readings, now_s, box, chamber_did)
            assert known.door_open is is_open
        assert replace(judged, channels={}, seen={}, firm={}) == alone


# What warms.


@pytest.mark.parametrize(
    ("lamp_s", "warmest_c", "then_c", "is_open"),
    [
        (0.0, 24.0, 15.0, False),  # Shut: the walls take the warmth back,
        (0.0, 24.0, 12.2, False),  # all of it and a little more.
        (0.0, 24.0, 11.9, True),  # Colder than it was before: it has opened.
        (90.0, 24.0, 15.0, True),  # The lamp was on all the time: it explains 6 K in half a minute.
        (0.0, 17.0, 15.0, True),  # No door makes the air warmer than the warmest room.
    ],
)
def test_air_that_warmed_without_the_lamp_and_falls_again_is_no_door_that_opens(
    lamp_s: float, warmest_c: float, then_c: float, *, is_open: bool
) -> None:
    course = ((1000.0, 13.0, 78.0), (1030.0, 18.0, 92.0), (1060.0, 20.0, 92.0), (1090.0, then_c, 80.0))
    did = [Given(lamp_s=lamp_s * (now_s - 1000.0) / 90.0) for now_s, _, _ in course]
    seen, _ = looks(((*look, given) for look, given in zip(course, did, strict=True)), LAMP, warmest_c)
    assert seen == [False, False, False, is_open]


@pytest.mark.parametrize(
    ("rose_k", "changed_pct", "seconds", "lamp_s", "by_a_door"),
    [
        (3.0, 9.0, 60.0, 0.0, False),  # Three kelvin in a minute are no door's work, and a hair more are.
        (3.0625, 9.0, 60.0, 0.0, True),
        (1.5, 9.0, 30.0, 0.0, False),
        (1.5625, 9.0, 30.0, 0.0, True),
        (9.0, 3.0, 60.0, 0.0, False),  # So with the humidity, whichever way it goes.
        (9.0, 3.0625, 60.0, 0.0, True),
        (9.0, -3.0, 60.0, 0.0, False),
        (9.0, -3.0625, 60.0, 0.0, True),
        (9.0, 1.5, 30.0, 0.0, False),
        (9.0, 1.5625, 30.0, 0.0, True),
        (4.0, 9.0, 60.0, 20.0, False),  # The lamp explains 4 K with 20 s,
        (4.0, 9.0, 60.0, 19.5, True),  # but not with less.
    ],
)
def test_air_that_warms_was_let_in_where_it_and_its_humidity_were_faster_than_3_in_a_minute_and_than_the_lamp(
    rose_k: float, changed_pct: float, seconds: float, lamp_s: float, *, by_a_door: bool
) -> None:
    before, after = Given(lamp_s=100.0), Given(lamp_s=100.0 + lamp_s)
    _, memory = looks(((1000.0, 8.0, 70.0, before), (1000.0 + seconds, 8.0 + rose_k, 70.0 + changed_pct, after)), LAMP)
    assert memory.rose_s == (1000.0 + seconds if by_a_door else float("-inf"))
    if by_a_door:
        assert memory.rose_from_c == 8.0


def test_air_that_goes_on_warming_began_where_it_began_at_first() -> None:
    _, memory = looks(
        ((now_s, c, pct, NOTHING_GIVEN) for now_s, c, pct in ((0.0, 8.0, 70.0), (30.0, 12.0, 80.0), (60.0, 16.0, 90.0)))
    )
    assert (memory.rose_s, memory.rose_from_c) == (60.0, 8.0)


@pytest.mark.parametrize(("later_s", "is_open"), [(900.0, False), (900.5, True)])
def test_a_fall_within_a_quarter_of_an_hour_after_it_is_the_door_that_was_shut(
    later_s: float, *, is_open: bool
) -> None:
    warmed = ((0.0, 8.0, 70.0), (30.0, 20.0, 92.0))
    since = ((30.0 + later_s - 60.0, 20.0, 92.0), (30.0 + later_s, 15.0, 80.0))
    seen, _ = looks((*look, NOTHING_GIVEN) for look in (*warmed, *since))
    assert seen[-1] is is_open


def test_a_second_opening_soon_after_the_first_is_seen_too() -> None:
    """A box no warmer than its room may get: after the first its air warms by its walls, and that is no opening."""
    course = ((24.0, 85.0), (24.0, 85.0), (20.0, 60.0), (23.5, 80.0), (23.8, 84.0), (23.8, 84.0), (20.0, 60.0))
    seen_at = [
        place
        for place in range(len(course))
        if looks((1000.0 + 60.0 * n, *at, NOTHING_GIVEN) for n, at in enumerate(course[: place + 1]))[1].door_seen_s
        == 1000.0 + 60.0 * place
    ]
    assert seen_at == [2, 6]


# What falls.


@pytest.mark.parametrize(
    ("given", "c", "pct", "is_open"),
    [
        (Given(20.0), 31.0, 55.0, False),  # A puff: colder, moister, and more vapour than before.
        (NOTHING_GIVEN, 31.0, 55.0, True),  # The same without a puff.
        (Given(20.0), 31.0, 36.0, True),  # A puff does not dry the air.
        (Given(20.0), 27.0, 41.0, True),  # It is moister in per cent only: vapour has left.
        (Given(20.0), 28.5, 46.0, True),  # So it has here, though no fifth of it.
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
    still = (34.0, 40.0, NOTHING_GIVEN)
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, c, pct, given)))
    assert seen == [False, False, is_open]


def test_mist_of_long_ago_explains_nothing() -> None:
    before = Given(mist_s=500.0)
    still = (34.0, 40.0, before)
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, *still), (1090.0, 31.0, 55.0, before)))
    assert seen[-1]
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, *still), (1090.0, 31.0, 55.0, Given(mist_s=505.0))))
    assert seen[-1], "5 % of mist cool by 1.8 K at most"


def test_a_fifth_of_the_vapour_has_left_where_it_is_three_tenths_colder() -> None:
    still = (0.3, 90.0, NOTHING_GIVEN)
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, 0.0, 60.0, NOTHING_GIVEN)))
    assert seen[-1]
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, 0.01, 60.0, NOTHING_GIVEN)))
    assert not seen[-1]


def test_half_a_second_of_strong_mist_explains_a_puff_as_well() -> None:
    mist = Figures(mist_pct_per_s=20.0)
    still = (34.0, 40.0, NOTHING_GIVEN)
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, 31.0, 55.0, Given(mist_s=0.5))), mist)
    assert not seen[-1], "10 % of mist cool by 3.6 K at most"
    seen, _ = looks(((1000.0, *still), (1030.0, *still), (1060.0, 31.0, 55.0, Given(mist_s=0.4))), mist)
    assert seen[-1], "8 % by 2.9 K"


def test_what_was_before_a_silence_of_two_minutes_is_no_measure_of_anything() -> None:
    """Neither the vapour and the warmth of then, nor the mist that was given up to then."""
    dry, wet = (33.0, 20.0, NOTHING_GIVEN), (34.0, 60.0, NOTHING_GIVEN)
    seen, _ = looks(((1000.0, *wet), (1200.0, *dry), (1240.0, *dry)))
    assert seen == [False, False, False]
    before, lately = Given(mist_s=50.0), Given(mist_s=52.0)
    seen, _ = looks(((1000.0, 34.0, 40.0, NOTHING_GIVEN), (1200.0, 34.0, 40.0, before), (1240.0, 31.0, 55.0, lately)))
    assert seen == [False, False, True], "2 % of mist cool by 0.7 K at most"


def test_two_looks_are_compared_with_the_one_before_them() -> None:
    """A puff of a minute ago cools now; and what leaves by a door may take two looks to leave."""
    mist = Given(mist_s=20.0)
    seen, _ = looks(((1000.0, 34.0, 40.0, NOTHING_GIVEN), (1030.0, 34.0, 40.0, mist), (1060.0, 31.0, 55.0, mist)))
    assert seen == [False, False, False]
    course = ((1000.0, 34.0, 40.0), (1030.0, 33.8, 36.0), (1060.0, 33.6, 31.0))
    seen, _ = looks((*look, NOTHING_GIVEN) for look in course)
    assert seen == [False, False, True]


def test_vapour_of_before_a_silence_has_not_left_by_a_door() -> None:
    course = ((1000.0, 34.0, 60.0), (1200.0, 33.5, 20.0), (1240.0, 33.0, 20.0))
    seen, _ = looks((*look, NOTHING_GIVEN) for look in course)
    assert seen == [False, False, False]


def test_the_hottest_air_that_is_believed_is_looked_at() -> None:
    assert looks(((1000.0, HOTTEST_BELIEVED_C, 20.0, NOTHING_GIVEN),))[1].fast_minute_c == HOTTEST_BELIEVED_C
    assert looks(((1000.0, HOTTEST_BELIEVED_C + 0.1, 20.0, NOTHING_GIVEN),))[1] == JudgeMemory()


# What the chamber itself did.

NOW_S = 5000.0


def did(outputs: dict[Role, OutputMemory], learning: Learning | None = None) -> Given:
    """Return what these outputs are held to have done up to now."""
    return given(Memory(started_s=0.0, last_s=NOW_S - 10.0, outputs=outputs, learning=learning), NOW_S)


def test_a_chamber_without_outputs_did_nothing() -> None:
    assert did({}) == NOTHING_GIVEN


def test_seconds_of_mist_and_lamp_go_on_up_to_now_or_to_the_end_of_what_was_commanded() -> None:
    on, ended = OutputMemory(on_until_s=NOW_S + 30.0, on_total_s=100.0), OutputMemory(on_until_s=NOW_S - 6.0)
    assert did({"humidifier": on, "heater": ended}) == Given(mist_s=110.0, lamp_s=4.0)
    assert did({"heater": on, "humidifier": ended}) == Given(mist_s=4.0, lamp_s=110.0)
    assert did({"heater": OutputMemory(on_until_s=NOW_S - 20.0, on_total_s=7.0)}) == Given(lamp_s=7.0)


@pytest.mark.parametrize("role", ["cooler", "dehumidifier", "fresh_air"])
@pytest.mark.parametrize(
    ("output", "dries"),
    [
        (OutputMemory(closings=1, on_until_s=NOW_S - 299.0, off_since_s=NOW_S - 400.0), True),
        (OutputMemory(closings=1, on_until_s=NOW_S - 400.0, off_since_s=NOW_S - 299.0), True),
        (OutputMemory(closings=1, on_until_s=NOW_S - 300.0, off_since_s=NOW_S - 400.0), False),
        (OutputMemory(closings=0, on_until_s=NOW_S - 299.0), False),  # It has never been on.
    ],
)
def test_what_was_cold_five_minutes_ago_takes_vapour_still(role: Role, output: OutputMemory, *, dries: bool) -> None:
    assert did({role: output}) == Given(dries=dries)


@pytest.mark.parametrize(
    ("phase", "ago_s", "fell"), [("off", 299.0, True), ("off", 300.0, False), ("full", 10.0, False)]
)
def test_a_lamp_that_a_step_test_has_put_out_shows_for_five_minutes(phase: str, ago_s: float, *, fell: bool) -> None:
    learning = Learning(name="l", began_s=0.0, began_wall_s=0.0, phase=phase, phase_began_s=NOW_S - ago_s)
    assert did({}, learning) == Given(lamp_fell=fell)


# To the very second, and the very degree.


@pytest.mark.parametrize(("later_s", "rises"), [(900.0, False), (900.5, True)])
def test_what_warms_within_a_quarter_of_an_hour_after_a_door_warms_since_it_is_shut(
    later_s: float, *, rises: bool
) -> None:
    course = ((0.0, 24.0, 85.0), (60.0, 20.0, 60.0), (later_s, 15.0, 60.0), (60.0 + later_s, 20.0, 80.0))
    _, memory = looks((*look, NOTHING_GIVEN) for look in course)
    assert memory.door_seen_s == 60.0
    assert (memory.rose_s == 60.0 + later_s) is rises


@pytest.mark.parametrize(("warmest_c", "rises"), [(20.0, True), (19.9, False)])
def test_air_as_warm_as_the_warmest_room_may_have_come_in(warmest_c: float, *, rises: bool) -> None:
    _, memory = looks(((0.0, 8.0, 70.0, NOTHING_GIVEN), (60.0, 20.0, 90.0, NOTHING_GIVEN)), warmest_c=warmest_c)
    assert (memory.rose_s == 60.0) is rises


@pytest.mark.parametrize(("later_s", "from_c"), [(900.0, 8.0), (900.5, 9.0)])
def test_a_second_warming_a_quarter_of_an_hour_later_began_for_itself(later_s: float, from_c: float) -> None:
    course = ((0.0, 8.0, 70.0), (60.0, 20.0, 90.0), (later_s, 9.0, 70.0), (60.0 + later_s, 20.0, 90.0))
    _, memory = looks((*look, NOTHING_GIVEN) for look in course)
    assert (memory.rose_s, memory.rose_from_c) == (60.0 + later_s, from_c)


@pytest.mark.parametrize(("then_c", "is_open"), [(12.0, False), (11.9375, True)])
def test_what_fell_to_a_kelvin_below_where_it_began_has_gone_back(then_c: float, *, is_open: bool) -> None:
    course = ((0.0, 13.0, 78.0), (30.0, 20.0, 92.0), (60.0, then_c, 80.0))
    seen, _ = looks((*look, NOTHING_GIVEN) for look in course)
    assert seen[-1] is is_open
