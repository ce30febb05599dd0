"""Whether what was chosen against trichinae, or done to the meat before, is an option for this sausage."""

import re
from typing import Final

from controller.core.plan import Profile, Stage
from controller.food.bowl.formulation import Formula, Meat
from controller.food.germs import trichinae_tables as printed
from controller.food.germs.kill_steps import Hold
from controller.food.germs.measured import celsius, fahrenheit, time_words
from controller.food.germs.trichinae import (
    AFTER_ROUNDING,
    FROST_PROOF,
    GAME,
    METHODS,
    OPTIONS,
    Option,
    days_of_method,
    drying_days_6,
    offers,
    option_of,
    salt_pct_6,
)
from controller.food.germs.trichinae_record import Recorded, frozen_as_written, judge
from controller.food.germs.trichinae_tables import Method, Need
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.kill_step import cook_of, missing_hold, stage_hours
from controller.planning.bowl.text import figure

FROST: Final = ("frozen", "freez", "frost")
FOUND_FREE: Final = re.compile(
    r"\bcertified\b|\btested\b|\bfree of tric|tric\w+[- ]free\b|\bcontrolled\b|\bnone found\b"
)
NOT_SO: Final = re.compile(r"\b(not|never|no|non|un\w*|without)\b[ -]*(yet )?(certified|tested|controlled|frozen)")
AS_WRITTEN: Final = "frozen 20 days at -15C, 10 cm thick"
HOW_THICK: Final = re.compile(r"\d\s*(mm|cm|in)")
AT_CENTRE: Final = re.compile(r"\b(cent(re|er)|core)\b")


def is_frozen(meat: Meat) -> bool:
    """Say whether the maker wrote of frost."""
    return any(word in meat.treated.lower() for word in FROST)


def is_found_free(meat: Meat) -> bool:
    """Say whether the maker wrote that the meat was found free of them, or comes from a controlled herd."""
    said = meat.treated.lower()
    return FOUND_FREE.search(said) is not None and NOT_SO.search(said) is None


def treated_as(meat: Meat) -> Option | None:
    """Return the option that the words on a meat come to; None where they are no treatment, or too little of one.

    Frost is judged by the table for pieces of so many inches; by that for the centre only where the words speak of it.
    """
    if is_found_free(meat):
        return option_of("certified")
    at_centre = AT_CENTRE.search(meat.treated.lower()) is not None
    for option in OPTIONS:
        if option.kind == "freeze" and (at_centre or option.thickest_mm is not None) and _is_frozen_as(option, meat):
            return option
    return None


def _is_frozen_as(option: Option, meat: Meat) -> bool:
    """Say whether the words on a meat meet an option of freezing, judged as the release sheet will judge it."""
    said = judge(option, Recorded(species=frozenset({meat.species}), treated=meat.treated))
    return is_frozen(meat) and NOT_SO.search(meat.treated.lower()) is None and said[-1].verdict == "met"


def thickness_unsaid(meats: list[Meat]) -> list[Finding]:
    """Warn where frost was long and cold enough, but nobody wrote how thick the pieces were: the sheet asks for it."""
    found = []
    for meat in meats:
        option = treated_as(meat)
        if option is None or option.thickest_mm is None or HOW_THICK.search(meat.treated.lower()):
            continue
        text = (
            f'{meat.name}: "{meat.treated}" holds for pieces up to {option.thickest_mm:.0f} mm thick, and the release '
            f'sheet calls it not measured where nobody wrote how thick they were, as "{AS_WRITTEN}".'
        )
        found.append(Finding("warning", text, source=option.source))
    return found


def words_on(meat: Meat) -> str:
    """Return what is wrong with the words on a meat, as the reason of a refusal."""
    if is_frozen(meat):
        rows = "; ".join(f"{celsius(temp_f):.0f} °C {first:.0f} days" for temp_f, first, _ in printed.FREEZING_1)
        return f'"{meat.treated}" is no listed freezing; up to 6 in thick: {rows}, written as "{AS_WRITTEN}"'
    return f'"{meat.treated}" is no treatment'


def judge_option(answers: Answers, formula: Formula, profile: Profile, meats: list[Meat]) -> list[Finding]:
    """Refuse a chosen option that this meat, casing, salt or profile does not fit, with those that would."""
    if not answers.trichinae:
        return []
    option = option_of(answers.trichinae)
    wrong = misfits(option, answers, formula, profile, meats)
    if not wrong:
        return _by_the_clock(option, answers, formula)
    text = f"{option.id} does not fit: {'; '.join(wrong)}. {_better(answers, formula, profile, meats)}"
    return [Finding("refused", text, source=option.source)]


def misfits(option: Option, answers: Answers, formula: Formula, profile: Profile, meats: list[Meat]) -> list[str]:
    """Say in words why an option is none here; empty where it fits."""
    if option.kind == "cook":
        return _cook(option, profile)
    if option.kind == "freeze":
        frozen = [meat for meat in meats if is_frozen(meat) and frozen_as_written(meat.treated) is not None]
        too_little = [meat for meat in frozen if not _is_frozen_as(option, meat)]
        return [f'"{meat.treated}" is less than {option.words}' for meat in too_little]
    if option.id == "hill-2017":
        return _hill(profile, formula)
    if option.kind == "cure":
        return _method(next(method for method in METHODS if method.id == option.id), answers, formula, profile)
    return []


def _cook(option: Option, profile: Profile) -> list[str]:
    cook = cook_of(profile)
    core_c = None if cook is None else cook.until.core_temp_c
    if cook is None or core_c is None or option.temp_c is None:
        return [f"{profile.name} never cooks"]
    if fahrenheit(core_c) < fahrenheit(option.temp_c):
        return [f"{cook.name} ends at {round(core_c, 1):g} °C, it asks for {option.temp_c:.1f} °C"]
    if option.hours and fahrenheit(core_c) < printed.HEATING[-1][0] and stage_hours(cook) < option.hours:
        return [f"{cook.name} states no hold, it asks for {time_words(option.hours)} at {option.temp_c:.1f} °C"]
    return []


def _hill(profile: Profile, formula: Formula) -> list[str]:
    low, high = printed.HILL_PH
    found = [
        f"it is for an end at pH {low:g} to {high:g}, {stage.name} ends at {stage.until.ph_at_most:g}"
        for stage in profile.stages
        if stage.kind == "ferment" and stage.until.ph_at_most is not None and not low <= stage.until.ph_at_most <= high
    ]
    if formula.salt_pct < printed.HILL_SALT_PCT:
        found.append(f"it asks for {printed.HILL_SALT_PCT:g} % of salt, here are {figure(formula.salt_pct)} %")
    if all(stage.kind != "dry" for stage in profile.stages):
        found.append(f"nothing dries in {profile.name}")
    return found


def salt_on_its_basis(method: Method, formula: Formula) -> tuple[float, str]:
    """Return the salt in % of what the method reckons it of, and of what that is.

    The unstuffed sausage for all but method 6, which leaves the dry ingredients out.
    """
    salt_kg = formula.salt_pct * formula.meat_kg / 100.0
    if method.id != "method-6":
        return 100.0 * salt_kg / formula.mix_kg, "of the unstuffed sausage"
    water_kg = sum(line.grams for line in formula.ingredients if line.name == "water") / 1000.0
    return salt_pct_6(salt_kg, formula.meat_kg + water_kg), "of it without its dry ingredients"


def _needs(method: Method, answers: Answers, salt_pct: float) -> tuple[Need, ...] | None:
    """Return what the method asks of this casing; None where it does not reach so far."""
    if method.id != "method-6":
        return days_of_method(method, answers.diameter_mm)
    days = drying_days_6(answers.diameter_mm, salt_pct)
    return None if days is None else (printed.HOLD_6, Need("drying room", days * printed.DAY_H, printed.DRY_6_F))


def _method(method: Method, answers: Answers, formula: Formula, profile: Profile) -> list[str]:
    found: list[str] = []
    salt_pct, of = salt_on_its_basis(method, formula)
    if salt_pct < method.salt_pct - AFTER_ROUNDING:
        found.append(f"it asks for {figure(method.salt_pct)} % of salt, here are {figure(salt_pct)} % {of}")
    needs = _needs(method, answers, max(salt_pct, method.salt_pct))
    if needs is None:
        found.append(f"it does not reach to {round(answers.diameter_mm, 1):g} mm")
        return found
    heat = tuple(Hold(need.temp_f, need.hours) for need in needs if need.place in {"smoke", "heat"} and need.temp_f)
    missing = missing_hold(heat, tuple(stage for stage in profile.stages if stage.kind != "dry"))
    if missing is not None:
        asked = f"{missing.temp_f:g} °F ({celsius(missing.temp_f):.1f} °C)"
        found.append(f"no stage of {profile.name} has {asked} for {time_words(missing.hours)}")
    dried = [_drying(need, profile) for need in needs if need.place == "drying room"]
    return found + [words for words in dried if words]


def _drying(need: Need, profile: Profile) -> str:
    """Return why the stages that dry cannot give these days in a drying room; empty where they can."""
    warm = [stage for stage in profile.stages if stage.kind == "dry" and _is_warm(stage, need)]
    asked = f"{time_words(need.hours)} in a drying room at {need.temp_f:g} °F"
    if not warm:
        return f"no stage of {profile.name} gives {asked}"
    most = [stage.at_most_h for stage in warm]
    at_most_h = sum(hours for hours in most if hours is not None)
    return (
        "" if None in most or at_most_h >= need.hours else f"{profile.name} dries {time_words(at_most_h)}, not {asked}"
    )


def _is_warm(stage: Stage, need: Need) -> bool:
    return need.temp_f is None or stage.air_temp_c is None or fahrenheit(stage.air_temp_c) >= need.temp_f


def _by_the_clock(option: Option, answers: Answers, formula: Formula) -> list[Finding]:
    """Say what a method asks beside the weight that ends the drying."""
    method = next((method for method in METHODS if method.id == option.id), None)
    if method is None:
        return []
    needs = _needs(method, answers, salt_on_its_basis(method, formula)[0]) or ()
    asked = [
        f"{time_words(need.hours)} {need.place}" + (f" at {need.temp_f:g} °F or more" if need.temp_f else "")
        for need in needs
    ]
    text = f"{option.id} asks for {', '.join(asked)}: the weight alone ends no drying. {method.note}"
    return [Finding("warning", text.strip(), source=option.source)]


def _better(answers: Answers, formula: Formula, profile: Profile, meats: list[Meat]) -> str:
    """Name what would fit, one of each kind that is many."""
    species = {meat.species for meat in meats}
    open_to = [
        offer.option
        for offer in offers(species, answers.diameter_mm, formula.salt_pct, raw=cook_of(profile) is None)
        if not misfits(offer.option, answers, formula, profile, [])
    ]
    if not open_to:
        return f"{GAME} Take a profile that cooks." if species & FROST_PROOF else "Take a profile that cooks."
    firsts: dict[str, str] = {}
    for option in open_to:
        firsts.setdefault(option.kind if option.kind != "cure" else option.id, option.id)
    return f"What fits: {', '.join(firsts.values())}."
