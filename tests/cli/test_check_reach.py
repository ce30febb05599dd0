"""Can it do it? What `check` says of a chamber's reach, in °C and °F, as words and as JSON."""

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Typed

HEADER = "origin,year,month,day,hour,temp,humid\n"


def test_the_page_says_reach_duty_times_water_and_energy_of_each_stage_here(typed: Typed) -> None:
    code, out, err = typed("check", "--chamber", "old-fridge", "--profile", "mild")
    assert (code, err) == (0, "")
    part = out.partition("\nCan it do it?")[2].partition("\nThis computer")[0]
    words = " ".join(part.split())
    assert "Room at 16.0 °C and at 22.0 °C, 50 % (room_temp_c of the chamber file; its humidity is assumed)" in words
    assert "with 12 kg of fresh sausage of 55 mm" in words
    for stage in ("warm-up 24.0 °C, 90 %", "ferment 24.0 °C, 90 %", "dry-1 13.0 °C, 85 %", "dry-4 13.0 °C, 75 %"):
        assert f"{stage} humidity: within reach." in words
    for row in (
        "the air can have", "lamp on", "compressor on", "empty, to warm at full lamp", "hung at 4 °C: air back after",
        "middle of the meat warm after", "humidity by itself", "humidity at most, with mist",
        "humidity at least, dried", "water for the mister", "energy",
    ):  # fmt: skip
        assert f"\n    {row}" in part
    assert "over 0." in part  # The file gives no power of its compressor.
    assert "gives no w for its cooler: the compressor's energy is left out of the sum" in words


def test_a_stated_room_out_of_reach_is_told_where_the_stage_stands_and_below(typed: Typed) -> None:
    code, out, _ = typed(
        "check", "--chamber", "plywood-cabinet", "--profile", "tangy", "--room", "5C", "--room-rh", "80"
    )
    words = " ".join(out.split())
    assert code == 0
    assert "in this chamber, but not within reach in every room (below)" in words
    assert "Room at 5.0 °C, 80 % (--room)." in words
    assert "lamp on 117 %: too much" in words
    assert "tops out at 33.1 °C: 'ferment' wants 36.0 °C. A lamp of at least 120 W would help" in words


def test_a_maker_of_fahrenheit_reads_the_same_in_fahrenheit(typed: Typed, chamber: Path) -> None:
    text = chamber.read_text("utf-8").replace('units = "C" ', 'units = "F" ').replace("w = 60.0 ", "w = 250.0 ")
    chamber.write_text(text, "utf-8")
    code, out, err = typed("check", "--profile", "tangy", "--room", "5C")
    words = " ".join(out.split())
    assert (code, err) == (0, "")
    assert "Room at 41.0 °F, 50 %" in words
    assert "hung at 39.2 °F: air back after" in words
    assert "THE LAMP IS TOO STRONG for its thermometer" in words
    assert "250 W warm the air by 3.5 °F a minute" in words
    assert "°C" not in out.partition("\nLimits")[2].partition("\nThis computer")[0]


def test_a_lamp_too_strong_is_told_without_a_profile_too(typed: Typed, chamber: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace("w = 60.0 ", "w = 250.0 "), "utf-8")
    _, out, _ = typed("check")
    words = " ".join(out.split())
    assert "THE LAMP IS TOO STRONG" in words
    assert "the thermometer takes 120 s to follow, so the air is 3.8 K ahead of what it shows" in words
    assert "A lamp of at most 195 W would help, or a bare probe in moved air" in words
    assert "gives no w for its cooler" not in words  # Nobody asked for energy.
    assert json.loads(typed("check", "--json")[1])["reach"]["lamp"]["too_strong"] is True


def test_weather_gives_the_share_of_hours_and_the_coldest_and_hottest_one(typed: Typed, tmp_path: Path) -> None:
    """Ten hours, of which three at -8 °C are too cold for 100 W; 24 °C wanted."""
    hours = "".join(f"EWR,2013,1,1,{hour},{17.6 if hour < 3 else 60.0},50\n" for hour in range(10))
    weather = tmp_path / "weather.csv"
    weather.write_text(HEADER + hours, "utf-8")
    code, out, err = typed("check", "--chamber", "plywood-cabinet", "--profile", "mild", "--weather", str(weather))
    words = " ".join(out.split())
    assert (code, err) == (0, "")
    assert "Coldest hour -8.0 °C, 50 %; hottest 15.6 °C" in words
    assert "within reach in 70.0 % of the hours (temperature 70.0 %" in words
    page = json.loads(
        typed("check", "--chamber", "plywood-cabinet", "--profile", "mild", "--weather", str(weather), "--json")[1]
    )
    assert page["reach"]["rooms"]["hours"] == 10
    assert page["reach"]["stages"][1]["temp_share"] == pytest.approx(0.7)
    assert page["reach"]["stages"][1]["within"] is False


def test_the_object_holds_each_figure_in_celsius(typed: Typed, chamber: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace('units = "C" ', 'units = "F" '), "utf-8")
    code, out, _ = typed("check", "--profile", "tangy", "--room", "68F", "--json")
    reach = json.loads(out)["reach"]
    assert code == 0
    assert reach["rooms"]["coldest_c"] == reach["rooms"]["warmest_c"] == pytest.approx(20.0)
    ferment = next(stage for stage in reach["stages"] if stage["kind"] == "ferment")
    (room,) = ferment["rooms"]
    assert ferment["within"] is True
    assert 0.4 < room["heater_duty"] < 0.7
    assert room["kwh_per_day"] == pytest.approx(room["heater_w"] * 0.024, rel=0.01)
    assert room["hung_core_s"] > room["empty_warm_s"] > 600.0


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("--room", "5"), 64, "--room 5: °C or °F?"),
        (("--room", "99C"), 65, "--room 99C: a room lies between -30 and 50 °C"),
        (("--room", "5C", "--room-rh", "200"), 64, "humidity lies between 0 and 100 %"),
        (("--room-rh", "50"), 64, "of which room?"),
        (("--room", "5C", "--weather", "x.csv"), 64, "leave one out"),
        (("--weather", "nowhere.csv"), 66, "cannot be read"),
    ],
)
def test_a_slip_in_the_room_is_told(typed: Typed, words: tuple[str, ...], code: int, told: str) -> None:
    got, out, err = typed("check", "--chamber", "old-fridge", "--profile", "mild", *words)
    assert (got, out) == (code, "")
    assert told in " ".join(err.split())


def test_a_room_without_a_profile_is_asked_back(typed: Typed) -> None:
    code, _, err = typed("check", "--chamber", "old-fridge", "--room", "5C")
    assert code == 64
    assert "say for which profile" in err
