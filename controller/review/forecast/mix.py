"""What the batch card says of the mix, as far as a forecast needs it."""

from typing import Final

from controller.food.acid import ACID_PER_SUGAR, sugar_at_start
from controller.food.drying import Mix, mix_of
from controller.records.batch_folder import BatchCard

USUAL_FAT_PCT: Final = 25.0
"""Where no plan says how fat the meat is; common practice, no source."""


def mix_kg_of(card: BatchCard) -> float:
    """Return the mass of all that went into the bowl: of the plan, else of meat and the weighed ingredients."""
    if card.sheet is not None:
        return card.sheet.formula.mix_kg
    grams = card.formulation
    return card.batch.meat_kg + (grams.salt_g + grams.cure_g + grams.dextrose_g + grams.starter_g) / 1000.0


def dextrose_pct_of(card: BatchCard) -> float:
    """Return the dextrose in % of the mix."""
    return card.formulation.dextrose_g / 10.0 / mix_kg_of(card)


def composition_of(card: BatchCard) -> tuple[Mix, float]:
    """Return the composition of the mix, and the lactate (mol per kg) that its sugar becomes.

    The fat is that of the plan's meats, 25 % where there is no plan. Spices and water are left out.
    """
    fat_pct = USUAL_FAT_PCT
    if card.sheet is not None and card.sheet.formula.meat_kg > 0.0:
        formula = card.sheet.formula
        fat_pct = sum(meat.kg * meat.fat_pct for meat in formula.meats) / formula.mix_kg
    dextrose_pct = dextrose_pct_of(card)
    salt_pct = (card.formulation.salt_g + card.formulation.cure_g) / 10.0 / mix_kg_of(card)
    soured = card.profile.starter != "none"
    lactate_mol = sugar_at_start(dextrose_pct) * ACID_PER_SUGAR / 1000.0 if soured else 0.0
    return mix_of(fat_pct, salt_pct, dextrose_pct), lactate_mol
