"""What this program can see in no chamber is told as such, with the reason."""

import pytest

from controller.core.fault_table import ROWS
from tests.cli.conftest import Typed

UNSEEN = [row for row in ROWS.values() if row.how == "unseen"]


@pytest.mark.fault_row("P5")
@pytest.mark.fault_row("C11")
@pytest.mark.fault_row("C12")
@pytest.mark.fault_row("H8")
@pytest.mark.parametrize("chamber_name", ["insulated-box", "old-fridge"])
def test_a_check_names_each_of_them_and_why(typed: Typed, chamber_name: str) -> None:
    assert {row.id for row in UNSEEN} == {"P5", "C11", "C12", "H8"}
    code, out, _ = typed("check", "--chamber", chamber_name)
    assert code == 0
    words = " ".join(out.partition("NOT protected, not monitored")[2].split())
    for row in UNSEEN:
        assert row.detects
        assert f"{row.title} ({row.id}): {row.detects}." in words
