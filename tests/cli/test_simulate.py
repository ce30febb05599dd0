"""The simulation from the command line: progress on stderr, the summary on stdout."""

import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import Typed


@pytest.fixture
def run_of_a_quarter_day(typed: Typed, tmp_path: Path) -> tuple[int, str, str]:
    return typed("simulate", "tangy", "--days", "0.25", "--out", str(tmp_path / "runs"))


def test_the_last_lines_give_state_ticks_rows_and_folder(run_of_a_quarter_day: tuple[int, str, str]) -> None:
    code, out, _ = run_of_a_quarter_day
    assert code == 0
    *_, state, folder = out.splitlines()
    assert state == "State running; 360 minutes of climate recorded."  # 6 h.
    path = Path(folder.removeprefix("Folder "))
    assert path.name == "2026-01-05-tangy-1"
    rows = [line for file in path.glob("climate-*.csv") for line in file.read_text("utf-8").splitlines()[1:]]
    assert len(rows) == 360
    assert max(len(line) for line in out.splitlines()[:-1]) <= 80


def test_where_no_terminal_is_progress_is_a_plain_line_at_every_twentieth(
    run_of_a_quarter_day: tuple[int, str, str],
) -> None:
    _, _, err = run_of_a_quarter_day
    shares = [int(share) for share in re.findall(r"^ *(\d+) %  day 0\.\d \S+", err, re.MULTILINE)]
    assert len(shares) == len(err.splitlines())
    assert shares == sorted(set(shares))
    assert all(share % 5 == 0 for share in shares)
    assert len(shares) >= 15


def test_the_summary_as_an_object_leaves_stdout_to_it_alone(typed: Typed, tmp_path: Path) -> None:
    code, out, _ = typed("simulate", "mild", "--days", "0.1", "--out", str(tmp_path), "--json")
    assert code == 0
    told = json.loads(out)
    assert (told["state"], told["ticks"], told["rows"]) == ("running", 1728, 144)
    figures = json.loads(typed("review", told["folder"], "--json")[1])
    assert (figures["batch"], figures["state"]) == (told["batch"], "running")
    code, out, _ = typed("review", told["folder"])
    assert code == 0
    assert out.startswith(told["batch"])


def test_the_verbs_reach_a_simulated_chamber_by_its_folder_and_take_its_clock(typed: Typed, tmp_path: Path) -> None:
    typed("simulate", "tangy", "--days", "0.1", "--out", str(tmp_path), "--no-maker")
    code, out, _ = typed("status", "--chamber", str(tmp_path))
    assert code == 69  # The run is over; this is what it last knew.
    assert out.startswith("old-fridge, 2026-01-05 ")
    code, _, err = typed("ph", "5.21", "--by", "meter", "--at", "2026-03-01T10:00", "--chamber", str(tmp_path))
    assert code == 65
    assert "lies ahead; it is 2026-01-05" in err


def test_a_folder_without_a_simulation_is_no_chamber(typed: Typed, tmp_path: Path) -> None:
    code, _, err = typed("status", "--chamber", str(tmp_path))
    assert code == 66
    assert str(tmp_path) in err


def test_on_a_terminal_a_bar_of_80_columns_tells_stage_climate_and_ph(tmp_path: Path) -> None:
    script = "import sys; from controller.cli import main; sys.exit(main())"
    words = ["simulate", "tangy", "--days", "0.6", "--out", str(tmp_path)]
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "80"}
    with subprocess.Popen(
        [sys.executable, "-c", script, *words], stderr=theirs, stdout=subprocess.DEVNULL, env=environment
    ) as process:
        os.close(theirs)
        shown = b""
        while True:
            try:
                shown += os.read(ours, 65_536)
            except OSError:  # Linux says EIO when the last one at the other end has gone.
                break
    os.close(ours)
    assert process.returncode == 0
    plain = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", shown.decode())
    lines = [line.rstrip() for line in re.split(r"[\r\n]+", plain)]
    assert max(map(len, lines)) <= 80
    assert any(re.search(r"\d+% day 0\.\d ferment \d\d\.\d °C \d+ % RH pH \d\.\d\d", line) for line in lines)
