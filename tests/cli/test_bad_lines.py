"""Command lines that cannot be right: each ends with its exit code and words that name the value and the remedy."""

import subprocess
import sys
from pathlib import Path

import pytest

from controller.cli import main
from tests.cli.conftest import Typed

USAGE, DATA, NO_INPUT, SETTINGS = 64, 65, 66, 78

LINES = [
    ("hanng", USAGE, ["hanng", "hang"]),
    ("ph", USAGE, ["PH", "ph --help"]),
    ("ph 5.21", USAGE, ["--by"]),
    ("ph 5.21 --by nose", USAGE, ["--by nose", "meter or strips"]),
    ("ph 53 --by meter", DATA, ["pH 53", "did you mean 5.3?"]),
    ("ph 5,21 --by meter", DATA, ["5,21", "did you mean 5.21?"]),
    ("ph 2.9 --by meter", DATA, ["pH 2.9", "3.5 and 7"]),
    ("ph -5 --by meter", DATA, ["pH -5", "3.5 and 7"]),
    ("ph 5.21 --by meter --sample-temp 20", USAGE, ["--sample-temp 20", "°C or °F?", "20C", "20F"]),
    ("ph 5.21 --by meter --sample-temp 200C", DATA, ["--sample-temp 200C", "20C"]),
    ("ph 5.21 --by meter --at tomorrow", USAGE, ["--at tomorrow", "14:30", "2026-01-05T14:30"]),
    ("ph 5.21 --by meter --at 2099-01-01T10:00", DATA, ["--at 2099-01-01T10:00", "lies ahead"]),
    ("ph 5.21 5.22 --by meter", USAGE, ["5.22"]),
    ("ph 5.21 --by meter --sample slice", USAGE, ["slice", "mince", "sausage"]),
    ("ph 5.21 --by meter --smell nice", USAGE, ["nice", "putrid"]),
    ("cool", USAGE, ["--from 23:00", "--off"]),
    ("cool --from 23:00 --off", USAGE, ["--from 23:00", "--off"]),
    ("cool --from bedtime", USAGE, ["--from bedtime"]),
    ("weigh", USAGE, ["PIECE=WEIGHT"]),
    ("weigh A", USAGE, ["A:", "A=412"]),
    ("weigh A=-3", USAGE, ["A", "-3", "more than 0"]),
    ("weigh A=0", USAGE, ["A", "0", "more than 0"]),
    ("weigh A=3stone", USAGE, ["A", "3stone", "kg"]),
    ("weigh A=412 --by eye", USAGE, ["--by eye", "scale"]),
    ("core 64", USAGE, ["core 64", "°C or °F?", "64C", "64F"]),
    ("core 64K", USAGE, ["core 64K", "37C"]),
    ("core 640C", DATA, ["core 640C", "-5 and 100"]),
    ("core -20C", DATA, ["core -20C", "-5 and 100"]),
    ("note", USAGE, ["TEXT"]),
    ("next", USAGE, ["--because"]),
    ("next --because ", USAGE, ["--because", "in words"]),
    ("start tangy", USAGE, ["--meat"]),
    ("start tangy --meat 4.5", USAGE, ["--meat 4.5", "4.5kg", "4.5lb"]),
    ("start tangy --meat 4500kg", DATA, ["--meat 4500kg", "4.5kg"]),
    ("start tangy --meat 4.5kg --diameter 55", USAGE, ["--diameter 55", "55mm"]),
    ("start tangy --meat 4.5kg --diameter 55cm", DATA, ["--diameter 55cm", "55mm"]),
    ("start tangi --meat 4.5kg", NO_INPUT, ["tangi", "tangy"]),
    ("hang A:412", USAGE, ["A:412", "A=412"]),
    ("status --chamber nowhere.toml", NO_INPUT, ["nowhere.toml"]),
    ("check --chamber nowhere.toml", NO_INPUT, ["nowhere.toml"]),
    ("check --chamber old-fridge --profile tangi", NO_INPUT, ["tangi", "tangy"]),
    ("simulate", USAGE, ["PROFILE"]),
    ("simulate tangi", NO_INPUT, ["tangi", "tangy"]),
    ("simulate tangy --chamber old-fridg", NO_INPUT, ["old-fridg", "old-fridge"]),
    ("simulate tangy --ambient 20", USAGE, ["--ambient 20", "20C", "20F"]),
    ("simulate tangy --ambient 200F", DATA, ["--ambient 200F", "-22 and 122 °F"]),
    ("simulate tangy --ambient 20C --weather w.csv", USAGE, ["--weather", "--ambient"]),
    ("simulate tangy --days 0", USAGE, ["--days 0", "more than 0"]),
    ("simulate tangy --days ten", USAGE, ["--days", "ten"]),
    ("simulate tangy --seed -1", USAGE, ["--seed", "-1"]),
    ("simulate tangy --speed -2", USAGE, ["--speed -2", "more than 0"]),
    ("simulate tangy --begin monday", USAGE, ["--begin monday", "2026-01-05T14:30"]),
    ("review nowhere", NO_INPUT, ["nowhere"]),
    ("relays-off --run-dir nowhere", NO_INPUT, ["nowhere", "Nothing was switched"]),
    ("seen", USAGE, ["ID"]),
    ("clear A3-2 A3-3", USAGE, ["A3-3"]),
]


@pytest.mark.usefixtures("chamber")
@pytest.mark.parametrize(("line", "code", "fragments"), LINES, ids=[line for line, _, _ in LINES])
def test_a_line_that_cannot_be_right_is_refused_in_words(
    line: str, code: int, fragments: list[str], typed: Typed, state_dir: Path
) -> None:
    got, out, err = typed(*(word or " " for word in line.split(" ")))
    assert (got, out) == (code, ""), err
    for fragment in fragments:
        assert fragment in err
    assert "Traceback" not in err
    assert 1 <= len(err.strip().splitlines()) <= 4
    assert not list(state_dir.iterdir()), "a line that was refused leaves nothing behind"


def test_without_a_verb_the_whole_list_is_shown_and_the_line_counts_as_wrong(typed: Typed) -> None:
    code, out, err = typed()
    assert (code, out) == (USAGE, "")
    assert "simulate" in err


def test_a_broken_chamber_file_tells_all_its_problems_to_every_verb(typed: Typed, chamber: Path) -> None:
    text = chamber.read_text("utf-8").replace("tick_s = 5.0", "tick_s = 500.0").replace("pin = 27", "pin = 17")
    chamber.write_text(text, "utf-8")
    for line in (["check"], ["status"], ["core", "64C"], ["run"]):
        code, out, err = typed(*line)
        assert (code, out) == (SETTINGS, ""), err
        assert "tick_s = 500" in err
        assert "pin = 17" in err


def test_nobody_is_shown_a_traceback_even_when_the_program_is_wrong(
    typed: Typed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("controller.settings.shipped.find", None)
    code, out, err = typed("check", "--chamber", "old-fridge")
    assert (code, out) == (70, "")
    assert "mistake of the program" in err
    assert "Traceback" not in err


def test_ctrl_c_ends_with_130(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupt(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("controller.settings.shipped.find_chamber", interrupt)
    assert main(["run"]) == 130
    assert "Interrupted." in capsys.readouterr().err


def test_a_reader_that_goes_away_is_no_error_message() -> None:
    script = "import sys; from controller.cli import main; sys.exit(main(['--help']))"
    process = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.close()  # Before the first line has been written.
    assert process.stderr is not None
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait(20.0) == 141
