"""Whether the process against E. coli that was chosen, or the cook, is what this plan carries out."""

from typing import Final

from controller.core.plan import Profile, Stage
from controller.food.germs.kill_steps import KILL_STEPS, Hold, KillStep, kill_step_of
from controller.food.germs.lethality import NOTES, ROWS, row_for
from controller.food.germs.lethality import SOURCE as LETHALITY_SOURCE
from controller.food.germs.measured import celsius, fahrenheit, time_words
from controller.planning.answers import Answers, Finding

SHORT_DWELL_S: Final = 300.0
"""So long is held on the way out of the pot; a longer hold has to stand in the stage. Common practice, no source."""
AT_ONCE_F: Final = next(row.temp_f for row in ROWS if row.for_7_s == 0.0)
NOT_FOUND_F: Final = 140.0
"""The study in `lethality.NOTES` found the printed times to hold from here on, 60 °C, and not at 54.4 °C."""
HAIR_H: Final = 1e-9


def judge_kill_step(answers: Answers, profile: Profile) -> list[Finding]:
    """Refuse a process that this casing, this ferment or these stages do not carry out; with what would fit."""
    name = answers.kill_step or profile.kill_step
    if not name:
        return []
    step = kill_step_of(name)
    wrong = misfits(step, answers.diameter_mm, profile)
    if not wrong:
        return []
    fit = fitting(answers.diameter_mm, profile)
    better = f"What fits: {', '.join(fit)}." if fit else f"No listed process fits {profile.name}: take one that cooks."
    return [Finding("refused", f"{name} does not fit: {'; '.join(wrong)}. {better}", source=step.source)]


def fitting(diameter_mm: float, profile: Profile) -> tuple[str, ...]:
    """Return the names of the processes that this casing and this profile carry out."""
    return tuple(step.id for step in KILL_STEPS if not misfits(step, diameter_mm, profile))


def misfits(step: KillStep, diameter_mm: float, profile: Profile) -> list[str]:
    """Say in words what of a process this plan does not carry out; empty where it carries out all of it."""
    found: list[str] = []
    if step.casing_mm is not None and diameter_mm > step.casing_mm[1]:
        found.append(f"it is for {step.casing_mm[1]:g} mm or less, this is {round(diameter_mm, 1):g} mm")
    ferment = next((stage for stage in profile.stages if stage.kind == "ferment"), None)
    if ferment is not None:
        found += _ferment(step, ferment)
    missing = missing_hold(step.steps, _after(profile, ferment))
    if missing is not None:
        found.append(f"no stage of {profile.name} has {_hold_words(missing)}")
    if step.mpr_max is not None and all(stage.kind != "dry" for stage in profile.stages):
        found.append(f"nothing dries to a moisture to protein ratio of {step.mpr_max:g}")
    return found


def _ferment(step: KillStep, ferment: Stage) -> list[str]:
    found = []
    temp_c, ph = ferment.air_temp_c, ferment.until.ph_at_most
    if step.ferment_f is not None and temp_c is not None and round(fahrenheit(temp_c)) < step.ferment_f:
        found.append(
            f"it ferments at {step.ferment_f:g} °F ({celsius(step.ferment_f):.1f} °C), here {round(temp_c, 1):g} °C"
        )
    if step.ph is not None and ph is not None:
        sign, limit = step.ph
        if sign == "<=" and ph > limit:
            found.append(f"it asks for pH {limit:g} or lower, {ferment.name} ends at {ph:g}")
        if sign == ">=" and ph < limit:
            found.append(f"it was shown from pH {limit:g} up, {ferment.name} goes down to {ph:g}")
    return found


def _after(profile: Profile, ferment: Stage | None) -> tuple[Stage, ...]:
    """Return the stages after the ferment; all where nothing ferments."""
    stages = profile.stages
    return stages if ferment is None else stages[stages.index(ferment) + 1 :]


def stage_hours(stage: Stage) -> float:
    """Return the hours that a stage surely lasts."""
    return max(stage.until.hours or 0.0, stage.at_least_h)


def missing_hold(holds: tuple[Hold, ...], stages: tuple[Stage, ...]) -> Hold | None:
    """Return the first hold that no stage carries out; None where all are. In their order, no hour counted twice."""
    place, used_h = 0, 0.0
    for hold in holds:
        left_h, begun = hold.hours, False
        while place < len(stages) and (left_h > HAIR_H or not begun):
            stage = stages[place]
            free_h = stage_hours(stage) - used_h
            if not _is_as_hot(stage, hold) or (hold.hours > 0.0 and free_h <= 0.0):
                place, used_h = place + 1, 0.0
                continue
            taken_h = min(free_h, left_h) if hold.hours > 0.0 else 0.0
            left_h, used_h, begun = left_h - taken_h, used_h + taken_h, True
        if left_h > HAIR_H or not begun:
            return hold
    return None


def _is_as_hot(stage: Stage, hold: Hold) -> bool:
    temp_c = stage.until.core_temp_c if hold.of == "core" else stage.air_temp_c
    return temp_c is not None and fahrenheit(temp_c) >= hold.temp_f


def _hold_words(hold: Hold) -> str:
    where = "the core at" if hold.of == "core" else "air of"
    lasts = f" for {time_words(hold.hours)}" if hold.hours else ""
    return f"{where} {hold.temp_f:g} °F ({celsius(hold.temp_f):.1f} °C){lasts}"


def cook_of(profile: Profile) -> Stage | None:
    """Return the cook that goes hottest; None where nothing is cooked to a core temperature."""
    cooks = [stage for stage in profile.stages if stage.kind == "cook" and stage.until.core_temp_c is not None]
    return max(cooks, key=lambda stage: stage.until.core_temp_c or 0.0, default=None)


def judge_cook(what: str, profile: Profile, target: float) -> list[Finding] | None:
    """Return what is to be said of a cook as the kill step, by the printed table; None where it is none.

    The stage ends with the first reading at its core temperature, so the hold that the table asks for there has to be
    "at once", or short enough to be said, or stated in the stage.

    Args:
        what: the meats, in words.
        profile: with its cook.
        target: powers of ten of Salmonella, 6.5 or 7.
    """
    cook = cook_of(profile)
    core_c = None if cook is None else cook.until.core_temp_c
    if cook is None or core_c is None:
        return None
    row = row_for(fahrenheit(core_c), target)
    if row is None:
        return None
    dwell_s = row.dwell_s(target)
    if dwell_s == 0.0:
        return []
    held = f"{dwell_s:.0f} s" if dwell_s <= SHORT_DWELL_S else f"{dwell_s / 60.0:.0f} min"
    wanted = f"the table wants {held} at {row.temp_f:g} °F for {target:g} log"
    text = f"{what}: {cook.name} ends at {core_c:.1f} °C, and {wanted}"
    at_once = f"{celsius(AT_ONCE_F):.0f} °C ({AT_ONCE_F:g} °F), where it is at once"
    if dwell_s <= SHORT_DWELL_S:
        return [Finding("warning", f"{text}: hold {held} and read again, or go to {at_once}.", source=LETHALITY_SOURCE)]
    if stage_hours(cook) * 3600.0 < dwell_s:
        hours = f"hours = {dwell_s / 3600.0:.2f}"
        text = f"{text}; a first reading proves no hold. Cook to {at_once}, or write {hours} into its until."
        return [Finding("refused", text, source=LETHALITY_SOURCE)]
    text = f"{text}: type the core as it begins and as it ends, for only readings prove it."
    if row.temp_f < NOT_FOUND_F:
        text += f" {NOTES[-1]}"
    return [Finding("warning", text, source=LETHALITY_SOURCE)]
