"""A maker whose chamber file says °F and New York reads °F, °F of difference, pounds and his own clock, everywhere."""

import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.app import Simulation, simulate
from controller.records.status import is_alive
from tests.cli.conftest import Typed
from tests.helpers.shipped_chambers import deciding_seldom

BEGIN_WALL_S = 1_767_592_800.0  # 2026-01-05T06:00:00Z, 01:00 in New York.
FOREIGN = re.compile(r"\d ?°C(?!·)|\dC\b|\d K\b|UTC")
"""Degree-hours stay: the Canadian rule is one in °C·h, whatever the chamber."""


@pytest.fixture
def chamber_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Write the shipped old fridge as one in New York that shows °F."""
    lines = deciding_seldom("old-fridge", tmp_path).read_text("utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(("units", "timezone"))]
    path = tmp_path / "fridge.toml"
    path.write_text("\n".join(['units = "F"', 'timezone = "America/New_York"', *kept]) + "\n", "utf-8")
    monkeypatch.setenv("HANGROOM_CHAMBER", str(path))
    return path


@pytest.fixture
def run(chamber_file: Path, tmp_path: Path, typed: Typed, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    out = tmp_path / "trial"
    simulation = Simulation(
        profile=None, chamber=chamber_file, out=out, begin_wall_s=BEGIN_WALL_S, by_hand=True, days=5.0
    )
    thread = threading.Thread(target=simulate, args=(simulation, lambda _progress: None))
    thread.start()
    deadline_s = time.monotonic() + 10.0
    while not is_alive(out):
        assert time.monotonic() < deadline_s
    monkeypatch.setenv("HANGROOM_CHAMBER", str(out))
    yield out
    if thread.is_alive():
        typed("start", "tangy", "--meat", "10lb")
        typed("end", "--sure")
    thread.join(10.0)
    assert not thread.is_alive()


def test_everything_a_batch_says_is_in_the_makers_units_and_time(run: Path, typed: Typed) -> None:
    said: list[str] = []

    def say(*words: str) -> tuple[int, str]:
        code, out, err = typed(*words)
        said.extend((out, err))
        lines = [line for line in (out + err).splitlines() if str(run) not in line]  # A path stays whole.
        assert max(map(len, lines), default=0) <= 80
        return code, " ".join((out + err).split())

    assert "10 lb (4.54 kg)" in say("start", "tangy", "--meat", "10lb")[1]
    say("wait", "2h")
    assert say("hang", "A=466,", "B=429")[0] == 0
    assert say("ph", "5.70", "--by", "Meter")[0] == 0
    code, core = say("core", "110F", "--sure")
    assert code == 0
    assert "core 110.0 °F" in core
    code, odd = say("core", "200F")
    assert code == 65
    assert "did you mean" not in odd.lower()
    assert say("set", "--air-temp", "300F", "--because", "x")[0] == 65
    say("wait", "13h")
    for verb in ("status", "alarms", "review", "forecast", "release"):
        say(verb)
    assert "shows 97.1 °F where 96.0 °F would be right" in say("calibrate", "reference", "air_temp", "96F=97.1F")[1]
    say("calibrate", "ice")
    assert say("hold")[0] == 0
    assert "is paused already" in say("hold")[1]
    say("status")
    say("check", "--chamber", str(run / "chamber.toml"), "--profile", "tangy")
    say("end", "--sure")
    text = "\n".join(line for line in "\n".join(said).splitlines() if str(run.parent) not in line)
    assert FOREIGN.findall(text) == []


@pytest.mark.usefixtures("chamber_file")
def test_what_was_typed_in_fahrenheit_is_bounded_in_fahrenheit(typed: Typed) -> None:
    assert "between 23 and 212 °F; measure again." in typed("core", "300F")[2]
    assert "did you mean" not in typed("core", "300F")[2]
    assert "did you mean 147F (63.9 °C)?" in typed("core", "147C")[2]
    assert "between 23 and 212 °F" in typed("ph", "5.2", "--by", "meter", "--sample-temp", "300F")[2]


def test_a_simulation_that_has_ended_takes_nothing_into_its_box(run: Path, typed: Typed) -> None:
    typed("start", "tangy", "--meat", "10lb")
    assert typed("end")[0] == 0
    deadline_s = time.monotonic() + 10.0
    while is_alive(run):
        assert time.monotonic() < deadline_s
    for words in (("ph", "5.21", "--by", "meter"), ("note", "late"), ("hold",)):
        code, out, err = typed(*words)
        assert (code, out) == (69, "")
        assert "the simulation there has ended; nothing was recorded" in " ".join(err.split())
    assert not list(run.glob("requests/new/*"))
