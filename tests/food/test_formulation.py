"""The bowl: grams to the scale, per cent of the meat, and what follows from what was really weighed."""

import datetime as dt
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.food.acid import end_ph
from controller.food.bowl.cure import Strength
from controller.food.bowl.cure_limits import Style
from controller.food.bowl.dextrose import dextrose_for_ph, end_ph_range, sugar_by_rule_of_thumb_g_per_kg
from controller.food.bowl.formulation import Formula, Meat, fat_pct_of, formulate, mix_of
from controller.food.bowl.weighing import Wanted, to_scale
from controller.food.drying import PROTEIN_OF_LEAN, WATER_OF_LEAN

WINTER = dt.date(2026, 1, 5)
TANGY = Wanted(salt_pct=2.6, cure="1", strength=Strength(6.25), cure_pct=0.25, dextrose_pct=0.5)
SHOULDER = Meat("shoulder", "pork", 4.5, 25.0)


def bowl_of(
    wanted: Wanted = TANGY,
    *meats: Meat,
    scale_g: float = 0.1,
    big_scale_g: float = 1.0,
    aim_ph: float | None = None,
    style: Style = "cooked",
) -> Formula:
    block = meats or (SHOULDER,)
    return formulate(block, wanted, style=style, on=WINTER, aim_ph=aim_ph, scale_g=scale_g, big_scale_g=big_scale_g)


def grams(formula: Formula, name: str) -> float:
    return sum(line.grams for line in formula.ingredients if line.name.startswith(name))


def test_a_bowl_of_4_5_kg_reads_as_a_maker_would_weigh_it() -> None:
    formula = bowl_of(replace(TANGY, spices=(("black pepper", 2.5),)))
    assert [(line.name, line.grams) for line in formula.ingredients] == [
        ("cure no. 1 (6.25 % nitrite)", 11.2),  # 11.25, and rounded up it would be over the limit.
        ("salt to add", 107.0),  # 117 less the 10.5 in the cure.
        ("black pepper", 11.0),
        ("dextrose", 23.0),
        ("water", 54.0),
        ("starter", 1.2),  # 1.125, up to the scale's next step.
    ]
    assert formula.ingredients[1].note == "beside the 10.5 g of salt in the cure"
    assert all(line.of == "meat" for line in formula.ingredients)
    assert formula.nitrite_ppm_us == pytest.approx(float(Fraction(112, 10) * Fraction(625, 10_000) * 10**6 / 4500))


percents = st.integers(0, 60).map(lambda tenths: tenths / 10.0)
recipes = st.builds(
    Wanted,
    salt_pct=percents,
    cure=st.sampled_from(["1", "2", "other", "none"]),
    strength=st.builds(Strength, st.sampled_from([0.4, 0.5, 6.25]), st.sampled_from([0.0, 4.0])),
    cure_pct=st.integers(0, 300).map(lambda hundredths: hundredths / 100.0),
    salt_nitrite_pct=st.sampled_from([0.0, 0.0, 0.5]),
    dextrose_pct=percents,
    starter_g_per_kg=st.sampled_from([0.0, 0.25, 0.5]),
    accelerator=st.sampled_from(["", "erythorbate", "ascorbic acid"]),
    accelerator_pct=st.sampled_from([0.0, 0.05]),
    spices=st.lists(st.tuples(st.sampled_from(["pepper", "garlic", "paprika"]), percents), max_size=3).map(tuple),
)
blocks = st.lists(
    st.builds(Meat, st.just("meat"), st.just("pork"), st.floats(0.2, 20.0), st.floats(0.0, 60.0)), min_size=1
)
scales = st.sampled_from([0.01, 0.1, 1.0, 5.0])


@settings(max_examples=60)
@given(wanted=recipes, block=blocks, fine_g=scales, big_g=scales)
def test_any_bowl_is_the_sum_of_its_lines_and_each_line_is_a_step_of_a_scale(
    wanted: Wanted, block: list[Meat], fine_g: float, big_g: float
) -> None:
    formula = formulate(block, wanted, style="raw-dried", on=WINTER, scale_g=fine_g, big_scale_g=big_g)
    lines = formula.ingredients
    meat_g = 1000.0 * sum(meat.kg for meat in block)
    assert formula.mix_kg == pytest.approx((meat_g + sum(line.grams for line in lines)) / 1000.0)
    # What was asked for, by hand: the cure's own salt and that of the nitrite salt are no salt to add.
    cure_g = meat_g * wanted.cure_pct / 100.0 if wanted.cure != "none" else 0.0
    held = (wanted.strength.nitrite_pct + wanted.strength.nitrate_pct) / 100.0
    salt_g = max(0.0, meat_g * wanted.salt_pct / 100.0 - cure_g * (1.0 - held)) / (1.0 - wanted.salt_nitrite_pct / 100)
    starter_g = meat_g / 1000.0 * wanted.starter_g_per_kg
    asked_g = cure_g + salt_g + meat_g * wanted.dextrose_pct / 100.0 + starter_g
    asked_g += meat_g / 1000.0 * (12.0 if starter_g else 0.0)
    asked_g += meat_g * wanted.accelerator_pct / 100.0 if wanted.accelerator else 0.0
    asked_g += sum(meat_g / 1000.0 * g_per_kg for _, g_per_kg in wanted.spices)
    steps_g = 4 * fine_g + (4 + len(wanted.spices)) * big_g  # Each line is off by one step at most, salt by the cure's.
    assert sum(line.grams for line in lines) == pytest.approx(asked_g, abs=steps_g)
    for line in lines:
        of_scale = [abs(line.grams / step - round(line.grams / step)) for step in (fine_g, big_g)]
        assert min(of_scale) < 1e-6
        assert line.pct == pytest.approx(100.0 * line.grams / meat_g)


@settings(max_examples=60)
@given(wanted=recipes, kg=st.floats(0.2, 20.0), fine_g=scales)
def test_the_ppm_are_those_of_the_grams_on_the_scale_by_exact_fractions(
    wanted: Wanted, kg: float, fine_g: float
) -> None:
    formula = bowl_of(wanted, Meat("meat", "pork", kg), scale_g=fine_g)
    lines = {line.name: Fraction(str(line.grams)) for line in formula.ingredients}
    cure_g = sum(held for name, held in lines.items() if name.startswith("cure"))
    salt_g = sum(held for name, held in lines.items() if name.startswith("nitrite salt"))
    strength = wanted.strength
    nitrite_g = (
        cure_g * Fraction(str(strength.nitrite_pct)) / 100 + salt_g * Fraction(str(wanted.salt_nitrite_pct)) / 100
    )
    meat_g = Fraction(kg) * 1000
    mix_g = meat_g + sum(Fraction(str(line.grams)) for line in formula.ingredients)
    assert formula.nitrite_ppm_us == pytest.approx(float(nitrite_g * 10**6 / meat_g), rel=1e-9)
    assert formula.nitrite_ppm_ca == pytest.approx(float(nitrite_g * 10**6 / mix_g), rel=1e-9)
    ion = nitrite_g * 10**6 / mix_g * Fraction("46.005") / Fraction("68.995")
    assert formula.nitrite_ppm_eu_ion == pytest.approx(float(ion), rel=1e-9)
    nitrate_g = cure_g * Fraction(str(strength.nitrate_pct)) / 100
    assert formula.nitrate_ppm == pytest.approx(float(nitrate_g * 10**6 / meat_g), rel=1e-9)


def test_all_salt_is_the_target_within_a_step_of_the_scale() -> None:
    nitrite_salt = Wanted(salt_pct=2.6, cure="none", strength=Strength(0.0), cure_pct=0.0, salt_nitrite_pct=0.5)
    german = Wanted(salt_pct=2.6, cure="other", strength=Strength(0.5), cure_pct=2.5)
    for wanted in (TANGY, nitrite_salt, german):
        assert bowl_of(wanted).salt_pct == pytest.approx(2.6, abs=100.0 * 1.0 / 4500.0)
    assert grams(bowl_of(german), "salt to add") == 5.0  # 117 less 111.9 in 112.5 g of nitrite salt.
    assert bowl_of(nitrite_salt).nitrite_ppm_us == pytest.approx(0.5 / 100.0 * 117.0 / 4500.0 * 1e6)


def test_a_cure_that_brings_all_the_salt_leaves_none_to_add() -> None:
    formula = bowl_of(Wanted(salt_pct=2.4, cure="other", strength=Strength(0.5), cure_pct=3.0))
    assert grams(formula, "salt to add") == 0.0
    assert formula.salt_pct == pytest.approx(3.0 * 0.995)


def test_a_cure_on_its_limit_is_never_rounded_over_it_and_a_starter_never_down() -> None:
    for kg in (0.9, 1.3, 2.27, 4.5, 4.536):
        formula = bowl_of(TANGY, Meat("shoulder", "pork", kg))
        own = [limit for limit in formula.limits if limit.authority == "US" and limit.agent == "nitrite"]
        assert "over" not in {limit.verdict for limit in own}
        assert grams(formula, "starter") >= 0.25 * kg - 1e-9


def test_a_coarse_scale_is_told_by_how_much_it_shifts_the_nitrite() -> None:
    assert bowl_of(scale_g=0.01).rounding_pct == pytest.approx(0.0, abs=1e-6)
    assert bowl_of(scale_g=1.0).rounding_pct == pytest.approx(100.0 * (1.0 - 11.0 / 11.25))
    assert bowl_of(TANGY, Meat("shoulder", "pork", 0.3), scale_g=1.0).unweighable == ("cure",)


@pytest.mark.parametrize(
    ("asked_g", "step_g", "shown_g"), [(0.15, 0.1, 0.2), (11.25, 0.1, 11.3), (2.5, 1.0, 3.0), (7.4, 5.0, 5.0)]
)
def test_half_a_step_of_the_scale_goes_up(asked_g: float, step_g: float, shown_g: float) -> None:
    assert to_scale(asked_g, step_g) == shown_g
    assert to_scale(asked_g, step_g, "down") <= asked_g <= to_scale(asked_g, step_g, "up")


def test_a_step_that_is_met_exactly_is_not_left_by_binary_noise() -> None:
    assert to_scale(4.52 * 2.5, 0.1, "down") == 11.3
    assert to_scale(3 * 0.1, 0.1, "up") == 0.3


def test_the_order_of_the_bowl_begins_with_the_cure_and_ends_with_the_starter() -> None:
    spiced = replace(TANGY, spices=(("garlic", 3.0),), accelerator="erythorbate", accelerator_pct=0.05)
    names = [line.name for line in bowl_of(spiced).ingredients]
    assert names[0].startswith("cure")
    assert names[-2:] == ["water", "starter"]
    assert names.index("erythorbate") > names.index("garlic")
    assert "chlorine" in bowl_of().ingredients[-2].note


def test_without_a_starter_there_is_no_water_and_no_promise_of_acid() -> None:
    formula = bowl_of(replace(TANGY, starter_g_per_kg=0.0))
    assert grams(formula, "water") == grams(formula, "starter") == 0.0
    assert formula.end_ph[2] == 5.75


def test_the_fat_of_a_block_is_weighted_by_its_meats() -> None:
    lean, back_fat = Meat("shoulder", "pork", 3.0, 20.0), Meat("back fat", "pork", 1.0, 90.0)
    assert fat_pct_of((lean, back_fat)) == pytest.approx(37.5)
    assert bowl_of(TANGY, lean, back_fat).fat_pct == pytest.approx(37.5)


def test_a_kg_of_mix_is_made_of_what_went_in() -> None:
    formula = bowl_of()
    mix = mix_of(formula)
    lean_kg = 4.5 * 0.75 / formula.mix_kg
    assert mix.water_kg == pytest.approx(lean_kg * WATER_OF_LEAN + 0.054 / formula.mix_kg)
    assert mix.protein_kg == pytest.approx(lean_kg * PROTEIN_OF_LEAN)
    assert mix.fat_kg == pytest.approx(4.5 * 0.25 / formula.mix_kg)
    assert mix.salt_kg == pytest.approx((107.0 + 11.2 * 0.9375) / 1000.0 / formula.mix_kg)


@given(ph=st.floats(4.45, 5.6))
def test_the_dextrose_for_a_ph_leads_back_to_it(ph: float) -> None:
    shares = dextrose_for_ph(ph)
    assert shares == tuple(sorted(shares))
    for share, (buffer, own) in zip(shares, ((42.0, 6.0), (50.0, 3.0), (58.0, 1.0)), strict=True):
        if share > 0.0:
            assert end_ph(share, buffer=buffer, own_sugar=own) == pytest.approx(ph, abs=1e-6)


def test_a_bowl_for_a_ph_gives_grams_from_lowest_to_highest_and_ends_near_it() -> None:
    formula = bowl_of(aim_ph=4.9, big_scale_g=0.1)
    low_g, expected_g, high_g = formula.dextrose_g
    assert low_g < expected_g == grams(formula, "dextrose") < high_g
    assert formula.end_ph[1] == pytest.approx(4.9, abs=0.005)
    assert formula.end_ph[0] < 4.9 < formula.end_ph[2]


@pytest.mark.parametrize(("dextrose_pct", "measured_ph"), [(0.25, 5.2), (0.7, 4.6)])
def test_sausages_that_were_measured_end_inside_the_range(dextrose_pct: float, measured_ph: float) -> None:
    # At 23.8 °C; regimens of Hill et al. 2017, Food and Waterborne Parasitology, as tabled in PMC7034046 (read).
    lowest, _, highest = end_ph_range(dextrose_pct)
    assert lowest <= measured_ph <= highest


def test_the_rule_of_thumb_is_a_range_around_the_model() -> None:
    low, high = sugar_by_rule_of_thumb_g_per_kg(5.75 - 4.8)
    assert (low, high) == (pytest.approx(2.85), pytest.approx(9.5))
    assert low < dextrose_for_ph(4.8)[1] * 10.0 < high


@pytest.mark.parametrize("ph", [4.4, 3.0, 5.8, float("nan")])
def test_a_ph_that_no_sugar_leads_to_is_refused_with_the_range(ph: float) -> None:
    with pytest.raises(ValueError, match=r"above 4\.4.*up to 5\.75 is right"):
        bowl_of(aim_ph=ph)


def test_every_impossible_figure_is_told_at_once() -> None:
    with pytest.raises(ValueError, match=r"salt %: 260.*cure %: -1.*scale g: 0") as told:
        bowl_of(replace(TANGY, salt_pct=260.0, cure_pct=-1.0), scale_g=0.0)
    assert "0 to 100 is right" in str(told.value)


@pytest.mark.parametrize(
    "meat", [Meat("a", "pork", 0.0), Meat("a", "pork", 1.0, 130.0), Meat("a", "pork", float("nan"))]
)
def test_meat_that_cannot_be_is_named(meat: Meat) -> None:
    with pytest.raises(ValueError, match=r"a: .* is right"):
        bowl_of(TANGY, SHOULDER, meat)


def test_no_meat_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="no meat is named"):
        formulate((), TANGY, style="cooked", on=WINTER)
