"""What the batch card says of the mix, as far as a forecast needs it."""

from controller.food.bowl import composition
from controller.food.drying import Mix
from controller.records.batch_folder import BatchCard


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
    """Return the composition of the mix, and the lactate (mol per kg) that its sugar becomes."""
    per_kg, formula = card.profile.per_kg, None if card.sheet is None else card.sheet.formula
    soured = card.profile.starter != "none"
    return composition.composition_of(formula, per_kg.salt_pct + per_kg.cure_pct, per_kg.dextrose_pct, soured=soured)
