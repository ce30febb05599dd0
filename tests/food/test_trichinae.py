"""Trichinae: every printed row, and what a batch is shown to meet."""

import re
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from controller.food.germs import trichinae_tables as tables
from controller.food.germs.measured import HOUR_S, MM_PER_IN, celsius, worst
from controller.food.germs.trichinae import (
    OPTIONS,
    STATUS,
    days_of_method,
    drying_days_6,
    hill_days,
    needs_option,
    off_pct_3b,
    offers,
    option_of,
    salt_pct_6,
)
from controller.food.germs.trichinae_record import Recorded, frozen_as_written, judge
from controller.food.germs.trichinae_tables import METHODS, Method, Need
from tests.helpers.published_rows import rows_of

ROWS = rows_of("trichinae.csv")
DAY_S = 86_400.0
PORK = frozenset({"pork"})


def of_table(*names: str) -> list[dict[str, str]]:
    found = [row for row in ROWS if row["table"] in names]
    assert found
    return found


def name_of(row: dict[str, str]) -> str:
    return f"{row['row'][:14]}, {row['column'][:40]}"


def degrees(text: str) -> float:
    match = re.match(r"-?[\d.]+", text)
    assert match is not None
    return float(match[0])


@pytest.mark.parametrize("row", of_table("freezing 1"), ids=name_of)
def test_each_row_of_freezing_by_days_is_an_option(row: dict[str, str]) -> None:
    up_to_in = 6.0 if row["column"].startswith("group 1") else 27.0
    [found] = [
        option
        for option in OPTIONS
        if option.source == tables.FREEZING_1_SOURCE
        and option.thickest_mm == up_to_in * MM_PER_IN
        and option.temp_c == celsius(degrees(row["row"]))
    ]
    assert found.hours == 24.0 * float(row["value"])
    assert found.confirm == (row["how_known"] == "memory")
    assert option_of(found.id) is found


@pytest.mark.parametrize("row", of_table("freezing 2", "EU freezing method 3"), ids=lambda row: row["row"])
def test_each_row_of_freezing_to_the_centre_is_an_option(row: dict[str, str]) -> None:
    is_eu = row["table"].startswith("EU")
    temp_c = degrees(row["row"]) if is_eu else celsius(degrees(row["row"]))
    source = tables.EU_SOURCE if is_eu else tables.FREEZING_2_SOURCE
    [found] = [option for option in OPTIONS if option.source == source and option.temp_c == temp_c]
    assert found.hours == float(row["value"])
    assert found.thickest_mm is None
    assert found.confirm == (row["how_known"] == "memory")


@pytest.mark.parametrize("row", of_table("heating"), ids=lambda row: row["row"])
def test_each_row_of_heating_is_an_option(row: dict[str, str]) -> None:
    found = option_of(f"cook-{degrees(row['row']):g}f")
    assert found.temp_c == celsius(degrees(row["row"]))
    assert found.hours == pytest.approx(float(row["value"]) / (1.0 if row["unit"] == "h" else 60.0))
    assert found.confirm == (row["how_known"] == "memory")


def method(number: str) -> Method:
    return next(each for each in METHODS if each.id == f"method-{number}")


def need(number: str, diameter_in: float, place: str, *, in_a_row: bool = False, which: int = 0) -> Need:
    needs = days_of_method(method(number), diameter_in * MM_PER_IN)
    assert needs is not None
    return [each for each in needs if each.place == place and each.in_a_row == in_a_row][which]


def pepperoni(place: str) -> Need:
    needs = days_of_method(method("1"), 1.375 * MM_PER_IN, pepperoni=True)
    assert needs is not None
    return next(each for each in needs if each.place == place)


def heat(mm: float, temp_f: float) -> float:
    needs = days_of_method(method("7"), mm)
    assert needs is not None
    return next(each.hours for each in needs if each.place == "heat" and each.temp_f == temp_f)


def drying_of_7(mm: float) -> Need:
    needs = days_of_method(method("7"), mm)
    assert needs is not None
    return needs[-1]


FIGURES: dict[tuple[str, str], Callable[[], float | None]] = {
    ("1", "salt on unstuffed sausage, at least"): lambda: method("1").salt_pct,
    ("1", "drying room, at least"): lambda: need("1", 3.5, "drying room").temp_f,
    ("1", "drying days, casing up to 3.5 in"): lambda: need("1", 3.5, "drying room").hours / 24,
    ("1", "days from cure to release, casing up to 3.5 in"): lambda: need("1", 3.5, "from cure to release").hours / 24,
    ("1", "drying days, casing over 3.5 to 4 in"): lambda: need("1", 3.51, "drying room").hours / 24,
    ("1", "days from cure to release, casing over 3.5 to 4 in"): lambda: (
        need("1", 4, "from cure to release").hours / 24
    ),
    ("1", "drying days, pepperoni up to 1.375 in"): lambda: pepperoni("drying room").hours / 24,
    ("1", "days from cure to release, pepperoni up to 1.375 in"): lambda: pepperoni("from cure to release").hours / 24,
    ("2", "smoke, at least"): lambda: need("2", 3.5, "smoke").hours,
    ("2", "smoke temperature, at least"): lambda: need("2", 4, "smoke").temp_f,
    ("2", "drying room, at least"): lambda: need("2", 4, "drying room").temp_f,
    ("2", "drying days, casing up to 3.5 in"): lambda: need("2", 3.5, "drying room").hours / 24,
    ("2", "days from cure to release, casing up to 3.5 in"): lambda: need("2", 3.5, "from cure to release").hours / 24,
    ("2", "drying days, casing over 3.5 to 4 in"): lambda: need("2", 4, "drying room").hours / 24,
    ("2", "days from cure to release, casing over 3.5 to 4 in"): lambda: (
        need("2", 4, "from cure to release").hours / 24
    ),
    ("3", "hold before stuffing, at least"): lambda: need("3", 3.5, "holding").hours,
    ("3", "hold temperature, at least"): lambda: need("3", 3.5, "holding").temp_f,
    ("3", "hold from cure in all, at least"): lambda: need("3", 3.5, "holding", which=1).hours,
    ("3", "or in pickle of at least"): lambda: tables.PICKLE_3[0],
    ("3", "pickle temperature, at least"): lambda: tables.PICKLE_3[1],
    ("3", "smoke, casing up to 3.5 in"): lambda: need("3", 3.5, "smoke").hours,
    ("3", "smokehouse throughout, at least"): lambda: need("3", 3.5, "smoke").temp_f,
    ("3", "hours in a row at 128 F, casing up to 3.5 in"): lambda: need("3", 3.5, "smoke", in_a_row=True).hours,
    ("3", "smoke, casing over 3.5 to 4 in"): lambda: need("3", 4, "smoke").hours,
    ("3", "hours in a row at 128 F, casing over 3.5 to 4 in"): lambda: need("3", 4, "smoke", in_a_row=True).hours,
    ("3", "time to reach 128 F, at least"): lambda: tables.RISE_3_H,
    ("4", "mass depth before stuffing, at most"): lambda: tables.DEPTH_4_IN,
    ("4", "hold before stuffing, at least"): lambda: need("4", 3.33, "holding").hours / 24,
    ("4", "hold temperature, at least"): lambda: need("4", 3.33, "holding").temp_f,
    ("4", "casing, at most"): lambda: method("4").sizes[-1].up_to_in,
    ("4", "drying room, at least"): lambda: need("4", 3.33, "drying room").temp_f,
    ("4", "total from cure, at least"): lambda: need("4", 3.33, "from cure to release").hours / 24,
    ("4", "optional water bath up to"): lambda: tables.BATH_4[0],
    ("4", "water bath at least"): lambda: tables.BATH_4[1],
    ("4", "optional smoke at least"): lambda: tables.BATH_4[2],
    ("5", "hold after stuffing, at least"): lambda: need("5", 6, "drying room").hours / 24,
    ("5", "hold temperature, at least"): lambda: need("5", 6, "drying room").temp_f,
    ("6", "salt without dry ingredients, at least"): lambda: tables.FULL_SALT_6_PCT,
    ("6", "holding period, at least"): lambda: tables.HOLD_6.hours,
    ("6", "holding temperature, at least"): lambda: tables.HOLD_6.temp_f,
    ("6", "drying room, at least"): lambda: tables.DRY_6_F,
    ("7", "salt per 100 lb meat, at least"): lambda: method("7").salt_pct,
    ("7", "large: casing, at most"): lambda: method("7").sizes[1].up_to_in * MM_PER_IN,
    **{("7", f"large: at {temp} F"): partial(heat, 105.0, temp) for temp in (50, 90, 100, 110, 120, 125)},
    ("7", "large: then dry at 50 F or more"): lambda: drying_of_7(105.0).hours / 24,
    ("7", "small: casing, at most"): lambda: method("7").sizes[0].up_to_in * MM_PER_IN,
    **{("7", f"small: at {temp} F"): partial(heat, 55.0, temp) for temp in (50, 100, 125)},
    ("7", "small: then dry at 50 F or more"): lambda: drying_of_7(55.0).hours / 24,
}


@pytest.mark.parametrize("row", of_table(*(f"curing method {number}" for number in range(1, 8))), ids=name_of)
def test_each_figure_of_the_seven_methods_is_in_them(row: dict[str, str]) -> None:
    number = row["row"].removeprefix("method ")
    known: dict[str, float] = {"grind, at most": method(number).grind_in, "salt, at least": method(number).salt_pct}
    value = known.get(row["column"])
    if value is None:
        value = FIGURES[number, row["column"]]()
    assert value == pytest.approx(float(row["value"]), abs=1e-4)
    assert method(number).confirm == (row["how_known"] == "memory")


@pytest.mark.parametrize("row", of_table("table 3A (method 6)"), ids=lambda row: row["row"])
def test_each_row_of_table_3a_holds_up_to_its_casing_and_the_next_beyond(row: dict[str, str]) -> None:
    up_to_mm = degrees(row["row"].removeprefix("up to ")) * MM_PER_IN
    assert drying_days_6(up_to_mm, 3.33) == int(row["value"])
    beyond = drying_days_6(up_to_mm + 0.1, 3.33)
    assert beyond is None if row["row"] == "up to 6 in" else beyond is not None and beyond > int(row["value"])


@pytest.mark.parametrize("row", of_table("table 3B (method 6)"), ids=name_of)
def test_each_cell_of_table_3b_takes_off_its_days_and_nothing_is_interpolated(row: dict[str, str]) -> None:
    held_h, held_f = degrees(row["row"]), degrees(row["column"])
    assert off_pct_3b(held_h, held_f) == int(row["value"])
    assert off_pct_3b(held_h + 23.9, held_f + 4.9) == int(row["value"])
    assert off_pct_3b(held_h - 0.1, held_f) <= int(row["value"])


@pytest.mark.parametrize("row", of_table("table 4 (method 6)"), ids=lambda row: row["row"])
def test_each_row_of_table_4_adds_its_days(row: dict[str, str]) -> None:
    more = 100 + int(row["value"])
    assert drying_days_6(3.0 * MM_PER_IN, degrees(row["row"])) == -(-20 * more // 100)  # 20 days at 3 in.


def test_the_worked_example_of_table_4_comes_out_as_printed() -> None:
    # 120 lb pork, 3.56 salt, 2 spice, 0.5 wine, 1 water and starter, 0.8 sugar, 0.012 nitrite: 127.872 lb in all.
    [row] = of_table("table 4 worked example")
    parts = {name: float(text) for name, text in re.findall(r"([a-z ]+) ([\d.]+)[;,]", row["row"].replace("lb", ","))}
    assert "total 127.872" in row["row"]
    wet = 127.872 - parts[" salt"] - parts[" spice"] - parts[" sugar"] - parts[" nitrite"]
    assert wet == pytest.approx(121.5)
    salt_pct = salt_pct_6(parts[" salt"], wet)
    assert round(salt_pct, 2) == float(row["value"])
    assert drying_days_6(6.0 * MM_PER_IN, salt_pct) == 57  # 50 days and 13 %: 56.5, rounded up.


def test_method_6_ends_where_its_tables_end() -> None:
    assert drying_days_6(50.0, 1.99) is None
    assert drying_days_6(160.0, 3.33) is None
    assert drying_days_6(50.0, 3.5, held_h=120.0, held_f=120.0) == 0
    assert off_pct_3b(23.0, 120.0) == off_pct_3b(120.0, 69.9) == 0


@pytest.mark.parametrize("row", of_table("fermented and dried, T. spiralis"), ids=name_of)
def test_each_row_of_the_fermented_and_dried_sausage(row: dict[str, str]) -> None:
    # Hill et al. (2017), Food and Waterborne Parasitology 6-7:1-8.
    salts = [float(text) for text in re.findall(r"[\d.]+", row["column"])]
    phs = [4.6] if row["row"] == "pH 4.6" else [4.61, 4.9, 5.2]
    for ph in phs:
        assert hill_days(ph, salts[0]) == int(row["value"])
        if len(salts) > 1:
            assert hill_days(ph, salts[1] - 0.01) == int(row["value"])


def test_outside_its_range_the_study_says_nothing() -> None:
    assert hill_days(5.21, 2.8) is None
    assert hill_days(4.59, 2.8) is None
    assert hill_days(5.0, 1.29) is None


def test_no_row_of_the_publication_is_left_out() -> None:
    tested = {"freezing 1", "freezing 2", "EU freezing method 3", "heating", "table 3A (method 6)"}
    tested |= {"table 3B (method 6)", "table 4 (method 6)", "table 4 worked example"}
    tested |= {"fermented and dried, T. spiralis", *(f"curing method {number}" for number in range(1, 8))}
    assert {row["table"] for row in ROWS} == tested


def test_the_names_are_unique_and_the_ones_that_a_plan_may_carry_stay() -> None:
    names = [option.id for option in OPTIONS]
    assert len(set(names)) == len(names)
    assert {"certified", "freeze-5f-20d", "cook-144f", "method-1", "method-7", "hill-2017"} <= set(names)
    with pytest.raises(KeyError, match="no such option"):
        option_of("method-8")
    assert "83 FR 25302" in STATUS


def test_beef_needs_nothing_and_game_has_only_heat() -> None:
    assert not needs_option({"beef", "poultry", "lamb"})
    assert offers({"beef"}, 55.0, 2.6, raw=True) == ()
    assert offers({"game", "pork"}, 55.0, 2.6, raw=True) == ()
    warm = offers({"wild boar"}, 55.0, 2.6, raw=False)
    assert {offer.option.kind for offer in warm} == {"cook"}
    assert all("cannot be relied on" in offer.note for offer in warm)


def test_raw_pork_is_offered_what_its_casing_and_salt_allow() -> None:
    names = {offer.option.id: offer for offer in offers({"pork", "beef"}, 55.0, 2.8, raw=True)}
    assert "freeze-5f-20d" in names
    assert "cook-144f" not in names
    assert "method-1" not in names  # It asks for 3.33 % of salt.
    assert names["method-6"].drying_days == drying_days_6(55.0, 2.8) == 21  # 2.5 in: 18 days and 16 %.
    assert names["method-7"].drying_days == 4.0
    assert names["hill-2017"].drying_days == 8
    saltier = {offer.option.id: offer for offer in offers({"pork"}, 55.0, 3.4, raw=True)}
    assert saltier["method-1"].drying_days == 20.0
    assert saltier["method-2"].drying_days == 10.0


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("frozen at 5F for 20 days", (-15.0, 480.0)),
        ("20 d at -15 °C", (-15.0, 480.0)),
        ("-18C, 106 h", (-18.0, 106.0)),
        ("frozen", None),
        ("10 d at 5F, then 10 d at -10F", None),
        ("frozen at minus 15 C for 20 days", (-15.0, 480.0)),
        ("frozen 3 weeks at -20C", (-20.0, 504.0)),
        ("frozen 20 days at −15C in a chest freezer, 10 cm thick", (-15.0, 480.0)),
        ("not frozen, 20 d at -20C in the shop?", None),
        ("kept 20 days at 15C", None),
        ("almost 20 days at -15C", None),
    ],
)
def test_what_a_maker_wrote_of_freezing_is_read(text: str, found: tuple[float, float] | None) -> None:
    written = frozen_as_written(text)
    assert (None if written is None else (written.temp_c, written.hours)) == (
        found if found is None else pytest.approx(found)
    )


def verdict(option: str, **told: Any) -> str:  # noqa: ANN401 - any field of what was recorded
    return worst(c.verdict for c in judge(option_of(option), Recorded(**told)))


def test_freezing_is_judged_by_what_was_written_and_never_holds_for_game() -> None:
    assert verdict("freeze-5f-20d", species=PORK, treated="frozen at 5F for 20 days") == "met"
    assert verdict("freeze-5f-20d", species=PORK, treated="frozen at 5F for 19 days") == "not met"
    assert verdict("freeze-5f-20d", species=PORK, treated="frozen at 6F for 20 days") == "not met"
    assert verdict("freeze-5f-20d", species=PORK, treated="frozen a while") == "not measured"
    assert verdict("freeze-5f-20d", species=frozenset({"game"}), treated="frozen at 5F for 20 days") == "not met"


def test_how_thick_the_pieces_were_counts_and_is_never_taken_for_granted() -> None:
    # Former 9 CFR 318.10(c)(2) Table 1: 20 days at 5 °F up to 6 in, 30 days over 6 up to 27 in.
    told: dict[str, Any] = {"species": PORK, "chosen": False}
    assert verdict("freeze-5f-20d", **told, treated="frozen 20 days at -15C") == "not measured"
    assert verdict("freeze-5f-20d", **told, treated="frozen 20 days at -15C, 15 cm thick") == "met"
    assert verdict("freeze-5f-20d", **told, treated="frozen 20 days at 5F, 6 in thick") == "met"
    assert verdict("freeze-5f-20d", species=PORK, treated="frozen 20 days at 5F, 40 cm thick") == "not met"
    assert verdict("freeze-5f-30d", **told, treated="frozen 30 days at 5F, 40 cm thick") == "met"
    assert verdict("freeze-5f-30d", **told, treated="frozen 30 days at 5F") == "met"
    [named] = judge(option_of("freeze-5f-20d"), Recorded(species=PORK, treated="frozen 20 days at -15C"))
    assert named.verdict == "met"
    assert "taken to be up to 152 mm thick, as the option says" in named.found


def test_a_freezers_setting_is_no_temperature_at_the_centre() -> None:
    told: dict[str, Any] = {"species": PORK, "treated": "frozen 120 h at -18C"}
    assert verdict("core-0f-106h", **told, chosen=False) == "not measured"
    assert verdict("core-0f-106h", **told) == "met"  # The maker named the option: he says it is the centre's.
    assert verdict("core-0f-106h", species=PORK, treated="frozen 120 h at -18C in the freezer") == "not measured"
    assert verdict("core-0f-106h", species=PORK, treated="core 120 h at -18C", chosen=False) == "met"


def test_a_cook_is_judged_by_the_lower_of_two_readings() -> None:
    hot = [(0.0, celsius(131.0)), (1800.0, celsius(130.0))]
    assert verdict("cook-130f", species=PORK, core=hot) == "met"
    assert verdict("cook-130f", species=PORK, core=[hot[0], (1800.0, celsius(129.0))]) == "not met"
    assert verdict("cook-144f", species=PORK, core=[(0.0, celsius(144.0))]) == "met"
    assert verdict("cook-144f", species=PORK) == "not measured"


def test_the_probes_error_is_taken_off_a_heat() -> None:
    edge = Recorded(species=PORK, core=[(0.0, celsius(144.0))], error_k=0.5)
    found = {c.what: c.verdict for c in judge(option_of("cook-144f"), edge)}
    assert found == {
        "trichinae: heating": "met",
        "trichinae: heating, with 0.5 K of error taken off": "not met",
    }


def test_the_steps_of_method_7_follow_one_another_and_no_hour_counts_twice() -> None:
    # Former 9 CFR 318.10(c)(3)(i)(G), small casings: 12 h at 50, 1 h at 100, 6 h at 125 °F, then 4 days at 50 °F.
    def heat(*steps: tuple[float, float]) -> list[str]:
        at_s, smoke = 0.0, list[tuple[float, float]]()
        for temp_f, hours in steps:
            smoke += [(at_s + 1.0, celsius(temp_f)), (at_s + hours * HOUR_S, celsius(temp_f))]
            at_s += hours * HOUR_S
        drying = [(at_s + when, temp_c) for when, temp_c in room(51.0, 5)]
        told = Recorded(species=PORK, diameter_mm=50.0, salt_pct=3.0, smoke=smoke, drying=drying)
        judged = judge(option_of("method-7"), told)
        return [c.verdict for c in judged if c.what in {"heat", "drying room"}]

    assert heat((50.0, 12.1), (100.0, 1.1), (125.0, 6.1)) == ["met"] * 4
    assert heat((125.0, 12.1)) == ["met", "not met", "not measured", "not measured"]  # Hot from the first hour on.


def room(temp_f: float, days: float) -> list[tuple[float, float]]:
    return [(DAY_S * hour / 24.0, celsius(temp_f)) for hour in range(round(24 * days) + 1)]


def test_days_in_the_drying_room_are_those_that_were_warm_enough() -> None:
    told: dict[str, Any] = {"species": PORK, "diameter_mm": 55.0, "salt_pct": 3.4, "from_cure_h": 26 * 24.0}
    by_place = {
        days: {c.what: c.verdict for c in judge(option_of("method-1"), Recorded(**told, drying=room(46.0, days)))}
        for days in (20, 19)
    }
    assert by_place[20]["drying room"] == "met"
    assert by_place[19]["drying room"] == "not met"
    assert by_place[20]["from cure to release"] == "met"
    assert by_place[20]["grind"] == "not measured"  # Nobody records it, so a person has to say it.
    cold = judge(option_of("method-1"), Recorded(**told, drying=room(44.0, 30)))
    assert {c.what: c.verdict for c in cold}["drying room"] == "not met"


def test_method_6_takes_off_the_days_that_a_warm_ferment_earns() -> None:
    told: dict[str, Any] = {"species": PORK, "diameter_mm": 75.0, "salt_pct": 3.4}  # 3 in: 20 days.
    warm = Recorded(**told, ferment=room(91.0, 2), drying=room(51.0, 13))  # 48 h at 90 °F: 35 % off, 13 days.
    assert {c.what: c.verdict for c in judge(option_of("method-6"), warm)}["drying room"] == "met"
    cool = Recorded(**told, ferment=room(68.0, 2), drying=room(51.0, 13))
    assert {c.what: c.verdict for c in judge(option_of("method-6"), cool)}["drying room"] == "not met"
    thin = Recorded(**{**told, "salt_pct": 1.8}, drying=room(51.0, 90))
    assert "not met" in {c.verdict for c in judge(option_of("method-6"), thin)}


def test_the_fermented_and_dried_sausage_is_judged_condition_by_condition() -> None:
    told: dict[str, Any] = {
        "species": PORK, "ph": 4.9, "salt_pct": 2.7, "aw": 0.915, "ferment": room(76.0, 2), "drying": room(60.0, 9),
    }  # fmt: skip
    assert verdict("hill-2017", **told) == "met"
    assert verdict("hill-2017", **{**told, "ph": 5.15, "ph_error": 0.05}) == "met"
    assert verdict("hill-2017", **{**told, "ph": 5.16, "ph_error": 0.05}) == "not met"
    for change in ({"ph": 5.3}, {"salt_pct": 1.2}, {"aw": 0.93}, {"ferment": room(74.0, 2)}, {"drying": room(60.0, 8)}):
        assert verdict("hill-2017", **{**told, **change}) == "not met"
    assert verdict("hill-2017", **{**told, "aw": None}) == "not measured"


def test_a_certificate_is_for_a_person_to_see() -> None:
    assert verdict("certified", species=PORK, treated="from a controlled herd") == "not measured"
