"""What goes into the bowl: the answers made into grams, and what is to be said of them before the meat is bought.

Nothing here says that a sausage is safe. A refusal means that there is no plan so; a `word` finding holds until the
maker has typed its words out in full (`Answers.accepted`); a warning is shown and kept on the sheet.
"""

from typing import Final

from controller.core.plan import Profile
from controller.food.bowl.cure import CAUTION
from controller.food.bowl.dextrose import dextrose_for_ph
from controller.food.bowl.formulation import SHIFT_WARNED_PCT, Formula
from controller.food.degree_hours import TARGET_PH
from controller.food.germs.shelf_stability import CANADA_FIRST_SOURCE, CANADA_SALT_PCT
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.cure import judge_cure
from controller.planning.bowl.formula import formula_of, wanted_of
from controller.planning.bowl.meat import judge_meats
from controller.planning.bowl.text import CUSTOM, figure

__all__ = ["formula_of", "judge_bowl", "wanted_of"]

LEAST_SALT_PCT: Final = 2.4
SALT_SOURCE: Final = "2.4 to 3.0 % of the mix, a textbook on fermented foods (read second-hand)"
MOST_SALT_PCT: Final = 3.5
"""Of the meat; common practice, no source."""
MOST_DEXTROSE_PCT: Final = 2.0
SUGAR_SOURCE: Final = "0.5 to 1 % usual, up to 2 % semi-dry: Toldra, Dry-Cured Meat Products, p. 6 (read second-hand)"
MODEL: Final = "model of the ferment, its figures calibrated, no source"
MODEL_PH: Final = 0.05
"""How near a model's pH is taken; less than its own spread."""
FINE_SCALE_G: Final = 0.1
MEANT_ELSEWHERE: Final = {
    "--cure": ("cure", "nitrite", "nitrate", "saltpetre", "saltpeter", "pink salt", "celery"),
    "--dextrose-pct": ("sugar", "dextrose", "glucose", "honey", "syrup"),
    "--salt-pct": ("salt",),
}
"""What is counted must not hide among the spices: words of a spice, and where such a thing belongs."""


def judge_bowl(answers: Answers, formula: Formula, profile: Profile) -> tuple[Finding, ...]:
    """Return all that is to be said of what goes into the bowl: refusals first, then words to be typed, then warnings.

    Args:
        answers: as given.
        formula: made of them, by `formula_of`.
        profile: which says whether the sausage is cooked, and to which pH it ferments.
    """
    found = [
        *judge_cure(answers, formula, profile),
        *judge_meats(answers, formula, profile),
        *_salt(answers, formula, wanted_of(answers, profile).salt_pct),
        *judge_dextrose(answers, formula, profile),
        *_scales(answers, formula),
        *_spices(answers),
        *_caution(formula),
    ]
    order = ("refused", "word", "warning")
    return tuple(sorted(found, key=lambda finding: order.index(finding.weight)))


def _salt(answers: Answers, formula: Formula, wanted_pct: float) -> list[Finding]:
    """Judge the salt, that of the cure counted."""
    of_meat = formula.salt_pct
    of_mix = round(of_meat * formula.meat_kg / formula.mix_kg, 1)  # The published figures have one decimal.
    both = f"{figure(of_meat)} % of the meat, {figure(of_mix)} % of the mix"
    found = []
    if of_mix < LEAST_SALT_PCT:
        text = f"Salt: {both}. Below {LEAST_SALT_PCT} % of the mix it protects too little; 2.5 to 3.0 % is usual."
        found.append(Finding("warning", text, source=SALT_SOURCE))
    if answers.authority == "canada" and of_mix < CANADA_SALT_PCT:
        text = f"Salt: {both}. Canada asks for {CANADA_SALT_PCT} % or more where a sausage is to keep without cooling."
        found.append(Finding("warning", text, source=CANADA_FIRST_SOURCE))
    if of_meat > MOST_SALT_PCT:
        text = f"Salt: {both}. Above {MOST_SALT_PCT} % it slows the starter and tastes salty; 2.5 to 3.0 % is usual."
        found.append(Finding("warning", text, source=CUSTOM))
    if of_meat > wanted_pct + 0.1 and not any("salt to add" in line.name for line in formula.ingredients):
        text = f"Salt: the cure alone brings {figure(of_meat)} %, and {figure(wanted_pct)} % was wanted; add none."
        found.append(Finding("warning", text))
    return found


def judge_dextrose(answers: Answers, formula: Formula, profile: Profile) -> list[Finding]:
    """Judge the dextrose by the pH where the ferment may end; a model, so never more than a warning where it may do."""
    goal = next((stage.until.ph_at_most for stage in profile.stages if stage.kind == "ferment"), None)
    if goal is None or answers.starter is None:
        return []
    lowest, expected, highest = formula.end_ph
    ends = f"with this dextrose the pH may end between {lowest:.2f} and {highest:.2f}, near {expected:.2f} (model)"
    if lowest > TARGET_PH:
        text = f"Dextrose: {ends}; it does not reach {TARGET_PH}. {_better(formula, TARGET_PH)}"
        return [Finding("refused", text, source=MODEL)]
    found = []
    if highest > TARGET_PH:
        sits = f", and {expected:.2f} sits on {TARGET_PH}" if abs(expected - TARGET_PH) <= MODEL_PH else ""
        text = (
            f"Dextrose: {ends}: it may never reach {TARGET_PH} with this dextrose{sits}. {_better(formula, TARGET_PH)}"
        )
        found.append(Finding("warning", text, source=MODEL))
    if goal < TARGET_PH and expected > goal:
        text = (
            f"Dextrose: {ends}; {profile.name} ferments to {goal:g} and may never get there. {_better(formula, goal)}"
        )
        found.append(Finding("warning", text, source=MODEL))
    sugar_pct = sum(line.pct for line in formula.ingredients if line.name == "dextrose")
    if sugar_pct > MOST_DEXTROSE_PCT:
        text = f"Dextrose: {figure(sugar_pct)} % of the meat; more than {MOST_DEXTROSE_PCT:g} % is unusual."
        found.append(Finding("warning", text, source=SUGAR_SOURCE))
    return found


def _better(formula: Formula, goal: float) -> str:
    """Say which dextrose would be right for this pH, in % of the meat, as it is typed."""
    to_meat = formula.mix_kg / formula.meat_kg
    _, usual, most = (share * to_meat for share in dextrose_for_ph(goal))
    return f"About {usual:.2f} % of the meat leads to {goal:g}; {most:.2f} % does also in meat that buffers strongly."


def _scales(answers: Answers, formula: Formula) -> list[Finding]:
    """Judge what the scales make of the recipe."""
    found = []
    for name in formula.unweighable:
        text = f"Scale: the {name} is less than one step of it, so none would go in. Take a finer scale, or more meat."
        found.append(Finding("refused" if name == "cure" else "warning", text))
    if formula.rounding_pct > SHIFT_WARNED_PCT and "cure" not in formula.unweighable:
        found.append(
            Finding(
                "warning",
                f"Scale: its step of {answers.scale_g:g} g shifts the nitrite by {formula.rounding_pct:.1f} %; what is "
                "shown is what is weighed. A finer scale, or more meat at once, comes nearer.",
                source=CUSTOM,
            )
        )
    if answers.cure != "none" and answers.scale_g > FINE_SCALE_G:
        found.append(
            Finding(
                "warning",
                f"Scale: cure is weighed to {FINE_SCALE_G:g} g or better; this one shows {answers.scale_g:g} g.",
                source=CUSTOM,
            )
        )
    return found


def _spices(answers: Answers) -> list[Finding]:
    """Find what would not be counted because it stands among the spices."""
    found = []
    for spice in answers.spices:
        name = spice.name.lower()
        if "gdl" in name.split() or "glucono" in name:
            text = f"{spice.name}: glucono delta-lactone sours without a starter and is not offered here; leave it out."
            found.append(Finding("refused", text))
            continue
        option = next((key for key, words in MEANT_ELSEWHERE.items() if any(word in name for word in words)), "")
        if option == "--cure":
            text = f"{spice.name}: it brings nitrite or nitrate, and among the spices nobody counts it; say {option}."
            found.append(Finding("refused", text))
        elif option:
            text = f"{spice.name}: among the spices it is not counted as what it is; {option} counts it."
            found.append(Finding("warning", text))
    return found


def _caution(formula: Formula) -> list[Finding]:
    """Give the caution on nitrite wherever some goes in."""
    if formula.nitrite_ppm_us + formula.nitrate_ppm <= 0.0:
        return []
    return [Finding("warning", CAUTION, source="21 CFR 172.170 for the label's words (read)")]
