"""What a maker types at the kitchen table: with units, or the question comes back."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import DataError, UsageError
from controller.food.bowl.cure import Strength
from controller.planning import meats, typed
from tests.helpers.planned import NINE

UTC = ZoneInfo("UTC")


@pytest.mark.parametrize(
    ("text", "name", "species", "kg", "fat"),
    [
        ("pork shoulder 4kg 25%", "pork shoulder", "pork", 4.0, 25.0),
        ("4.5kg", "meat", "pork", 4.5, 25.0),
        ("pork back fat 500 g 90 %", "pork back fat", "pork", 0.5, 90.0),
        ("beef chuck 10lb 15%", "beef chuck", "beef", 4.5359237, 15.0),
        ("venison 2kg 5%", "venison", "game", 2.0, 5.0),
        ("wild boar leg 3 kg", "wild boar leg", "wild boar", 3.0, 15.0),
        ("ground chuck 4kg", "ground chuck", "beef", 4.0, 20.0),
        ("brisket 4kg", "brisket", "beef", 4.0, 20.0),
        ("bison 4kg", "bison", "beef", 4.0, 20.0),
        ("moose 4kg", "moose", "game", 4.0, 5.0),
        ("rabbit 4kg 6%", "rabbit", "game", 4.0, 6.0),
        ("goose legs 4kg", "goose legs", "poultry", 4.0, 10.0),
        ("lamb brisket 4kg", "lamb brisket", "lamb", 4.0, 20.0),
        ("pork shoulder butt 4kg", "pork shoulder butt", "pork", 4.0, 25.0),
        ("30% 2kg turkey thigh", "turkey thigh", "poultry", 2.0, 30.0),
    ],
)
def test_a_meat_is_read_in_any_order_and_lb_are_taken_for_what_they_are(
    text: str, name: str, species: str, kg: float, fat: float
) -> None:
    meat = meats.meat(text)
    assert (meat.name, meat.species, meat.fat_pct) == (name, species, fat)
    assert meat.kg == pytest.approx(kg)


def test_what_was_done_against_trichinae_stands_behind_the_comma() -> None:
    assert meats.meat("pork shoulder 4kg 25%, frozen 20 days at -15C").treated == "frozen 20 days at -15C"


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("pork shoulder 4.5", "4.5kg or 4.5lb"), ("pork shoulder 4kg 25", "25%"), ("pork shoulder", "one weight"),
        ("pork 4kg 3kg", "one weight"), ("4000kg", "does not hang"), ("pork 4kg 120%", "0 to 100"),
    ],
)  # fmt: skip
def test_a_figure_without_a_unit_is_asked_back(text: str, question: str) -> None:
    with pytest.raises((UsageError, DataError), match=question):
        meats.meat(text)


@pytest.mark.parametrize("name", ["prok", "shoulder", "butt", "belly", "back fat", "ham", "jowl", "walrus", "meat"])
def test_an_animal_that_nobody_knows_is_asked_and_never_taken_for_pork(name: str) -> None:
    with pytest.raises(UsageError, match="which animal") as asked:
        meats.meat(f"{name} 4kg")
    for animal in (
        "pork",
        "beef",
        "veal",
        "lamb",
        "goat",
        "horse",
        "venison",
        "wild boar",
        "bear",
        "poultry",
        "rabbit",
    ):
        assert animal in str(asked.value)


def test_two_animals_in_one_meat_are_asked_apart() -> None:
    with pytest.raises(UsageError, match="beef or pork"):
        meats.meat("pork and beef 4kg")


def test_fat_that_was_not_said_is_marked_as_assumed() -> None:
    assert meats.meat("venison 4kg").fat_assumed
    assert not meats.meat("venison 4kg 5%").fat_assumed


@given(kg=st.floats(0.1, 199.0).map(lambda kg: round(kg, 2)), fat=st.integers(0, 100))
def test_every_weight_and_fat_comes_back_as_it_was_typed(kg: float, fat: int) -> None:
    meat = meats.meat(f"pork shoulder {kg}kg {fat}%")
    assert meat.kg == pytest.approx(kg)
    assert meat.fat_pct == fat


@pytest.mark.parametrize(
    ("text", "strength"),
    [
        ("6.25%", Strength(6.25)), ("0.5 %", Strength(0.5)), ("6.25%+4%", Strength(6.25, 4.0)),
        ("6.25% nitrite + 4% potassium nitrate", Strength(6.25, 4.0, potassium=True)),
    ],
)  # fmt: skip
def test_the_strength_of_a_cure_is_read_from_its_pack(text: str, strength: Strength) -> None:
    assert typed.strength(text) == strength


@pytest.mark.parametrize("text", ["6.25", "strong", "6.25%+4%+1%", "pink", ""])
def test_a_strength_is_never_guessed(text: str) -> None:
    with pytest.raises(UsageError, match="look at the pack"):
        typed.strength(text)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("18C-32C", 18.0, 32.0), ("18-32C", 18.0, 32.0), ("64.4F to 89.6F", 18.0, 32.0), ("26 C - 43 C", 26.0, 43.0)],
)
def test_a_starters_range_may_be_typed_in_either_unit(text: str, low: float, high: float) -> None:
    assert typed.temp_range_c(text) == pytest.approx((low, high))


@pytest.mark.parametrize(("text", "question"), [("18-32", "°C or °F"), ("32C-18C", "lower"), ("75C", "from which")])
def test_a_range_without_a_unit_or_upside_down_is_asked_back(text: str, question: str) -> None:
    with pytest.raises((UsageError, DataError), match=question):
        typed.temp_range_c(text)


def test_75_in_a_field_for_a_room_is_asked_back_and_75c_is_no_room() -> None:
    with pytest.raises(UsageError, match="75C or 75F"):
        typed.room_c("75")
    with pytest.raises(DataError, match="is it in °F"):
        typed.room_c("75C")
    with pytest.raises(DataError, match="a room has") as told:
        typed.room_c("200C")
    assert "is it in" not in str(told.value)  # 200 °F is no room either.
    with pytest.raises(DataError, match="a room has") as told:
        typed.room_c("130F")
    assert "is it in" not in str(told.value)
    with pytest.raises(DataError, match="Then write 36F"):
        typed.meat_c("36C")
    assert typed.room_c("75F") == pytest.approx(23.89, abs=0.01)


@pytest.mark.parametrize(("text", "pct"), [("0.25%", 0.25), ("2.5g/kg", 0.25), ("0g/kg", 0.0), ("0 %", 0.0)])
def test_a_share_is_per_cent_or_grams_for_each_kg(text: str, pct: float) -> None:
    assert typed.share_pct(text, "--cure-pct") == pytest.approx(pct)


def test_a_bare_share_is_asked_back_with_both_ways_of_writing_it() -> None:
    with pytest.raises(UsageError, match=r"Write 0.25% or 0.25g/kg"):
        typed.share_pct("0.25", "--cure-pct")


@pytest.mark.parametrize(
    ("text", "dose"),
    [
        ("0.25g/kg", 0.25),
        ("25g/100kg", 0.25),
        ("0.1g/lb", 0.1 / 0.45359237),
        ("25g per 50lb", 25.0 / 22.6796185),
        ("0.5oz/25lb", 14.1747615625 / 11.33980925),
    ],
)
def test_a_dose_is_for_so_much_meat(text: str, dose: float) -> None:
    assert typed.grams_per_kg(text) == pytest.approx(dose)


def test_a_dose_without_meat_or_a_hundred_times_too_much_is_asked_back() -> None:
    with pytest.raises(UsageError, match="for how much meat"):
        typed.grams_per_kg("0.25g")
    with pytest.raises(DataError, match="no dose"):
        typed.grams_per_kg("25g/kg")


def test_ph_53_is_asked_back_as_5_3() -> None:
    with pytest.raises(DataError, match=r"did you mean 5\.3"):
        typed.aim_ph("53")
    with pytest.raises(DataError, match="stop by themselves"):
        typed.aim_ph("4.2")
    assert typed.aim_ph("4.9") == 4.9


def test_a_casing_has_a_width_and_maybe_a_kind() -> None:
    assert typed.casing("natural 55mm") == ("natural", 55.0)
    assert typed.casing("55 mm") == ("casing", 55.0)
    assert typed.casing("fibrous 2.2in") == ("fibrous", pytest.approx(55.88))
    with pytest.raises(UsageError, match="in which unit"):
        typed.casing("natural 55")
    with pytest.raises(UsageError, match="how wide"):
        typed.casing("natural")


def test_a_bare_number_of_grams_is_asked_back_with_grams() -> None:
    with pytest.raises(UsageError, match=r"--starter-left 20: in which unit\? Write 20g"):
        typed.grams_or_unknown("20")
    with pytest.raises(UsageError, match=r"--scale 0.1: in which unit\? Write 0.1g"):
        typed.scale("0.1")


@pytest.mark.parametrize("text", ["1 tsp", "2 tbsp", "1 teaspoon", "1tsp", "2 cups", "5 ml"])
def test_a_volume_is_no_weight(text: str) -> None:
    with pytest.raises(UsageError, match="is a volume and tells no weight"):
        typed.share_pct(text, "--cure-pct")
    with pytest.raises(UsageError, match="is a volume"):
        typed.grams(text)


@pytest.mark.parametrize(
    ("text", "hours"), [("7am-10pm", (7.0, 22.0)), ("7:30am to 10pm", (7.5, 22.0)), ("12pm-12am", (12.0, 0.0))]
)
def test_waking_hours_may_be_typed_with_am_and_pm(text: str, hours: tuple[float, float]) -> None:
    assert typed.awake(text) == hours


def test_7_to_10_is_asked_back_as_the_evening_may_be_meant() -> None:
    with pytest.raises(UsageError, match=r"that would be 3 h\. In the evening"):
        typed.awake("7-10")
    with pytest.raises(UsageError, match="Write 7am-10pm"):
        typed.awake("7-10")
    assert typed.awake("7am-10am") == (7.0, 10.0)
    assert typed.awake("16-20") == (16.0, 20.0)
    with pytest.raises(UsageError, match="when"):
        typed.awake("13pm-10pm")


def test_waking_hours_may_go_over_midnight() -> None:
    assert typed.awake("7:00-22:30") == (7.0, 22.5)
    assert typed.awake("16-2") == (16.0, 2.0)
    for wrong in ("7", "7:00-7:00", "morning", "25:00-3:00"):
        with pytest.raises(UsageError, match="when"):
            typed.awake(wrong)


def test_an_hour_of_stuffing_is_the_next_one() -> None:
    def clock(text: str) -> str:
        return f"{dt.datetime.fromtimestamp(typed.coming_s(text, UTC, NINE), UTC):%d %H:%M}"

    assert clock("14:30") == "25 14:30"
    assert clock("8:30") == "26 08:30"
    assert clock("2pm") == "25 14:00"
    assert clock("2:30 PM") == "25 14:30"
    assert clock("12:15am") == "26 00:15"
    assert clock("2026-11-28T10:00") == "28 10:00"
    for wrong in ("14", "half past two", "2026-02-30T10:00"):
        with pytest.raises(UsageError, match="not a time"):
            typed.coming_s(wrong, UTC, NINE)


def test_an_option_against_trichinae_goes_by_its_name() -> None:
    assert typed.trichinae("certified") == "certified"
    assert typed.trichinae("none") == ""
    with pytest.raises(UsageError, match="there is no such one; --trichinae help lists them"):
        typed.trichinae("washed it")
    with pytest.raises(UsageError, match="no such one"):
        typed.kill_step("hope")
    with pytest.raises(UsageError, match=r"did you mean 90f-4\.6-55mm-heat"):
        typed.kill_step("90f-4.6-55mm-haet")


def test_a_day_is_a_day_or_new() -> None:
    assert typed.day_or_new("2026-01-30") == "2026-01-30"
    assert typed.day_or_new("new") == ""
    with pytest.raises(UsageError, match="which day"):
        typed.day_or_new("last spring")


def test_the_rest_is_asked_back_too() -> None:
    assert typed.spice("black pepper=3g/kg").g_per_kg == pytest.approx(3.0)
    assert typed.grams_or_unknown("unknown") is None
    assert typed.grams_or_unknown("0 g") == 0.0
    assert typed.hours("0h") == 0.0
    assert typed.hours("8h") == 8.0
    assert typed.criteria("ph, water-activity") == ("ph", "water-activity")
    assert typed.cure("#2") == "2"
    for read, wrong in (
        (typed.spice, "pepper"), (typed.spice, "pepper=3"), (typed.criteria, "taste"), (typed.cure, "3"),
        (typed.authority, "mars"), (typed.hours, "8"), (typed.grams, "0.1"), (typed.words, "  "),
    ):  # fmt: skip
        with pytest.raises(UsageError):
            read(wrong)
