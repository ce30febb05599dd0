"""Degree-hours against the printed examples and tables of both authorities."""

from math import inf

import pytest

from controller.food.degree_hours import (
    CANADA,
    RULES,
    US,
    Rule,
    accumulate,
    accumulate_between,
    hours_left,
    latest_hours_to_5_3,
    limit_for,
    verdict,
)
from tests.helpers.published_rows import rows_of

LIMITS = rows_of("degree_hours_limits.csv")


def rule_of(row: dict[str, str]) -> Rule:
    return US if row["unit"] == "F" else CANADA


def celsius(rule: Rule, temp: float) -> float:
    return (temp - 32.0) / 1.8 if rule.unit == "F" else temp


def steps_of(text: str) -> list[tuple[float, float]]:
    """Read steps as "75 x 10 h; 85 x 10 h" into (temperature, hours)."""
    pairs = [step.removesuffix(" h").split(" x ") for step in text.split("; ")]
    return [(float(temp), float(hours)) for temp, hours in pairs]


@pytest.mark.parametrize("row", rows_of("degree_hours_examples.csv"), ids=lambda row: row["id"])
def test_a_worked_example_comes_out_as_printed(row: dict[str, str]) -> None:
    rule, steps = rule_of(row), steps_of(row["steps"])
    parts = [accumulate(rule, celsius(rule, temp), hours) for temp, hours in steps]
    highest_c = celsius(rule, max(temp for temp, _ in steps))
    assert parts == pytest.approx([float(part) for part in row["degree_hours_by_step"].split("; ")])
    assert sum(parts) == pytest.approx(float(row["total_degree_hours"]))
    assert limit_for(rule, highest_c) == float(row["limit"])
    assert verdict(rule, sum(parts), highest_c) == {"pass": "within", "fail": "over"}[row["result"]]


@pytest.mark.parametrize(
    "row", [row for row in LIMITS if row["kind"] == "constant_table"], ids=lambda row: row["temp"] + row["unit"]
)
def test_the_hours_at_one_temperature_are_those_of_the_table(row: dict[str, str]) -> None:
    rule = rule_of(row)
    hours = latest_hours_to_5_3(rule, celsius(rule, float(row["temp"])))
    assert hours == pytest.approx(float(row["max_hours_exact"]), abs=0.0051)
    if rule is US:  # The form prints whole hours, rounded down.
        assert int(hours + 1e-9) == int(row["max_hours_printed"])


@pytest.mark.parametrize("row", [row for row in LIMITS if row["kind"] == "band"], ids=lambda row: row["authority"])
def test_each_published_band_has_its_limit_up_to_its_edges(row: dict[str, str]) -> None:
    rule, limit = rule_of(row), float(row["limit_degree_hours"])
    for edge, inclusive, inward in (
        (row["band_low"], row["low_inclusive"], 0.1),
        (row["band_high"], row["high_inclusive"], -0.1),
    ):
        if edge:
            assert (limit_for(rule, celsius(rule, float(edge))) == limit) == (inclusive == "yes")
            assert limit_for(rule, celsius(rule, float(edge) + inward)) == limit
    assert rule.base == float(row["base_temp"])


def test_90_fahrenheit_kept_in_celsius_is_still_in_its_band() -> None:
    assert limit_for(US, 32.222) == 1000.0
    assert limit_for(CANADA, 32.222) == 665.0


def test_the_rules_are_not_converted_into_each_other() -> None:
    assert limit_for(CANADA, 32.5) == 665.0
    assert limit_for(US, 32.5) == 1000.0


def test_one_short_excursion_lowers_the_limit_for_the_whole_ferment() -> None:
    used = accumulate(US, celsius(US, 75.0), 60.0)
    assert verdict(US, used, celsius(US, 75.0)) == "within"
    used += accumulate(US, celsius(US, 101.0), 1.0)
    assert used == pytest.approx(941.0)
    assert verdict(US, used, celsius(US, 101.0)) == "over"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.unit)
def test_totals_are_rounded_to_one_before_the_verdict(rule: Rule) -> None:
    limit = limit_for(rule, 25.0)
    assert verdict(rule, limit + 0.49, 25.0) == "within"
    assert verdict(rule, limit + 0.5, 25.0) == "over"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.unit)
def test_below_the_base_nothing_counts_and_time_has_no_end(rule: Rule) -> None:
    assert accumulate(rule, 12.0, 100.0) == 0.0
    assert accumulate_between(rule, 4.0, 12.0, 100.0) == 0.0
    assert hours_left(rule, 100.0, 12.0) == inf


@pytest.mark.parametrize(
    ("from_f", "to_f", "used"), [(50.0, 70.0, 25.0), (70.0, 50.0, 25.0), (60.0, 80.0, 100.0), (70.0, 90.0, 200.0)]
)
def test_between_two_samples_the_straight_line_counts_above_the_base(from_f: float, to_f: float, used: float) -> None:
    assert accumulate_between(US, celsius(US, from_f), celsius(US, to_f), 10.0) == pytest.approx(used)


def test_the_hours_left_use_up_the_limit_exactly() -> None:
    hours = hours_left(CANADA, 300.0, 24.0)
    assert 300.0 + accumulate(CANADA, 24.0, hours) == pytest.approx(limit_for(CANADA, 24.0))


def test_the_hours_left_remember_the_hottest_hour() -> None:
    assert hours_left(CANADA, 300.0, 24.0, highest_c=38.0) == pytest.approx((500.0 - 300.0) / (24.0 - 15.6))
    assert hours_left(CANADA, 501.0, 24.0, highest_c=38.0) == 0.0
