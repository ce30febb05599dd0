"""Lethality against the printed table, row by row, and what readings prove between two of its rows."""

from itertools import pairwise
from math import inf, log10

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.food.germs.lethality import (
    NOTES,
    ROWS,
    TARGETS,
    come_up,
    continuous_log,
    lowest,
    progress,
    rate_per_min,
    row_for,
)
from controller.food.germs.measured import broken, celsius, filled
from tests.helpers.published_rows import rows_of

PRINTED = [row for row in rows_of("lethality.csv") if row["organism"] == "Salmonella"]
EVERY_S = 10.0

temps = st.floats(min_value=10.0, max_value=69.0)
logs = st.lists(temps, min_size=2, max_size=12).map(
    lambda values: [(600.0 * place, value) for place, value in enumerate(values)]
)


def seconds(row: dict[str, str]) -> float:
    return float(row["time"]) * (60.0 if row["time_unit"] == "min" else 1.0)


def name_of(row: dict[str, str]) -> str:
    return f"{row['temp_F']}F-{row['log_reduction']}log"


@pytest.mark.parametrize("row", PRINTED, ids=name_of)
def test_each_printed_row_of_appendix_a_is_in_the_table(row: dict[str, str]) -> None:
    # USDA FSIS, Appendix A (1999); FSIS-GD-2021-14, Table 2.
    found = row_for(float(row["temp_F"]), float(row["log_reduction"]))
    assert found is not None
    assert found.temp_f == float(row["temp_F"])
    assert found.dwell_s(float(row["log_reduction"])) == seconds(row)
    assert round(celsius(found.temp_f), 1) == pytest.approx(float(row["temp_C"]), abs=0.101)  # Printed 58.4 for 58.33.


@pytest.mark.parametrize("row", PRINTED, ids=name_of)
def test_a_core_logged_every_ten_seconds_needs_exactly_the_printed_time(row: dict[str, str]) -> None:
    temp_c, target, dwell_s = celsius(float(row["temp_F"])), float(row["log_reduction"]), seconds(row)
    at_s, core = 0.0, [(0.0, temp_c)]
    while at_s < dwell_s:
        at_s = min(at_s + EVERY_S, dwell_s)
        core.append((at_s, temp_c))
    assert progress(core, target).reached
    if dwell_s:  # One second less is not enough, and the log says by how much.
        short = progress([*core[:-1], (dwell_s - 1.0, temp_c)], target)
        assert not short.reached
        assert short.log == pytest.approx(target * (dwell_s - 1.0) / dwell_s)
        assert short.minutes_left == pytest.approx(1.0 / 60.0)


def test_the_whole_table_falls_from_row_to_row_and_7_never_needs_less_than_6_5() -> None:
    assert [row.temp_f for row in ROWS] == [float(temp_f) for temp_f in range(130, 161)]
    for colder, warmer in pairwise(ROWS):
        assert warmer.for_6_5_s <= colder.for_6_5_s
        assert warmer.for_7_s <= colder.for_7_s
    assert all(row.for_7_s >= row.for_6_5_s for row in ROWS)


def test_between_two_rows_the_lower_one_counts_and_below_the_first_nothing() -> None:
    assert row_for(133.9) == row_for(133.0)
    assert row_for(129.9) is None
    assert rate_per_min(129.9) == 0.0
    assert rate_per_min(158.0) == inf
    assert row_for(200.0) == ROWS[-1]


def test_130_fahrenheit_kept_in_celsius_is_its_own_row_but_54_4_celsius_is_not() -> None:
    assert progress([(0.0, 54.4444), (112 * 60.0, 54.4444)]).reached
    assert progress([(0.0, 54.4), (112 * 60.0, 54.4)]).log == 0.0


def test_between_typed_readings_the_lower_neighbour_counts_never_a_line() -> None:
    # 20, 60 and 62 °C half an hour apart: the way up counts nothing, the last half hour at 60.0 °C (140 °F, 12 min).
    core = [(0.0, 20.0), (1800.0, 60.0), (3600.0, 62.0)]
    done = progress([*core[:2], (1800.0 + 360.0, 62.0)])
    assert done.log == pytest.approx(6.5 / 2.0)
    assert done.minutes_counted == pytest.approx(6.0)
    assert progress(core).reached


def test_one_reading_is_no_time_unless_the_table_says_at_once() -> None:
    assert progress([(0.0, 68.0)]).log == 0.0
    assert progress([(0.0, 70.0)]).reached
    assert progress([]).log == 0.0
    assert progress([]).minutes_left == inf


def test_a_break_in_a_log_kills_nothing() -> None:
    core = [(0.0, 60.0), (60.0, 60.0), (720.0, 60.0)]
    assert progress(core).reached
    assert progress(broken(core, 120.0)).log == pytest.approx(6.5 / 12.0)
    assert progress(filled(broken(core, 120.0))).reached  # What may have been there: then it is not measured.


def test_only_what_is_printed_can_be_asked_for() -> None:
    with pytest.raises(ValueError, match=r"5 log: the table is printed for 6.5 and for 7 only"):
        progress([(0.0, 60.0), (60.0, 60.0)], 5.0)


def test_of_several_pieces_the_one_that_came_least_far_counts() -> None:
    hot, cold = [(0.0, 60.0), (720.0, 60.0)], [(0.0, 56.0), (720.0, 56.0)]
    found = lowest({"A": hot, "B": cold})
    assert found is not None
    assert found[0] == "B"
    assert found[1] == progress(cold)
    assert lowest({}) is None


def test_the_come_up_counts_from_the_last_cold_reading_and_not_where_the_degree_hours_were_met() -> None:
    core = [(0.0, 8.0), (3600.0, 25.0), (6 * 3600.0, 54.5), (7 * 3600.0, 60.0)]
    assert come_up(core).condition.verdict == "met"
    assert come_up([(-3600.0, 4.0), *core]).hours == come_up(core).hours == pytest.approx(6.0)
    late = [(0.0, 8.0), (3600.0, 25.0), (6 * 3600.0 + 60.0, 54.5)]
    assert come_up(late).condition.verdict == "not met"
    assert come_up(late).hours == pytest.approx(6.0 + 1.0 / 60.0)
    assert come_up(late, degree_hours_met=True).condition.verdict == "met"
    assert come_up(late[1:]).condition.verdict == "not measured"
    assert come_up(late[:2]).condition.verdict == "not measured"
    slow = [*late[:2], (6 * 3600.0 + 60.0, 50.0)]  # 122 °F after 6 h: it has not made it, whatever comes.
    assert come_up(slow).condition.verdict == "not met"
    assert come_up(slow).condition.found == "6 h so far, and still below"
    assert come_up(slow, degree_hours_met=True).condition.verdict == "met"


@given(
    logs, st.integers(min_value=0, max_value=10), st.floats(min_value=0.05, max_value=0.95), st.sampled_from(TARGETS)
)
def test_a_lower_reading_in_between_never_raises_the_result(
    core: list[tuple[float, float]], place: int, share: float, target: float
) -> None:
    place = min(place, len(core) - 2)
    (at_s, temp_c), (next_s, next_c) = core[place], core[place + 1]
    lower = (at_s + share * (next_s - at_s), min(temp_c, next_c) - 3.0)
    more = [*core[: place + 1], lower, *core[place + 1 :]]
    assert progress(more, target).log <= progress(core, target).log + 1e-9


@given(logs, st.floats(min_value=0.0, max_value=1.0), st.sampled_from(TARGETS))
def test_a_log_may_be_cut_anywhere_and_the_parts_add_up(
    core: list[tuple[float, float]], share: float, target: float
) -> None:
    cut_s = share * core[-1][0]
    before = [reading for reading in core if reading[0] <= cut_s]
    after = [reading for reading in core if reading[0] > cut_s]
    if not after or cut_s == before[-1][0]:
        return
    cut = (cut_s, min(before[-1][1], after[0][1]))  # What counts on this stretch is written down as a reading.
    whole = progress(core, target).log
    parts = progress([*before, cut], target).log + progress([cut, *after], target).log
    assert min(parts, target) == pytest.approx(whole, abs=1e-6)


@given(logs, st.floats(min_value=0.0, max_value=10.0))
def test_a_hotter_core_never_proves_less(core: list[tuple[float, float]], by_k: float) -> None:
    hotter = [(at_s, temp_c + by_k) for at_s, temp_c in core]
    assert progress(hotter).log >= progress(core).log - 1e-9


def test_the_notes_name_the_study_that_did_not_find_the_first_row() -> None:
    assert any("54.4 °C" in note and "not reached" in note and "McMinn" in note for note in NOTES)


@pytest.mark.parametrize(
    ("core", "equivalent_min"),
    [
        ([(60.0 * minute, 55.0) for minute in range(61)], 7.6788),
        ([(60.0 * minute, 60.0 - 40.0 * 2.718281828459045 ** (-minute / 30.0)) for minute in range(121)], 27.079),
    ],
)
def test_the_ideal_line_agrees_with_the_integral_that_was_worked_out(
    core: list[tuple[float, float]], equivalent_min: float
) -> None:
    # F = integral of 10^((T - 60)/z) dt by the trapezoid rule, 1 min, z 5.6 K; worked out beforehand by hand.
    assert continuous_log(core, 1.0, 5.6) == pytest.approx(equivalent_min, abs=5e-4)


def test_the_line_through_the_table_has_the_slope_that_was_published_of_it() -> None:
    # Through the 6.5-log column from 130 to 157 °F: z 5.6 °C and D 1.77 min at 60 °C, by least squares of log10.
    points = [(celsius(row.temp_f), log10(row.for_6_5_s / 60.0 / 6.5)) for row in ROWS if row.for_6_5_s]
    mean_x, mean_y = (sum(values) / len(points) for values in zip(*points, strict=True))
    slope = sum((x - mean_x) * (y - mean_y) for x, y in points) / sum((x - mean_x) ** 2 for x, _ in points)
    assert -1.0 / slope == pytest.approx(5.6, abs=0.1)
    assert 10.0 ** (mean_y + slope * (60.0 - mean_x)) == pytest.approx(1.77, abs=0.05)
