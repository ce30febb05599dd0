"""Nitrite, nitrate and accelerators of a plan against the limits and floors of the maker's authority."""

from collections.abc import Callable
from math import ceil, floor
from typing import Final

from msgspec.structs import replace

from controller.core.plan import Profile
from controller.food.bowl.cure import AUTHORITY_NAMES, Checked
from controller.food.bowl.formulation import Formula
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.formula import formula_of
from controller.planning.bowl.text import SALT_LIKE_G_PER_KG, STRONG_FROM_PCT, both_ways, figure, known, ppm, typed_pct

SHELF_STABLE_WORDS: Final = "its process makes it shelf stable"
MOST_CURE_PCT: Final = 5.0
"""As a nitrite salt that is all the salt there is; more is no advice. Common practice, no source."""


def judge_limits(answers: Answers, formula: Formula, profile: Profile) -> list[Finding]:
    """Refuse what is over a limit of the maker's own authority, or under a floor; 40 ppm is a floor everywhere."""
    own = AUTHORITY_NAMES[answers.authority]
    over = [
        _over(answers, formula, profile, limit)
        for limit in formula.limits
        if limit.authority == own and limit.verdict == "over"
    ]
    missed = [
        limit
        for limit in formula.limits
        if limit.verdict == "under" and (limit.authority == own or limit.kind == "useful minimum")
    ]
    return [*over, _under(answers, formula, profile, missed)] if missed else over


def judge_accelerators(answers: Answers, formula: Formula, profile: Profile) -> list[Finding]:
    """Refuse too much of an accelerator, and one without an amount or a name."""
    own = AUTHORITY_NAMES[answers.authority]
    found = [
        _over(answers, formula, profile, limit)
        for limit in formula.limits
        if limit.authority == own and limit.verdict == "over" and limit.agent.startswith("accelerator")
    ]
    if answers.accelerator and answers.accelerator_pct <= 0.0:
        found.append(Finding("refused", f"{answers.accelerator}: how much of it? In % of the meat, as 0.05."))
    if answers.accelerator_pct > 0.0 and not answers.accelerator:
        text = f"Accelerator: {figure(answers.accelerator_pct)} % of what? Erythorbate, ascorbate, or one of the acids."
        found.append(Finding("refused", text))
    return found


def _over(answers: Answers, formula: Formula, profile: Profile, limit: Checked) -> Finding:
    """Refuse one figure that is over its limit, and say how much would be right."""
    value = limit.value_ppm or 0.0
    shown = ppm(value, limit.limit_ppm)
    text = f"Too much: {limit.agent} {shown} ppm, and {figure(limit.limit_ppm)} is the most ({known(limit)})."
    if limit.agent.startswith("accelerator"):
        advice = f"At most {figure(_hundredths(answers.accelerator_pct * limit.limit_ppm / value, floor))} % of it."
        return Finding("refused", f"{text} {advice}", source=limit.source)
    if answers.salt_nitrite_pct <= 0.0:
        most = _at_most_pct(answers, profile, formula, limit)
        advice = f"At most {_to_type(most)}"
    elif formula.cure_pct > 0.0:
        advice = "Cure and nitrite salt are counted together: take plain salt, or leave the cure out."
    else:
        advice = "Take less of the nitrite salt, and plain salt for the rest."
    return Finding("refused", " ".join([text, *_slip(answers, formula), advice]), source=limit.source)


def _under(answers: Answers, formula: Formula, profile: Profile, missed: list[Checked]) -> Finding:
    """Refuse what is under the highest floor that it misses, and say how much would be right."""
    highest = max(missed, key=lambda limit: limit.limit_ppm)
    value = highest.value_ppm or 0.0
    text = (
        f"Too little: {highest.agent} {ppm(value, highest.limit_ppm)} ppm, and {figure(highest.limit_ppm)} is the "
        f"least ({known(highest)}). Too little is no protection against botulism."
    )
    if formula.nitrite_ppm_us <= 0.0 < formula.nitrate_ppm:
        advice = "Nitrate does nothing before bacteria have made nitrite of it; take a cure with nitrite."
    else:
        least = _at_least_pct(answers, profile, formula, highest)
        advice = (
            f"At least {_to_type(least)}"
            if least is not None
            else "Take a cure with more nitrite, or more of the nitrite salt."
        )
    parts = [text, *_slip(answers, formula), advice]
    policy_only = "shelf stable" in highest.note and all(limit.kind == "min" for limit in missed)
    if policy_only and profile.style == "raw-dried":
        parts.append(f"That floor is for what has to be kept refrigerated; else type: {SHELF_STABLE_WORDS}")
        return Finding("word", " ".join(parts), asks=SHELF_STABLE_WORDS, source=highest.source)
    return Finding("refused", " ".join(parts), source=highest.source)


def _to_type(pct: float) -> str:
    """Say an amount of cure in words, and as the option that takes it."""
    return f"{figure(pct)} % of this cure, {figure(10.0 * pct)} g per kg of meat: --cure-pct {figure(pct)}%."


def _at_most_pct(answers: Answers, profile: Profile, formula: Formula, limit: Checked) -> float:
    """Return the most cure, in hundredths of a % of the meat, that keeps this limit; tried out, as the mix shrinks."""
    pct = _hundredths(formula.cure_pct * limit.limit_ppm / (limit.value_ppm or limit.limit_ppm), floor)
    while pct > 0.0 and _figure_with(answers, profile, limit, pct).verdict == "over":
        pct = _hundredths(pct - 0.01, floor)
    return pct


def _at_least_pct(answers: Answers, profile: Profile, formula: Formula, limit: Checked) -> float | None:
    """Return the least cure, in hundredths of a % of the meat, that keeps this floor on the maker's own scale.

    None where it would be more than anybody puts in, or where cure alone does not decide.
    """
    if answers.salt_nitrite_pct > 0.0 or formula.cure_pct <= 0.0 or not limit.value_ppm:
        return None
    pct = _hundredths(formula.cure_pct * limit.limit_ppm / limit.value_ppm, ceil)
    while pct <= MOST_CURE_PCT and _figure_with(answers, profile, limit, pct).verdict == "under":
        pct = _hundredths(pct + 0.01, ceil)
    return pct if pct <= MOST_CURE_PCT else None


def _figure_with(answers: Answers, profile: Profile, limit: Checked, cure_pct: float) -> Checked:
    """Return what the same limit says of another amount of cure."""
    other = formula_of(replace(answers, cure_pct=cure_pct), profile)
    return next(found for found in other.limits if (found.rule, found.kind) == (limit.rule, limit.kind))


def _hundredths(pct: float, way: Callable[[float], int]) -> float:
    """Round to hundredths, a hair of binary noise forgiven."""
    return way(round(pct * 100.0, 6)) / 100.0


def _slip(answers: Answers, formula: Formula) -> list[str]:
    """Return what may have been mistaken, where strength and amount do not go together."""
    strength = answers.strength
    if strength is None or formula.cure_pct <= 0.0:
        return []
    nitrite, g_per_kg = strength.nitrite_pct, 10.0 * typed_pct(answers, formula)
    if nitrite >= STRONG_FROM_PCT and g_per_kg >= SALT_LIKE_G_PER_KG:
        return [both_ways(g_per_kg), "Pink cure taken for table salt poisons: which of the two is printed on the pack?"]
    if 0.0 < nitrite < STRONG_FROM_PCT and g_per_kg < SALT_LIKE_G_PER_KG:
        return [both_ways(g_per_kg), "Which of the two is printed on the pack?"]
    return []
