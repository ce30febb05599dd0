"""Formulation: from meat and percentages to the grams in the bowl.

Every percentage says of what: of the meat (meat and fat together, the green weight of the block), or of the mix.
"""

from dataclasses import dataclass

from controller.food.cure import Checked, Strength


@dataclass(frozen=True, slots=True)
class Meat:
    """Hold one meat of the block.

    Attributes:
        name: as the maker calls it, "shoulder".
        species: pork, beef, game, poultry, lamb, horse, or wild boar.
        kg: green weight.
        fat_pct: of its mass.
        treated: what was done against trichinae before the bowl, in words; empty: nothing.
    """

    name: str
    species: str
    kg: float
    fat_pct: float = 25.0
    treated: str = ""


@dataclass(frozen=True, slots=True)
class Ingredient:
    """Hold one line of the bowl: grams to the scale's resolution, and per cent of `of`."""

    name: str
    grams: float
    pct: float
    of: str = "meat"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Formula:
    """Hold what goes into the bowl and what it means.

    Attributes:
        meats: the block.
        meat_kg: its green weight.
        mix_kg: all that goes into the bowl together.
        ingredients: line by line, in the order of the bowl (starter last).
        cure: "1" (nitrite), "2" (nitrite and nitrate), "other", or "none".
        strength: of the cure, as on its pack.
        nitrite_ppm_us: NaNO2, mg per kg of meat.
        nitrite_ppm_ca: NaNO2, mg per kg of mix.
        nitrite_ppm_eu_ion: NO2 ion, mg per kg of mix.
        nitrate_ppm: NaNO3, mg per kg of meat.
        limits: every limit beside its figure.
        salt_pct: all salt, that of the cure included, in % of the meat.
        end_ph: (lowest, expected, highest) pH by the dextrose; a model, no promise.
    """

    meats: tuple[Meat, ...]
    meat_kg: float
    mix_kg: float
    ingredients: tuple[Ingredient, ...]
    cure: str
    strength: Strength
    nitrite_ppm_us: float
    nitrite_ppm_ca: float
    nitrite_ppm_eu_ion: float
    nitrate_ppm: float
    limits: tuple[Checked, ...]
    salt_pct: float
    end_ph: tuple[float, float, float]
