"""Describing a chamber: what is read of an answer, which sensor rises, and the file that comes of it."""

import contextlib
import datetime as dt
import random
import tempfile
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from controller.errors import HangroomError
from controller.planning.question import Question
from controller.planning.setting_up import typed
from controller.planning.setting_up.chamber_text import chamber_text, trip_c
from controller.planning.setting_up.course import Level, Look, Machine, Pin, Touch, course
from controller.planning.setting_up.rising import risen
from controller.settings.chamber_file import ChamberFile, plan_of, read_chamber
from controller.settings.found import Found

TODAY = dt.date(2026, 3, 1)
PROBES = tuple(Found("ds18b20", f"28-00000000000{number}") for number in (1, 2, 3))
HUMID = (Found("sht4x", "1-0044"), Found("bme280", "1-0076"))


def machine(*found: Found, may_click: bool = True) -> Machine:
    return Machine(found, "Europe/Vienna", TODAY, may_click)


def read_back(text: str) -> ChamberFile:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "chamber.toml"
        path.write_text(text, "utf-8")
        return read_chamber(path, TODAY)


ANSWERS = {
    "title": "Old fridge",
    "units": "C",
    "timezone": "",
    "room_low": "14C",
    "room_high": "22C",
    "clock_battery": "no",
    "box": "fridge",
    "volume": "330l",
    "meat": "12kg",
    "others": "",
    "in_relay": "indicator",
    "pin 1": "17",
    "level 1": "low 2026-03-01",
    "role 1": "heater",
    "switch 1": "solid-state",
    "w 1": "60W",
    "pin 2": "none",
    "contacts": "",
    "cutout": "60C",
    "tested_on": "",
}


def answered(at: Machine, **other: str) -> dict[str, Any]:
    """Go through the interview with these answers; what they do not name is answered by Enter, or by number 1."""
    said = ANSWERS | {key.replace("__", " "): text for key, text in other.items()}
    given: dict[str, Any] = {}
    while True:
        question = next((one for one in course(given, at) if one.key not in given), None)
        if question is None:
            return given
        given[question.key] = question.read(said.get(question.key) or usual(question))


def usual(question: Question) -> str:
    if isinstance(question, Touch):
        return "1"
    return question.usual or ""


def test_of_a_sitting_where_enter_says_the_rest_comes_a_file_that_the_daemon_reads() -> None:
    file = read_back(chamber_text(answered(machine(*PROBES, *HUMID)), (*PROBES, *HUMID), TODAY))
    assert [(one.channel, one.kind) for one in file.sensor] == [
        ("air_temp", "ds18b20"),
        ("air_temp_2", "ds18b20"),
        ("rh", "sht4x"),
        ("rh_2", "bme280"),
        ("ambient_temp", "ds18b20"),
    ]
    assert file.output[0].active == "low"


def read_chamber_of(name: str) -> ChamberFile:
    from controller.settings.chamber_file import find_chamber

    return read_chamber(find_chamber(name))


@pytest.mark.parametrize(
    ("box", "litres", "shipped"),
    [("fridge", "330l", "old-fridge"), ("foam", "75l", "insulated-box"), ("wood", "250l", "plywood-cabinet")],
)
def test_a_box_as_large_as_the_shipped_one_of_its_kind_has_its_walls(box: str, litres: str, shipped: str) -> None:
    watts = next(one.w for one in read_chamber_of(shipped).output if one.role == "heater")
    given = answered(machine(*PROBES), box=box, volume=litres, w__1=f"{watts:g}")
    model, like = read_back(chamber_text(given, PROBES, TODAY)).model, read_chamber_of(shipped).model
    for name in (
        "volume_l",
        "ua_w_per_k",
        "air_wall_w_per_k",
        "wall_j_per_k",
        "lamp_j_per_k",
        "lamp_w_per_k",
        "leak_per_h",
    ):
        assert getattr(model, name) == pytest.approx(getattr(like, name)), name


def test_a_box_of_eight_times_the_volume_has_four_times_the_walls() -> None:
    small = read_back(chamber_text(answered(machine(*PROBES), volume="100l"), PROBES, TODAY)).model
    large = read_back(chamber_text(answered(machine(*PROBES), volume="800l"), PROBES, TODAY)).model
    assert large.ua_w_per_k == pytest.approx(4.0 * small.ua_w_per_k, rel=0.01)


def test_no_heat_is_allowed_before_somebody_stands_for_the_cut_out() -> None:
    at = machine(*PROBES)
    for tested_on, sure, heats in (("", "", False), ("2026-02-01", "no", False), ("2026-02-01", "yes", True)):
        given = answered(at, tested_on=tested_on, tested_sure=sure)
        file = read_back(chamber_text(given, PROBES, TODAY))
        assert (plan_of(file).heat_refused == "") is heats
    assert plan_of(read_back(chamber_text(answered(at, cutout="none"), PROBES, TODAY))).heat_refused


def test_the_day_of_the_cut_out_has_no_answer_that_enter_gives() -> None:
    at = machine(*PROBES)
    given = answered(at, tested_on="2026-02-01", tested_sure="yes")
    given.pop("tested_sure")
    question = next(one for one in course(given, at) if one.key not in given)
    assert question.key == "tested_sure"
    assert question.usual is None


@pytest.mark.parametrize(("cutout", "trip"), [(None, 45.0), (60.0, 45.0), (50.0, 45.0), (48.0, 43.0), (35.0, 30.0)])
def test_all_heat_ends_five_kelvin_below_the_cut_out_at_the_latest(cutout: float | None, trip: float) -> None:
    assert trip_c(cutout) == trip


def test_what_was_said_in_fahrenheit_stands_in_the_file_in_celsius() -> None:
    given = answered(machine(*PROBES), units="F", room_low="59F", room_high="77F", cutout="140F", meat="10lb")
    file = read_back(chamber_text(given, PROBES, TODAY))
    assert (file.units, file.room_temp_c, file.thermal_cutout_c) == ("F", (15.0, 25.0), 60.0)
    assert file.model.meat_kg == pytest.approx(4.536)


def test_the_file_says_what_nobody_measured_tried_or_used() -> None:
    text = chamber_text(
        answered(machine(*PROBES), level__1="high", contacts="door 24", **{f"place__{PROBES[2].name}": "unused"}),
        PROBES,
        TODAY,
    )
    tomllib.loads(text)
    for words in (
        "NOT TESTED, so NO HEAT IS GIVEN",
        "NOT SEEN; as was said",
        "NOT MEASURED: the figures of the shipped old-fridge",
        "Not measured: hangroom calibrate ice",
        f"Seen and not used: ds18b20 {PROBES[2].name}",
        "GPIO number (BCM), as was said; not tried",
    ):
        assert words in text, words


def test_without_a_thermometer_of_the_air_there_is_no_way_on() -> None:
    at = machine(HUMID[0])
    given = answered(at)
    assert given[f"place {HUMID[0].name}"] == "air_temp"
    two = machine(PROBES[0], HUMID[0])
    given = answered(two, **{f"place__{PROBES[0].name}": "unused"})
    assert given[f"place {HUMID[0].name}"] == "air_temp"
    assert any(
        isinstance(one, Look) for one in course(dict.fromkeys(ANSWERS, 1) | {"units": "C", "room_low": 1.0}, machine())
    )


def test_no_pin_is_clicked_that_the_sensors_the_console_or_another_thing_has() -> None:
    at = machine(PROBES[0], HUMID[0])
    given = answered(at, others="24 26")
    pin = next(
        one
        for one in course({key: value for key, value in given.items() if key != "pin 1"}, at)
        if isinstance(one, Pin)
    )
    assert pin.free == (9, 10, 11, 12, 13, 16, 17, 18, 19, 20, 21, 22, 23, 25, 27)
    for number in ("2", "3", "4", "24"):
        with pytest.raises(HangroomError):
            pin.read(number)


def test_who_has_something_else_on_the_relays_is_asked_for_the_levels_without_a_click() -> None:
    at = machine(*PROBES)
    given = answered(at, in_relay="else", level__1="low")
    levels = [one for one in course(given, at) if isinstance(one, Level)]
    assert [one.by_click for one in levels] == [False]
    assert all(not one.free for one in course(given, at) if isinstance(one, Pin))


def test_the_one_in_the_hand_is_the_one_that_rises_clearly_more_than_the_others() -> None:
    before = {"a": 21.0, "b": 21.5, "c": 20.0}
    assert risen(before, {"a": 21.1, "b": 23.0, "c": 20.0}, "temp") == "b"
    assert risen(before, {"a": 21.1, "b": 22.9, "c": 20.0}, "temp") == ""  # 1.4 K: not yet.
    assert risen(before, {"a": 23.0, "b": 23.4, "c": 20.0}, "temp") == ""  # Two of them.
    assert risen(before, {"a": 19.0, "b": 19.0, "c": 18.0}, "temp") == ""  # All fall.
    assert risen(before, {"a": 21.0, "c": 24.0}, "temp") == "c"  # One has fallen silent.
    assert risen({"h": 50.0}, {"h": 56.0}, "rh") == "h"
    assert risen({}, {"a": 30.0}, "temp") == ""


@pytest.mark.parametrize(
    ("text", "litres"),
    [("75", 75.0), ("75 l", 75.0), ("2.65ft3", 75.04), ("50x40x90cm", 180.0), ("20 x 16 x 36 in", 188.78)],
)
def test_a_volume_may_be_litres_cubic_feet_or_its_sides(text: str, litres: float) -> None:
    assert typed.litres(text) == pytest.approx(litres, rel=1e-3)


@pytest.mark.parametrize(
    ("read", "text", "words"),
    [
        (typed.litres, "5l", "20 to 2000"),
        (typed.litres, "2 m3", "50x40x90cm"),
        (typed.litres, "1.2.3x4x5cm", "50x40x90cm"),
        (typed.room_c, "70C", "-20 °C to 45 °C"),
        (typed.room_c, "20", "20C or 20F"),
        (typed.gpio, "40", "2 to 27"),
        (typed.watts, "warm", "60W"),
        (typed.watts, "5000W", "1 to 3000"),
        (typed.zone, "Vienna", "Europe/Vienna"),
        (typed.words, "  ", "in words"),
    ],
)
def test_what_cannot_be_meant_is_told_with_what_would_be_right(read: Any, text: str, words: str) -> None:  # noqa: ANN401
    with pytest.raises(HangroomError, match=words):
        read(text)


def test_a_day_that_lies_ahead_is_none_on_which_anybody_saw_anything() -> None:
    assert typed.day_it_opened("2026-02-28", TODAY) == dt.date(2026, 2, 28)
    assert typed.day_it_opened("today", TODAY) == TODAY
    assert typed.day_it_opened("not yet", TODAY) is None
    with pytest.raises(HangroomError, match="lies ahead"):
        typed.day_it_opened("2026-03-02", TODAY)


FREE = {
    "title": ["Old fridge", 'a "quoted" \\ one', "Käse-Kühlschrank", "#1", "\t x"],
    "timezone": ["UTC", "America/Chicago"],
    "room_low": ["-5C", "50F", "14.3C"],
    "room_high": ["15C", "40C", "71F"],
    "volume": ["20", "75l", "2000l", "50x60x70cm"],
    "meat": ["1kg", "150kg", "10lb"],
    "cutout": ["none", "35C", "47.5C", "140F", "90C"],
    "tested_on": ["not yet", "2026-02-01"],
    "contacts": ["none", "door 25", "door 25, cutout 20"],
    "others": ["none", "24 26"],
}


def some_answer(question: Question, chance: random.Random) -> str:
    if question.choices:
        return chance.choice([name for name, _ in question.choices])
    match question:
        case Touch():
            return chance.choice(question.names)
        case Pin():
            return chance.choice(["11", "12", "13", "17", "18", "19", "21", "22", "27", "none"])
        case Level():
            return chance.choice(["high", "low 2026-03-01"])
    return chance.choice(FREE.get(question.key, ["1", "60", "250"]))


@drawn(st.integers(0, 2**32), st.integers(0, 3), st.integers(0, 2))
def test_whatever_is_answered_the_file_is_one_that_the_daemon_reads(seed: int, probes: int, humid: int) -> None:
    chance = random.Random(seed)
    found = (*PROBES[:probes], *HUMID[:humid]) or PROBES
    at = machine(*found, may_click=chance.random() < 0.5)
    given: dict[str, Any] = {}
    while question := next((one for one in course(given, at) if one.key not in given), None):
        with contextlib.suppress(HangroomError):  # As at the terminal: asked again.
            given[question.key] = question.read(some_answer(question, chance))
    text = chamber_text(given, at.found, TODAY)
    file = read_back(text)
    assert file.cutout_tested_on is None or given["tested_sure"] == "yes"
    pins = {value for key, value in given.items() if key.startswith("pin ") and value != "none"}
    assert {one.pin for one in file.output} == pins
    assert file.title == " ".join(given["title"].split())
