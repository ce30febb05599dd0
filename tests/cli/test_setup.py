"""`hangroom setup` in a terminal, as somebody types it; each story starts the real command, which takes a second."""

import io
import os
import signal
import tempfile
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.cli import main
from controller.hardware.single import OnlyCopy
from controller.relays_off import NOTE
from controller.settings.chamber_file import read_chamber
from tests.helpers.fake_pi import Tree
from tests.helpers.setup_story import FIRST, HUMID, OF_THE_BOX, SECOND, Sitter
from tests.helpers.somebody import somebody_else
from tests.helpers.terminal import PROMPT, Terminal

ONE_FAN = ("", "else", "23", "high", "fan", "solid-state", "none", "", "none")
"""The answers from the relays to the cut-out, where nothing is clicked and there is no cut-out."""


@pytest.fixture
def sitter(tmp_path: Path) -> Sitter:
    return Sitter(tmp_path)


@pytest.fixture
def at(sitter: Sitter) -> Iterator[Terminal]:
    terminal = sitter.sit_down()
    yield terminal
    terminal.kill()


def test_a_maker_describes_a_fridge_from_the_first_question_to_the_file(sitter: Sitter, at: Terminal) -> None:
    sitter.answer_to_the_relays(at)
    # A board that is on when low, found by its clicks; then a relay on a GPIO that he knows.
    for words in ("24", "indicator", "find", "", "no", "", "yes", "", "turned", "", "on", "1", "2", "60"):
        at.answer(words)
    for words in ("27", "", "on", "cooler", "mechanical", "none", "door 24", "", "60C", ""):
        at.answer(words)
    at.wait_for("Write this to")
    at.answer("yes")
    assert at.end() == 0
    file = read_chamber(sitter.out)
    assert [(one.channel, one.id or one.address or one.pin) for one in file.sensor] == [
        ("air_temp", SECOND),
        ("rh", HUMID),
        ("ambient_temp", FIRST),
        ("door", 24),
    ]
    assert [(one.role, one.pin, one.active, one.switch, one.w) for one in file.output] == [
        ("heater", 10, "low", "solid-state", 60.0),
        ("cooler", 27, "high", "mechanical", None),
    ]
    assert (file.title, file.timezone, file.room_temp_c) == ("Old fridge", "Europe/Vienna", (14.0, 22.0))
    assert (file.thermal_cutout_c, file.cutout_tested_on, file.drying) == (60.0, None, "cool-and-reheat")
    text = sitter.out.read_text("utf-8")
    assert "NOT TESTED, so NO HEAT IS GIVEN" in text
    assert "NOT MEASURED" in text
    assert main(["check", "--chamber", str(sitter.out)]) == 0
    assert sitter.edges(10)[-1] == "out 1"  # Off, at the level that was seen.
    assert sitter.edges(27)[-1] == "out 0"
    assert sitter.pins() == {9, 10, 27}  # GPIO 24 was told to be a contact.
    assert sitter.edges(9) == ["out 0", "out 1", "out 0", "in -"]


def test_nothing_is_clicked_while_something_else_hangs_on_the_relays(sitter: Sitter, at: Terminal) -> None:
    sitter.answer_to_the_relays(at)
    for words in ("", "else", "17"):
        at.answer(words)
    assert "Which level switches GPIO 17 on?" in at.answer("high")
    for words in ("heater", "mechanical", "60", "", "", "none", "yes"):
        at.answer(words)
    assert at.end() == 0
    assert sitter.pins() == set()
    text = sitter.out.read_text("utf-8")
    assert "NOT SEEN" in text
    assert "thermal_cutout_c" not in tomllib.loads(text)


def test_a_chamber_without_a_relay_is_none(sitter: Sitter, at: Terminal) -> None:
    sitter.answer_to_the_relays(at)
    for words in ("", "else", "none"):
        at.answer(words)
    assert "one relay at least" in at.answer("quit")
    assert at.end() == 0


def test_what_was_answered_is_offered_again_after_quit_and_back_goes_back(sitter: Sitter, at: Terminal) -> None:
    for words in ("Old fridge", "F", "America/Chicago", "60"):
        at.answer(words)
    assert "°C or °F? Write 60C or 60F." in at.answer("60F")
    at.answer("back")
    assert "Enter: 60F" in at.answer("61F")
    at.answer("quit")
    assert at.end() == 0
    assert str(sitter.answers) in at.text.replace("\n", "")
    assert not sitter.out.exists()
    again = sitter.sit_down()
    assert "Go on with them?" in " ".join(again.answer("").split())
    for expected in ("Enter: Old fridge", "Enter: 2", "Enter: America/Chicago", "Enter: 61F"):
        assert expected in again.answer("")
    again.answer("quit")
    again.end()


def test_a_file_that_is_there_is_replaced_only_after_a_yes_and_is_kept(sitter: Sitter, at: Terminal) -> None:
    sitter.out.write_text("mine = true\n")
    sitter.answer_to_the_relays(at)
    for words in ONE_FAN:
        at.answer(words)
    at.wait_for("is there already. Replace it, yes or no?")
    at.answer("")
    assert "type a number from 1 to 2, or: yes, no" in at.answer("no")
    assert at.end() == 0
    assert sitter.out.read_text() == "mine = true\n"


def test_the_old_file_stays_under_a_name_of_its_own(sitter: Sitter, at: Terminal) -> None:
    sitter.out.write_text("mine = true\n")
    sitter.out.with_name("chamber.toml.before-1").write_text("older = true\n")
    (sitter.run_dir / NOTE).write_text('{"chip": "", "lines": [{"role": "heater", "pin": 17, "off": 0}]}')
    sitter.answer_to_the_relays(at)
    for words in (*ONE_FAN, "yes"):
        at.answer(words)
    assert at.end() == 0
    assert sitter.out.with_name("chamber.toml.before-1").read_text() == "older = true\n"
    assert sitter.out.with_name("chamber.toml.before-2").read_text() == "mine = true\n"
    assert [one.role for one in read_chamber(sitter.out).output] == ["fan"]
    assert not (sitter.run_dir / NOTE).exists()  # What it says of pins and levels may be wrong from now on.


def in_a_click(sitter: Sitter) -> Terminal:
    """Go on to where the relay of GPIO 17 is on for its moment."""
    at = sitter.sit_down(pace="slow")
    sitter.answer_to_the_relays(at)
    for words in ("", "indicator", "17", ""):
        at.answer(words)
    until_s = time.monotonic() + 10.0
    while sitter.edges(17)[-1:] != ["out 1"]:
        assert time.monotonic() < until_s
        time.sleep(0.02)
    return at


@pytest.mark.parametrize(
    ("sign", "code"), [("Ctrl-C", 130), ("SIGTERM", 128 + signal.SIGTERM), ("the line breaks", 128 + signal.SIGHUP)]
)
def test_a_relay_is_off_and_the_answers_are_kept_whatever_ends_it_in_a_click(
    sitter: Sitter, sign: str, code: int
) -> None:
    at = in_a_click(sitter)
    if sign == "Ctrl-C":
        at.type("\x03")
    elif sign == "SIGTERM":
        os.kill(at.process.pid, signal.SIGTERM)
    else:
        at.hang_up()
    assert at.end() == code
    assert sitter.edges(17) == ["out 0", "out 1", "out 0", "in -"]
    assert '"pin 1": "17"' in sitter.answers.read_text("utf-8")
    assert not sitter.out.exists()


def test_the_stop_key_does_not_leave_a_relay_on(sitter: Sitter) -> None:
    at = in_a_click(sitter)
    at.type("\x1a")
    assert "What did you see?" in at.answer("quit")
    assert at.end() == 0
    assert sitter.edges(17) == ["out 0", "out 1", "out 0", "in -"]


def test_it_refuses_while_the_daemon_runs_and_touches_nothing(
    sitter: Sitter, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(sitter.run_dir))
    with OnlyCopy(sitter.run_dir):
        assert main(["setup", "--out", str(sitter.out)]) == 69
    said = capsys.readouterr().err
    assert "sudo systemctl stop hangroom" in said
    assert not sitter.answers.exists()


def test_in_a_narrow_terminal_no_question_is_wider_than_40_columns(sitter: Sitter) -> None:
    at = sitter.sit_down(columns=40)
    sitter.answer_to_the_relays(at)
    for words in ("", "indicator", "17", "", "on", "heater", "mechanical", "60", "", "", "60C", "2026-01-31"):
        at.answer(words)
    assert "You stand for it" in at.wait_for(PROMPT)
    at.kill()
    lines = [line for line in at.text.splitlines() if str(sitter.out.parent) not in line]
    assert max(map(len, lines)) <= 40, [line for line in lines if len(line) > 40]


def test_the_day_of_the_cut_out_is_written_only_by_who_stands_for_it(sitter: Sitter) -> None:
    for sure, written in (("no", False), ("yes", True)):
        at = sitter.sit_down()
        if written:
            at.answer("new")
            sitter.tree.probe(SECOND, 21.0)
            sitter.tree.sht4x(HUMID, 21.6, 48.0)
        sitter.answer_to_the_relays(at)
        for words in (*ONE_FAN[:-1], "60C", "2026-01-31", sure, "yes"):
            at.answer(words)
        assert at.end() == 0
        assert (read_chamber(sitter.out).cutout_tested_on is not None) is written


def test_without_a_sensor_it_says_what_is_missing_and_looks_again(sitter: Sitter, tmp_path: Path) -> None:
    for probe in sorted(sitter.tree.roots.w1.iterdir()):
        for file in probe.iterdir():
            file.unlink()
        probe.rmdir()
    for folder in sitter.tree.roots.hwmon.iterdir():
        folder.rename(tmp_path / folder.name)
    at = sitter.sit_down()
    for words in OF_THE_BOX:
        at.answer(words)
    assert "config.txt" in at.answer("")
    assert "Still none." in at.wait_for(PROMPT)
    Tree(sitter.tree.root).probe(FIRST, 20.0)
    at.type("\n")
    assert "20.0 °C" in at.answer("skip")
    assert "main thermometer" in at.answer("quit")
    assert at.end() == 0


@pytest.mark.parametrize(
    "kept",
    [
        b"",
        b"\x00" * 300,
        b'{"day": "2026-01-05", "answers": {"title": 5}}',
        b'{"day": "2026-01-05", "answers": {"units": "K", "room_low": "9000C", "pin 1": "99", "no such": "x"}}',
        b'{"day": "2026-01-05", "answers": {"tested_on": "2026-01-01", "tested_sure": "yes", "in_relay": "indicator"}}',
    ],
)
def test_whatever_lies_in_the_place_of_the_answers_only_what_can_be_read_is_offered(
    sitter: Sitter, kept: bytes, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sitter.answers.write_bytes(kept)
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(sitter.run_dir))
    monkeypatch.setattr("sys.stdin", io.StringIO("\n\nOld fridge\n\nquit\n"))
    assert main(["setup", "--out", str(sitter.out)]) in {0, 130}
    said = capsys.readouterr().err
    assert "Traceback" not in said
    assert "Enter: K" not in said


def test_who_may_not_write_the_file_is_told_before_the_first_question(
    sitter: Sitter, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    with tempfile.TemporaryDirectory() as run_dir:
        Path(run_dir).chmod(0o777)
        monkeypatch.setenv("RUNTIME_DIRECTORY", run_dir)
        with somebody_else():
            code = main(["setup", "--out", str(sitter.out)])
    said = capsys.readouterr().err
    assert code == 77, said
    assert "--out FILE" in said
    assert "THE CHAMBER" not in said


def test_where_there_are_no_pins_it_says_why_and_asks_without_clicks(
    sitter: Sitter, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As on any computer that is no Pi: this one has none."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(sitter.run_dir))
    monkeypatch.setattr("sys.stdin", io.StringIO("quit\n"))
    assert main(["setup", "--out", str(sitter.out), "--gpio-chip", "no-such-chip"]) == 0
    said = capsys.readouterr().err
    assert "No relay can be clicked on this machine" in said
    assert "no-such-chip" in said


def test_a_folder_that_is_not_there_is_told_and_not_made(
    sitter: Sitter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    missing = tmp_path / "nowhere"
    assert main(["setup", "--out", str(missing / "chamber.toml")]) == 66
    assert "there is no such folder" in capsys.readouterr().err
    assert not missing.exists()
    assert not sitter.out.exists()
