"""The sheet for the wall is one page, says what it must, and never that anything is good to eat."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.food.bowl.formulation import Meat
from controller.planning.answers import Spice
from controller.planning.figures import as_object
from controller.planning.page import LINES, WIDTH, big, page_of
from tests.helpers.planned import COOL, at, plan_for, profile_named


@pytest.mark.parametrize("name", ["tangy", "mild"])
def test_the_page_is_one_page_of_80_columns(name: str) -> None:
    page = page_of(plan_for(name))
    assert len(page) <= LINES
    assert max(map(len, page)) <= WIDTH


SPICES = st.builds(Spice, st.sampled_from(["black pepper", "garlic", "fennel"]), st.floats(0.5, 9.0))


@settings(max_examples=8)
@given(
    kg=st.floats(0.5, 30.0),
    spices=st.lists(SPICES, max_size=6),
    diameter_mm=st.floats(20.0, 100.0),
    name=st.sampled_from(["tangy", "mild"]),
)  # fmt: skip
def test_whatever_goes_in_no_line_is_wider_than_the_page(
    kg: float, spices: list[Spice], diameter_mm: float, name: str
) -> None:
    meats = (Meat("shoulder", "pork", kg, 25.0, "certified"),)
    page = page_of(plan_for(name, meats=meats, spices=tuple(spices), diameter_mm=diameter_mm))
    assert max(map(len, page)) <= WIDTH
    assert "safe" not in " ".join(page).lower()


def test_the_page_says_grams_per_cent_limits_hours_and_cautions() -> None:
    text = re.sub(r"\s+", " ", " ".join(page_of(plan_for("tangy"))))
    for words in (
        "all per cent are of the green meat, 4.5 kg", "11.2 g 0.249 % cure no. 1 (6.25 % nitrite)",
        "beside the 10.5 g of salt in the cure", "a model, no promise", "at most 156.25: WITHIN",
        "EU nitrite 99, at most 80: OVER", "confirm with your authority", "thermometer's error",
        "pH 5.3 (meter 5.25) expected", "pH 4.85 (meter 4.80), the end of the ferment: expected",
        "For information, not your rules:",
        "botulism", "Nitrite is poisonous", "you do, and where you sell, your authority", "smoke elsewhere",
    ):  # fmt: skip
        assert words in text, words


def test_the_hour_expected_for_5_3_stands_at_the_latest_hour_and_before_that_of_the_stages_own_ph() -> None:
    page = page_of(plan_for("tangy"))
    latest = next(number for number, line in enumerate(page) if "thermometer's error" in line)
    assert page[latest + 1].startswith("pH 5.3 (meter 5.25) expected")
    assert page[latest + 2].startswith("pH 4.85")


@pytest.mark.parametrize("awake", [(7.0, 22.0), (9.5, 22.0), (0.0, 24.0), (12.0, 4.0)])
def test_nothing_is_called_all_while_an_hour_beside_it_falls_into_the_makers_sleep(awake: tuple[float, float]) -> None:
    text = re.sub(r"\s+", " ", " ".join(page_of(plan_for("tangy", awake=awake))))
    told = text.partition("the end of the ferment")[2].partition("A model")[0]
    assert ("all of that while you are awake" in told) is ("(" not in told)
    assert "100 %" not in told


def test_a_casing_of_2_2_inch_and_a_room_of_72_f_are_shown_without_false_digits() -> None:
    text = " ".join(page_of(plan_for("tangy", diameter_mm=55.88, room_c=22.2222)))
    assert "natural 56 mm" in text
    assert "22.22" not in text


def test_the_latest_hour_can_be_read_from_afar() -> None:
    plan = plan_for("tangy")
    page = page_of(plan)
    digits = big("15:16")
    assert len(digits) == 5
    assert any(len(re.findall("#", line)) > 10 for line in page)
    assert any("L A T E S T   H O U R" in line for line in page)


def test_a_cool_ferment_has_no_latest_hour_and_says_why() -> None:
    profile = at(profile_named("mild"), 14.0, at_most_h=240.0)
    page = " ".join(page_of(plan_for("mild", profile=profile, starter=replace(COOL, temp_c=(10.0, 32.0)))))
    assert "this rule protects nothing here" in page
    assert "L A T E S T" not in page


def test_the_object_has_the_keys_of_the_contract_and_times_that_can_be_read() -> None:
    said = as_object(plan_for("mild"))
    assert set(said["ingredients"][0]) >= {"name", "grams", "pct"}
    assert set(said["ingoing"]) >= {"nitrite_ppm_us", "nitrite_ppm_eu_ion", "nitrate_ppm", "nitrite_ppm_ca"}
    assert set(said["limits"][0]) >= {"rule", "limit_ppm", "value_ppm", "verdict"}
    assert said["cure"] == "2"
    assert re.fullmatch(r"2026-11-2\dT\d\d:\d\d\+00:00", said["steps"][0]["when"])
    assert said["ingoing"]["nitrite_ppm_us"] == pytest.approx(11.2 * 0.0625 / 4500.0 * 1e6)


def test_many_warnings_are_shortened_to_their_first_sentences_so_that_the_page_stays_one() -> None:
    plan = plan_for("mild")
    long = tuple(f"Warning {number}. " + "And so on, and so on. " * 8 for number in range(6))
    page = page_of(replace(plan, sheet=replace(plan.sheet, warnings=long)))
    assert "! Warning 5." in page
    assert not any("And so on" in line for line in page)
