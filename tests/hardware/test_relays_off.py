"""The safe-off as a command of its own. That it drives real lines was tried on a kernel's simulated chip by hand."""

import contextlib
import json
import statistics
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import ClassVar, Self

import gpiod
import pytest
from gpiod.line import Bias, Direction, Value

from controller.relays_off import drive_off, main, read_note, run_dir_path
from tests.bench import relays_off

ROOT = Path(__file__).parents[2]
NOTE = {
    "chip": "no-such-chip",
    "lines": [{"role": "heater", "pin": 17, "off": 1}, {"role": "fan", "pin": 27, "off": 0}],
}


def say(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "controller.relays_off", *words]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def test_without_a_note_it_says_that_no_daemon_has_claimed_a_relay(tmp_path: Path) -> None:
    said = say("--run-dir", str(tmp_path))
    assert said.returncode == 66
    assert f"{tmp_path}/relays.json: no such file" in said.stderr
    assert len(said.stderr.splitlines()) <= 3
    assert said.stdout == ""


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "null",
        '{"chip": "x"}',
        '{"chip": "x", "lines": [{"pin": 17}]}',
        '{"chip": "x", "lines": [{"pin": "seventeen", "off": 0}]}',
        '{"chip": "x", "lines": [{"pin": 17, "off": 2}]}',
        '{"chip": "x", "lines": 17}',
        "\xff",
        "[" * 50_000,
        '{"chip": "x", "lines": [{"pin": 1e999, "off": 0}]}',
    ],
)
def test_a_broken_note_is_told_and_nothing_is_switched(
    tmp_path: Path,
    text: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "relays.json").write_bytes(text.encode("latin-1"))
    assert main(["--run-dir", str(tmp_path)]) == 65
    told = capsys.readouterr().err
    assert "relays.json" in told
    assert "Nothing was switched" in told


def test_a_chip_that_is_not_there_is_told_with_its_label(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "relays.json").write_text(json.dumps(NOTE))
    assert main(["--run-dir", str(tmp_path)]) == 69
    assert "labelled no-such-chip" in capsys.readouterr().err


def test_the_note_gives_chip_pins_and_levels(tmp_path: Path) -> None:
    (tmp_path / "relays.json").write_text(json.dumps(NOTE))
    assert read_note(str(tmp_path)) == ("no-such-chip", {17: 1, 27: 0}, "")


@pytest.mark.parametrize(
    ("left_by", "exit_status", "code"),
    [
        ("run-1", "78", 0),
        ("run-1", "64", 0),
        ("run-2", "78", 69),
        ("run-1", "1", 69),
        ("run-1", "KILL", 69),
        ("", "78", 0),
    ],
)
def test_after_a_run_that_claimed_no_relay_the_levels_of_an_earlier_one_are_left_alone(
    left_by: str, exit_status: str, code: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "relays.json").write_text(json.dumps(NOTE | {"run": left_by}))
    monkeypatch.setenv("INVOCATION_ID", "run-2")
    monkeypatch.setenv("EXIT_STATUS", exit_status)
    assert main(["--run-dir", str(tmp_path)]) == code  # 69: it looked for the chip, which is not here.


def test_typed_by_hand_it_drives_them_off_whatever_the_last_run_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "relays.json").write_text(json.dumps(NOTE | {"run": "run-1"}))
    for name in ("INVOCATION_ID", "EXIT_STATUS"):
        monkeypatch.delenv(name, raising=False)
    assert main(["--run-dir", str(tmp_path)]) == 69


class RememberingChip:
    """Stand in for the kernel's chip: remembers how each line was claimed."""

    asked: ClassVar[dict[int, gpiod.LineSettings]] = {}

    def __init__(self, path: str) -> None:
        self.path = path

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None: ...

    def get_info(self) -> SimpleNamespace:
        return SimpleNamespace(label="a-chip")

    def request_lines(self, config: dict[int, gpiod.LineSettings], consumer: str) -> contextlib.nullcontext[None]:
        assert consumer == "hangroom"
        self.asked.update(config)
        return contextlib.nullcontext()


def test_a_released_line_is_pulled_to_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the pull, an active-low relay was on again, with exit code 0, as soon as the command had ended.

    Seen on a kernel's simulated chip (gpio-sim, kernel 6.1), whose released lines follow their pull.
    """
    (tmp_path / "gpiochip0").touch()
    monkeypatch.setattr(gpiod, "Chip", RememberingChip)
    drive_off("a-chip", {17: 1, 27: 0}, str(tmp_path))
    assert RememberingChip.asked == {
        17: gpiod.LineSettings(direction=Direction.OUTPUT, output_value=Value.ACTIVE, bias=Bias.PULL_UP),
        27: gpiod.LineSettings(direction=Direction.OUTPUT, output_value=Value.INACTIVE, bias=Bias.PULL_DOWN),
    }


@pytest.mark.parametrize(
    ("given", "path"),
    [("", "/run/hangroom"), ("/run/other", "/run/other"), ("/run/a:/run/b", "/run/a")],
)
def test_the_run_directory_is_systemds(given: str, path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RUNTIME_DIRECTORY", given)
    assert run_dir_path() == path


@pytest.mark.parametrize("words", [["--run-dri", "/run/x"], ["17"], ["--run-dir"], ["--run-dir", "a", "b"]])
def test_a_mistyped_command_is_told_how_it_goes(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 64
    assert "Usage: hangroom-relays-off" in capsys.readouterr().err


def test_help_says_where_the_pins_come_from() -> None:
    said = say("--help")
    assert said.returncode == 0
    assert "relays.json" in said.stdout


def test_it_imports_nothing_heavy() -> None:
    """It is started after a crash, on a slow machine, with the lamp on: no gpiozero, no settings, no command line."""
    bare, modules = (
        loaded_by("sys"),
        loaded_by("sys, controller.relays_off"),
    )  # An editable install loads some by itself.
    ours = {name for name in modules if name.startswith("controller")}
    assert ours == {"controller", "controller.errors", "controller.relays_off"}
    assert not {"gpiozero", "msgspec", "click", "argparse", "pathlib", "logging"} & (modules - bare)


def loaded_by(names: str) -> set[str]:
    """Return which modules a fresh interpreter has loaded after importing these."""
    program = f"import {names}; print(*sorted(sys.modules))"
    return set(
        subprocess.run(
            [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.split()
    )


def test_from_start_to_end_it_takes_less_than_015_s_of_the_processor() -> None:
    """So long the heat outlives a dead daemon, beside what the service manager takes; of five runs the middle one."""
    processor_s = statistics.median(run[1] for run in relays_off.measure(5))
    assert processor_s < 0.15
