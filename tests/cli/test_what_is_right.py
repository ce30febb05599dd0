"""A line that is nearly right is told how it would be right, with the maker's own words and figures in it."""

import re
from pathlib import Path

import pytest

from controller.cli.tree import hangroom
from controller.cli.typed import sentence, span_s
from controller.errors import UsageError
from tests.cli.conftest import Typed


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize(
    ("line", "fragments"),
    [
        ("ph 5.2", ['hangroom ph 5.2 --by "meter 1"']),
        ("aw 0.91 --piece A", ['hangroom aw 0.91 --piece A --by "meter 1"']),
        ("next", ['hangroom next --because "']),
        ("set --temp 98F --because x", ["'--temp'", "'--air-temp'"]),
        ("core 64C --peice A", ["'--piece'"]),
        ("ph 5.2 --by meter --sampl sausage", ["'--sample'"]),
        ("calibrate ice air_temp 0.2C --notes x", ["'--note'"]),
        ("hold --because \u201ccleaning the box\u201d", ["curly", '"two words"']),
        ("simulate tangy --days 1x", ["1x is not a number", "3 or 0.5"]),
        ("simulate tangy --speed fast", ["fast is not a number", "60"]),
        ("wait 30m7h", ["7h30m"]),
    ],
)
def test_a_nearly_right_line_is_answered_with_the_right_one(typed: Typed, line: str, fragments: list[str]) -> None:
    code, out, err = typed(*line.split(" "))
    assert (code, out) == (64, "")
    for fragment in fragments:
        assert fragment in err
    assert "float" not in err


@pytest.mark.usefixtures("daemon")
def test_a_negative_number_is_a_value_and_what_stands_behind_an_option_is_its_value(typed: Typed) -> None:
    assert typed("calibrate", "ice", "air_temp", "-0.2C", "--note", "--temp was cold")[0] == 0


def test_every_verb_takes_its_own_examples_for_known_options() -> None:
    for verb in hangroom.commands.values():
        known = {option for param in verb.params for option in param.opts}
        for example in getattr(verb, "examples", ()):
            words = set(re.findall(r"(?<= )--[a-z-]+", example.partition(f"hangroom {verb.name}")[2]))
            assert words <= known, verb.name


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("7h30m", 27_000.0), ("1h30m", 5400.0), ("1 h 0 min", 3600.0), ("3 d 4 h", 273_600.0), ("90s", 90.0)],
)
def test_a_length_of_time_is_taken_as_it_is_printed(text: str, seconds: float) -> None:
    assert span_s(text, "wait") == seconds


@pytest.mark.parametrize("text", ["7h7h", "30m7h", "h", "7", "0h", ""])
def test_a_length_of_time_that_is_none_is_asked_back(text: str) -> None:
    with pytest.raises(UsageError, match="how long"):
        span_s(text, "wait")


def test_quotes_of_a_word_processor_do_not_get_into_the_record() -> None:
    assert sentence("\u201ccleaning\u201d", "--because") == "cleaning"
    assert sentence("the rim\u2019s hard", "--because") == "the rim\u2019s hard"


def test_without_a_verb_it_shows_the_very_help_that_help_shows(typed: Typed) -> None:
    assert typed()[2] == typed("--help")[1]


def test_a_name_that_is_no_chamber_is_said_with_the_folder_it_was_looked_for_in(
    typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HANGROOM_CHAMBER", "trial")
    code, _, err = typed("status")
    said = " ".join(err.split())
    assert code == 66
    assert said.startswith("$HANGROOM_CHAMBER = trial: there is no such chamber file or folder of a simulation in")
    assert tmp_path.name in said
    assert ". Shipped are" in said
    assert "; Shipped" not in said


@pytest.mark.parametrize("verb", ["review", "release"])
def test_a_batch_that_is_nowhere_is_no_matter_of_a_chamber_file(
    typed: Typed, verb: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HANGROOM_CHAMBER", raising=False)
    code, _, err = typed(verb, "nosuch")
    assert code == 66
    assert err.startswith("nosuch: is no folder here")
    assert "/etc/hangroom" not in err


def test_a_folder_of_a_simulation_without_a_status_asks_for_a_simulation_and_no_service(
    typed: Typed, tmp_path: Path
) -> None:
    typed("simulate", "tangy", "--days", "0.01", "--out", str(tmp_path / "trial"))
    (tmp_path / "trial" / "status.json").unlink()
    code, _, err = typed("status", "--chamber", str(tmp_path / "trial"))
    assert code == 69
    assert "systemctl" not in err
    assert f"hangroom simulate --by-hand --out {tmp_path / 'trial'}" in err


def test_a_key_in_fahrenheit_is_answered_with_the_value_in_celsius(typed: Typed, chamber: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace("trip_c = 45.0", "trip_f = 113"), "utf-8")
    assert "did you mean trip_c = 45.0 (113 °F)?" in " ".join(typed("check")[2].split())


def test_curly_quotes_in_a_chamber_file_are_named(typed: Typed, chamber: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace('units = "C"', "units = \u201cC\u201d"), "utf-8")
    code, _, err = typed("check")
    assert code == 78
    assert "the quotes are curly: type straight ones" in " ".join(err.split())


@pytest.mark.parametrize(
    ("short", "name"),
    [
        ("CST", "America/Chicago"),
        ("cdt", "America/Chicago"),
        ("EST", "America/New_York"),  # The list has an EST that knows no summer time; no maker of sausage means that.
        ("EDT", "America/New_York"),
        ("MST", "America/Denver"),
        ("PST", "America/Los_Angeles"),
    ],
)
def test_a_clock_of_the_united_states_is_answered_with_its_place(
    typed: Typed, chamber: Path, short: str, name: str
) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace('timezone = "UTC"', f'timezone = "{short}"'), "utf-8")
    code, _, err = typed("check")
    assert code == 78
    assert f'did you mean "{name}"?' in " ".join(err.split())


@pytest.mark.usefixtures("daemon")
def test_hanging_tells_the_weights_that_count_and_a_second_one_names_them_and_their_entry(typed: Typed) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    code, out, _ = typed("hang", "A=1lb", "B=1.1lb", "--tare", "6")
    said = " ".join(out.split())
    assert code == 0
    assert "Green weights: A 448 g, B 493 g; 6 g each for hook and string are off." in said  # 453.6 and 499.0 g gross.
    right = re.search(r"Typed wrong\? (hangroom weigh A=454 --replaces [0-9a-f]{8})", said)
    assert right is not None
    code, _, err = typed("hang", "A=1lb", "B=1.1lb", "--tare", "6")
    said = " ".join(err.split())
    assert code == 65
    assert "its green weights are A 448 g, B 493 g" in said
    assert right[1] in said
    assert "412" not in said
    assert typed(*right[1].split()[1:])[0] == 0  # As it is said, it can be typed.


@pytest.mark.usefixtures("daemon")
def test_without_a_tare_hanging_reminds_of_it(typed: Typed) -> None:
    typed("start", "tangy", "--meat", "4.5kg")
    out = " ".join(typed("hang", "A=412")[1].split())
    assert "Green weights: A 412 g; nothing is taken off: were hook and string on the scale" in out


@pytest.mark.usefixtures("daemon")
def test_several_alarms_are_seen_at_once_and_each_is_answered(typed: Typed) -> None:
    code, out, err = typed("seen", "A1-1,", "C6-1")
    assert (code, out) == (65, "")
    assert "A1-1" in err
    assert "C6-1" in err


@pytest.mark.usefixtures("daemon")
def test_a_check_in_ice_tells_one_degree_fahrenheit_as_one_and_once(typed: Typed, chamber: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace('units = "C"', 'units = "F"'), "utf-8")
    out = " ".join(typed("calibrate", "ice", "air_temp", "33F")[1].split())
    assert "shows 33.0 °F where 32.0 °F would be right (in ice), off by +1 °F, and" in out
    assert out.count("off by") == 1
