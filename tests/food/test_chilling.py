"""The chill after a cook, by the readings that a person types: the worse neighbour counts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.food.germs.chilling import RAPID, RULES, WITH_NITRITE, Window, judge_chill, ways_down, window_hours
from controller.food.germs.measured import celsius

HOUR_S = 3600.0
# FSIS Appendix B (June 1999) as restated by Ohio State University, Temperature Regulations/Guidelines (7/12/99).
PUBLISHED = {
    "chill-rapid": [(130, 80, 1.5), (80, 40, 5.0)],
    "chill-nitrite": [(130, 80, 5.0), (80, 40, 10.0)],
}


def core(*readings: tuple[float, float]) -> list[tuple[float, float]]:
    """Return a log of (hours, °F)."""
    return [(hours * HOUR_S, celsius(temp_f)) for hours, temp_f in readings]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_each_window_is_as_published_and_waits_for_a_person_to_confirm_it(rule: object) -> None:
    found = next(each for each in RULES if each is rule)
    assert [(window.from_f, window.to_f, window.hours) for window in found.windows] == PUBLISHED[found.id]
    assert found.confirm


def test_a_fast_chill_meets_the_rapid_windows() -> None:
    log = core((0.0, 155.0), (0.25, 131.0), (1.0, 95.0), (1.7, 79.0), (3.0, 55.0), (5.0, 40.0))
    assert [condition.verdict for condition in judge_chill(RAPID, log)] == ["met", "met", "met"]


def test_a_band_is_entered_at_the_last_reading_before_it_and_left_at_the_first_one_below() -> None:
    log = core((0.0, 150.0), (0.25, 128.0), (1.5, 81.0), (1.6, 79.0), (6.0, 39.0))
    hours, left = window_hours(RAPID.windows[0], log)
    assert (hours, left) == (pytest.approx(1.6), True)  # From 150 °F on: nobody knows when it passed 130.
    assert [condition.verdict for condition in judge_chill(RAPID, log)] == ["not met", "met", "met"]
    assert {condition.verdict for condition in judge_chill(WITH_NITRITE, log)} == {"met"}


def test_an_open_window_is_not_met_as_soon_as_its_hours_are_over() -> None:
    assert judge_chill(RAPID, core((0.0, 140.0), (1.0, 90.0)))[0].verdict == "not measured"
    assert judge_chill(RAPID, core((0.0, 140.0), (2.0, 90.0)))[0].verdict == "not met"
    assert judge_chill(RAPID, [])[0].verdict == "not measured"
    assert judge_chill(RAPID, core((0.0, 140.0)))[0].verdict == "not measured"


def test_a_core_that_was_never_so_hot_begins_at_its_hottest() -> None:
    log = core((0.0, 100.0), (0.5, 119.0), (1.4, 79.0), (5.0, 54.0))
    assert window_hours(RAPID.windows[0], log) == (pytest.approx(0.9), True)


def test_a_first_reading_that_has_cooled_already_measures_no_window() -> None:
    log = core((2.0, 90.0), (2.4, 79.0), (5.0, 40.0))
    assert window_hours(RAPID.windows[0], log) == (None, False)
    assert [condition.verdict for condition in judge_chill(RAPID, log)] == ["not measured", "met", "not measured"]
    assert window_hours(Window(80.0, 40.0, 5.0), core((3.0, 70.0), (4.0, 39.0))) == (None, False)


def test_a_piece_cools_from_its_own_cook_or_from_the_last_reading_of_any() -> None:
    before = {"A": core((0.0, 150.0), (0.2, 155.0)), "C": core((0.1, 160.0))}
    after = {"A": core((1.0, 79.0)), "B": core((1.1, 78.0))}
    down = ways_down(before, after)
    assert down == {"A": [*before["A"], *after["A"]], "B": [before["A"][-1], *after["B"]]}
    assert ways_down({}, after) == after


def test_a_cold_piece_that_lies_warm_later_was_chilled_all_the_same() -> None:
    log = core((0.0, 150.0), (0.5, 100.0), (1.4, 79.0), (5.0, 39.0), (30.0, 55.0))
    assert [condition.verdict for condition in judge_chill(RAPID, log)] == ["met", "met", "met"]


@given(
    st.lists(st.floats(min_value=0.5, max_value=40.0), min_size=3, max_size=10),
    st.integers(min_value=0, max_value=8),
)
def test_leaving_a_reading_out_never_shortens_the_way_through_the_band(falls_f: list[float], place: int) -> None:
    temp_f, log = 170.0, []
    for number, fall_f in enumerate(falls_f):
        log.append((float(number), temp_f))
        temp_f -= fall_f
    log.append((float(len(falls_f)), 35.0))
    place = min(place, len(falls_f) - 1)
    fewer = [reading for number, reading in enumerate(log) if number != place or place == 0]
    for window in RAPID.windows:
        whole, _ = window_hours(window, core(*log))
        less, _ = window_hours(window, core(*fewer))
        assert whole is not None
        assert less is not None
        assert less >= whole - 1e-9
