"""What one kg of the stuffed mix is made of: the one figure that plan, sheet, answers and forecasts all go by."""

from controller.food.acid import ACID_PER_SUGAR, sugar_at_start
from controller.food.bowl.formulation import Formula, mix_of
from controller.food.drying import USUAL_FAT_PCT, Mix
from controller.food.drying import mix_of as mix_of_shares


def is_weighed(formula: Formula | None) -> bool:
    """Say whether a plan tells what went into the bowl; else the recipe's shares and the usual fat are taken."""
    return formula is not None and formula.meat_kg > 0.0 and formula.mix_kg > 0.0


def composition_of(formula: Formula | None, salt_pct: float, dextrose_pct: float, *, soured: bool) -> tuple[Mix, float]:
    """Return the mix, and the lactate in mol per kg that its sugar becomes.

    By the plan's own grams where there is a plan: the starter's water is water, spices are solids that are neither
    lean meat nor dissolved. Else by the recipe's shares, with 25 % of fat.

    Args:
        formula: what went into the bowl; None without a plan.
        salt_pct: salt and cure of the recipe in % of the meat, for want of a plan.
        dextrose_pct: of the recipe in % of the meat, for want of a plan.
        soured: a starter makes acid of its sugar.
    """
    if formula is not None and is_weighed(formula):
        mix = mix_of(formula)
        sugar_pct = sum(line.grams for line in formula.ingredients if line.name == "dextrose") / formula.mix_kg / 10.0
    else:
        whole = 1.0 + (salt_pct + dextrose_pct) / 100.0
        sugar_pct = dextrose_pct / whole
        mix = mix_of_shares(USUAL_FAT_PCT / whole, salt_pct / whole, sugar_pct)
    return mix, sugar_at_start(sugar_pct) * ACID_PER_SUGAR / 1000.0 if soured else 0.0
