"""The fault table as data: it holds every row, hangs together, and each row has a test that shows it."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import get_args

import pytest

from controller.core.alarms.cause import RANK
from controller.core.alarms.message import ANSWER_S, SEVERITY
from controller.core.chamber.door import DOOR_K_PER_MIN, DOOR_PCT_PER_MIN, LEFT_SHARE
from controller.core.fault_table import BLIND, ROWS, How, Row, lacking
from controller.core.people.ph_checks import HIGH_PH, HIGHEST_PH, LOW_PH, LOWEST_PH, MOST_RISE
from controller.core.plan import Limits
from controller.core.plant.air import too_cold_c
from controller.core.thresholds import Thresholds
from controller.core.values import ROLES, Channel
from controller.core.watch.humidity import DRY_AGAIN_PCT
from tests.bench.fault_table_text import HEAD, line_of

TESTS = Path(__file__).parents[1]
NUMBERS = {"S": 15, "A": 12, "P": 10, "C": 15, "H": 10}
OWN = ("P11", "P12", "P13", "C16", "H11")
COMMON = [f"{letter}{number}" for letter, most in NUMBERS.items() for number in range(1, most + 1)]
"""The rows that every chamber of this kind has; those of our own stand beside them."""


def every(row: Row) -> str:
    return row.id


def test_it_holds_every_row_and_a_few_of_its_own() -> None:
    assert sorted(ROWS) == sorted([*COMMON, *OWN])
    assert all(name == row.id for name, row in ROWS.items())


@pytest.mark.parametrize("row", ROWS.values(), ids=every)
def test_every_row_says_what_how_soon_what_then_and_what_first(row: Row) -> None:
    assert row.how in get_args(How)
    for text in (row.title, row.detects, row.within, row.does, row.first):
        assert text
        assert text == text.strip()
    assert row.clears or row.how == "unseen"
    assert row.first.endswith((".", "?", "!")) or "hangroom " in row.first
    assert not row.did or row.did.endswith(".")
    assert not re.search(
        r"\bsafe\b|deadband|latch|\bgate\b|lease|\btick|\bPID\b|set-point", f"{row.title} {row.first} {row.did}"
    )
    assert max(len(row.title), 1) <= 50, "it stands in messages of 140 letters"


@pytest.mark.parametrize("row", ROWS.values(), ids=every)
def test_how_urgent_it_is_fits_what_it_is(row: Row) -> None:
    is_alarm = row.how == "alarm"
    assert row.priority in SEVERITY
    assert (row.priority in ANSWER_S) == (row.priority != "E")
    if row.priority == "E":
        assert not is_alarm, "what needs nobody is no alarm"
    if row.locks_heat:
        assert row.latches or "the second time" in row.does, "what locks the heat stays until a person clears it"
        assert row.priority == "1"
        assert {"heater", "master"} <= set(row.off)
        assert row.effect == "held" or "the second time" in row.does
    if row.effect == "held":
        assert row.locks_heat, "a batch that waits for a person gets no heat"
    if row.latches:
        assert is_alarm
        assert "person" in row.clears or "over it never" in row.clears or "cleared" in row.clears
    if row.effect == "suspended":
        assert not row.latches
    assert not (row.until_seen and row.latches)
    assert row.until_seen == (row.clears == "somebody has seen it")
    assert row.off_delay_s >= 0.0
    assert row.on_delay_s == 0.0 or row.priority != "1", "what is urgent is told at once"


@pytest.mark.parametrize("row", ROWS.values(), ids=every)
def test_what_it_names_exists(row: Row) -> None:
    channels = frozenset(get_args(Channel))
    assert set(row.off) <= set(ROLES)
    assert {part for group in row.needs for part in group} <= channels | set(ROLES)
    assert {part for part, _ in row.better_with} <= channels
    assert set(row.silences) <= set(ROWS)
    assert row.id not in row.silences
    assert all(ROWS[name].how == "alarm" for name in row.silences), "only an alarm can be silenced"
    whole = channels | set(ROLES)
    assert lacking(row, frozenset(whole)) == ()


def test_causes_and_consequences_do_not_go_in_circles() -> None:
    for row in ROWS.values():
        assert all(RANK[row.id] > RANK[name] for name in row.silences)
    assert RANK["A1"] > RANK["A2"] > RANK["P4"]


def test_nobody_is_told_that_a_climate_is_off_that_nobody_can_measure() -> None:
    blind = [row.id for row in ROWS.values() if set(BLIND) <= set(row.silences)]
    assert blind == ["S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8"]


def test_a_row_needs_one_part_of_each_group() -> None:
    assert lacking(ROWS["A5"], frozenset({"rh"})) == ("humidifier",)
    assert lacking(ROWS["A5"], frozenset({"humidifier"})) == ("rh",)
    assert lacking(ROWS["A5"], frozenset({"humidifier", "rh"})) == ()
    assert lacking(ROWS["A4"], frozenset({"heater", "cutout"})) == ()
    assert lacking(ROWS["A4"], frozenset({"heater", "heater_live"})) == ()
    assert lacking(ROWS["A4"], frozenset({"heater"})) == ("cutout", "heater_live")
    assert lacking(ROWS["S1"], frozenset()) == ()


# Its words give the figures of its rules.

USUAL = Thresholds()


FROZEN_MIN, FROZEN_RH_MIN = Limits().frozen_s / 60.0, USUAL.frozen_rh_s / 60.0


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("S6", f"for {FROZEN_MIN:.0f} min while another thermometer moved by {USUAL.frozen_move_k:g} K"),
        ("S6", f"the same %RH for {FROZEN_RH_MIN:.0f} min: priority 2"),
        ("S10", f"more than {USUAL.rh_apart_pct:g} %RH for {USUAL.rh_apart_s / 60:.0f} min"),
        ("S11", f"above {DRY_AGAIN_PCT:g} %RH, no fall"),
        ("A3", "priority 2 outside ferment and warm-up"),
        ("P1", f"falls by more than {DOOR_K_PER_MIN:g} K a minute"),
        ("P1", f"while humidity changes by more than {DOOR_PCT_PER_MIN:g} %RH"),
        ("P1", f"{100.0 * (1.0 - LEFT_SHARE):.0f} % of the vapour gone in two minutes while it gets colder"),
        ("C1", f"more than three periods ({USUAL.ticks_late * 5} s) after the last one"),
        ("H4", f"outside {LOW_PH:g} to {HIGH_PH:g} (refused outside {LOWEST_PH:g} to {HIGHEST_PH:g})"),
        ("H4", f"a rise of more than {MOST_RISE:g}, or a fall faster than any culture"),
    ],
)
def test_what_a_row_says_of_its_rule_are_the_figures_of_the_rule(row: str, said: str) -> None:
    assert said in ROWS[row].detects


@pytest.mark.parametrize(
    ("wanted_c", "limit_c", "said"),
    [(13.0, 9.0, "4 K below what is wanted"), (4.0, 1.0, "less than 5 °C is wanted: below 1 °C"),
     (2.0, 0.0, "less than 3 °C: 2 K below")],
)  # fmt: skip
def test_how_far_too_cold_is_said_as_it_is_reckoned(wanted_c: float, limit_c: float, said: str) -> None:
    assert too_cold_c(wanted_c, USUAL) == limit_c
    assert said in ROWS["P6"].detects


def test_what_to_type_first_is_a_line_that_is_taken() -> None:
    for row in ROWS.values():
        if "hangroom set" in row.first:
            assert " --because " in row.first, "a wish without a reason is refused"


# Each row has a test.


def marked(path: Path) -> Iterator[str]:
    """Yield the rows that tests of this file are marked with."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("mark.fault_row"):
            for argument in node.args:
                assert isinstance(argument, ast.Constant), f"{path}:{node.lineno}: name the row itself"
                assert argument.value in ROWS, f"{path}:{node.lineno}: there is no row {argument.value!r}"
                yield str(argument.value)


@cache
def shown() -> set[str]:
    """Return the rows that a test is marked with."""
    return {row for path in sorted(TESTS.rglob("test_*.py")) for row in marked(path)}


@pytest.mark.parametrize("row", ROWS.values(), ids=every)
def test_every_row_has_a_test_that_shows_it(row: Row) -> None:
    assert row.id in shown(), f'mark the test that shows it: @pytest.mark.fault_row("{row.id}")'


# It is printed from the same data.


def test_the_readme_prints_the_rows_as_they_are_here() -> None:
    readme = (TESTS.parent / "README.md").read_text("utf-8").splitlines()
    begin = readme.index(HEAD[0])
    printed = readme[begin : begin + len(HEAD) + len(ROWS)]
    said = "print the table anew: python -m tests.bench.fault_table_text"
    assert printed == [*HEAD, *map(line_of, ROWS.values())], said
