"""Shelf stability: every published criterion, and the verdict at, below and above each limit."""

import re
from typing import Any

import pytest

from controller.food.acid import MIX_PH, end_ph
from controller.food.degree_hours import US
from controller.food.drying import mix_of, water_activity, water_activity_at_loss
from controller.food.drying_rate import AW_ERROR
from controller.food.germs.measured import best, worst
from controller.food.germs.shelf_stability import (
    CRITERIA,
    GROWTH_MINIMA,
    IDENTITY,
    Criterion,
    Found,
    judge,
    judge_authority,
    judge_first,
    leistner_class,
)
from tests.helpers.published_rows import rows_of

ROWS = rows_of("shelf_stability.csv")
LACTATE_MOL = 0.050
"""Of the published tables of water activity: 0.5 % dextrose."""
AUTHORITIES = {"US FSIS": "us", "EU": "eu", "Leistner and Roedel": "leistner", "Canada (CFIA)": "canada"}


def of_kind(kind: str) -> list[dict[str, str]]:
    found = [row for row in ROWS if row["kind"] == kind]
    assert found
    return found


def number(text: str) -> float | None:
    return float(text) if re.fullmatch(r"[\d.]+", text) else None


def name_of(row: dict[str, str]) -> str:
    return f"{row['authority']}, {row['product']}, pH {row['ph']}, aw {row['aw']}"


STABLE = [row for row in of_kind("criterion") if "perishable" not in row["outcome"]]


def found_for(row: dict[str, str]) -> Criterion:
    [found] = [
        criterion
        for criterion in CRITERIA
        if criterion.authority == AUTHORITIES[row["authority"]]
        and criterion.ph_max == number(row["ph"])
        and criterion.aw_max == number(row["aw"])
        and criterion.mpr_max == number(row["moisture_protein_ratio_max"])
        and (criterion.days_under is not None) == ("shelf life" in row["other"])
    ]
    return found


@pytest.mark.parametrize("row", STABLE, ids=name_of)
def test_each_published_criterion_is_there_with_its_mark(row: dict[str, str]) -> None:
    found = found_for(row)
    assert found.confirm == (row["how_known"] == "memory")
    assert found.ph_below == (row["ph_rule"] == "<")
    assert (found.ph_at == "end of fermentation") == ("end of fermentation" in row["ph_rule"])
    assert ("shelf stable" in row["outcome"]) == ("shelf stable" in found.outcome)


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda criterion: criterion.id)
def test_each_is_met_at_its_limit_not_met_above_it_and_open_where_nobody_measured(criterion: Criterion) -> None:
    hair = 0.01 if criterion.ph_below or criterion.days_under else 0.0
    told: dict[str, Any] = {
        "ph": criterion.ph_max and criterion.ph_max - hair,
        "ferment_ph": criterion.ph_max,
        "aw": criterion.aw_max,
        "mpr": criterion.mpr_max,
        "shelf_days": criterion.days_under and criterion.days_under - hair,
    }
    assert judge(criterion, Found(**told)).verdict == "met"
    assert judge(criterion, Found()).verdict == "not measured"
    asked = [name for name, limit in told.items() if limit is not None]
    ignored = "ph" if criterion.ph_at == "end of fermentation" else "ferment_ph"
    for name in (name for name in asked if name != ignored):
        assert judge(criterion, Found(**{**told, name: (told[name] or 0.0) + 0.011})).verdict == "not met"
        missing = judge(criterion, Found(**{**told, name: None}))
        assert missing.verdict == "not measured"
        assert "not measured" in missing.found


@pytest.mark.parametrize("row", [row for row in of_kind("criterion") if "Leistner" in row["authority"]], ids=name_of)
def test_the_classes_of_leistner_and_roedel_are_as_printed(row: dict[str, str]) -> None:
    ph = number(row["ph"]) or 5.1
    aw = number(row["aw"]) or 0.93
    match row["outcome"]:
        case "very perishable":
            assert leistner_class(ph + 0.01, aw + 0.001) == "very perishable"
            assert leistner_class(ph, aw + 0.001) != "very perishable"
            assert leistner_class(ph + 0.01, aw) != "very perishable"
        case "perishable":  # Either is enough, where the other is higher.
            assert leistner_class(ph, 0.96) == "perishable"
            assert leistner_class(5.5, aw) == "perishable"
        case _ if row["aw"]:
            assert leistner_class(ph, aw) == "shelf stable"
        case _:
            assert leistner_class(ph - 0.01, 0.97) == "shelf stable"
            assert leistner_class(ph, 0.97) == "perishable"


def test_canada_asks_for_cure_salt_and_degree_hours_first() -> None:
    [row] = of_kind("precondition")
    assert ("100 ppm" in row["other"], "2.5 % salt" in row["other"], "degree-hours" in row["other"]) == (True,) * 3
    good = Found(ph=4.6, ingoing_ppm=100.0, salt_pct=2.5, degree_hours="met")
    assert {condition.verdict for condition in judge_first(good)} == {"met"}
    assert judge_authority("canada", good)[0] == "met"
    low = Found(ph=4.6, ingoing_ppm=99.0, salt_pct=2.49, degree_hours="not met")
    assert {condition.verdict for condition in judge_first(low)} == {"not met"}
    assert judge_authority("canada", low)[0] == "not met"
    assert judge_authority("canada", Found(ph=4.6))[0] == "not measured"


def test_below_a_limit_is_not_at_it() -> None:
    below = next(criterion for criterion in CRITERIA if criterion.id == "leistner-ph")
    assert judge(below, Found(ph=5.0)).verdict == "not met"
    assert judge(below, Found(ph=4.99)).verdict == "met"


def test_the_meters_error_is_added_before_a_ph_counts() -> None:
    eu = next(criterion for criterion in CRITERIA if criterion.id == "eu-ph")
    assert judge(eu, Found(ph=4.35, ph_error=0.05)).verdict == "met"
    assert judge(eu, Found(ph=4.38, ph_error=0.05)).verdict == "not met"
    assert judge(eu, Found(ph=4.38, ph_error=0.05)).found == "pH 4.38 + 0.05"


def test_one_row_of_an_authority_is_enough_and_an_open_one_leaves_it_open() -> None:
    assert judge_authority("eu", Found(ph=4.4))[0] == "met"
    assert judge_authority("eu", Found(ph=4.9, aw=0.94))[0] == "met"
    assert judge_authority("eu", Found(ph=4.9))[0] == "not measured"
    assert judge_authority("eu", Found(ph=5.1, aw=0.95, shelf_days=30.0))[0] == "not met"
    assert judge_authority("us", Found(ph=4.9, mpr=3.1))[0] == "met"


RIPENING = {float(row["product"].split()[-1]): float(row["ph"]) for row in of_kind("measured") if row["ph"]}
"""pH by day, Korean J. Food Sci. Anim. Resour. 36(3), Table 2."""


def test_the_ph_after_the_ferment_is_another_than_the_last_one() -> None:
    assert RIPENING[20.0] > RIPENING[14.0]  # It rises again while ripening.
    both = next(criterion for criterion in CRITERIA if criterion.id == "canada-both")
    assert judge(both, Found(ph=5.45, ferment_ph=5.25, aw=0.89)).verdict == "met"
    assert judge(both, Found(ph=RIPENING[20.0], ferment_ph=5.35, aw=0.89)).verdict == "not met"


def test_the_models_ph_begins_and_ends_where_a_measured_sausage_does() -> None:
    # The paper's recipe is not in the table: begun within 0.1 of the model's mix, soured within what 0.2 to 1 % do.
    assert RIPENING[0.0] == pytest.approx(MIX_PH, abs=0.1)
    assert end_ph(1.0) <= RIPENING[14.0] < RIPENING[7.0] <= end_ph(0.2)


def between(text: str) -> tuple[float, float]:
    low, _, high = text.partition(" to ")
    return float(low), float(high or low)


@pytest.mark.parametrize("row", of_kind("typical"), ids=lambda row: row["product"])
def test_the_models_water_activity_is_typical(row: dict[str, str]) -> None:
    """Look at 20 % of fat, as the French row has it, after the loss that the words stand for.

    Freshly stuffed 0 %, semi-dry 10 to 20 % (common practice, no source), matured 40 % (the row's own), after the first
    drying in between. The tolerance is the model's own, 0.02.
    """
    mix = mix_of(20.0, 2.7, 0.5)
    low, high = between(row["aw"])
    losses = {"stuffed": (0.0, 0.0), "semi-dry": (10.0, 20.0), "after the first": (20.0, 30.0), "matured": (40.0, 40.0)}
    [(from_pct, to_pct)] = [losses[words] for words in losses if words in row["product"]]
    for loss_pct in (from_pct, to_pct):
        assert low - AW_ERROR <= water_activity_at_loss(mix, loss_pct, LACTATE_MOL) <= high + AW_ERROR


@pytest.mark.parametrize("row", [row for row in of_kind("measured") if row["aw"]], ids=lambda row: row["product"])
def test_the_models_water_activity_is_near_a_measured_one(row: dict[str, str]) -> None:
    """Look at the moisture that was measured with it; the row names no recipe, so all lean mixes are looked at.

    5 to 20 % of fat, 2 to 3 % of salt. On top of their spread the model's own tolerance, 0.02.
    """
    share = float(row["other"].split()[1]) / 100.0
    found = []
    for fat_pct in (5.0, 10.0, 15.0, 20.0):
        for salt_pct in (2.0, 2.5, 3.0):
            mix = mix_of(fat_pct, salt_pct, 0.5)
            found.append(water_activity(mix, mix.solids_kg * share / (1.0 - share), LACTATE_MOL))
    assert min(found) - AW_ERROR <= float(row["aw"]) <= max(found) + AW_ERROR
    assert max(found) - min(found) < 0.15  # The unknown recipe spreads most in the driest row, by 0.13.


def test_staphylococcus_grows_from_where_the_degree_hours_begin() -> None:
    [row] = [row for row in of_kind("growth limit") if not row["ph"]]
    assert f"effectively from {US.base:g} F" in row["other"]


@pytest.mark.parametrize("row", of_kind("identity"), ids=lambda row: row["product"][:24])
def test_each_product_has_its_printed_ratio(row: dict[str, str]) -> None:
    [found] = [each for each in IDENTITY if row["product"].startswith(each[0])]
    assert found[1] == float(row["moisture_protein_ratio_max"])
    assert found[2] == (row["how_known"] == "memory")


@pytest.mark.parametrize(
    "row",
    [row for row in of_kind("growth limit") if row["ph"]],
    ids=lambda row: f"{row['product']}, {row['authority']}",
)
def test_each_germ_has_its_printed_minima(row: dict[str, str]) -> None:
    assert (row["product"], float(row["ph"]), float(row["aw"]), row["authority"]) in GROWTH_MINIMA


def test_what_is_needed_together_and_what_is_enough_alone() -> None:
    assert worst(["met", "met"]) == "met"
    assert worst(["met", "not measured"]) == "not measured"
    assert worst(["not measured", "not met"]) == "not met"
    assert worst([]) == "not measured"
    assert best(["not met", "met"]) == "met"
    assert best(["not met", "not measured"]) == "not measured"
    assert best(["not met"]) == "not met"
