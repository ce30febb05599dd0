"""Smoke, cook and chill are a person's work in another place, unless a chamber file says that smoke may be let in."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.cli.pages.unprotected import list_unprotected
from controller.core.plan import Chamber, Profile, Stage
from controller.errors import SettingsError
from controller.settings.chamber_file import find_chamber, plan_of, read_chamber
from controller.settings.profile_file import adapt, find_profile, fits, read_profile
from tests.helpers.shipped_chambers import shipped_chamber


def written(tmp_path: Path, shipped: Path, *swaps: tuple[str, str]) -> Path:
    text = shipped.read_text(encoding="utf-8")
    for before, after in swaps:
        assert before in text
        text = text.replace(before, after, 1)
    path = tmp_path / shipped.name
    path.write_text(text, encoding="utf-8")
    return path


def fridge() -> Chamber:
    return plan_of(shipped_chamber("old-fridge"))


def tangy_smoked_here() -> Profile:
    tangy = read_profile(find_profile("tangy"))
    return replace(tangy, stages=tuple(smoked_here(stage) for stage in tangy.stages))


def smoked_here(stage: Stage) -> Stage:
    return replace(stage, where="chamber", air_temp_c=25.0) if stage.kind == "smoke" else stage


def test_smoke_cook_and_chill_are_elsewhere_where_the_profile_does_not_say_where(tmp_path: Path) -> None:
    shipped = find_profile("tangy")
    text = shipped.read_text("utf-8").replace('where = "elsewhere"', "")
    path = tmp_path / "tangy.toml"
    path.write_text(text, "utf-8")
    stages = read_profile(path).stages
    assert [stage.kind for stage in stages if stage.where == "elsewhere"] == ["smoke", "cook", "chill"]
    assert stages == read_profile(shipped).stages


def test_smoke_in_the_chamber_is_refused_with_its_cautions() -> None:
    (problem,) = fits(tangy_smoked_here(), fridge())
    assert problem.key == "stage[3].where"
    for word in ("relays", "tar", "carbon monoxide", "smoke_in_chamber = true"):
        assert word in problem.remedy
    with pytest.raises(SettingsError, match="carbon monoxide"):
        adapt(tangy_smoked_here(), fridge())


def test_a_chamber_file_lets_smoke_in_and_the_cautions_are_said_at_the_start(tmp_path: Path) -> None:
    path = written(tmp_path, find_chamber("old-fridge"), ("smoke_in_chamber = false", "smoke_in_chamber = true"))
    chamber = plan_of(read_chamber(path))
    assert chamber.smoke_here
    adapted, sentences = adapt(tangy_smoked_here(), chamber)
    assert next(stage for stage in adapted.stages if stage.kind == "smoke").where == "chamber"
    (said,) = [sentence for sentence in sentences if "smoked in" in sentence]
    for word in ("mist stays off", "45 °C", "carbon monoxide", "tar"):
        assert word in said


def test_who_smokes_in_the_chamber_may_not_raise_the_trip(tmp_path: Path) -> None:
    text = find_chamber("old-fridge").read_text("utf-8")
    assert "[limits]" in text
    trip = next(line for line in text.splitlines() if line.startswith("trip_c"))
    path = written(
        tmp_path,
        find_chamber("old-fridge"),
        ("smoke_in_chamber = false", "smoke_in_chamber = true"),
        (trip, "trip_c = 48.0"),
        ("thermal_cutout_c = ", "thermal_cutout_c = 60.0 # "),
    )
    with pytest.raises(SettingsError, match="smoke_in_chamber = true all heat must end at 45 °C"):
        read_chamber(path)


def test_a_chamber_never_cooks(tmp_path: Path) -> None:
    tangy = read_profile(find_profile("tangy"))
    cook = next(stage for stage in tangy.stages if stage.kind == "cook")
    assert cook.until.core_temp_c == 68.0
    shipped = find_profile("tangy")
    place = 'kind = "cook"\nwhere = "elsewhere"'
    path = written(tmp_path, shipped, (place, 'kind = "cook"\nwhere = "chamber"'), ("air_temp_c = 80.0", ""))
    with pytest.raises(SettingsError, match=r"stage\[4\].where = .chamber.: the chamber does not cook"):
        read_profile(path)


def test_the_page_of_what_is_not_protected_names_smoke_in_the_chamber(tmp_path: Path) -> None:
    plain = shipped_chamber("old-fridge")
    assert not any("smoke_in_chamber" in line for line in list_unprotected(plain))
    path = written(tmp_path, find_chamber("old-fridge"), ("smoke_in_chamber = false", "smoke_in_chamber = true"))
    said = " ".join(list_unprotected(read_chamber(path)))
    assert "carbon monoxide is not measured; never in a closed room" in said
    assert "Soot and tar" in said
