"""Formulation: from meat and percentages to the grams in the bowl.

Every percentage says of what: of the meat (meat and fat together, the green weight of the block), or of the mix.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Final

from controller.food import drying
from controller.food.bowl.cure import Authority, Checked, Strength, check, ingoing_ppm, nitrite_as_ion
from controller.food.bowl.cure_limits import Style
from controller.food.bowl.dextrose import dextrose_for_ph, end_ph_range
from controller.food.bowl.weighing import Bowl, Wanted, to_scale
from controller.food.bowl.weighing import Ingredient as Ingredient  # noqa: PLC0414 - it is part of a formula.

SHIFT_WARNED_PCT: Final = 2.0
"""From here on the rounding to the scale is told; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Meat:
    """Hold one meat of the block.

    Attributes:
        name: as the maker calls it, "shoulder".
        species: pork, beef, game, poultry, lamb, horse, or wild boar.
        kg: green weight.
        fat_pct: of its mass.
        treated: what was done against trichinae before the bowl, in words; empty: nothing.
        fat_assumed: nobody said how fat it is, and `fat_pct` is what is usual.
    """

    name: str
    species: str
    kg: float
    fat_pct: float = 25.0
    treated: str = ""
    fat_assumed: bool = False


@dataclass(frozen=True, slots=True)
class Formula:
    """Hold what goes into the bowl and what it means.

    Attributes:
        meats: the block.
        meat_kg: its green weight.
        mix_kg: all that goes into the bowl together: the meats and every line, the water too.
        ingredients: line by line, in the order of the bowl (starter last).
        cure: "1" (nitrite), "2" (nitrite and nitrate), "other", or "none".
        strength: of the cure, as on its pack.
        nitrite_ppm_us: nitrite salt as added, mg per kg of meat.
        nitrite_ppm_ca: nitrite salt as added, mg per kg of mix.
        nitrite_ppm_eu_ion: NO2 ion, mg per kg of mix.
        nitrate_ppm: nitrate salt as added, mg per kg of meat.
        limits: every limit beside its figure.
        salt_pct: all salt, that of the cure included, in % of the meat.
        end_ph: (lowest, expected, highest) pH by the dextrose; a model, no promise.
        fat_pct: of the meat block.
        dextrose_g: (lowest, expected, highest) that the pH aimed at may take; empty where none was aimed at.
        aim_ph: the pH that the dextrose was worked out for.
        rounding_pct: by how much the rounding to the scale shifts the nitrite; above 2 it is to be told.
        unweighable: what the scale is too coarse for: it rounded to nothing.
        salt_nitrite_pct: nitrite in what is used as salt; 0 for plain salt.
        cure_pct: cure as weighed, in % of the meat.
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
    fat_pct: float = 25.0
    dextrose_g: tuple[float, ...] = ()
    aim_ph: float | None = None
    rounding_pct: float = 0.0
    unweighable: tuple[str, ...] = ()
    salt_nitrite_pct: float = 0.0
    cure_pct: float = 0.0


def fat_pct_of(meats: Sequence[Meat]) -> float:
    """Return the fat of the block in % of its mass, each meat by its weight.

    Raises:
        ValueError: there is no meat, or a weight or fat that cannot be.
    """
    wrong = [
        f"{meat.name}: {meat.kg} kg with {meat.fat_pct} % fat; above 0 kg, and 0 to 100 % fat, is right"
        for meat in meats
        if not (0.0 < meat.kg < inf and 0.0 <= meat.fat_pct <= 100.0)
    ]
    if wrong or not meats:
        raise ValueError("; ".join(wrong) or "no meat is named; give each its kg, species and fat")
    return sum(meat.kg * meat.fat_pct for meat in meats) / sum(meat.kg for meat in meats)


def formulate(
    meats: Sequence[Meat],
    wanted: Wanted,
    *,
    style: Style,
    on: dt.date,
    authority: Authority = "us",
    aim_ph: float | None = None,
    scale_g: float = 0.1,
    big_scale_g: float = 1.0,
) -> Formula:
    """Return what goes into the bowl, and its figures worked out from the grams as they are weighed.

    Args:
        meats: the block.
        wanted: the recipe.
        style: `raw-dried` or `cooked`, for the limits.
        on: the day of stuffing, for the limits.
        authority: whose limits the maker works under.
        aim_ph: the dextrose is worked out for this pH; the recipe's own is then left out.
        scale_g: resolution of the scale for cure, starter and accelerator.
        big_scale_g: resolution of the scale for salt, sugar, spices and water.

    Raises:
        ValueError: no meat, a resolution or percentage that cannot be, or a pH that no sugar leads to.
    """
    block = tuple(meats)
    fat_pct = fat_pct_of(block)
    meat_g = 1000.0 * sum(meat.kg for meat in block)
    bowl = Bowl(meat_g, wanted, scale_g, big_scale_g)
    before = bowl.without_dextrose_g
    if aim_ph is None:
        needed_g: tuple[float, ...] = ()
        dextrose_g = meat_g * wanted.dextrose_pct / 100.0
    else:
        shares = dextrose_for_ph(aim_ph, ph_at_start=wanted.ph_at_start)
        needed_g = tuple(to_scale(before * share / (100.0 - share), big_scale_g) for share in shares)
        dextrose_g = needed_g[1]
    lines = bowl.lines(dextrose_g)
    mix_g = meat_g + sum(line.grams for line in lines)
    ingoing = bowl.ingoing(mix_g)
    sugar_g = sum(line.grams for line in lines if line.name == "dextrose")
    return Formula(
        meats=block,
        meat_kg=meat_g / 1000.0,
        mix_kg=mix_g / 1000.0,
        ingredients=lines,
        cure=wanted.cure,
        strength=wanted.strength,
        nitrite_ppm_us=ingoing_ppm(ingoing.nitrite_g, meat_g),
        nitrite_ppm_ca=ingoing_ppm(ingoing.nitrite_g, mix_g),
        nitrite_ppm_eu_ion=nitrite_as_ion(ingoing_ppm(ingoing.nitrite_g, mix_g), potassium=ingoing.potassium_nitrite),
        nitrate_ppm=ingoing_ppm(ingoing.nitrate_g, meat_g),
        limits=check(ingoing, style=style, on=on, authority=authority),
        salt_pct=100.0 * bowl.all_salt_g / meat_g,
        end_ph=end_ph_range(
            100.0 * sugar_g / mix_g, ph_at_start=wanted.ph_at_start, starter=wanted.starter_g_per_kg > 0.0
        ),
        fat_pct=fat_pct,
        dextrose_g=needed_g,
        aim_ph=aim_ph,
        rounding_pct=bowl.rounding_pct,
        unweighable=bowl.unweighable(dextrose_g),
        salt_nitrite_pct=wanted.salt_nitrite_pct,
        cure_pct=100.0 * bowl.cure_g / meat_g,
    )


def mix_of(formula: Formula) -> drying.Mix:
    """Return water, protein, fat, salt and solutes of a kg of the stuffed mix, for drying and water activity.

    Lean meat by `drying`'s shares; the starter's water is added, spices and cure count as dry matter only.
    """
    added = {line.name: line.grams / 1000.0 for line in formula.ingredients}
    lean_kg = formula.meat_kg * (1.0 - formula.fat_pct / 100.0)
    own_water_kg = drying.WATER_OF_LEAN * lean_kg
    mix_kg = formula.mix_kg
    return drying.Mix(
        water_kg=(own_water_kg + added.get("water", 0.0)) / mix_kg,
        protein_kg=drying.PROTEIN_OF_LEAN * lean_kg / mix_kg,
        fat_kg=formula.meat_kg * formula.fat_pct / 100.0 / mix_kg,
        salt_kg=formula.meat_kg * formula.salt_pct / 100.0 / mix_kg,
        osmol=drying.OTHER_OSMOL_PER_KG * own_water_kg / mix_kg,
    )
