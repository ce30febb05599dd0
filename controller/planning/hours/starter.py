"""Whether this starter can do this ferment: its temperature range, its speed, its packet."""

import datetime as dt
from typing import Final

from controller.core.plan import Chamber, Profile, Stage
from controller.core.sheet import StarterChoice
from controller.food.degree_hours import OVERSHOOT_K, TARGET_PH
from controller.planning.answers import Answers, Finding
from controller.planning.hours.course import OLD_PACKET, Course
from controller.planning.hours.temperature import allowed_hours
from controller.settings.units import Units, show_temp

OPEN_LONG_DAYS: Final = 180
OPEN_TOO_LONG_DAYS: Final = 540
"""A freeze-dried starter that was opened and went back into the freezer, without air: good for months. Common
practice, no source; the label has the last word."""
NEAR_OWN_END_K: Final = OVERSHOOT_K


def living_share(answers: Answers) -> float:
    """Return what is taken to live of the packet: a third where it was opened long ago."""
    days = _open_days(answers.starter, answers.on)
    return OLD_PACKET if days is not None and days > OPEN_LONG_DAYS else 1.0


def judge_starter(
    answers: Answers, profile: Profile, chamber: Chamber, ferment: Stage, needed_g: float, course: Course | None
) -> tuple[Finding, ...]:
    """Return what is to be said of the starter; the first refusal is reason enough to take another."""
    starter = answers.starter
    if profile.starter == "none":
        return ()
    if starter is None:
        return (Finding("refused", f"{profile.name} ferments with a starter; which one? Say --starter NAME."),)
    found = [
        *judge_range(starter, ferment, answers.units),
        *judge_packet(starter, answers.starter_expires, answers.on, needed_g),
    ]
    if not any(finding.weight == "refused" for finding in found) and course is not None:
        found += _speed(starter, chamber, ferment, course, answers.units)
    return tuple(found)


def judge_range(starter: StarterChoice, ferment: Stage, units: Units) -> list[Finding]:
    """Judge the temperature of the ferment by the range that the label gives."""
    low_c, high_c = starter.temp_c
    wanted_c = ferment.air_temp_c
    if wanted_c is None:
        return []
    wanted = show_temp(wanted_c, units)
    if not low_c <= wanted_c <= high_c:
        reason = (
            "it would hardly work, and something else would grow first"
            if wanted_c < low_c
            else "it is killed or stands still"
        )
        return [
            Finding(
                "refused",
                f"Starter {starter.name}: made for {show_temp(low_c, units)} to {show_temp(high_c, units)}, and the "
                f"ferment is wanted at {wanted}: {reason}. Take a starter for {wanted}, or another profile.",
            )
        ]
    if min(wanted_c - low_c, high_c - wanted_c) < NEAR_OWN_END_K:
        return [
            Finding(
                "warning",
                f"Starter {starter.name}: {wanted} lies at the end of its range ({show_temp(low_c, units)} to "
                f"{show_temp(high_c, units)}); it is slower there than in the middle.",
            )
        ]
    return []


def judge_packet(starter: StarterChoice, expires: str, on: dt.date, needed_g: float) -> list[Finding]:
    """Judge how much is left, the date on the packet, and how long ago it was opened."""
    found = []
    if starter.grams_left is not None and starter.grams_left < needed_g:
        found.append(
            Finding(
                "refused",
                f"Starter {starter.name}: {round(needed_g, 2):g} g are needed and {round(starter.grams_left, 1):g} g "
                "are left. Less starter is a slow ferment, which is what this starter is there to prevent; get "
                "another packet.",
            )
        )
    if expires and dt.date.fromisoformat(expires) < on:
        found.append(
            Finding(
                "refused",
                f"Starter {starter.name}: its packet says {expires}, and that is over. Nobody knows "
                "what of it still lives; take a fresh packet.",
            )
        )
    days = _open_days(starter, on)
    if days is None:
        return found
    if days < 0:
        found.append(Finding("refused", f"Starter {starter.name}: opened on {starter.opened_on}? That day is to come."))
    elif days > OPEN_TOO_LONG_DAYS:
        found.append(
            Finding(
                "refused",
                f"Starter {starter.name}: opened {days} days ago, more than {OPEN_TOO_LONG_DAYS} (common practice, "
                "no source). Nobody knows what of it still lives; open a new packet.",
            )
        )
    elif days > OPEN_LONG_DAYS:
        found.append(
            Finding(
                "warning",
                f"Starter {starter.name}: opened {days} days ago, more than {OPEN_LONG_DAYS} (common practice, no "
                f"source). This plan reckons with a third of its cells; measure early, or open a new packet.",
            )
        )
    return found


def _speed(starter: StarterChoice, chamber: Chamber, ferment: Stage, course: Course, units: Units) -> list[Finding]:
    wanted_c = ferment.air_temp_c
    if wanted_c is None:
        return []
    allowed_h, needed_h = allowed_hours(chamber, wanted_c).least_h, course.slow.to_5_3
    if needed_h is None:
        return [
            Finding(
                "refused",
                f"With this dextrose the pH may stop at {course.slow.end_ph:.2f} and never be read as {TARGET_PH:g} "
                "with the meter's error (model: meat that buffers strongly). Take more dextrose: "
                "--dextrose-pct, or --aim-ph.",
            )
        ]
    if needed_h > allowed_h:
        return [
            Finding(
                "refused",
                f"Starter {starter.name} at {show_temp(wanted_c, units)}: pH {TARGET_PH:g} may take {needed_h:.1f} h "
                f"(model, slow case), and degree-hours allow {allowed_h:.1f} h, the thermometer's "
                f"{chamber.air_error_k:g} K counted in. Take a faster or fresher starter, less meat at once, or "
                "another temperature.",
                source="models of food.acid; limits of food.degree_hours",
            )
        ]
    return []


def _open_days(starter: StarterChoice | None, on: dt.date) -> int | None:
    if starter is None or not starter.opened_on:
        return None
    return (on - dt.date.fromisoformat(starter.opened_on)).days
