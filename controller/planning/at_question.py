"""What can be judged as soon as an answer is given, so that nobody answers twenty questions for a plan that is none."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from msgspec.structs import replace

from controller.core.plan import Profile, Stage
from controller.core.sheet import StarterChoice
from controller.errors import HangroomError, UsageError
from controller.food.bowl.cure import Strength
from controller.planning import typed
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.cure import judge_nitrate, judge_strength
from controller.planning.bowl.formula import formula_of
from controller.planning.bowl.kill_step import cook_of, fitting
from controller.planning.bowl.meat import WITH_COLI, judge_meats
from controller.planning.hours.starter import judge_packet, judge_range
from controller.planning.hours.warming import warm_up_s
from controller.planning.interview import answers_of
from controller.planning.sheet import ferment_of, judge_mould, never_warm
from controller.settings.chamber_file import ChamberFile


def before_the_first(profile: Profile, chamber: ChamberFile, *, mould: bool) -> tuple[Finding, ...]:
    """Return why this chamber or profile cannot do it, whatever is answered: not even in its warmest room."""
    ferment = ferment_of(profile)
    warmest_c = max(chamber.room_temp_c)
    smokes = any(stage.kind == "smoke" for stage in profile.stages)
    refused = []
    if _cold(ferment, chamber, warmest_c):
        refused.append(never_warm(chamber, warmest_c, ferment.air_temp_c or 0.0))
    if smokes and mould:
        text = f"White mould and smoke: smoke keeps mould from growing; leave out --mould, for {profile.name} smokes."
        refused.append(Finding("refused", text))
    return tuple(refused)


def _cold(ferment: Stage, chamber: ChamberFile, room_c: float) -> bool:
    wanted_c = ferment.air_temp_c
    return ferment.where == "chamber" and wanted_c is not None and warm_up_s(chamber, room_c, wanted_c) is None


def judge_answer(
    key: str, given: Mapping[str, Any], profile: Profile, chamber: ChamberFile, now_wall_s: float
) -> tuple[Finding, ...]:
    """Return why this answer makes no plan; empty where nothing can be said yet.

    Args:
        key: of the question that was just answered.
        given: what is known by now, this answer among it.
        profile: as this chamber can do it.
        chamber: its file.
        now_wall_s: what time it is.
    """
    ferment = ferment_of(profile)
    found: list[Finding] = []
    if key in {"meats", "casing"}:
        found = _no_way_out(given, profile)
    elif key == "cure":
        found = judge_nitrate(given["cure"], profile, holds_nitrate=False)
    elif key == "strength":
        found = _strength(given, profile)
    elif key == "room_c" and _cold(ferment, chamber, given["room_c"]):
        found = [never_warm(chamber, given["room_c"], ferment.air_temp_c or 0.0)]
    elif key in {"starter_range", "starter_left", "starter_opened", "starter_expires"}:
        found = _starter(key, given, ferment, chamber, now_wall_s)
    elif key == "stuffing" and given["stuffing"] != "auto":
        found = _stuffing(given["stuffing"], chamber, now_wall_s)
    elif key in {"trichinae", "kill_step", "smokes"}:
        answers = answers_of(given, profile, chamber, now_wall_s)
        found = judge_mould(answers, profile) if key == "smokes" else _meats(key, answers, profile)
    return tuple(finding for finding in found if finding.weight == "refused")


def _no_way_out(given: Mapping[str, Any], profile: Profile) -> list[Finding]:
    """Refuse what carries E. coli in a casing and profile that no listed process fits."""
    diameter_mm = given["casing"][1] if "casing" in given else typed.THINNEST_MM
    names = [meat.name for meat in given["meats"] if meat.species in WITH_COLI]
    if not names or profile.kill_step or cook_of(profile) is not None or fitting(diameter_mm, profile):
        return []
    text = (
        f"{', '.join(names)}: needs a process against E. coli O157:H7, and no listed one fits {profile.name} in "
        f"{diameter_mm:.0f} mm. Take a profile that cooks, or another meat."
    )
    return [Finding("refused", text)]


def _strength(given: Mapping[str, Any], profile: Profile) -> list[Finding]:
    strength: Strength = given["strength"]
    kind = given.get("cure", profile.cure)
    found = judge_strength(kind, strength, 0.0)  # The amount stands in no refusal.
    return found + judge_nitrate(kind, profile, holds_nitrate=strength.nitrate_pct > 0.0)


def _stuffing(text: str, chamber: ChamberFile, now_wall_s: float) -> list[Finding]:
    try:
        typed.coming_s(text, typed.zone(chamber.timezone), now_wall_s)
    except UsageError as error:
        return [Finding("refused", str(error))]
    return []


def _starter(
    key: str, given: Mapping[str, Any], ferment: Stage, chamber: ChamberFile, now_wall_s: float
) -> list[Finding]:
    starter = StarterChoice(
        name=given["starter"],
        dose_g_per_kg=given["starter_dose"],
        temp_c=given.get("starter_range", (0.0, 100.0)),
        grams_left=given.get("starter_left"),
        opened_on=given.get("starter_opened") or "",
    )
    if key == "starter_range":
        return judge_range(starter, ferment, chamber.units)
    on = dt.datetime.fromtimestamp(now_wall_s, typed.zone(chamber.timezone)).date()
    needed_g = starter.dose_g_per_kg * sum(meat.kg for meat in given["meats"])
    return judge_packet(starter, given.get("starter_expires") or "", on, needed_g)


def _meats(key: str, answers: Answers, profile: Profile) -> list[Finding]:
    """Return the refusals of the meats that hang on this answer: not those that another answer would leave as well."""
    try:
        formula = formula_of(answers, profile)
    except HangroomError:
        return []  # What is wrong with the bowl is told with the bowl.
    found = judge_meats(answers, formula, profile)
    others = replace(answers, trichinae="certified") if key == "trichinae" else answers
    beside = {finding.text for finding in judge_meats(others, formula, profile)} if key == "trichinae" else set()
    return [finding for finding in found if finding.text not in beside]
