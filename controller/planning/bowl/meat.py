"""The meats of a plan: trichinae and the kill step are chosen before the grinder, not at release."""

from typing import Final

from controller.core.plan import Profile
from controller.food.bowl.formulation import Meat
from controller.food.germs.trichinae import GAME, OPTIONS
from controller.planning.answers import Answers, Finding

SPECIES: Final = ("pork", "beef", "game", "poultry", "lamb", "horse", "wild boar", "bear")
WITH_TRICHINAE: Final = frozenset({"pork", "wild boar", "bear", "game", "horse"})
FROST_PROOF: Final = frozenset({"wild boar", "bear", "game", "horse"})
FROST: Final = ("frozen", "freez", "frost")
WITH_COLI: Final = frozenset({"beef", "lamb", "game"})
"""Ruminants carry E. coli O157:H7: beef by the sources, lamb and deer from memory."""
COLI: Final = (
    "E. coli O157:H7 outlives ferment and drying: fermented to pH 4.8, dried to a moisture to protein ratio of 1.9 and "
    "kept 2 months at 4 °C, only about 2 powers of ten were gone. Drying alone is no kill step"
)
COLI_SOURCE: Final = "Glass et al. 1992, Appl. Environ. Microbiol. 58:2513-2516"
LETHALITY_SOURCE: Final = "FSIS Cooking Guideline (Revised Appendix A), December 2021"
COOK_FROM_C: Final = (130.0 - 32.0) / 1.8
"""130 °F: the first row of the lethality tables of that guideline."""
TRICHINAE_AT_ONCE_C: Final = (144.0 - 32.0) / 1.8
"""144 °F: pork at once, 9 CFR 318.10 as it was until 2018, from memory."""
TESTED_WORDS: Final = "this game was tested for trichinae or can carry none"


def judge_meats(answers: Answers, profile: Profile) -> list[Finding]:
    """Return what has to be chosen for these meats before they are ground.

    Only whether something was chosen is asked here; what the options are is `controller.food.germs.trichinae` and
    `controller.food.germs.kill_steps`.
    """
    cooked_to_c = _core_temp_c(profile)
    unknown = [meat for meat in answers.meats if meat.species not in SPECIES]
    found = [
        Finding("refused", f"{meat.name}: {meat.species or 'no species'} is not known; one of {', '.join(SPECIES)}.")
        for meat in unknown
    ]
    return [
        *found,
        *_trichinae(answers, cooked_to_c),
        *_coli(answers, profile, cooked_to_c),
        *_poultry(answers, profile, cooked_to_c),
    ]


def _core_temp_c(profile: Profile) -> float:
    """Return the core temperature that the profile's cook asks for; far below any where it has none."""
    asked = [stage.until.core_temp_c for stage in profile.stages if stage.kind == "cook"]
    return max((core_c for core_c in asked if core_c is not None), default=-273.15)


def _names(meats: list[Meat]) -> str:
    return ", ".join(f"{meat.name} ({meat.species})" for meat in meats)


def _trichinae(answers: Answers, cooked_to_c: float) -> list[Finding]:
    """Ask for the trichinae option; heat that is in the profile answers it."""
    meats = [meat for meat in answers.meats if meat.species in WITH_TRICHINAE]
    if not meats:
        return []
    if cooked_to_c >= TRICHINAE_AT_ONCE_C:
        text = (
            f"{_names(meats)}: trichinae die in the cook, every part of it at {TRICHINAE_AT_ONCE_C:.1f} °C (144 °F) or "
            "more. Until then the meat is raw: taste nothing, and clean what it touched."
        )
        return [Finding("warning", text, source="9 CFR 318.10 (until 2018), from memory; confirm with your authority")]
    open_meats = [meat for meat in meats if not meat.treated and not answers.trichinae]
    if open_meats:
        text = (
            f"{_names(open_meats)}: raw, and nothing was chosen against trichinae. Choose before the grinder: meat "
            "that was found free of them, freezing or curing by a listed method (domestic pork only), or heat."
        )
        return [Finding("refused", text, source=GAME if any(meat.species != "pork" for meat in open_meats) else "")]
    return _frost(answers, meats)


def _frost(answers: Answers, meats: list[Meat]) -> list[Finding]:
    """Refuse frost and curing for wild meat, whose trichinae may outlive them."""
    option = next((option for option in OPTIONS if option.id == answers.trichinae), None)
    by_plan = option is not None and option.kind in {"freeze", "cure"}
    wild = [
        meat
        for meat in meats
        if meat.species in FROST_PROOF
        and (any(word in meat.treated.lower() for word in FROST) or (by_plan and not meat.treated))
    ]
    if not wild:
        return []
    if all(meat.species == "game" for meat in wild):
        text = f"{_names(wild)}: {GAME} If it is meat that carries none, as tested, type: {TESTED_WORDS}"
        return [Finding("word", text, asks=TESTED_WORDS, source="MSD Veterinary Manual, read second-hand")]
    return [Finding("refused", f"{_names(wild)}: {GAME}", source="MSD Veterinary Manual, read second-hand")]


def _coli(answers: Answers, profile: Profile, cooked_to_c: float) -> list[Finding]:
    """Ask for the kill step of ruminants."""
    meats = [meat for meat in answers.meats if meat.species in WITH_COLI]
    if not meats or answers.kill_step or profile.kill_step or cooked_to_c >= COOK_FROM_C:
        return []
    text = f"{_names(meats)}: {COLI}. Choose one before the grinder: --kill-step, or a profile with a cook."
    return [Finding("refused", text, source=COLI_SOURCE)]


def _poultry(answers: Answers, profile: Profile, cooked_to_c: float) -> list[Finding]:
    """Ask for 7 powers of ten of Salmonella wherever there is poultry."""
    meats = [meat for meat in answers.meats if meat.species == "poultry"]
    if not meats:
        return []
    wants = f"{_names(meats)}: any poultry in it asks for 7 powers of ten of Salmonella, not 6.5"
    if cooked_to_c >= COOK_FROM_C:
        text = f"{wants}; hold the core by that column of the table."
        return [Finding("warning", text, source=LETHALITY_SOURCE)]
    if answers.kill_step or profile.kill_step:
        text = f"{wants}; the listed processes were shown for E. coli O157:H7. Confirm what yours was validated for."
        return [Finding("warning", text, source=LETHALITY_SOURCE)]
    text = f"{wants}, and nothing in this plan gives them. Choose a profile with a cook, or a process: --kill-step."
    return [Finding("refused", text, source=LETHALITY_SOURCE)]
