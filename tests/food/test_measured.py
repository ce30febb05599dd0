"""What a few readings prove: the lower neighbour, sums over time, and words for them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.food.germs.measured import (
    HOUR_S,
    apart,
    break_h,
    broken,
    celsius,
    fahrenheit,
    filled,
    held_s,
    hours_at_or_above,
    longest_hours_at_or_above,
    lower_pieces,
    readings_of,
    time_words,
)


def log(*readings: tuple[float, float]) -> list[tuple[float, float]]:
    """Return a log of (hours, °F)."""
    return [(hours * HOUR_S, celsius(temp_f)) for hours, temp_f in readings]


def test_130_fahrenheit_comes_back_from_celsius_as_130() -> None:
    for temp_f in range(32, 212):
        assert fahrenheit(celsius(temp_f)) == temp_f
        assert fahrenheit(round(celsius(temp_f), 3)) == temp_f  # As the climate log keeps it.


def test_only_the_time_since_the_instant_counts_and_a_dip_is_left_out() -> None:
    readings = log((0, 100), (2, 100), (3, 90), (4, 100), (6, 100))
    assert hours_at_or_above(readings, 100.0) == pytest.approx(4.0)
    assert hours_at_or_above(readings, 100.0, from_s=1.5 * HOUR_S) == pytest.approx(2.5)
    assert longest_hours_at_or_above(readings, 100.0) == pytest.approx(2.0)
    assert held_s(readings, 100.0, 3.0) == pytest.approx(5.0 * HOUR_S)
    assert held_s(readings, 100.0, 3.0, from_s=1.5 * HOUR_S) is None
    assert held_s(readings, 100.0, 2.5, from_s=1.5 * HOUR_S) == pytest.approx(6.0 * HOUR_S)


def test_zero_hours_are_full_at_the_first_reading_that_is_hot_enough() -> None:
    readings = log((0, 100), (1, 145), (2, 100))
    assert held_s(readings, 145.0, 0.0) == pytest.approx(HOUR_S)
    assert held_s(readings, 145.1, 0.0) is None
    assert held_s(readings, 145.0, 0.01) is None


def test_a_break_counts_nothing_and_may_be_filled_with_the_higher_neighbour() -> None:
    readings = log((0, 100), (1, 100), (5, 90), (6, 90))
    cut = broken(readings, 2.0 * HOUR_S)
    assert readings_of(cut) == readings
    assert hours_at_or_above(cut, 90.0) == pytest.approx(2.0)
    assert longest_hours_at_or_above(cut, 90.0) == pytest.approx(1.0)
    assert held_s(cut, 90.0, 3.0) is None
    assert break_h(cut) == pytest.approx(4.0)
    assert hours_at_or_above(filled(cut), 100.0) == pytest.approx(5.0, abs=0.001)
    assert broken(readings, 4.0 * HOUR_S) == readings
    assert break_h(readings) == break_h([]) == 0.0


def test_a_log_set_apart_claims_nothing_up_to_its_neighbours() -> None:
    machine, typed = log((2, 60), (3, 60)), log((0, 120), (1, 120), (4, 120))
    both = sorted([*typed, *apart(machine)])
    assert hours_at_or_above(both, 60.0) == pytest.approx(2.0)
    assert hours_at_or_above(sorted([*typed, *machine]), 60.0) == pytest.approx(4.0)


@given(
    st.lists(st.floats(min_value=60.0, max_value=160.0), min_size=2, max_size=10),
    st.floats(min_value=60.0, max_value=160.0),
)
def test_what_is_held_and_what_is_summed_agree(temps_f: list[float], at_f: float) -> None:
    readings = log(*((float(hour), temp_f) for hour, temp_f in enumerate(temps_f)))
    hours = hours_at_or_above(readings, at_f)
    assert longest_hours_at_or_above(readings, at_f) <= hours
    assert hours <= sum(to_s - at_s for at_s, to_s, _ in lower_pieces(readings)) / HOUR_S
    if hours > 0.0:
        assert held_s(readings, at_f, hours) is not None
    assert held_s(readings, at_f, hours + 0.01) is None


@pytest.mark.parametrize(
    ("hours", "words"), [(0.5, "30 min"), (1.0, "1 h"), (6.5, "6.5 h"), (71.0, "71 h"), (72.0, "3 d"), (480.0, "20 d")]
)
def test_a_length_of_time_is_told_in_the_unit_that_fits(hours: float, words: str) -> None:
    assert time_words(hours) == words
