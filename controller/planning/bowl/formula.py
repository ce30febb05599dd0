"""The answers made into grams."""

from typing import Final

from controller.core.plan import Profile
from controller.errors import DataError, UsageError
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Formula, formulate
from controller.food.bowl.weighing import Wanted
from controller.planning.answers import Answers

PROFILE_CURE_PCT: Final = 6.25
"""Nitrite in the cure that a profile's `cure_pct` is meant for; another strength gets another amount of cure."""


def wanted_of(answers: Answers, profile: Profile) -> Wanted:
    """Return the recipe of these answers, the profile's figures where the maker gave none.

    Without a word on the amount of cure, as much nitrite is meant as in the profile, whatever the strength of the cure.

    Raises:
        UsageError: there is a cure, but the strength on its pack was not given.
    """
    per_kg = profile.per_kg
    strength = answers.strength
    if strength is None:
        if answers.cure != "none":
            raise UsageError("How strong is the cure? Its pack says how much nitrite it holds, as 6.25 % or 0.5 %.")
        strength = Strength(0.0)
    cure_pct = answers.cure_pct
    if answers.cure == "none":
        cure_pct = 0.0
    elif cure_pct is None:
        holds = strength.nitrite_pct
        cure_pct = min(100.0, per_kg.cure_pct * (PROFILE_CURE_PCT / holds if holds > 0.0 else 1.0))
    return Wanted(
        salt_pct=per_kg.salt_pct if answers.salt_pct is None else answers.salt_pct,
        cure=answers.cure,
        strength=strength,
        cure_pct=cure_pct,
        salt_nitrite_pct=answers.salt_nitrite_pct,
        dextrose_pct=per_kg.dextrose_pct if answers.dextrose_pct is None else answers.dextrose_pct,
        starter_g_per_kg=answers.starter.dose_g_per_kg if answers.starter else 0.0,
        starter_water_g=answers.starter_water_g,
        accelerator=answers.accelerator,
        accelerator_pct=answers.accelerator_pct,
        spices=tuple((spice.name, spice.g_per_kg) for spice in answers.spices),
    )


def formula_of(answers: Answers, profile: Profile) -> Formula:
    """Return what goes into the bowl by these answers.

    Raises:
        UsageError: the strength of the cure was not given.
        DataError: a figure that no bowl can hold; each is named, with what would be right.
    """
    try:
        return formulate(
            answers.meats,
            wanted_of(answers, profile),
            style=profile.style,
            on=answers.on,
            authority=answers.authority,
            aim_ph=answers.aim_ph,
            scale_g=answers.scale_g,
            big_scale_g=answers.big_scale_g,
        )
    except UsageError:
        raise
    except ValueError as problem:
        raise DataError(str(problem)) from problem
