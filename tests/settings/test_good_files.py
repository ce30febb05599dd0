"""The files that travel with the program: read whole, found by name, done by each chamber as far as it can."""

import datetime as dt
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Final

import pytest

from controller.core.plan import Chamber, Profile
from controller.errors import NoInputError, SettingsError
from controller.food.germs.kill_steps import kill_step_of
from controller.food.germs.measured import celsius
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber
from controller.settings.profile_file import ChosenProfile, adapt, find_profile, fits, read_profile
from controller.settings.shipped import shipped_names
from tests.helpers.shipped_chambers import shipped_chamber

TOP: Final = Path(__file__).parents[2]
TODAY: Final = dt.date(2026, 2, 1)
PROFILES: Final = ("cooked-semi-dry", "dry-only", "mild", "slow-cool", "tangy")
CHAMBERS: Final = ("insulated-box", "old-fridge", "plywood-cabinet")
HEAT_ONLY: Final = ("insulated-box", "plywood-cabinet")


def plan(name: str) -> Chamber:
    return plan_of(shipped_chamber(name, TODAY))


def profile(name: str) -> ChosenProfile:
    return read_profile(find_profile(name))


def changed(tmp_path: Path, name: str, *swaps: tuple[str, str]) -> ChosenProfile:
    text = find_profile(name).read_text(encoding="utf-8")
    for before, after in swaps:
        assert before in text
        text = text.replace(before, after)
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return read_profile(path)


def test_each_shipped_file_is_found_by_its_name_and_carries_it() -> None:
    assert shipped_names("profile") == PROFILES
    assert shipped_names("chamber") == CHAMBERS
    assert [profile(name).name for name in PROFILES] == list(PROFILES)
    assert [plan(name).name for name in CHAMBERS] == list(CHAMBERS)


def test_tangy_is_what_it_says() -> None:
    tangy = profile("tangy")
    ferment = next(stage for stage in tangy.stages if stage.kind == "ferment")
    assert (ferment.air_temp_c, ferment.rh_pct, ferment.until.ph_at_most) == (36.0, 88.0, 4.85)
    assert (tangy.per_kg.dextrose_pct, tangy.cure, tangy.style, tangy.starter) == (0.5, "1", "cooked", "thermotolerant")
    assert [stage.kind for stage in tangy.stages if stage.where == "elsewhere"] == ["smoke", "cook", "chill"]


def test_mild_dries_in_steps_from_damp_to_dry_air() -> None:
    mild = profile("mild")
    ferment = next(stage for stage in mild.stages if stage.kind == "ferment")
    steps = [(stage.rh_pct, stage.until.weight_loss_pct) for stage in mild.stages if stage.kind == "dry"]
    assert (ferment.air_temp_c, ferment.until.ph_at_most, mild.per_kg.dextrose_pct) == (24.0, 5.3, 0.35)
    assert steps == [(85.0, 10.0), (82.0, 20.0), (78.0, 30.0), (75.0, 38.0)]
    assert all(stage.air_temp_c == 13.0 for stage in mild.stages if stage.kind == "dry")


def test_what_was_fermented_elsewhere_shows_its_ph_before_it_dries() -> None:
    dry_only = profile("dry-only")
    assert dry_only.starter == "none"
    assert dry_only.per_kg.starter_g_per_kg == 0.0
    first = dry_only.stages[0]
    assert (first.kind, first.until.ph_at_most, first.ph_due_h) == ("rest", 5.3, (0.5,))
    assert not any(stage.kind == "ferment" for stage in dry_only.stages)


def test_the_slow_one_wants_white_mould_and_takes_its_days() -> None:
    slow = profile("slow-cool")
    ferment = next(stage for stage in slow.stages if stage.kind == "ferment")
    assert (slow.mould, slow.cure, slow.starter) == (True, "2", "mesophilic")
    assert (ferment.air_temp_c, ferment.at_most_h) == (18.0, 7 * 24.0)
    assert [stage.kind for stage in slow.stages][-1] == "equalise"


def test_the_cooked_one_names_its_published_process_and_chills_after_the_cook() -> None:
    cooked = profile("cooked-semi-dry")
    kinds = [stage.kind for stage in cooked.stages]
    assert kinds == ["warm-up", "ferment", "cook", "chill", "dry"]
    step = kill_step_of(cooked.kill_step)
    assert step.ph == ("<=", cooked.stages[1].until.ph_at_most)
    assert celsius(step.steps[0].temp_f) <= (cooked.stages[2].until.core_temp_c or 0.0)


@pytest.mark.parametrize("chamber", HEAT_ONLY)
@pytest.mark.parametrize(("name", "dried"), [("tangy", ["dry"]), ("mild", ["dry-1", "dry-2", "dry-3", "dry-4"])])
def test_a_chamber_that_only_heats_leaves_the_drying_to_another_place_and_says_why(
    chamber: str, name: str, dried: list[str]
) -> None:
    before = profile(name)
    after, sentences = adapt(before, plan(chamber))
    moved = [a.name for b, a in zip(before.stages, after.stages, strict=True) if b.where != a.where]
    assert moved == dried
    (sentence,) = sentences  # One reason, one sentence, however many stages it concerns.
    assert all(f"{stage} (13 °C, " in sentence for stage in dried)
    assert ("goes" if len(dried) == 1 else "go") + " on elsewhere" in sentence
    assert f"{chamber} has no cooler and its room gets up to 22 °C" in sentence
    assert f"nothing in {chamber} dries the air" in sentence


@pytest.mark.parametrize("name", PROFILES)
def test_the_old_fridge_does_every_profile_by_itself(name: str) -> None:
    before = profile(name)
    after, sentences = adapt(before, plan("old-fridge"))
    assert sentences == ()
    assert after.stages == before.stages
    assert type(after) is Profile  # What goes to disk holds nothing of the file it came from.


def test_drying_that_must_be_in_the_chamber_is_a_problem_of_the_profile_there(tmp_path: Path) -> None:
    stubborn = changed(tmp_path, "tangy", ("elsewhere_if_unfit = true", "elsewhere_if_unfit = false"))
    with pytest.raises(SettingsError) as told:
        adapt(stubborn, plan("insulated-box"))
    temp, rh = str(told.value).splitlines()
    assert temp.startswith("tangy.toml: stage[6].air_temp_c = 13: insulated-box has no cooler")
    assert rh.startswith("tangy.toml: stage[6].rh_pct = 75: nothing in insulated-box dries the air")
    assert told.value.exit_code == 78
    assert [problem.key for problem in fits(stubborn, plan("insulated-box"))] == [
        "stage[6].air_temp_c",
        "stage[6].rh_pct",
    ]


@pytest.mark.parametrize(("temp_c", "fit"), [("42.0", True), ("42.5", False)])
def test_three_kelvin_lie_between_what_is_wanted_and_the_trip(tmp_path: Path, temp_c: str, fit: bool) -> None:  # noqa: FBT001
    hot = changed(tmp_path, "tangy", ("air_temp_c = 36.0", f"air_temp_c = {temp_c}"))
    problems = fits(hot, plan("old-fridge"))
    assert [problem.key for problem in problems] == ([] if fit else ["stage[1].air_temp_c", "stage[2].air_temp_c"])
    assert all("45 °C, and 3 K must lie between; take 42 °C or less" in problem.remedy for problem in problems)


def test_a_lamp_that_is_too_weak_for_the_ferment_is_found(tmp_path: Path) -> None:
    text = find_chamber("plywood-cabinet").read_text(encoding="utf-8").replace("w = 100.0", "w = 60.0")
    path = tmp_path / "weak.toml"
    path.write_text(text, encoding="utf-8")
    # Dry air: the walls are 60 W over 4 W/K, 15 K, above the coldest room, 16 °C; the air 0.65 x 60 W over 15 W/K more.
    problems = fits(profile("tangy"), plan_of(read_chamber(path, TODAY)))
    assert [problem.key for problem in problems[:2]] == ["stage[1].air_temp_c", "stage[2].air_temp_c"]
    assert "reaches 33.6 °C at most with 60 W in a room of 16 °C; a lamp of at least 70 W" in problems[0].remedy


def test_a_fan_that_is_not_there_is_said_and_no_reason_to_refuse(tmp_path: Path) -> None:
    windy = changed(
        tmp_path,
        "tangy",
        ("ph_due_h", "fan_min_per_h = 5\nfresh_air_min_per_day = 20\nph_due_h"),
    )
    after, sentences = adapt(windy, plan("insulated-box"))
    assert after.stages[1].where == "chamber"
    assert any("asks for 5 min of fan an hour; insulated-box has no fan" in sentence for sentence in sentences)
    assert any("20 min of fresh air a day; insulated-box has no output for it" in sentence for sentence in sentences)


def test_a_temperature_in_fahrenheit_is_kept_in_celsius_and_told_back_as_it_was_typed(tmp_path: Path) -> None:
    american = changed(
        tmp_path, "tangy", ("air_temp_c = 36.0", "air_temp_f = 96.8"), ("air_temp_c = 13.0", "air_temp_f = 55.4")
    )
    assert [stage.air_temp_c for stage in american.stages if stage.where == "chamber"] == [36.0, 36.0, 13.0]
    keys = [(problem.key, problem.value) for problem in fits(american, plan("insulated-box"))]
    assert keys[0] == ("stage[6].air_temp_f", "55.4")


def test_a_profile_that_is_not_there_is_answered_with_those_that_are(tmp_path: Path) -> None:
    with pytest.raises(
        NoInputError,
        match=r'tangi: there is no such profile file in .*\. Did you mean "tangy"\? .*"slow-cool" or "tangy"',
    ):
        find_profile("tangi")
    with pytest.raises(NoInputError, match="there is no such chamber"):
        find_chamber(tmp_path / "mine.toml")


def test_without_a_name_the_chamber_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_bytes(find_chamber("old-fridge").read_bytes())
    monkeypatch.setenv("HANGROOM_CHAMBER", str(mine))
    assert find_chamber() == mine
    monkeypatch.setenv("HANGROOM_CHAMBER", str(tmp_path / "gone.toml"))
    with pytest.raises(NoInputError, match=r"gone\.toml"):
        find_chamber()


def test_every_package_and_every_shipped_file_is_named_for_the_wheel() -> None:
    setup = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    folders = {path.parent for path in (TOP / "controller").rglob("__init__.py")}
    code = {".".join(folder.relative_to(TOP).parts) for folder in folders}
    data = {"controller.profiles", "controller.profiles.chambers"}
    assert set(setup["packages"]) == code | data
    assert setup["package-dir"] == {"controller.profiles": "profiles"}
    shipped = {package: ["*.toml"] for package in data} | {"controller.review.report": ["templates/*"]}
    assert setup["package-data"] == shipped


def test_profiles_are_found_where_the_wheel_puts_them(tmp_path: Path) -> None:
    # An installed tree: the package with its profiles inside, and no checkout around it.
    site = tmp_path / "site"
    shutil.copytree(TOP / "controller" / "settings", site / "controller" / "settings")
    for part in ("core", "food", "errors.py", "__init__.py"):
        (site / "controller" / part).symlink_to(TOP / "controller" / part)
    (site / "controller" / "profiles").symlink_to(TOP / "profiles")
    story = "from controller.settings.profile_file import find_profile as f; print(f('tangy'))"
    told = subprocess.run([sys.executable, "-c", story], cwd=site, capture_output=True, text=True, check=True)
    assert told.stdout.strip() == str(site / "controller" / "profiles" / "tangy.toml")
