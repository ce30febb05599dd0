"""A plan is kept in a file until the batch begins, and is taken only where it belongs."""

from pathlib import Path

import msgspec
import pytest

from controller.errors import DataError, NoInputError
from controller.planning.plan_file import keep_plan, take_plan
from tests.helpers.planned import NINE, plan_for

DAY_S = 86_400.0


def test_what_was_kept_comes_back_whole(tmp_path: Path) -> None:
    plan, file = plan_for("mild"), tmp_path / "mild.plan"
    keep_plan(file, plan)
    kept = take_plan(file, profile="mild", chamber="old-fridge", timezone="UTC", now_wall_s=NINE)
    assert kept.sheet == plan.sheet
    assert kept.stuffed_wall_s == plan.times.stuffed_s


def test_a_plan_for_another_profile_or_chamber_or_of_last_week_is_not_taken(tmp_path: Path) -> None:
    file = tmp_path / "mild.plan"
    keep_plan(file, plan_for("mild"))
    with pytest.raises(DataError, match="a plan for mild, not for tangy"):
        take_plan(file, profile="tangy", chamber="old-fridge", timezone="UTC", now_wall_s=NINE)
    with pytest.raises(DataError, match="made for the chamber old-fridge"):
        take_plan(file, profile="mild", chamber="box", timezone="UTC", now_wall_s=NINE)
    with pytest.raises(DataError, match="its hours are over"):
        take_plan(file, profile="mild", chamber="old-fridge", timezone="UTC", now_wall_s=NINE + 7.0 * DAY_S)


def test_a_file_that_is_no_plan_or_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(NoInputError, match="no such file"):
        take_plan(tmp_path / "none", profile="mild", chamber="box", timezone="UTC", now_wall_s=NINE)
    wrong = tmp_path / "wrong"
    for text in ('{"profile": 3}', "[" * 100_000, ""):
        wrong.write_text(text, "utf-8")
        with pytest.raises(DataError, match="is no plan"):
            take_plan(wrong, profile="mild", chamber="box", timezone="UTC", now_wall_s=NINE)
    keep_plan(wrong, plan_for("mild"))
    wrong.write_bytes(msgspec.json.encode(msgspec.json.decode(wrong.read_bytes()) | {"stuffed_wall_s": 1e300}))
    with pytest.raises(DataError, match=r"is no plan.*a figure in it is 1e\+300"):
        take_plan(wrong, profile="mild", chamber="old-fridge", timezone="UTC", now_wall_s=NINE)
