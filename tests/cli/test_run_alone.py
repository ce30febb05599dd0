"""`hangroom run` is the verb that stays: it loads nothing of the others, and reads as one of them."""

import json
import subprocess
import sys
from pathlib import Path

import click
import pytest

from controller.cli import main
from controller.cli.tree import hangroom

ROOT = Path(__file__).parents[2]
LOADED = """
import json, sys
import controller.cli
controller.cli.main(["run", "--chamber", "/nowhere.toml"])
print(json.dumps(sorted(sys.modules)))
"""


def test_it_loads_no_other_verb_and_nothing_heavy() -> None:
    said = subprocess.run([sys.executable, "-c", LOADED], cwd=ROOT, capture_output=True, text=True, check=True)
    loaded = set(json.loads(said.stdout))
    assert "controller.app.real" in loaded
    assert not {"controller.cli.tree", "controller.cli.asking", "numpy", "scipy", "polars", "jinja2", "rich"} & loaded
    assert {name for name in loaded if name.startswith("controller.cli.verbs.")} == {"controller.cli.verbs.machine"}
    assert not {name for name in loaded if name.startswith(("controller.review", "controller.planning"))}


def test_its_help_is_that_of_the_whole_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--help"]) == 0
    alone = capsys.readouterr().out
    hangroom.main(["run", "--help"], prog_name="hangroom", standalone_mode=False)
    assert alone == capsys.readouterr().out
    assert alone.startswith("Usage: hangroom run [OPTIONS]\n")


def test_a_slip_is_named_as_with_any_verb(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--chambr", "a"]) == 64
    said = capsys.readouterr().err
    with pytest.raises(click.NoSuchOption) as slip:
        hangroom.main(["run", "--chambr", "a"], prog_name="hangroom", standalone_mode=False)
    assert slip.value.format_message() in said
    assert "Usage: hangroom run [OPTIONS]\nHelp: hangroom run --help\n" in said


def test_a_look_at_the_chamber_loads_nothing_heavy() -> None:
    code = "import sys, controller.cli.pages.status_page; print(*sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert not {"numpy", "scipy", "polars", "jinja2"} & set(said.stdout.split())
