"""`hangroom compare` as a maker types it."""

import csv
import json
from pathlib import Path

import pytest

from tests.cli.conftest import Typed
from tests.helpers.makers import leave
from tests.review.test_compare import SCATTER, batch


@pytest.fixture
def batches(state_dir: Path, chamber: Path) -> Path:
    """Leave five earlier batches and two more in the chamber's state folder."""
    del chamber
    for number, slower in enumerate((*SCATTER, 1.0, 1.5), 1):
        leave(state_dir, f"2026-01-0{number}-raw-1", batch(slower), began_day=number)
    return state_dir / "batches"


def test_two_batches_by_name_stand_side_by_side(typed: Typed, batches: Path) -> None:
    code, out, err = typed("compare", "2026-01-06-raw-1", "2026-01-07-raw-1")
    assert (code, err) == (0, "")
    assert out.startswith("A  2026-01-06-raw-1: ")
    assert "\nB  2026-01-07-raw-1: " in out
    assert "standard deviation of 5 earlier ones" in " ".join(out.split())
    assert "B is 15.0 h higher than A" in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80
    assert "\x1b" not in out
    assert "safe" not in out
    assert not any(path.name.endswith((".tmp", ".csv.new")) for path in batches.rglob("*"))


def test_programs_get_one_object_and_a_spreadsheet_two_files(typed: Typed, batches: Path, tmp_path: Path) -> None:
    folders = [str(batches / f"2026-01-0{number}-raw-1") for number in (6, 7)]
    code, out, err = typed("compare", *folders, "--json", "--csv", str(tmp_path / "csv"))
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert [one["letter"] for one in told["batches"]] == ["A", "B"]
    with (tmp_path / "csv" / "figures.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["key"] for row in rows] == [one["key"] for one in told["figures"]]
    with (tmp_path / "csv" / "curves.csv").open(encoding="utf-8", newline="") as file:
        curves = list(csv.DictReader(file))
    assert {row["curve"] for row in curves} == {"ph", "loss", "air_temp_c", "rh_pct"}


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["2026-01-06-raw-1"], 64, "name two to 6 batches"),
        ([], 64, "name two to 6 batches"),
        (["2026-01-06-raw-1", "nothing"], 66, "nothing: is no batch of this chamber"),
        (["2026-01-06-raw-1", "2026-01-07-raw-1", "--earlier", "nowhere"], 66, "nowhere: there is no such folder"),
    ],
)
def test_what_cannot_be_compared_is_said(words: list[str], code: int, said: str, typed: Typed, batches: Path) -> None:
    del batches
    got, out, err = typed("compare", *words)
    assert (got, out) == (code, "")
    assert said in " ".join(err.split())


def test_no_figures_are_put_among_the_records_of_a_batch(typed: Typed, batches: Path) -> None:
    folder = batches / "2026-01-06-raw-1"
    before = sorted(folder.iterdir())
    code, out, err = typed("compare", "2026-01-06-raw-1", "2026-01-07-raw-1", "--csv", str(folder))
    assert (code, out) == (64, "")
    assert "is the folder of a batch" in " ".join(err.split())
    assert sorted(folder.iterdir()) == before
