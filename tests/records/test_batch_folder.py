"""The batch card is TOML that reads back to the very same profile and chamber, for every one that is shipped."""

import datetime as dt
import tomllib
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.errors import DataError, NoInputError
from controller.records.batch_folder import CARD, make_folder, read_card
from controller.settings.chamber_file import plan_of, read_chamber
from controller.settings.profile_file import adapt, read_profile
from tests.helpers.recorded import CHAMBER, NAME, batch

PROFILES = Path(__file__).parents[2] / "profiles"


@pytest.mark.parametrize("path", sorted(PROFILES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_profile_comes_back_from_its_card(tmp_path: Path, path: Path) -> None:
    profile, _ = adapt(read_profile(path), plan_of(read_chamber(PROFILES / "chambers" / "old-fridge.toml")))
    folder = make_folder(tmp_path, batch(profile=profile), CHAMBER, force=True)
    assert read_card(folder).profile == profile


@pytest.mark.parametrize("path", sorted((PROFILES / "chambers").glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_chamber_comes_back_from_a_card(tmp_path: Path, path: Path) -> None:
    chamber = replace(read_chamber(path), cutout_tested_on=dt.date(2026, 1, 4))
    folder = make_folder(tmp_path, batch(), chamber, force=True)
    assert read_card(folder).chamber == chamber
    assert tomllib.loads((folder / CARD).read_text("utf-8"))["chamber"]["cutout_tested_on"] == dt.date(2026, 1, 4)


def test_a_folder_without_its_card_gets_it_at_the_next_start(tmp_path: Path) -> None:
    (tmp_path / "batches" / NAME).mkdir(parents=True)
    assert read_card(make_folder(tmp_path, batch(), CHAMBER, force=True)).batch.id == NAME


def test_a_damaged_card_is_said_in_a_line(tmp_path: Path) -> None:
    folder = make_folder(tmp_path, batch(), CHAMBER, force=True)
    whole = (folder / CARD).read_text("utf-8")
    for damaged in (whole[:300], whole.replace("meat_kg = 4.5", 'meat_kg = "much"')):
        (folder / CARD).write_text(damaged, "utf-8")
        with pytest.raises(DataError, match=r"recipe\.toml: the batch card is damaged"):
            read_card(folder)


def test_a_folder_that_holds_no_batch_is_said_in_a_line(tmp_path: Path) -> None:
    with pytest.raises(NoInputError, match="there is no batch card"):
        read_card(tmp_path)
