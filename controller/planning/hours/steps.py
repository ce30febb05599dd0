"""The steps of the day and of the ferment in plain words, each with its instant."""

import datetime as dt
from math import ceil, pi
from typing import Final

from controller.core.plan import Profile, Stage
from controller.core.sheet import Planned
from controller.food.bowl.formulation import Formula
from controller.planning.answers import Answers
from controller.planning.hours.course import Course
from controller.planning.hours.day import MIN_S, Times, due_wall_s, is_awake, zone_of
from controller.settings.units import Units, show_temp

COLD_C: Final = 4.0
"""Below this meat and fat stay apart while they are ground and mixed; common practice, no source."""
READINGS_PER_PORTION: Final = 2
SPARE: Final = 1
"""A test portion gives a reading from each of its ends, then it is used up; one more is hung for the doubtful case.
Common practice, no source."""
PORTION_KG_M3: Final = 1050.0


def portions_of(due: int, diameter_mm: float) -> tuple[int, float]:
    """Return how many test portions are to be hung, and the grams of each: as thick as the sausage, and as long."""
    metres = diameter_mm / 1000.0
    return ceil(due / READINGS_PER_PORTION) + SPARE, round(pi / 4.0 * metres**3 * PORTION_KG_M3 * 1000.0, -1)


def plain_temp(temp_c: float, units: Units) -> str:
    """Return a temperature as it is spoken: 36 °C, 96.8 °F."""
    return show_temp(temp_c, units).replace(".0 ", " ")


def steps_of(
    answers: Answers,
    profile: Profile,
    formula: Formula,
    times: Times,
    course: Course | None,
    latest_s: float | None,
) -> tuple[Planned, ...]:
    """Return all steps in the order of their instants, from the cleaning to the last pH that is due."""
    ferment = next(stage for stage in profile.stages if stage.kind == "ferment")
    due = due_wall_s(times, ferment, None if course is None else course.window_h)
    steps = [
        *_before(answers, profile, ferment, times),
        *_bowl(answers, formula, times),
        *_after(answers, formula, times, len(due)),
        *_readings(answers, due),
    ]
    if latest_s is not None:
        steps.append(
            Planned(
                wall_s=latest_s, what="LATEST HOUR FOR pH 5.3. Over it: do not taste, hold the batch, ask a laboratory"
            )
        )
    return tuple(sorted(steps, key=lambda step: step.wall_s))


def _before(answers: Answers, profile: Profile, ferment: Stage, times: Times) -> list[Planned]:
    steps = [
        Planned(
            wall_s=times.clean_s,
            what="Clean box, mister, probe; check the pH meter in two buffers. "
            'hangroom note --topic cleaning "box, mister, probe"',
        )
    ]
    if times.warm_s is not None and ferment.air_temp_c is not None:
        kept = f" --plan {answers.kept}" if answers.kept else " --plan FILE (plan with --keep FILE)"
        steps.append(
            Planned(
                wall_s=times.warm_s,
                what=f"Bring the empty chamber to {plain_temp(ferment.air_temp_c, answers.units)}: "
                f"hangroom start {profile.name}{kept}",
            )
        )
    meats = "; ".join(f"{meat.name}: {meat.treated}" for meat in answers.meats if meat.treated)
    chosen = [f"trichinae option {answers.trichinae}"] if answers.trichinae else []
    chosen += [f"kill step {answers.kill_step}"] if answers.kill_step else []
    if chosen or meats:
        text = "Before the grinder, see that this can be kept: " + ", ".join([*chosen, *([meats] if meats else [])])
        steps.append(Planned(wall_s=times.weigh_s, what=text))
    return steps


def _bowl(answers: Answers, formula: Formula, times: Times) -> list[Planned]:
    cold = plain_temp(COLD_C, answers.units)
    water = sum(line.grams for line in formula.ingredients if line.name == "water")
    dose = sum(line.grams for line in formula.ingredients if line.name == "starter")
    steps = [
        Planned(
            wall_s=times.weigh_s, what=f"Weigh out the bowl, the cure twice ({_min(times.grind_s - times.weigh_s)})"
        ),
        Planned(wall_s=times.grind_s, what=f"Grind, nearly frozen ({_min(times.mix_s - times.grind_s)})"),
        Planned(
            wall_s=times.mix_s,
            what=f"Mix cold, below {cold}: cure and salt, spices, dextrose ({_min(times.starter_s - times.mix_s)})",
        ),
        Planned(wall_s=times.stuff_s, what=f"Stuff at once ({_min(times.stuffed_s - times.stuff_s)})"),
    ]
    if answers.starter is not None:
        steps += [
            Planned(
                wall_s=times.soak_s,
                what=f"Starter out of the freezer, {dose:g} g into {water:g} g of clean water without chlorine, to be "
                "used in 30 min",
            ),
            Planned(
                wall_s=times.starter_s,
                what=f"Chamber warm? Starter in, last ({_min(times.stuff_s - times.starter_s)}); no stop from here",
            ),
        ]
    return steps


def _after(answers: Answers, formula: Formula, times: Times, due: int) -> list[Planned]:
    number, grams = portions_of(due, answers.diameter_mm)
    mould = " Dip in the white mould's water first." if answers.mould else ""
    steps = [
        Planned(
            wall_s=times.stuffed_s,
            what=f"All stuffed, {number} wrapped test portions as thick ({grams:g} g each) too: weigh, mark and hang "
            f"all, portions among the pieces ({_min(times.hung_s - times.stuffed_s)}).{mould}",
        ),
        Planned(wall_s=times.hung_s, what="All hung: hangroom hang A=... B=..."),
    ]
    starter = answers.starter
    if starter is not None:
        used = sum(line.grams for line in formula.ingredients if line.name == "starter")
        left = "the rest" if starter.grams_left is None else f"{round(starter.grams_left - used, 1):g} g left"
        steps.append(
            Planned(
                wall_s=times.hung_s,
                what=f"Starter: {left}; press the air out, seal, freeze. "
                f'hangroom note --topic starter "{starter.name}, {left}, frozen {_day(answers, times)}"',
            )
        )
    return steps


def _day(answers: Answers, times: Times) -> str:
    """Return the day of the stuffing, as it stands on a packet."""
    return f"{dt.datetime.fromtimestamp(times.hung_s, zone_of(answers)):%Y-%m-%d}"


def _readings(answers: Answers, due: tuple[float, ...]) -> list[Planned]:
    zone = zone_of(answers)
    return [
        Planned(
            wall_s=wall_s,
            what=("First pH" if number == 1 else f"pH {number}")
            + (" of a test portion" if number < len(due) else " at the latest of a real sausage, from its middle")
            + ("" if is_awake(wall_s, answers.awake, zone) else " (you sleep)"),
        )
        for number, wall_s in enumerate(due, start=1)
    ]


def _min(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / MIN_S), 60)
    return f"{hours} h {minutes:02d}" if hours else f"{minutes} min"
