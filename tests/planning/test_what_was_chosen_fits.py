"""What a maker chose against E. coli and trichinae has to be what this plan carries out; else it is refused at once."""

import pytest
from msgspec.structs import replace

from controller.core.plan import Profile, Stage, Until
from controller.food.bowl.formulation import Meat
from controller.food.germs.kill_steps import KILL_STEPS
from controller.food.germs.lethality import ROWS
from controller.food.germs.measured import celsius
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.judge import formula_of, judge_bowl
from controller.planning.bowl.kill_step import fitting, misfits
from controller.planning.choices import choices
from controller.settings.profile_file import read_profile
from controller.settings.shipped import find_profile
from tests.helpers.planned import answers_for, at, profile_named

TANGY, MILD = profile_named("tangy"), profile_named("mild")
CHUCK = Meat("chuck", "beef", 4.5, 25.0)


def said(answers: Answers, profile: Profile) -> list[Finding]:
    return list(judge_bowl(answers, formula_of(answers, profile), profile))


def refused(answers: Answers, profile: Profile) -> str:
    return "\n".join(finding.text for finding in said(answers, profile) if finding.weight == "refused")


def warned(answers: Answers, profile: Profile) -> str:
    return "\n".join(finding.text for finding in said(answers, profile) if finding.weight == "warning")


def pork(treated: str) -> tuple[Meat, ...]:
    return (Meat("shoulder", "pork", 4.5, 25.0, treated),)


def cooked_to(core_c: float, hours: float | None = None) -> Profile:
    """Return tangy with another end of its cook."""
    until = Until(core_temp_c=core_c, hours=hours, confirm=True)
    return replace(
        TANGY, stages=tuple(replace(stage, until=until) if stage.kind == "cook" else stage for stage in TANGY.stages)
    )


def heated(*steps: tuple[float, float], to_ph: float = 4.6, ferment_f: float = 90.0) -> Profile:
    """Return mild, fermented warmer and further, with air of so many °F for so many hours after it."""
    warm = at(MILD, celsius(ferment_f), until=Until(ph_at_most=to_ph))
    heat = tuple(
        Stage(
            name=f"heat-{place}", kind="smoke", where="elsewhere", air_temp_c=celsius(temp_f), at_least_h=hours,
            until=Until(confirm=True),
        )
        for place, (temp_f, hours) in enumerate(steps)
    )  # fmt: skip
    return replace(warm, stages=(*warm.stages[:2], *heat, *warm.stages[2:]))


THIN_HEAT = ((110.0, 1.0), (125.0, 6.0))


# E. coli: the process.


def test_beef_in_a_mild_of_80_mm_is_refused_with_all_that_does_not_fit() -> None:
    beef = answers_for("mild", meats=(CHUCK,), diameter_mm=80.0, kill_step="90f-4.6-55mm-heat")
    text = refused(beef, MILD)
    for reason in ("55 mm or less, this is 80 mm", "(32.2 °C), here 24 °C", "pH 4.6 or lower", "no stage of mild"):
        assert reason in text
    assert "No listed process fits mild" in text


def test_a_process_with_heat_is_refused_where_no_stage_heats() -> None:
    text = refused(answers_for("mild", meats=(CHUCK,), kill_step="summer-4.6-130f"), MILD)
    assert "no stage of mild has the core at 130 °F (54.4 °C)" in text


def test_the_same_process_passes_where_casing_ferment_and_stages_carry_it_out() -> None:
    profile = heated(*THIN_HEAT)
    beef = answers_for("mild", meats=(CHUCK,), kill_step="90f-4.6-55mm-heat")
    assert "does not fit" not in refused(beef, profile)
    assert "90f-4.6-55mm-heat" in fitting(55.0, profile)
    assert "What fits: 90f-4.6-55mm-heat" in refused(replace(beef, kill_step="summer-4.6-130f"), profile)


@pytest.mark.parametrize(
    ("profile", "words"),
    [
        (heated((110.0, 1.0), (125.0, 5.5)), "air of 125 °F (51.7 °C) for 6 h"),
        (heated((125.0, 6.0), (110.0, 1.0)), "air of 125 °F"),  # In their order: 110 °F has to come first.
        (heated(*THIN_HEAT, ferment_f=89.0), "it ferments at 90 °F"),
        (heated(*THIN_HEAT, to_ph=4.7), "it asks for pH 4.6 or lower"),
    ],
    ids=["too short", "wrong order", "too cool", "too little acid"],
)
def test_a_hair_less_than_the_row_is_refused(profile: Profile, words: str) -> None:
    step = next(step for step in KILL_STEPS if step.id == "90f-4.6-55mm-heat")
    assert words in "; ".join(misfits(step, 55.0, profile))


def test_one_long_hot_stage_carries_out_two_holds_and_no_hour_counts_twice() -> None:
    step = next(step for step in KILL_STEPS if step.id == "90f-4.6-55mm-heat")
    assert misfits(step, 55.0, heated((125.0, 7.0))) == []
    assert misfits(step, 55.0, heated((125.0, 6.9))) != []


def test_the_process_that_a_profile_names_is_judged_by_the_casing_too() -> None:
    named = replace(heated(*THIN_HEAT), kill_step="90f-4.6-55mm-heat")
    assert "this is 60 mm" in refused(answers_for("mild", meats=(CHUCK,), diameter_mm=60.0), named)
    assert "does not fit" not in refused(answers_for("mild", meats=(CHUCK,)), named)


def test_the_shipped_profile_with_a_process_carries_it_out() -> None:
    profile = read_profile(find_profile("cooked-semi-dry"))
    assert profile.kill_step in fitting(55.0, profile)


def test_a_terminal_offers_only_the_processes_that_fit() -> None:
    given = {"casing": ("natural", 55.0), "meats": (CHUCK,)}
    assert choices("kill_step", given, MILD) == ()
    assert "90f-4.6-55mm-heat" in [
        name for group in choices("kill_step", given, heated(*THIN_HEAT)) for name, _ in group.rows
    ]


# E. coli and Salmonella: the cook.


def test_a_cook_to_54_5_without_a_hold_is_no_kill_step() -> None:
    text = refused(answers_for("tangy", meats=(CHUCK,)), cooked_to(54.5))
    assert "the table wants 112 min at 130 °F for 6.5 log; a first reading proves no hold" in text
    assert "70 °C (158 °F), where it is at once" in text


def test_with_the_hold_in_the_stage_it_is_warned_of_by_the_study_that_did_not_find_it() -> None:
    beef = answers_for("tangy", meats=(CHUCK,))
    assert refused(beef, cooked_to(54.5, 1.86)) != ""
    assert refused(beef, cooked_to(54.5, 1.87)) == ""
    assert "McMinn" in warned(beef, cooked_to(54.5, 1.87))
    assert "McMinn" not in warned(beef, cooked_to(60.0, 1.0))


def test_a_short_hold_is_said_in_seconds() -> None:
    row = next(row for row in ROWS if row.temp_f == 154.0)  # 68 °C are 154.4 °F.
    text = warned(answers_for("tangy", meats=(CHUCK,)), TANGY)
    assert f"hold {row.for_6_5_s:.0f} s and read again" in text
    hen = (Meat("thigh", "poultry", 3.0, 15.0),)
    assert f"hold {row.for_7_s:.0f} s and read again" in warned(answers_for("tangy", meats=hen), TANGY)


def test_at_70_nothing_is_to_be_held() -> None:
    beef = answers_for("tangy", meats=(CHUCK,))
    assert refused(beef, cooked_to(70.0)) == ""
    assert "the table wants" not in warned(beef, cooked_to(70.0))


def test_a_cook_below_the_table_is_none() -> None:
    assert "outlives ferment and drying" in refused(answers_for("tangy", meats=(CHUCK,)), cooked_to(54.0))


# Trichinae.


@pytest.mark.parametrize(
    ("option", "changes", "words"),
    [
        ("method-1", {"diameter_mm": 120.0, "salt_pct": 2.6}, "it does not reach to 120 mm"),
        ("method-1", {"diameter_mm": 120.0, "salt_pct": 2.6}, "3.33 % of salt, here are 2.5 % of the unstuffed"),
        ("cook-144f", {}, "mild never cooks"),
        ("method-7", {"salt_pct": 3.5}, "no stage of mild has 50 °F"),
        ("method-2", {"salt_pct": 3.5}, "no stage of mild has 80 °F (26.7 °C) for 40 h"),
        ("hill-2017", {}, "ferment ends at 5.3"),
        ("freeze-5f-20d", {"meats": pork("frozen 1 day at -5C")}, '"frozen 1 day at -5C" is less than'),
    ],
)
def test_an_option_that_this_sausage_does_not_meet_is_refused_with_those_that_fit(
    option: str, changes: dict[str, object], words: str
) -> None:
    text = refused(answers_for("mild", **{"meats": pork(""), **changes}, trichinae=option), MILD)
    assert words in text
    assert "What fits: certified, freeze-5f-20d" in text


def test_salt_that_is_enough_of_the_meat_may_be_too_little_of_the_sausage() -> None:
    # Former 9 CFR 318.10(c)(3)(i)(A): 3 1/3 lb for each 100 lb of the unstuffed sausage.
    barely, enough = (
        answers_for("mild", meats=pork(""), salt_pct=pct, trichinae="method-1", big_scale_g=0.1) for pct in (3.4, 3.6)
    )
    assert "3.33 % of salt" in refused(barely, MILD)
    assert refused(enough, MILD) == ""
    assert "20 d drying room at 45 °F or more" in warned(enough, MILD)


def test_a_method_says_what_the_weight_does_not_end() -> None:
    answers = answers_for("mild", meats=pork(""), trichinae="method-6")
    assert refused(answers, MILD) == ""
    assert "the weight alone ends no drying" in warned(answers, MILD)


def test_a_cold_cellar_is_no_drying_room() -> None:
    cold = replace(
        MILD, stages=tuple(replace(stage, air_temp_c=6.0) if stage.kind == "dry" else stage for stage in MILD.stages)
    )
    assert "no stage of mild gives" in refused(answers_for("mild", meats=pork(""), trichinae="method-6"), cold)


@pytest.mark.parametrize(
    "treated", ["from the supermarket", "frozen 1 day at -5C", "untested", "not certified", "frozen", "washed"]
)
def test_words_that_are_no_treatment_leave_the_pork_raw(treated: str) -> None:
    text = refused(answers_for("mild", meats=pork(treated)), MILD)
    assert f'"{treated}" is no' in text
    assert "Choose before the grinder" in text


@pytest.mark.parametrize(
    "treated",
    ["certified", "tested for trichinae", "trichinae-free herd", "frozen 20 days at -15C, 10 cm thick",
     "frozen 10 d at -23.4C, 100 mm thick", "core frozen 106 h at -18C"],
)  # fmt: skip
def test_words_that_are_a_treatment_are_taken(treated: str) -> None:
    answers = answers_for("mild", meats=pork(treated))
    assert refused(answers, MILD) == ""
    assert "thick" not in warned(answers, MILD)


def test_frost_in_pieces_of_unknown_size_is_taken_and_told() -> None:
    answers = answers_for("mild", meats=pork("frozen 20 days at -15C"))
    assert refused(answers, MILD) == ""
    assert "nobody wrote how thick" in warned(answers, MILD)


def test_wild_meat_from_the_hunter_is_raw_and_a_tested_one_is_not() -> None:
    boar = (Meat("ham", "wild boar", 3.0, 20.0, "from the hunter"),)
    assert '"from the hunter" is no treatment' in refused(answers_for("mild", meats=boar), MILD)
    tested = (Meat("ham", "wild boar", 3.0, 20.0, "tested for trichinae"),)
    assert refused(answers_for("mild", meats=tested), MILD) == ""


def test_a_cook_without_a_hold_is_less_than_an_option_with_one() -> None:
    text = refused(answers_for("tangy", meats=pork(""), trichinae="cook-130f"), cooked_to(54.5))
    assert "cook states no hold, it asks for 30 min at 54.4 °C" in text
    assert "does not fit" not in refused(answers_for("tangy", meats=pork(""), trichinae="cook-130f"), cooked_to(70.0))
