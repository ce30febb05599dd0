"""A starter that cannot do it is refused before the meat is bought, with the figures."""

import re

from msgspec.structs import replace

from controller.cli.say import fold
from controller.food.bowl.formulation import Meat
from tests.helpers.planned import COOL, NINE, WARM, at, plan_for, profile_named, refusals


def test_a_starter_for_the_cool_is_refused_in_a_warm_ferment_with_both_temperatures() -> None:
    said = refusals(plan_for("tangy", starter=COOL))
    assert "culture B: made for 18.0 °C to 32.0 °C" in said
    assert "36.0 °C" in said
    assert "hardly" not in said  # It is too warm for it, not too cool.


def test_a_starter_for_the_warm_is_refused_in_a_cool_ferment() -> None:
    said = refusals(plan_for("mild", starter=WARM))
    assert "something else would grow first" in said


def test_the_end_of_a_range_is_still_in_it_but_said() -> None:
    plan = plan_for("tangy", starter=replace(WARM, temp_c=(30.0, 36.0)))
    assert not plan.refused
    assert "36.0 °C lies at the end of its range" in " ".join(plan.sheet.warnings)


def test_an_old_packet_in_much_cold_meat_under_a_small_lamp_is_refused_with_the_hours() -> None:
    much = (Meat("shoulder", "pork", 16.0, 25.0, "certified"),)
    assert not plan_for("tangy", meats=much).refused
    said = refusals(plan_for("tangy", meats=much, starter=replace(WARM, opened_on="2026-03-01")))
    # 36.5 °C is 97.7 °F: 1000 degree-hours / 37.7 = 26.5 h.
    assert re.search(r"pH 5\.3 may take 28\.\d h \(model, slow case\), and degree-hours allow 26\.5 h", said)
    assert "0.5 K counted in" in said


def test_a_ferment_that_stops_above_5_3_is_refused_whatever_the_hours() -> None:
    said = refusals(plan_for("mild", dextrose_pct=0.15))
    assert "never be read as 5.3" in said


def test_two_tenths_of_dextrose_sit_on_5_3_and_so_may_not_get_there() -> None:
    assert "may stop at 5.3" in refusals(plan_for("mild", dextrose_pct=0.2))


def test_too_little_left_in_the_packet_is_refused_with_what_is_needed() -> None:
    said = refusals(plan_for("tangy", starter=replace(WARM, grams_left=0.8)))
    assert "1.2 g are needed and 0.8 g are left" in said


def test_a_packet_opened_last_spring_is_told_and_one_opened_two_years_ago_is_refused() -> None:
    plan = plan_for("tangy", starter=replace(WARM, opened_on="2026-03-01"))
    assert not plan.refused
    assert "opened 269 days ago" in " ".join(plan.sheet.warnings)
    assert "open a new packet" in refusals(plan_for("tangy", starter=replace(WARM, opened_on="2024-11-01")))
    assert "is to come" in refusals(plan_for("tangy", starter=replace(WARM, opened_on="2027-01-01")))


def test_a_packet_whose_date_is_over_is_refused() -> None:
    assert not plan_for("tangy", starter_expires="2026-11-25").refused
    assert "its packet says 2026-11-24" in refusals(plan_for("tangy", starter_expires="2026-11-24"))


def test_an_old_packet_is_reckoned_slower() -> None:
    new, old = plan_for("mild"), plan_for("mild", starter=replace(COOL, opened_on="2026-03-01"))
    assert new.course is not None
    assert old.course is not None
    assert old.course.window_h[1] > new.course.window_h[1] + 2.0


def test_a_profile_without_a_starter_is_planned_without_a_course() -> None:
    profile = replace(profile_named("mild"), starter="none")
    plan = plan_for("mild", profile=profile, starter=None)
    assert plan.course is None
    assert plan.window_wall_s is None
    assert not any("tarter out of the freezer" in step.what for step in plan.sheet.steps)
    assert "which one?" in refusals(plan_for("mild", starter=None))


def test_a_cool_ferment_is_told_that_the_rule_protects_nothing_and_how_many_days_it_has() -> None:
    profile = at(profile_named("mild"), 14.0, at_most_h=240.0)
    plan = plan_for("mild", profile=profile, starter=replace(COOL, temp_c=(10.0, 32.0)))
    said = " ".join(plan.sheet.warnings)
    assert "this rule protects nothing here" in said
    assert "10 days at most" in said
    assert plan.sheet.latest_5_3_wall_s is None


def test_every_refusal_of_day_and_starter_is_said_in_three_lines() -> None:
    plans = (
        plan_for("tangy", starter=COOL),
        plan_for("tangy", starter=replace(WARM, grams_left=0.8, opened_on="2024-11-01")),
        plan_for("tangy", meats=(Meat("shoulder", "pork", 30.0, 25.0, "certified"),)),
        plan_for("mild", dextrose_pct=0.2),
        plan_for("tangy", waits_cold_h=8.0),
        plan_for("tangy", stuffing_wall_s=NINE + 900.0),
        plan_for("tangy", room_c=-5.0),
        plan_for("mild", mould=True, smokes="the neighbour's"),
    )
    for plan in plans:
        assert plan.refused
        for finding in plan.refused:
            assert len(fold(finding.text, "  ", "- ")) <= 3, finding.text
