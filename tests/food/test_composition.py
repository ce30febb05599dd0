"""One batch has one composition, whoever asks: the plan, the answers and the sheet, the forecasts."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.core.memory import Batch
from controller.core.people.drying import mix_of_batch
from controller.food.bowl.composition import composition_of
from controller.food.drying import Mix
from controller.planning.answers import Spice
from controller.records.batch_folder import make_folder, read_card
from controller.review.forecast import mix as of_forecasts
from tests.helpers.planned import chamber_named, plan_for

SPICES = (Spice("black pepper", 20.0), Spice("garlic", 10.0))


def batch_of(spices: tuple[Spice, ...]) -> Batch:
    plan = plan_for("mild", spices=spices)
    meat_kg = plan.sheet.formula.meat_kg
    return Batch(id="b-1", profile=plan.profile, began_wall_s=0.0, meat_kg=meat_kg, sheet=plan.sheet)


def by_the_plan(batch: Batch) -> tuple[Mix, float]:
    assert batch.sheet is not None
    return composition_of(batch.sheet.formula, 0.0, 0.0, soured=True)


@pytest.mark.parametrize("spices", [(), SPICES], ids=["plain", "spiced"])
@pytest.mark.parametrize("planned", [True, False], ids=["with a plan", "without"])
def test_plan_answers_and_forecasts_reckon_with_the_same_mix(
    tmp_path: Path, spices: tuple[Spice, ...], *, planned: bool
) -> None:
    batch = batch_of(spices) if planned else replace(batch_of(spices), sheet=None)
    card = read_card(make_folder(tmp_path, batch, chamber_named(), force=False))
    mix, lactate_mol, known = mix_of_batch(batch)
    assert known is planned
    assert of_forecasts.composition_of(card) == (mix, lactate_mol)
    if planned:
        assert by_the_plan(batch) == (mix, lactate_mol)


def test_spices_are_solids_that_are_neither_lean_meat_nor_dissolved() -> None:
    (plain, _), (spiced, _) = by_the_plan(batch_of(())), by_the_plan(batch_of(SPICES))
    for part in ("water_kg", "protein_kg", "fat_kg", "salt_kg", "osmol"):  # All fall alike, by what the spices weigh.
        assert getattr(spiced, part) / getattr(plain, part) == pytest.approx(spiced.fat_kg / plain.fat_kg)
    assert spiced.fat_kg / plain.fat_kg == pytest.approx(1.0 / (1.0 + 0.030 / 1.044), abs=0.001)
    assert spiced.solids_kg > plain.solids_kg
