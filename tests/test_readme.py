"""The README tells all: every verb, every fault that is watched, and the shipped files as they are."""

import re
from pathlib import Path

import pytest

from controller.cli.tree import hangroom
from controller.core.fault_table import ROWS
from controller.core.thresholds import Thresholds
from controller.simulator.faults import KINDS
from tests.bench import thresholds_text

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_job_comes_first_and_the_cautions_next() -> None:
    headings = re.findall(r"^## (.+)$", README, re.MULTILINE)
    assert headings[0] == "Cautions first"
    assert README.startswith("# Hangroom\n\nHangroom takes a batch")


@pytest.mark.parametrize("shipped", ["profiles/tangy.toml", "profiles/chambers/old-fridge.toml"])
def test_the_files_in_it_are_the_shipped_ones(shipped: str) -> None:
    assert (ROOT / shipped).read_text(encoding="utf-8") in README


@pytest.mark.parametrize("verb", sorted(hangroom.commands))
def test_every_verb_is_in_it(verb: str) -> None:
    assert f"`{verb}`" in README


@pytest.mark.parametrize("row", ROWS.values(), ids=lambda row: row.id)
def test_every_row_of_the_fault_table_is_in_it(row: object) -> None:
    title, first = getattr(row, "title", ""), getattr(row, "first", "")
    assert f"| {getattr(row, 'id', '')} | {title} |" in README
    assert first in README


def test_every_figure_of_the_rules_is_in_it_as_it_is_here() -> None:
    said = "print the table anew: python -m tests.bench.thresholds_text"
    assert set(thresholds_text.said()) == set(Thresholds.__struct_fields__), "each says its row and what it is"
    assert "\n".join((*thresholds_text.HEAD, *thresholds_text.lines())) in README, said


@pytest.mark.parametrize("name", sorted(thresholds_text.said()))
def test_no_figure_of_the_rules_is_a_setting_without_effect(name: str) -> None:
    sources = (path for path in (ROOT / "controller").rglob("*.py") if path.name != "thresholds.py")
    assert any(f".{name}" in path.read_text("utf-8") for path in sources)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_simulated_fault_is_in_it(kind: str) -> None:
    assert f"`{kind}" in README


@pytest.mark.parametrize("room", sorted(path.parent.name for path in (ROOT / "controller/core").glob("*/__init__.py")))
def test_every_room_of_the_core_is_on_the_map(room: str) -> None:
    (line,) = [line for line in DEVELOPERS.splitlines() if line.startswith("| `core/` |")]
    assert f"`{room}` (" in line


@pytest.mark.parametrize("other", ["safe-off", "notes on faults", "the contract's", "the design's", "Deviations from"])
def test_no_document_is_spoken_of_that_is_not_here(other: str) -> None:
    assert other not in README + DEVELOPERS


def test_its_two_commands_are_single_lines() -> None:
    for mark in ("run", "test"):
        block = re.search(rf"<!-- {mark} -->\n```sh\n(.+?)\n```", README, re.DOTALL)
        assert block is not None
        assert "\n" not in block[1]
