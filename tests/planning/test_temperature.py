"""The wanted temperature by the rules of degree-hours: hours allowed, edges that are near, and where nothing counts."""

import pytest
from msgspec.structs import replace

from controller.core.plan import Stage
from controller.planning.hours.temperature import allowed_hours, judge_temperature
from controller.settings.chamber_file import plan_of
from tests.helpers.planned import at, chamber_named, profile_named

FRIDGE = plan_of(chamber_named())


def ferment(temp_c: float) -> Stage:
    return next(stage for stage in at(profile_named("mild"), temp_c).stages if stage.kind == "ferment")


@pytest.mark.parametrize(("temp_f", "hours"), [(75, 80), (80, 60), (85, 48), (90, 33), (95, 28), (100, 25), (105, 20)])
def test_a_perfect_thermometer_leaves_the_hours_of_the_published_table(temp_f: float, hours: float) -> None:
    # University of Wisconsin-Madison, Fermentation Log (2012): whole hours, rounded down.
    perfect = replace(FRIDGE, air_error_k=0.0, degree_hours_rule="us")
    assert int(allowed_hours(perfect, (temp_f - 32.0) / 1.8).least_h + 1e-9) == hours


def test_the_thermometers_error_costs_hours_and_both_rules_are_told() -> None:
    allowed = allowed_hours(FRIDGE, 24.0)
    assert dict(allowed.hours) == pytest.approx({"US": 1200.0 / (76.1 - 60.0), "Canada": 665.0 / (24.5 - 15.6)})
    assert dict(allowed_hours(replace(FRIDGE, degree_hours_rule="canada"), 24.0).hours).keys() == {"Canada"}


@pytest.mark.parametrize("temp_c", [4.0, 14.0, 15.6])
def test_at_or_below_the_base_nothing_is_counted_and_that_is_said(temp_c: float) -> None:
    assert not allowed_hours(FRIDGE, temp_c).protects
    (finding,) = judge_temperature(FRIDGE, ferment(temp_c), "C")
    assert "this rule protects nothing here" in finding.text
    assert "3 days at most" in finding.text


@pytest.mark.parametrize(
    ("temp_c", "countries"),
    [
        (24.0, set()),
        (31.5, {"US"}),
        (32.1, {"US", "Canada"}),
        (32.2, {"Canada"}),
        (36.0, set()),
        (36.5, {"Canada"}),
        (37.5, {"US"}),
    ],
)
def test_an_edge_nearer_than_overshoot_and_error_is_warned_about(temp_c: float, countries: set[str]) -> None:
    # 32.2 °C is 90.0 °F and so beyond the first US edge already.
    # Edges: 90 and 100 °F (32.2 and 37.8 °C), 33 and 37 °C; half a kelvin of overshoot, half a kelvin of error.
    found = judge_temperature(FRIDGE, ferment(temp_c), "C")
    assert {finding.text.partition(":")[0] for finding in found} == countries
    assert all(finding.weight == "warning" and "lowers the limit" in finding.text for finding in found)
