"""One page about the chamber before the meat is bought."""

import json
import re
from pathlib import Path

import pytest

from tests.cli.conftest import Typed

CHAMBERS = ["insulated-box", "plywood-cabinet", "old-fridge"]


@pytest.mark.parametrize("chamber_name", CHAMBERS)
@pytest.mark.parametrize("profile", ["tangy", "mild"])
def test_every_shipped_pair_fits_on_a_page_of_80_columns(typed: Typed, chamber_name: str, profile: str) -> None:
    code, out, err = typed("check", "--chamber", chamber_name, "--profile", profile)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines()[1:])) <= 80  # The first line may hold a long path.
    for part in ("Sensors", "Outputs", "Limits", f"Profile {profile}", "NOT protected, not monitored"):
        assert f"\n{part}" in out


def test_what_is_missing_is_named_and_what_is_there_is_not(typed: Typed, chamber: Path) -> None:
    _, bare, _ = typed("check")
    assert "No door contact" in bare
    assert "No sounder" in bare
    assert "No master contactor" in bare
    with chamber.open("a", encoding="utf-8") as file:
        file.write('\n[[sensor]]\nchannel = "door"\nkind = "contact"\npin = 24\n')
        file.write('\n[[output]]\nrole = "sounder"\npin = 25\n[[output]]\nrole = "master"\npin = 26\n')
    code, equipped, err = typed("check")
    assert code == 0, err
    assert "No door contact" not in equipped
    assert "No sounder" not in equipped
    assert "No master contactor" not in equipped
    assert "Software is no cut-out" in equipped


def test_a_chamber_without_a_tested_cut_out_reads_that_heat_is_refused(typed: Typed, chamber: Path) -> None:
    lines = chamber.read_text("utf-8").splitlines()
    chamber.write_text("\n".join(line for line in lines if "cutout" not in line), "utf-8")
    code, out, _ = typed("check")
    assert code == 0
    assert "NO HEAT IS GIVEN" in out


@pytest.mark.parametrize("name", CHAMBERS)
def test_a_shipped_chamber_gives_no_heat_before_somebody_has_tested_its_cut_out(typed: Typed, name: str) -> None:
    code, out, _ = typed("check", "--chamber", name)
    words = " ".join(out.split())
    assert code == 0
    assert "holds no problem" not in words
    assert "NO HEAT IS GIVEN: the chamber file names no tested thermal cut-out (cutout_tested_on missing)." in words
    assert 'Test the cut-out (README, "Testing the cut-out"), then write the day' in words


@pytest.mark.parametrize(("pin", "active", "warned"), [(17, "low", True), (5, "high", True), (17, "high", False)])
def test_a_pin_whose_pull_switches_on_while_the_pi_starts_is_named(
    typed: Typed, chamber: Path, pin: int, active: str, *, warned: bool
) -> None:
    text = chamber.read_text("utf-8").replace("pin = 17 ", f"pin = {pin} ", 1)
    chamber.write_text(text.replace('active = "high"', f'active = "{active}"', 1), "utf-8")
    code, out, err = typed("check")
    assert code == 0, err
    assert (f"GPIO {pin} " in out.partition("NOT protected")[2]) is warned


def test_the_wiring_says_role_gpio_header_pin_and_level(typed: Typed) -> None:
    code, out, _ = typed("check", "--chamber", "old-fridge", "--wiring")
    assert code == 0
    row = next(line.split() for line in out.splitlines() if line.startswith("heater"))
    assert row == ["heater", "17", "11", "high", "solid-state", "6"]
    assert max(map(len, out.splitlines())) <= 80


def test_problems_of_both_files_are_told_together_also_as_json(typed: Typed, chamber: Path, tmp_path: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace("tick_s = 5.0", "tick_s = 500.0"), "utf-8")
    profile = tmp_path / "mine.toml"
    profile.write_text('name = "mine"\nflavour = "hot"\n', "utf-8")
    code, out, err = typed("check", "--profile", str(profile), "--json")
    assert code == 78
    assert "chamber.toml: tick_s = 500" in err
    assert "mine.toml: flavour" in err
    assert max(map(len, err.splitlines())) <= 80  # Folded for a person, whole for a program.
    assert json.loads(out)["problems"] == re.sub(r"\n  +", " ", err).splitlines()


def test_a_profile_that_this_chamber_cannot_do_ends_with_78(typed: Typed, tmp_path: Path) -> None:
    from controller.settings.shipped import find_profile

    stubborn = tmp_path / "stubborn.toml"
    stubborn.write_text(find_profile("tangy").read_text("utf-8").replace("elsewhere_if_unfit = true", ""), "utf-8")
    code, out, err = typed("check", "--chamber", "insulated-box", "--profile", str(stubborn))
    assert (code, out) == (78, "")
    assert "no cooler" in err


def test_a_maker_who_thinks_in_fahrenheit_reads_fahrenheit(typed: Typed, chamber: Path) -> None:
    chamber.write_text(chamber.read_text("utf-8").replace('units = "C" ', 'units = "F" '), "utf-8")
    _, out, _ = typed("check", "--profile", "tangy")
    assert "All heat is cut at 113.0 °F or above at any thermometer" in out  # 45 °C
    assert "ferment 96.8 °F" in out  # 36 °C


def test_the_object_holds_what_the_page_says(typed: Typed) -> None:
    code, out, _ = typed("check", "--chamber", "insulated-box", "--profile", "mild", "--json")
    page = json.loads(out)
    assert code == 0
    assert page["problems"] == []
    assert page["outputs"][0] == {"role": "heater", "pin": 17, "active": "high", "switch": "solid-state"}
    assert {(stage["name"], stage["where"]) for stage in page["stages"]} >= {
        ("ferment", "chamber"),
        ("dry-1", "elsewhere"),
    }
    assert any("No door contact" in sentence for sentence in page["not_protected"])
