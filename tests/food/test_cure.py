"""Curing agents against the published limits and worked examples, and against exact fractions."""

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.food.bowl.cure import (
    AUTHORITY_NAMES,
    CAUTION,
    Authority,
    Checked,
    Ingoing,
    check,
    cure_needed_g,
    ingoing_ppm,
    nitrate_as_ion,
    nitrate_from_ion,
    nitrite_as_ion,
    nitrite_from_ion,
    oz_per_100_lb,
    ppm_of_oz_per_100_lb,
    pumped_ppm,
)
from controller.food.bowl.cure_limits import LIMITS, Limit, Style
from tests.helpers.published_rows import rows_of

PUBLISHED = rows_of("cure_limits.csv")
WINTER = dt.date(2026, 1, 5)
ROUTES: dict[str, Callable[..., list[float]]] = {
    "C-1": lambda oz, pct, lb: [ingoing_ppm(oz / 16.0 * pct / 100.0, lb)],
    "C-2": lambda meat_g, ppm, pct: [cure_needed_g(meat_g, ppm, pct / 100.0)],
    "C-3": lambda cure_g, pct, meat_g: [ingoing_ppm(cure_g * pct / 100.0, meat_g)],
    "C-4": lambda cure_g, _, nitrate_pct, meat_g: [ingoing_ppm(cure_g * nitrate_pct / 100.0, meat_g)],
    "C-5": lambda oz, _: [ppm_of_oz_per_100_lb(oz)],
    "C-6": lambda oz, _: [ppm_of_oz_per_100_lb(oz)],
    "C-8": lambda oz, _: [ppm_of_oz_per_100_lb(oz)],
    "C-10": lambda oz, _: [ppm_of_oz_per_100_lb(oz)],
    "C-11": lambda lb, pickle_lb, pump_pct: [pumped_ppm(lb, pump_pct / 100.0, pickle_lb)],
    "C-13": lambda ppm: [nitrite_as_ion(ppm)],
    "C-14": lambda ion: [nitrite_from_ion(ion)],
    "C-16": lambda ppm: [nitrate_as_ion(ppm, potassium=True)],
    "C-18": lambda meat_g, dry_g, cure_g: [
        ingoing_ppm(cure_g * 0.0625, meat_g),
        ingoing_ppm(cure_g * 0.0625, meat_g + dry_g + cure_g),
    ],
}
"""What each example asks for, from the figures that stand in its inputs."""


def numbers_in(text: str) -> list[float]:
    """Return the figures of a text; those inside a word, as NaNO2, are none."""
    return [float(found) for found in re.findall(r"(?<![\w.])\d+(?:\.\d+)?(?!\w)", text)]


@pytest.mark.parametrize("row", rows_of("cure_examples.csv"), ids=lambda row: f"{row['id']} {row['source'][:40]}")
def test_a_worked_example_comes_out_as_printed(row: dict[str, str]) -> None:
    results = ROUTES[row["id"]](*numbers_in(row["inputs"]))
    assert len(results) == len(row["result"].split(";"))
    for result, printed in zip(results, row["result"].split(";"), strict=True):
        text = printed.split()[0]
        decimals = len(text.partition(".")[2])
        assert result == pytest.approx(float(text), abs=0.501 * 10.0**-decimals)


def validity(limit: Limit) -> str:
    if limit.last:
        return f"until {limit.last.day} {limit.last:%B %Y}"
    return f"from {limit.first.day} {limit.first:%B %Y}" if limit.first else ""


def as_published(limit: Limit) -> tuple[object, ...]:
    return (
        limit.authority,
        limit.substance,
        limit.product,
        limit.ppm,
        limit.kind,
        limit.residual,
        limit.form,
        validity(limit),
        limit.how_known,
    )


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row['authority']} {row['product_class']} {row['limit']}")
def test_a_published_limit_stands_in_the_code_with_its_figure(row: dict[str, str]) -> None:
    wanted = (
        row["authority"],
        row["substance"],
        row["product_class"],
        float(row["limit"]),
        row["max_or_min"],
        row["ingoing_or_residual"] != "ingoing",
        row["expressed_as"],
        row["valid"],
        row["how_known"],
    )
    found = [limit for limit in LIMITS if as_published(limit) == wanted]
    assert len(found) == 1
    published_basis = {
        "green weight of the meat block": "meat block",
        "whole raw batch, before any smoking, cooking or fermentation": "whole batch",
        "product as made": "product as made",
    }
    assert found[0].basis == published_basis.get(row["basis"], "finished product")
    assert found[0].source.split(";")[0].split(",")[0] in row["source"]
    assert found[0].confirm or row["how_known"] != "memory"


def test_no_limit_stands_twice_and_only_one_is_in_no_table() -> None:
    assert len({as_published(limit) for limit in LIMITS}) == len(LIMITS)
    beyond = [limit for limit in LIMITS if not any(row["substance"] == limit.substance for row in PUBLISHED)]
    assert [limit.product for limit in beyond] == ["slow-cured meat products"]
    assert beyond[0].confirm
    assert len(LIMITS) == len(PUBLISHED) + 1


def of_usual_batch(nitrite_ppm: float, nitrate_ppm: float = 0.0) -> Ingoing:
    """Return a batch of 1 kg of meat and 1.05 kg of mix."""
    return Ingoing(meat_g=1000.0, mix_g=1050.0, nitrite_g=nitrite_ppm / 1000.0, nitrate_g=nitrate_ppm / 1000.0)


def judged(batch: Ingoing, authority: Authority = "us", on: dt.date = WINTER, *, cooked: bool = False) -> list[Checked]:
    style: Style = "cooked" if cooked else "raw-dried"
    own = AUTHORITY_NAMES[authority]
    return [limit for limit in check(batch, style=style, on=on, authority=authority) if limit.authority == own]


def one(found: list[Checked], agent: str, kind: str = "max") -> Checked:
    limits = [limit for limit in found if limit.agent == agent and limit.kind == kind and limit.value_ppm is not None]
    assert len(limits) == 1
    return limits[0]


@pytest.mark.parametrize(
    ("limit", "agent", "batch"),
    [
        (156.25, "nitrite", of_usual_batch(2.5 * 0.0625 / 1000.0 * 1e6)),
        (1718.75, "nitrate", of_usual_batch(150.0, 1718.75)),
        (546.875, "accelerator salt", replace(of_usual_batch(150.0), accelerator_salt_g=0.546875)),
        (468.75, "accelerator acid", replace(of_usual_batch(150.0), accelerator_acid_g=0.46875)),
    ],
)
def test_exactly_at_the_limit_is_within_and_a_hundredth_more_is_over(limit: float, agent: str, batch: Ingoing) -> None:
    at_limit = one(judged(batch), agent)
    assert (at_limit.limit_ppm, at_limit.verdict) == (limit, "within")
    shrunk = replace(batch, meat_g=batch.meat_g * limit / (limit + 0.01))
    assert one(judged(shrunk), agent).verdict == "over"


@given(meat_g=st.integers(200, 50_000), pct=st.sampled_from([0.4, 0.5, 0.6, 0.85, 6.25, 6.75]))
def test_a_batch_weighed_for_the_limit_is_never_over_by_binary_noise(meat_g: int, pct: float) -> None:
    cure_g = cure_needed_g(meat_g, 156.25, pct / 100.0)
    batch = Ingoing(meat_g=meat_g, mix_g=1.05 * meat_g, nitrite_g=cure_g * pct / 100.0)
    assert one(judged(batch), "nitrite").verdict == "within"


@given(
    cure_mg=st.integers(0, 500_000),
    meat_g=st.integers(100, 100_000),
    strength=st.fractions(Fraction(1, 1000), Fraction(1, 10)),
)
def test_the_ppm_is_linear_in_cure_inverse_in_meat_and_that_of_exact_fractions(
    cure_mg: int, meat_g: int, strength: Fraction
) -> None:
    agent_g = cure_mg / 1000.0 * float(strength)
    ppm = ingoing_ppm(agent_g, meat_g)
    assert ppm == pytest.approx(float(Fraction(cure_mg, 1000) * strength * 10**6 / meat_g), rel=1e-12, abs=1e-12)
    assert ingoing_ppm(3.0 * agent_g, meat_g) == pytest.approx(3.0 * ppm)
    assert ingoing_ppm(agent_g, 4.0 * meat_g) == pytest.approx(ppm / 4.0)


@given(ppm=st.floats(0.0, 5000.0), potassium=st.booleans())
def test_units_come_back_as_they_went(ppm: float, *, potassium: bool) -> None:
    assert ppm_of_oz_per_100_lb(oz_per_100_lb(ppm)) == pytest.approx(ppm)
    assert nitrite_from_ion(nitrite_as_ion(ppm, potassium=potassium), potassium=potassium) == pytest.approx(ppm)
    assert nitrate_from_ion(nitrate_as_ion(ppm, potassium=potassium), potassium=potassium) == pytest.approx(ppm)


@given(meat_g=st.floats(100.0, 1e5), ppm=st.floats(1.0, 3000.0), fraction=st.floats(0.004, 1.0))
def test_the_cure_needed_brings_what_was_asked(meat_g: float, ppm: float, fraction: float) -> None:
    assert ingoing_ppm(cure_needed_g(meat_g, ppm, fraction) * fraction, meat_g) == pytest.approx(ppm)


def test_the_ions_follow_from_the_masses_of_the_atoms() -> None:
    # IUPAC's conventional atomic masses: N 14.007, O 15.999, Na 22.990, K 39.098 (from memory).
    nitrite, nitrate = 14.007 + 2 * 15.999, 14.007 + 3 * 15.999
    assert nitrite_as_ion(1.0) == pytest.approx(nitrite / (nitrite + 22.990), abs=2e-5)
    assert nitrite_as_ion(1.0, potassium=True) == pytest.approx(nitrite / (nitrite + 39.098), abs=2e-5)
    assert nitrate_as_ion(1.0) == pytest.approx(nitrate / (nitrate + 22.990), abs=2e-5)
    assert nitrate_as_ion(1.0, potassium=True) == pytest.approx(nitrate / (nitrate + 39.098), abs=2e-5)


def test_the_same_bowl_is_within_in_the_us_and_over_in_the_eu_since_october_2025() -> None:
    bowl = of_usual_batch(156.25)
    assert one(judged(bowl, "us"), "nitrite").verdict == "within"
    before = one(judged(bowl, "eu", dt.date(2025, 10, 8)), "nitrite")
    after = one(judged(bowl, "eu", dt.date(2025, 10, 9)), "nitrite")
    assert (before.limit_ppm, before.verdict) == (150.0, "within")  # 148.81 of the mix.
    assert (after.limit_ppm, after.verdict) == (80.0, "over")
    assert after.value_ppm == pytest.approx(156.25 / 1.05 * 46.005 / 68.995)


def test_the_eu_limit_needs_1_920_g_of_a_cure_of_6_25_pct_for_each_kg() -> None:
    row = next(row for row in rows_of("cure_examples.csv") if row["id"] == "C-14")
    printed_g = numbers_in(row["note"])[0]
    assert cure_needed_g(1000.0, nitrite_from_ion(80.0), 0.0625) == pytest.approx(printed_g, abs=0.0005)


def test_canada_counts_nitrite_and_nitrate_together_on_the_whole_batch() -> None:
    found = judged(of_usual_batch(126.0, 84.0), "canada")
    both = one(found, "nitrite and nitrate")
    assert (both.value_ppm, both.verdict) == (pytest.approx(200.0), "within")
    assert one(judged(of_usual_batch(126.0, 84.1), "canada"), "nitrite and nitrate").verdict == "over"
    assert one(judged(of_usual_batch(104.9), "canada"), "nitrite and nitrate", "min").verdict == "under"
    assert one(judged(of_usual_batch(105.0), "canada"), "nitrite and nitrate", "min").verdict == "within"


@pytest.mark.parametrize(("kind", "floor"), [("min", 120.0), ("useful minimum", 40.0)])
def test_a_us_floor_is_met_exactly_and_missed_a_hundredth_below(kind: str, floor: float) -> None:
    assert one(judged(of_usual_batch(floor)), "nitrite", kind).verdict == "within"
    missed = one(judged(of_usual_batch(floor - 0.01)), "nitrite", kind)
    assert (missed.limit_ppm, missed.verdict) == (floor, "under")


def test_what_is_left_in_the_product_is_named_as_not_measured_here() -> None:
    found = check(of_usual_batch(100.0), style="raw-dried", on=WINTER, authority="eu")
    left = [limit for limit in found if limit.value_ppm is None]
    assert {limit.verdict for limit in left} == {"not measured here"}
    assert {(limit.authority, limit.limit_ppm) for limit in left} >= {("EU", 45.0), ("US", 200.0), ("Codex", 80.0)}
    assert all("left in it" in limit.basis for limit in left)


@pytest.mark.parametrize("authority", ["us", "canada", "eu", "uk"])
def test_the_makers_own_authority_comes_first_and_all_others_stand_beside(authority: Authority) -> None:
    found = check(of_usual_batch(100.0, 60.0), style="raw-dried", on=WINTER, authority=authority)
    names = [limit.authority for limit in found]
    own = AUTHORITY_NAMES[authority]
    assert names[: names.count(own)] == [own] * names.count(own)
    assert set(names) == {
        *AUTHORITY_NAMES.values(),
        "Denmark",
        "Codex",
        "Australia and New Zealand",
        "US household mixtures",
    }


def test_bacon_ham_and_sterilised_meat_lend_no_limit_to_a_sausage() -> None:
    styles: tuple[Style, ...] = ("raw-dried", "cooked")
    for style in styles:
        found = check(of_usual_batch(100.0), style=style, on=WINTER, authority="us")
        assert not [limit.rule for limit in found if re.search("bacon|ham|sterilised \\(|pumped|lactone", limit.rule)]


def test_a_limit_from_memory_asks_to_be_confirmed_in_so_many_words() -> None:
    found = check(of_usual_batch(100.0, 60.0), style="raw-dried", on=WINTER, authority="us")
    memory = [limit for limit in found if "memory" in limit.source]
    assert memory
    assert all(limit.confirm and "confirm with your authority" in limit.source for limit in memory)


def test_potassium_nitrite_counts_by_weight_in_the_us_and_by_its_ion_in_the_eu() -> None:
    # FSIS Directive 7620.3, chapter 3 (read): 120 ppm of NaNO2 are 148 ppm of KNO2.
    assert nitrite_from_ion(nitrite_as_ion(120.0), potassium=True) == pytest.approx(148.0, abs=0.5)
    bowl = replace(of_usual_batch(120.0), potassium_nitrite=True)
    assert one(judged(bowl, "us"), "nitrite").value_ppm == pytest.approx(120.0)
    assert one(judged(bowl, "us"), "nitrite", "min").verdict == "under"
    assert one(judged(bowl, "eu"), "nitrite").value_ppm == pytest.approx(120.0 / 1.05 * 46.005 / 85.103)


def test_saltpetre_leaves_the_nitrite_beside_it_alone() -> None:
    plain, saltpetre = (replace(of_usual_batch(100.0, 100.0), potassium=potassium) for potassium in (False, True))
    eu_plain, eu_saltpetre = judged(plain, "eu"), judged(saltpetre, "eu")
    assert one(eu_saltpetre, "nitrite") == one(eu_plain, "nitrite")
    ratio = (one(eu_saltpetre, "nitrate").value_ppm or 0.0) / (one(eu_plain, "nitrate").value_ppm or 1.0)
    assert ratio == pytest.approx(84.995 / 101.103, rel=1e-5)


@pytest.mark.parametrize(("agent_g", "basis_g"), [(1.0, 0.0), (-1.0, 1000.0), (1.0, float("nan"))])
def test_nothing_is_reckoned_on_no_meat_or_with_less_than_no_cure(agent_g: float, basis_g: float) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        ingoing_ppm(agent_g, basis_g)


@pytest.mark.parametrize("fraction", [0.0, 6.25, -0.1])
def test_a_strength_in_per_cent_is_not_taken_for_a_fraction(fraction: float) -> None:
    with pytest.raises(ValueError, match=r"0\.0625 for 6\.25 %"):
        cure_needed_g(1000.0, 156.0, fraction)


def test_the_caution_names_poison_scale_pack_and_children() -> None:
    for word in ("poisonous", "0.1 g", "pack", "children"):
        assert word in CAUTION
