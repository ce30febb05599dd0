"""What is said of a bowl before the meat is bought: the slips of people, each with its message."""

import datetime as dt
import re
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.plan import Profile
from controller.core.sheet import Authority, StarterChoice
from controller.errors import DataError, UsageError
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Meat
from controller.planning.answers import Answers, Finding, Spice
from controller.planning.bowl.cure import NO_CURE_WORDS, weeks_to_dry
from controller.planning.bowl.judge import formula_of, judge_bowl, wanted_of
from controller.planning.bowl.limits import SHELF_STABLE_WORDS
from controller.planning.bowl.meat import TESTED_WORDS
from controller.planning.bowl.text import ppm
from controller.settings.profile_file import read_profile
from controller.settings.shipped import find_profile, shipped_names

TANGY, MILD = (read_profile(find_profile(name)) for name in ("tangy", "mild"))
STARTER = StarterChoice(name="culture", dose_g_per_kg=0.25, temp_c=(18.0, 43.0))
PORK = Meat("shoulder", "pork", 4.5, 25.0)
NO_1 = Answers(
    meats=(PORK,),
    strength=Strength(6.25),
    starter=STARTER,
    trichinae="certified",
    on=dt.date(2026, 1, 5),
    now_wall_s=1_767_600_000.0,
)
NO_2 = replace(NO_1, cure="2", strength=Strength(6.25, 4.0))


def said(answers: Answers, profile: Profile = TANGY, weight: str = "") -> list[Finding]:
    found = judge_bowl(answers, formula_of(answers, profile), profile)
    return [finding for finding in found if not weight or finding.weight == weight]


def the_one(answers: Answers, words: str, profile: Profile = TANGY) -> Finding:
    found = [finding for finding in said(answers, profile) if words in finding.text]
    assert len(found) == 1, [finding.text for finding in said(answers, profile)]
    return found[0]


def beside_usual(answers: Answers, profile: Profile = TANGY) -> list[str]:
    """Return what is said beyond the two sentences that every cooked pork sausage with a cure gets."""
    texts = [finding.text for finding in said(answers, profile)]
    return [text for text in texts if "poisonous in gram" not in text and "trichinae die in the cook" not in text]


def test_the_shipped_recipes_pass_with_the_caution_on_nitrite_alone() -> None:
    assert beside_usual(NO_1, TANGY) == []
    assert beside_usual(NO_2, MILD) == []
    assert the_one(NO_1, "poisonous").weight == "warning"


@pytest.mark.parametrize("name", shipped_names("profile"))
def test_no_recipe_on_the_shelf_gets_another_word_in_its_usual_casing(name: str) -> None:
    profile = read_profile(find_profile(name))
    answers = NO_2 if profile.cure == "2" else NO_1
    assert beside_usual(replace(answers, cure=profile.cure), profile) == []


# Too much, too little, none.


@pytest.mark.fault_row("H6")
def test_pink_cure_taken_for_table_salt_is_refused_with_both_readings_of_the_pack() -> None:
    slip = the_one(replace(NO_1, cure_pct=2.5), "Too much")
    assert slip.weight == "refused"
    assert "nitrite 1562 ppm, and 156.25 is the most" in slip.text
    assert "25 g per kg of a 0.5 % nitrite salt are 125 ppm, of a 6.25 % cure 1562 ppm" in slip.text
    assert "taken for table salt" in slip.text
    assert "At most 0.25 % of this cure, 2.5 g per kg" in slip.text
    assert "9 CFR 424.21(c)" in slip.source
    assert "confirm with your authority" in slip.text


def test_a_salt_of_6_25_pct_nitrite_is_caught_by_its_percentage() -> None:
    slip = the_one(replace(NO_1, cure="none", strength=None, salt_nitrite_pct=6.25), "The salt: 6.25 % nitrite")
    assert slip.weight == "refused"
    assert "as table salt" in slip.text


def test_a_nitrite_salt_weighed_like_a_cure_is_too_little_and_told_both_ways() -> None:
    slip = the_one(replace(NO_1, cure="other", strength=Strength(0.5), cure_pct=0.25), "Too little")
    assert slip.weight == "refused"
    assert "2.5 g per kg of a 0.5 % nitrite salt are 12.5 ppm, of a 6.25 % cure 156 ppm" in slip.text


def test_a_cure_no_1_of_half_a_per_cent_has_to_be_read_from_the_pack_again() -> None:
    slip = the_one(replace(NO_1, strength=Strength(0.5), cure_pct=2.5), "Cure no. 1 usually holds 6.25 %")
    assert (slip.weight, slip.asks) == ("word", "the pack says 0.5 % nitrite")
    assert "are 125 ppm, of a 6.25 % cure 1562 ppm" in slip.text


@pytest.mark.parametrize("cure_pct", [None, 0.25, 2.5])
@pytest.mark.parametrize("kind", ["1", "other"])
def test_a_strength_typed_as_a_fraction_is_told_in_per_cent(
    kind: Literal["1", "other"], cure_pct: float | None
) -> None:
    slip = the_one(replace(NO_1, cure=kind, strength=Strength(0.0625), cure_pct=cure_pct), "fraction")
    assert slip.weight == "refused"
    assert "0.0625 % looks like a fraction; in % it would be 6.25" in slip.text


def test_a_nitrite_salt_that_is_all_the_salt_is_a_cure_like_any_other() -> None:
    assert beside_usual(replace(NO_1, cure="other", strength=Strength(0.5), cure_pct=2.5)) == []
    as_salt = replace(NO_1, cure="none", strength=None, salt_nitrite_pct=0.5)
    assert beside_usual(as_salt) == []
    assert formula_of(as_salt, TANGY).nitrite_ppm_us == pytest.approx(130.0)


def test_a_nitrite_salt_beside_a_cure_is_counted_together_and_refused_over_the_limit() -> None:
    twice = replace(NO_1, salt_nitrite_pct=0.5)
    assert the_one(twice, "counted together").weight == "refused"
    assert "156 ppm with the cure and 119 ppm with the salt, together 274 ppm" in the_one(twice, "twice").text


def test_a_nitrite_salt_beside_little_cure_is_within_and_warned_of() -> None:
    found = beside_usual(replace(NO_1, salt_nitrite_pct=0.5, cure_pct=0.03))
    assert len(found) == 1
    assert found[0].startswith("Nitrite comes in twice")


def test_no_cure_at_all_needs_a_sentence_typed_under_the_botulism_caution() -> None:
    bare = the_one(replace(NO_1, cure="none", strength=None), "No nitrite and no nitrate")
    assert (bare.weight, bare.asks) == ("word", NO_CURE_WORDS)
    assert "botulism" in bare.text
    assert said(replace(NO_1, cure="none", strength=None), weight="refused") == []


@pytest.mark.parametrize(
    ("authority", "cure_pct", "least"),
    [("us", 0.1, "120 is the least"), ("canada", 0.1, "100 is the least"), ("eu", 0.05, "40 is the least"),
     ("uk", 0.05, "40 is the least"), ("us", 0.05, "120 is the least")],
)  # fmt: skip
def test_too_little_cure_is_refused_by_the_floor_of_the_authority_and_below_40_anywhere(
    authority: Authority, cure_pct: float, least: str
) -> None:
    assert least in the_one(replace(NO_1, authority=authority, cure_pct=cure_pct), "Too little").text
    assert the_one(replace(NO_1, authority=authority, cure_pct=cure_pct), "Too little").weight == "refused"


def test_between_40_and_120_ppm_a_raw_dried_sausage_in_the_us_needs_the_makers_word() -> None:
    found = the_one(replace(NO_2, cure_pct=0.1), "Too little", MILD)
    assert (found.weight, found.asks) == ("word", SHELF_STABLE_WORDS)
    assert the_one(replace(NO_2, cure_pct=0.05), "Too little", MILD).weight == "refused"


def test_nitrate_alone_is_too_little() -> None:
    saltpetre = replace(NO_1, cure="other", strength=Strength(0.0, 100.0, potassium=True), cure_pct=0.03)
    assert "Nitrate does nothing before" in the_one(saltpetre, "Too little", MILD).text


def test_pure_nitrite_is_refused_whatever_the_amount() -> None:
    pure = replace(NO_1, cure="other", strength=Strength(100.0), cure_pct=0.015)
    assert the_one(pure, "nearly pure").weight == "refused"


@pytest.mark.fault_row("H6")
def test_the_same_bowl_is_refused_in_the_eu_with_the_amount_that_would_be_right() -> None:
    over = the_one(replace(NO_1, authority="eu"), "Too much")
    assert "80 is the most (EU, of the product as made, as NO2 ion)" in over.text
    assert "At most 0.2 % of this cure, 2 g per kg of meat: --cure-pct 0.2%." in over.text
    assert beside_usual(replace(NO_1, authority="eu", cure_pct=0.2)) == []


def test_no_2_is_over_what_canada_allows_of_nitrite_and_nitrate_together() -> None:
    assert the_one(replace(NO_2, authority="canada"), "nitrite and nitrate 244", MILD).weight == "refused"


@pytest.mark.parametrize(
    ("value", "limit", "shown"),
    [(1952.47, 156.25, "1952"), (156.4, 156.25, "156.4"), (156.1, 156.25, "156"), (119.6, 120.0, "119.6"),
     (12.5, None, "12.5"), (0.0, 200.0, "0"), (200.0, 200.0, "200")],
)  # fmt: skip
def test_ppm_are_whole_unless_the_limit_lies_within_the_rounding(value: float, limit: float | None, shown: str) -> None:
    assert ppm(value, limit) == shown


@settings(max_examples=40)
@given(
    authority=st.sampled_from(["us", "canada", "eu", "uk"]),
    strength=st.sampled_from([0.4, 0.5, 0.6, 2.5, 6.25]),
    ppm=st.floats(5.0, 1500.0),
    kg=st.floats(0.5, 20.0),
    scale_g=st.sampled_from([0.01, 0.1, 1.0]),
)
def test_the_advice_on_the_amount_of_cure_is_right_when_it_is_followed(
    authority: Authority, strength: float, ppm: float, kg: float, scale_g: float
) -> None:
    asked = replace(
        NO_1,
        meats=(replace_kg(PORK, kg),),
        authority=authority,
        cure="other",
        strength=Strength(strength),
        cure_pct=min(100.0, ppm / strength / 100.0),
        scale_g=scale_g,
    )
    for finding in said(asked, weight="refused"):
        advised = re.search(r"At (?:most|least) ([\d.]+) % of this cure", finding.text)
        if not advised:
            continue
        followed = said(replace(asked, cure_pct=float(advised.group(1))), weight="refused")
        same = finding.text[: finding.text.index(":")]
        assert not [later.text for later in followed if later.text.startswith(same)]


def replace_kg(meat: Meat, kg: float) -> Meat:
    return Meat(meat.name, meat.species, kg, meat.fat_pct, meat.treated)


# The kind of cure.


def test_no_2_with_a_cook_is_refused_with_its_reason() -> None:
    assert "the heat kills the bacteria" in the_one(NO_2, "sausage that is cooked").text
    assert the_one(NO_2, "sausage that is cooked").weight == "refused"
    other = replace(NO_1, cure="other", strength=Strength(6.25, 4.0))
    assert the_one(other, "sausage that is cooked").weight == "refused"


def test_no_1_in_a_raw_sausage_of_many_weeks_is_warned_of_by_the_four_week_rule() -> None:
    warned = the_one(NO_1, "four weeks", MILD)
    assert warned.weight == "warning"
    assert "nitrate is the reserve" in warned.text
    assert warned.source == "common practice, no source"
    assert beside_usual(replace(NO_1, diameter_mm=36.0), MILD) == []


def test_no_2_in_a_thin_sausage_is_warned_of_too() -> None:
    assert "no. 1 is usual" in the_one(replace(NO_2, diameter_mm=32.0), "four weeks", MILD).text


@pytest.mark.parametrize(
    ("diameter_mm", "least", "most"), [(40.0, 3.0, 4.0), (62.5, 5.0, 7.0), (95.0, 8.0, 12.0), (20.0, 1.5, 2.0)]
)
def test_the_weeks_of_drying_go_by_the_casing(diameter_mm: float, least: float, most: float) -> None:
    # Common practice, no source.
    assert weeks_to_dry(diameter_mm) == (pytest.approx(least), pytest.approx(most))


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (replace(NO_2, strength=Strength(6.25)), "none was given"),
        (replace(NO_1, strength=Strength(6.25, 4.0)), "holds nitrite only"),
    ],
)
def test_a_kind_of_cure_that_its_strength_contradicts_is_refused(answers: Answers, words: str) -> None:
    assert the_one(answers, words, MILD).weight == "refused"


def test_without_a_word_on_the_amount_a_weaker_cure_brings_the_nitrite_that_the_profile_means() -> None:
    weak = replace(NO_1, cure="other", strength=Strength(5.0))
    assert wanted_of(weak, TANGY).cure_pct == pytest.approx(0.25 * 6.25 / 5.0)
    assert formula_of(weak, TANGY).nitrite_ppm_us == pytest.approx(156.25, rel=0.01)


def test_the_strength_of_a_cure_is_never_assumed() -> None:
    with pytest.raises(UsageError, match="pack says how much nitrite"):
        formula_of(replace(NO_1, strength=None), TANGY)


# Accelerators and spices.


@pytest.mark.parametrize(("name", "over_pct", "most"), [("erythorbate", 0.06, "0.05"), ("ascorbic acid", 0.05, "0.04")])
def test_too_much_of_an_accelerator_is_refused_with_what_would_be_right(name: str, over_pct: float, most: str) -> None:
    over = replace(NO_1, accelerator=name, accelerator_pct=over_pct)
    assert f"At most {most} % of it" in the_one(over, "accelerator").text
    assert beside_usual(replace(over, accelerator_pct=float(most))) == []
    assert len(said(replace(over, cure="none", strength=None), weight="refused")) == 1


def test_an_accelerator_needs_its_name_and_its_amount() -> None:
    assert the_one(replace(NO_1, accelerator="erythorbate"), "how much of it").weight == "refused"
    assert the_one(replace(NO_1, accelerator_pct=0.05), "of what").weight == "refused"


@pytest.mark.parametrize(
    ("spice", "weight", "words"),
    [
        ("GDL", "refused", "not offered here"),
        ("glucono delta-lactone", "refused", "not offered here"),
        ("pink salt", "refused", "nobody counts it"),
        ("celery powder", "refused", "nobody counts it"),
        ("brown sugar", "warning", "--dextrose-pct counts it"),
        ("garlic salt", "warning", "--salt-pct counts it"),
    ],
)
def test_what_is_counted_does_not_hide_among_the_spices(spice: str, weight: str, words: str) -> None:
    assert the_one(replace(NO_1, spices=(Spice(spice, 2.0),)), words).weight == weight


def test_an_honest_spice_is_left_in_peace() -> None:
    assert beside_usual(replace(NO_1, spices=(Spice("black pepper", 2.5), Spice("garlic", 3.0)))) == []


# Salt, dextrose, scales.


@pytest.mark.parametrize(
    ("salt_pct", "words", "source"),
    [(2.3, "Below 2.4 % of the mix", "textbook"), (3.8, "Above 3.5 %", "common practice")],
)
def test_salt_outside_of_what_is_usual_is_warned_of_with_its_source(salt_pct: float, words: str, source: str) -> None:
    warned = the_one(replace(NO_1, salt_pct=salt_pct), words)
    assert warned.weight == "warning"
    assert source in warned.source


def test_canada_asks_for_2_5_pct_salt_where_a_sausage_keeps_without_cooling() -> None:
    lean = replace(NO_1, salt_pct=2.53)
    assert beside_usual(lean) == []
    assert the_one(replace(lean, authority="canada"), "Canada asks for 2.5 %").weight == "warning"
    assert beside_usual(replace(lean, authority="canada", salt_pct=2.8)) == []


def test_a_cure_that_brings_more_salt_than_was_wanted_is_told() -> None:
    salty = replace(NO_1, cure="other", strength=Strength(0.4), cure_pct=3.2)
    assert "brings 3.19 %, and 2.6 % was wanted" in the_one(salty, "the cure alone").text


def test_mild_with_0_2_pct_dextrose_sits_on_5_3_and_is_warned_of() -> None:
    warned = the_one(replace(NO_2, dextrose_pct=0.2), "may never reach 5.3 with this dextrose", MILD)
    assert warned.weight == "warning"
    assert "sits on 5.3" in warned.text
    for enough in (0.3, 0.4):
        assert beside_usual(replace(NO_2, dextrose_pct=enough), MILD) == []


def test_the_advice_on_dextrose_is_right_when_it_is_followed() -> None:
    text = the_one(replace(NO_2, dextrose_pct=0.2), "may never reach", MILD).text
    advised = re.search(r"; ([\d.]+) % does also", text)
    assert advised
    assert beside_usual(replace(NO_2, dextrose_pct=float(advised.group(1)) + 0.01, big_scale_g=0.1), MILD) == []


def test_no_dextrose_at_all_cannot_reach_5_3_and_is_refused() -> None:
    assert the_one(replace(NO_2, dextrose_pct=0.0), "does not reach 5.3", MILD).weight == "refused"


def test_an_end_above_the_profiles_own_ph_is_warned_of() -> None:
    warned = the_one(replace(NO_1, dextrose_pct=0.4), "ferments to 4.85 and may never get there")
    assert warned.weight == "warning"


def test_very_much_dextrose_is_unusual() -> None:
    assert "Toldra" in the_one(replace(NO_1, dextrose_pct=2.5), "unusual").source


def test_a_ph_that_no_sugar_leads_to_is_refused_with_the_range() -> None:
    with pytest.raises(DataError, match=r"pH 4\.2: above 4\.4"):
        formula_of(replace(NO_1, aim_ph=4.2), TANGY)


def test_a_ph_aimed_at_sets_the_dextrose() -> None:
    formula = formula_of(replace(NO_2, aim_ph=4.9), MILD)
    low_g, expected_g, high_g = formula.dextrose_g
    assert low_g < expected_g < high_g
    assert formula.end_ph[1] == pytest.approx(4.9, abs=0.02)


def test_a_scale_of_one_gram_is_told_for_the_cure() -> None:
    coarse = replace(NO_1, scale_g=1.0)
    assert "shifts the nitrite by 2.2 %" in the_one(coarse, "shifts").text
    assert "weighed to 0.1 g or better" in the_one(coarse, "weighed to").text


def test_a_cure_below_one_step_of_the_scale_is_refused_as_none() -> None:
    few = replace(NO_1, meats=(replace_kg(PORK, 0.3),), scale_g=1.0)
    assert the_one(few, "the cure is less than one step").weight == "refused"
    assert not [finding for finding in said(few) if "shifts the nitrite" in finding.text]


# The meats.


def test_untreated_pork_in_a_raw_sausage_is_asked_before_the_grinder() -> None:
    asked = the_one(replace(NO_2, trichinae=""), "before the grinder", MILD)
    assert asked.weight == "refused"
    assert "trichinae" in asked.text
    frozen = Meat("shoulder", "pork", 4.5, 25.0, treated="frozen 20 days at -15 °C, 10 cm thick")
    assert beside_usual(replace(NO_2, trichinae="", meats=(frozen,)), MILD) == []


def test_pork_that_is_cooked_needs_no_other_option_but_stays_raw_until_then() -> None:
    assert "taste nothing" in the_one(replace(NO_1, trichinae=""), "trichinae die in the cook").text
    assert said(replace(NO_1, trichinae=""), weight="refused") == []


@pytest.mark.parametrize("species", ["beef", "lamb", "game"])
def test_a_ruminant_in_a_raw_sausage_needs_a_kill_step_before_the_grinder(species: str) -> None:
    meat = replace(NO_2, meats=(Meat("chuck", species, 4.5, 25.0),))
    asked = the_one(meat, "O157:H7", MILD)
    assert asked.weight == "refused"
    assert "Drying alone is no kill step" in asked.text
    assert said(replace(meat, cure="1", strength=Strength(6.25)), TANGY, "refused") == []


@pytest.mark.parametrize("species", ["wild boar", "bear"])
def test_frost_is_no_option_for_wild_meat(species: str) -> None:
    wild = replace(NO_2, meats=(Meat("ham", species, 3.0, 20.0, treated="frozen 30 days"),))
    assert "Freezing cannot be relied on" in the_one(wild, "outlive frost", MILD).text
    by_option = replace(NO_2, meats=(Meat("ham", species, 3.0, 20.0),), trichinae="core-0f-106h")
    assert the_one(by_option, "outlive frost", MILD).weight == "refused"


def test_frozen_game_of_another_kind_needs_the_makers_word() -> None:
    deer = replace(NO_2, meats=(Meat("deer", "game", 3.0, 20.0, "deep frozen"),), kill_step="90f-4.6-55mm-heat")
    assert the_one(deer, "outlive frost", MILD).asks == TESTED_WORDS


def test_poultry_asks_for_seven_powers_of_ten() -> None:
    hen = (Meat("thigh", "poultry", 3.0, 15.0),)
    assert the_one(replace(NO_2, meats=hen), "7 powers of ten", MILD).weight == "refused"
    warned = the_one(replace(NO_1, meats=hen), "7 powers of ten", TANGY)
    assert warned.weight == "warning"
    # USDA FSIS, Appendix A (1999): 29 s at 154 °F for 7 log; tangy cooks to 68 °C = 154.4 °F.
    assert "FSIS Appendix A (1999), column for 7: in the core 67.8 °C (154 °F), 29 s" in warned.text


def test_a_species_that_nobody_knows_rules_for_is_refused_by_name() -> None:
    assert "one of pork, beef" in the_one(replace(NO_1, meats=(Meat("tail", "crocodile", 1.0),)), "crocodile").text


def test_refusals_come_first_and_warnings_last() -> None:
    weights = [finding.weight for finding in said(replace(NO_2, cure_pct=0.1, dextrose_pct=0.2, trichinae=""), MILD)]
    assert weights == sorted(weights, key=("refused", "word", "warning").index)
    assert set(weights) == {"refused", "word", "warning"}


def test_no_sentence_calls_a_sausage_safe_and_none_is_longer_than_five_short_lines() -> None:
    many = [
        *said(replace(NO_1, cure_pct=2.5, trichinae="", scale_g=1.0)),
        *said(replace(NO_2, dextrose_pct=0.2, cure_pct=0.1), MILD),
        *said(replace(NO_1, cure="none", strength=None)),
        *said(replace(NO_2, meats=(Meat("a", "beef", 1.0), Meat("b", "poultry", 1.0), Meat("c", "bear", 1.0))), MILD),
    ]
    for finding in many:
        assert not re.search(r"\bsafe\b", finding.text)
        assert len(finding.text) <= 5 * 76
