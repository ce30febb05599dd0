"""A published figure stands in one module; all others import it, so that a correction is made once."""

import re
from pathlib import Path

import pytest

CODE = {path: path.read_text(encoding="utf-8") for path in (Path(__file__).parents[2] / "controller").rglob("*.py")}


def homes_of(pattern: str) -> list[str]:
    return sorted(path.name for path, text in CODE.items() if re.search(pattern, text, re.MULTILINE))


@pytest.mark.parametrize(
    ("what", "pattern", "home"),
    [
        ("Canada's salt for what keeps", r"^CANADA_SALT_PCT\b.*=", "shelf_stability.py"),
        ("Canada's least nitrite", r"^_?CANADA_PPM\b.*=", "shelf_stability.py"),
        ("the usual fat", r"^USUAL_FAT_PCT\b.*=", "drying.py"),
        ("the base of the degree-hours", r"^BASE_C\b.*=", "degree_hours.py"),
        ("what a study found without heat", r"Glass et al\. 1992", "kill_steps.py"),
        ("whose trichinae outlive frost", r"^FROST_PROOF\b.*=", "trichinae.py"),
        ("the first row of the cooking table", r"\b130: \(112, 121\)", "lethality.py"),
        ("heat that kills trichinae at once", r"\(144\.0, 0\.0\)", "trichinae_tables.py"),
    ],
)
def test_a_figure_has_one_home(what: str, pattern: str, home: str) -> None:
    assert homes_of(pattern) == [home], what


def test_ph_5_3_is_written_as_a_figure_in_one_assignment_only() -> None:
    homes = homes_of(r"^[A-Z_0-9, ]*PH\b[^=\n]*= *(\S+, )?5\.3$")
    assert [home for home in homes if home != "degree_hours.py"] == []


def test_no_module_makes_the_rows_of_a_table_by_hand() -> None:
    assert homes_of(r"\((130|144)\.0 - 32\.0\)") == []
