"""The meats of a plan: trichinae and the kill step are chosen before the grinder, not at release."""

from typing import Final

from controller.core.plan import Profile
from controller.food.bowl.formulation import Formula, Meat
from controller.food.germs.kill_steps import WITHOUT_HEAT, WITHOUT_HEAT_SOURCE
from controller.food.germs.lethality import SOURCE as LETHALITY_SOURCE
from controller.food.germs.lethality import TARGETS, row_for
from controller.food.germs.measured import celsius, fahrenheit
from controller.food.germs.trichinae import FROST_PROOF, GAME, OPTIONS, WITH_TRICHINAE
from controller.food.germs.trichinae_tables import HEATING, HEATING_SOURCE
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.kill_step import cook_of, judge_cook, judge_kill_step
from controller.planning.bowl.trichinae import is_frozen, judge_option, thickness_unsaid, treated_as, words_on
from controller.planning.meats import with_animal

SPECIES: Final = ("pork", "beef", "game", "poultry", "lamb", "horse", "wild boar", "bear")
WITH_COLI: Final = frozenset({"beef", "lamb", "game"})
"""Ruminants carry E. coli O157:H7: beef by the sources, lamb and deer from memory."""
TRICHINAE_AT_ONCE_F: Final = next(temp_f for temp_f, minutes in HEATING if minutes == 0.0)
TESTED_WORDS: Final = "this game was tested for trichinae or can carry none"


def judge_meats(answers: Answers, formula: Formula, profile: Profile) -> list[Finding]:
    """Return what has to be chosen for these meats before they are ground, and whether what was chosen fits."""
    unknown = [meat for meat in answers.meats if meat.species not in SPECIES]
    found = [
        Finding("refused", f"{meat.name}: {meat.species or 'no species'} is not known; one of {', '.join(SPECIES)}.")
        for meat in unknown
    ]
    return [
        *found,
        *_trichinae(answers, formula, profile),
        *judge_kill_step(answers, profile),
        *_coli(answers, profile),
        *_poultry(answers, profile),
    ]


def _names(meats: list[Meat]) -> str:
    return ", ".join(with_animal(meat) for meat in meats)


def _trichinae(answers: Answers, formula: Formula, profile: Profile) -> list[Finding]:
    """Ask for the trichinae option; heat that is in the profile answers it."""
    meats = [meat for meat in answers.meats if meat.species in WITH_TRICHINAE]
    if not meats:
        return []
    chosen = judge_option(answers, formula, profile, meats)
    cook, at_once_c = cook_of(profile), celsius(TRICHINAE_AT_ONCE_F)
    if cook is not None and (cook.until.core_temp_c or 0.0) >= at_once_c:
        text = (
            f"{_names(meats)}: trichinae die in the cook, every part of it at {at_once_c:.1f} °C "
            f"({TRICHINAE_AT_ONCE_F:g} °F) or more. Until then the meat is raw: taste nothing, and clean what it "
            "touched."
        )
        source = f"{HEATING_SOURCE}, from memory; confirm with your authority"
        return [*chosen, Finding("warning", text, source=source)]
    unsaid = [] if answers.trichinae else thickness_unsaid([meat for meat in meats if meat.species == "pork"])
    open_meats = [meat for meat in meats if not answers.trichinae and _is_open(meat)]
    return [*chosen, *(_raw(meat) for meat in open_meats), *_frost(answers, meats), *unsaid]


def _is_open(meat: Meat) -> bool:
    """Say whether nothing was done to this meat; what frost is to game is asked by itself."""
    return treated_as(meat) is None and not (meat.species in FROST_PROOF and is_frozen(meat))


def _raw(meat: Meat) -> Finding:
    """Refuse a raw meat with nothing against trichinae, by the words that were typed on it."""
    said = f"{words_on(meat)}, and nothing else" if meat.treated else "raw, and nothing"
    text = (
        f"{_names([meat])}: {said} was chosen against trichinae. Choose before the grinder: meat that was found free "
        "of them, freezing or curing by a listed method (domestic pork only), or heat."
    )
    return Finding("refused", text, source=GAME if meat.species != "pork" else "")


def _frost(answers: Answers, meats: list[Meat]) -> list[Finding]:
    """Refuse frost and curing for wild meat, whose trichinae may outlive them."""
    option = next((option for option in OPTIONS if option.id == answers.trichinae), None)
    by_plan = option is not None and option.kind in {"freeze", "cure"}
    wild = [
        meat for meat in meats if meat.species in FROST_PROOF and (is_frozen(meat) or (by_plan and not meat.treated))
    ]
    if not wild:
        return []
    if all(meat.species == "game" for meat in wild):
        text = f"{_names(wild)}: {GAME} If it is meat that carries none, as tested, type: {TESTED_WORDS}"
        return [Finding("word", text, asks=TESTED_WORDS, source="MSD Veterinary Manual, read second-hand")]
    return [Finding("refused", f"{_names(wild)}: {GAME}", source="MSD Veterinary Manual, read second-hand")]


def _coli(answers: Answers, profile: Profile) -> list[Finding]:
    """Ask for the kill step of ruminants: a process, or a cook that the printed table knows."""
    meats = [meat for meat in answers.meats if meat.species in WITH_COLI]
    if not meats or answers.kill_step or profile.kill_step:
        return []
    cooked = judge_cook(_names(meats), profile, TARGETS[0])
    if cooked is not None:
        return cooked
    text = f"{_names(meats)}: {WITHOUT_HEAT}. Choose one before the grinder: --kill-step, or a profile with a cook."
    return [Finding("refused", text, source=WITHOUT_HEAT_SOURCE)]


def _column(profile: Profile) -> str:
    """Name the printed table and its figure for this cook."""
    cook = cook_of(profile)
    row = (
        None
        if cook is None or cook.until.core_temp_c is None
        else row_for(fahrenheit(cook.until.core_temp_c), TARGETS[1])
    )
    if row is None:
        return "the column for 7 of FSIS Appendix A (1999) counts."
    held = f"{row.for_7_s:g} s" if row.for_7_s else "no hold, at once"
    at = f"{celsius(row.temp_f):.1f} °C ({row.temp_f:g} °F)"
    return f"FSIS Appendix A (1999), column for 7: in the core {at}, {held}."


def _poultry(answers: Answers, profile: Profile) -> list[Finding]:
    """Ask for 7 powers of ten of Salmonella wherever there is poultry."""
    meats = [meat for meat in answers.meats if meat.species == "poultry"]
    if not meats:
        return []
    wants = f"{_names(meats)}: any poultry in it asks for 7 powers of ten of Salmonella, not 6.5"
    cooked = judge_cook(_names(meats), profile, TARGETS[1])
    if cooked is not None:
        text = f"{wants}; {_column(profile)}"
        return [*cooked, Finding("warning", text, source=LETHALITY_SOURCE)]
    if answers.kill_step or profile.kill_step:
        text = f"{wants}; the listed processes were shown for E. coli O157:H7. Confirm what yours was validated for."
        return [Finding("warning", text, source=LETHALITY_SOURCE)]
    text = f"{wants}, and nothing in this plan gives them. Choose a profile with a cook, or a process: --kill-step."
    return [Finding("refused", text, source=LETHALITY_SOURCE)]
