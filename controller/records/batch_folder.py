"""Make the folder of a batch, with the batch card that is frozen into it, and read the card again."""

import tomllib
from datetime import date, datetime
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec
import tomli_w
from msgspec import Struct

from controller.core.memory import Batch
from controller.core.plan import Profile
from controller.core.sheet import Sheet
from controller.errors import DataError, NoInputError
from controller.food.bowl.formulation import Formula
from controller.records.csv_text import time_text
from controller.records.durable import replace_whole, sync_folder
from controller.records.untrusted import clean, require_sane, why_not
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.learned_file import Learned

BATCHES: Final = "batches"
CARD: Final = "recipe.toml"
MOST_PARTS: Final = 100


class BatchHead(Struct, frozen=True, kw_only=True):
    """Hold what the card says of the batch itself."""

    id: str
    began: str
    meat_kg: float
    diameter_mm: float


class Formulation(Struct, frozen=True, kw_only=True):
    """Hold what goes into the bowl, in grams for all the meat."""

    salt_g: float
    cure_g: float
    dextrose_g: float
    starter_g: float


class BatchCard(Struct, frozen=True, kw_only=True):
    """Hold the batch card: what was chosen when the batch began, whatever is edited afterwards."""

    batch: BatchHead
    formulation: Formulation
    profile: Profile
    chamber: ChamberFile
    sheet: Sheet | None = None  # The plan, where the maker made one.
    learned: Learned | None = None  # What was learned of the chamber, where that was used.


def batches_of(state_dir: Path) -> Path:
    """Return the folder that holds the batches."""
    return state_dir / BATCHES


def next_batch_id(state_dir: Path, profile_name: str, day: date) -> str:
    """Return the name of the next batch of this profile on this day: 2026-01-05-tangy-1, then -2, and so on."""
    number = 1
    while (batches_of(state_dir) / f"{day.isoformat()}-{profile_name}-{number}").exists():
        number += 1
    return f"{day.isoformat()}-{profile_name}-{number}"


def formulation_of(batch: Batch) -> Formulation:
    """Return the grams for the batch's meat: those of the plan, where there is one.

    Else the profile's shares, rounded to a tenth of a gram, the starter to a hundredth.
    """
    if batch.sheet is not None:
        return _planned(batch.sheet.formula)
    per_kg = batch.profile.per_kg
    meat_g = 1000.0 * batch.meat_kg
    return Formulation(
        salt_g=round(meat_g * per_kg.salt_pct / 100.0, 1),
        cure_g=round(meat_g * per_kg.cure_pct / 100.0, 1),
        dextrose_g=round(meat_g * per_kg.dextrose_pct / 100.0, 1),
        starter_g=round(batch.meat_kg * per_kg.starter_g_per_kg, 2),
    )


def _planned(formula: Formula) -> Formulation:
    """Return the grams as they were planned; the salt is what is weighed in beside the cure."""

    def grams(*begins: str) -> float:
        return round(sum(line.grams for line in formula.ingredients if line.name.startswith(begins)), 3)

    return Formulation(
        salt_g=grams("salt to add", "nitrite salt"),
        cure_g=grams("cure"),
        dextrose_g=grams("dextrose"),
        starter_g=grams("starter"),
    )


def make_folder(
    state_dir: Path, batch: Batch, chamber: ChamberFile, *, force: bool, learned: Learned | None = None
) -> Path:
    """Make the batch's folder with its card; where both are there already, nothing is changed.

    Raises:
        OSError: it could not be made (`StorageError` where the card could not be written).
    """
    folder = batches_of(state_dir) / batch.id
    if (folder / CARD).exists():
        return folder
    folder.mkdir(parents=True, exist_ok=True)
    if force:
        sync_folder(folder.parent)
        sync_folder(state_dir)
    card = BatchCard(
        batch=BatchHead(
            id=batch.id, began=time_text(batch.began_wall_s), meat_kg=batch.meat_kg, diameter_mm=batch.diameter_mm
        ),
        formulation=formulation_of(batch),
        profile=batch.profile,
        chamber=chamber,
        sheet=batch.sheet,
        learned=learned,
    )
    replace_whole(folder / CARD, encode_card(card), force=force, keep_previous=False)
    return folder


def encode_card(card: BatchCard) -> bytes:
    """Return the card as TOML. What is None is left out, for TOML has no such value."""
    head = "# The batch card: profile, formulation and chamber as they were when the batch began. Do not edit.\n\n"
    return (head + tomli_w.dumps(named(msgspec.to_builtins(card, builtin_types=(date,))))).encode()


def read_card(folder: Path) -> BatchCard:
    """Return the card of a batch folder.

    Raises:
        NoInputError: there is none.
        DataError: it is damaged.
    """
    path = folder / CARD
    try:
        return _card_of(path.read_text("utf-8"))
    except (FileNotFoundError, NotADirectoryError) as error:
        raise NoInputError(f"{path}: there is no batch card; a batch folder holds one") from error
    except (ValueError, RecursionError) as error:
        raise DataError(f"{path}: the batch card is damaged: {why_not(error)}") from error


def _card_of(text: str) -> BatchCard:
    """Return what a card holds.

    Raises ValueError where it is no card, or lacks what every reader of a folder needs, or holds odd figures.
    """
    if any(line.partition('"')[0].count(".") > MOST_PARTS for line in text.splitlines()):
        raise ValueError("a key in it has no end")  # It would keep the parser busy for minutes.
    card = msgspec.convert(clean(tomllib.loads(text)), type=BatchCard)
    require_sane(msgspec.to_builtins(card))
    if datetime.fromisoformat(card.batch.began).tzinfo is None:
        raise ValueError(f"began = {card.batch.began}: a time without a zone")
    if not card.profile.stages:
        raise ValueError("its profile has no stage")
    if not any(sensor.channel == "air_temp" for sensor in card.chamber.sensor):
        raise ValueError("its chamber has no air thermometer")
    try:
        plan_of(card.chamber)
    except (ValueError, ArithmeticError) as error:
        raise ValueError("its chamber has figures that no chamber has") from error
    try:
        ZoneInfo(card.chamber.timezone)
    except (ZoneInfoNotFoundError, OSError) as error:
        raise ValueError(f"timezone = {card.chamber.timezone}: there is no such zone") from error
    return card


def named(value: object) -> dict[str, object]:
    """Return a table without the keys that have no value."""
    without = _without_none(value)
    if not isinstance(without, dict):
        raise TypeError("what is written as TOML is a table")
    return without


def _without_none(value: object) -> object:
    if isinstance(value, dict):
        return {key: _without_none(item) for key, item in value.items() if item is not None}
    if isinstance(value, (list, tuple)):
        return [_without_none(item) for item in value]
    return value
