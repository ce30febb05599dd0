"""What an answer spoils is said at its question, before twenty others are asked."""

import pytest
from msgspec.structs import replace

from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Meat
from controller.planning.at_question import before_the_first, judge_answer
from controller.planning.choices import choices
from controller.planning.unplanned import judge_unplanned
from tests.helpers.planned import NINE, at, chamber_named, profile_named

TANGY, MILD, FRIDGE = profile_named("tangy"), profile_named("mild"), chamber_named()
PORK, CHUCK = Meat("shoulder", "pork", 4.5), Meat("ground chuck", "beef", 4.5)
KNOWN = {
    "meats": [PORK], "casing": ("natural", 55.0), "starter": "culture", "starter_dose": 0.25,
    "starter_range": (18.0, 32.0), "cure": "2", "strength": Strength(6.25, 4.0), "room_c": 20.0,
}  # fmt: skip


def refused(key: str, *, profile=MILD, chamber=FRIDGE, **answers) -> str:  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN003
    return " ".join(finding.text for finding in judge_answer(key, {**KNOWN, **answers}, profile, chamber, NINE))


def test_the_known_answers_spoil_nothing() -> None:
    for key in KNOWN:
        assert refused(key) == "", key


def test_a_strength_is_judged_against_the_kind_of_cure() -> None:
    assert "holds nitrate beside nitrite" in refused("strength", strength=Strength(6.25))
    assert "holds nitrite only" in refused("strength", cure="1")
    assert "looks like a fraction" in refused("strength", strength=Strength(0.0625))


def test_no_2_is_refused_at_its_question_where_the_sausage_is_cooked() -> None:
    assert "Take no. 1" in refused("cure", profile=TANGY)


def test_a_starter_is_judged_by_its_range_its_grams_and_its_date() -> None:
    assert "made for 30.0 °C to 40.0 °C" in refused("starter_range", starter_range=(30.0, 40.0))
    assert "1.12 g are needed and 1 g are left" in refused("starter_left", starter_left=1.0)
    assert "that is over" in refused("starter_expires", starter_expires="2020-01-01")


def test_beef_in_a_raw_profile_without_a_process_is_told_before_any_further_question() -> None:
    assert "no listed one fits mild" in refused("meats", meats=[CHUCK])
    assert refused("meats", meats=[CHUCK], profile=TANGY) == ""


def test_raw_pork_with_nothing_against_trichinae_is_told_at_that_question() -> None:
    assert "was chosen against trichinae" in refused("trichinae", trichinae="")
    assert refused("trichinae", trichinae="certified") == ""


def test_an_hour_that_is_none_is_told_at_its_question() -> None:
    assert "not a time" in refused("stuffing", stuffing="half past")
    assert refused("stuffing", stuffing="2pm") == ""


def test_a_chamber_that_never_gets_warm_is_told_before_the_first_question() -> None:
    assert before_the_first(TANGY, FRIDGE, mould=False) == ()
    cold = replace(FRIDGE, room_temp_c=(-10.0, -5.0))
    told = before_the_first(TANGY, cold, mould=False)
    assert len(told) == 1
    assert "does not get to 36.0 °C" in told[0].text
    assert "does not get to" in refused("room_c", profile=TANGY, room_c=-10.0)


def test_mould_where_the_profile_smokes_is_told_before_the_first_question() -> None:
    assert "smoke keeps mould" in before_the_first(TANGY, FRIDGE, mould=True)[0].text


@pytest.mark.parametrize("key", ["trichinae", "kill_step"])
def test_the_lists_are_grouped_and_in_words_with_degrees(key: str) -> None:
    groups = choices(key, {}, MILD)
    assert len(groups) >= 3
    rows = [row for group in groups for row in group.rows]
    assert len(rows) > 10
    assert all(len(words) > 15 for _, words in rows)
    assert not any(" F " in words or words.endswith(" F") for _, words in rows)


def test_a_process_is_told_with_its_ferment_its_ph_and_what_comes_after() -> None:
    words = {name: said for group in choices("kill_step", {}, MILD) for name, said in group.rows}
    assert words["90f-4.6-55mm-heat"] == (
        "ferment at 90 °F (32 °C), to pH 4.6 or lower, then 1 h at 110 °F, then 6 h at 125 °F"
    )


# A batch that is started without a plan.


def unplanned(profile, meat_kg: float = 4.5) -> str:  # type: ignore[no-untyped-def]  # noqa: ANN001
    found = judge_unplanned(profile, FRIDGE, meat_kg=meat_kg, diameter_mm=55.0, now_wall_s=NINE)
    return " ".join(finding.text for finding in found)


@pytest.mark.parametrize("name", ["tangy", "mild", "slow-cool", "cooked-semi-dry", "dry-only"])
def test_a_shipped_profile_starts_without_a_word(name: str) -> None:
    assert unplanned(profile_named(name)) == ""


def test_a_recipe_without_dextrose_cannot_reach_5_3() -> None:
    weak = replace(TANGY, per_kg=replace(TANGY.per_kg, dextrose_pct=0.0))
    assert "does not reach 5.3" in unplanned(weak)


def test_a_starter_outside_of_its_own_range_is_told() -> None:
    assert "made for" in unplanned(replace(at(TANGY, 36.0), starter_temp_c=(18.0, 32.0)))


def test_a_cure_of_which_nobody_knows_the_strength_is_not_judged() -> None:
    strange = replace(TANGY, cure="other", per_kg=replace(TANGY.per_kg, cure_pct=2.5))
    assert unplanned(strange) == ""
    assert "Too much" in unplanned(replace(strange, cure="1"))
