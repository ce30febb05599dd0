"""From the answers to the plan: the bowl, the course of the pH, the order of the day, and all that is to be said."""

from msgspec import Struct

from controller.core.plan import Profile, Stage
from controller.core.sheet import USUAL_CRITERIA, Criterion, Planned, Sheet
from controller.food.bowl.composition import composition_of
from controller.food.bowl.formulation import Formula
from controller.food.germs.trichinae import needs_option
from controller.planning.answers import Answers, Finding
from controller.planning.hours import day
from controller.planning.hours.course import Course, Load, course_of, culture_aw
from controller.planning.hours.starter import judge_starter, living_share
from controller.planning.hours.steps import steps_of
from controller.planning.hours.temperature import Allowed, allowed_hours, judge_temperature
from controller.planning.hours.warming import warm_up_s
from controller.planning.places import judge_places
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.units import Units, show_temp


class Plan(Struct, frozen=True, kw_only=True):
    """Hold a plan with all that the page shows of it; `sheet` is what goes into the batch.

    Attributes:
        sheet: the record.
        profile: as this chamber can do it.
        chamber: its name, with the zone of its clock.
        made_wall_s: when it was made.
        times: the instants of the day.
        course: how the pH may fall; None where nobody can say.
        allowed: hours to 5.3 by the rules that bind; None where no temperature is wanted.
        warm_up_s: how long the chamber takes to get warm; None where it is not to be warmed.
        awake_share: how much of the expected hours is in waking hours (0..1).
        findings: all that was found, the refusals among it.
    """

    sheet: Sheet
    profile: Profile
    chamber: str
    timezone: str
    units: Units
    made_wall_s: float
    times: day.Times
    course: Course | None
    allowed: Allowed | None
    warm_up_s: float | None
    awake_share: float
    findings: tuple[Finding, ...]

    @property
    def refused(self) -> tuple[Finding, ...]:
        """Return why there is no plan so."""
        return tuple(finding for finding in self.findings if finding.weight == "refused")

    @property
    def words(self) -> tuple[Finding, ...]:
        """Return what the maker still has to type out in full."""
        return tuple(
            finding
            for finding in self.findings
            if finding.weight == "word" and not is_accepted(finding, self.sheet.accepted)
        )

    @property
    def window_wall_s(self) -> tuple[float, float, float] | None:
        """Return when the pH may reach its aim: fast, expected, slow."""
        if self.course is None:
            return None
        fast, expected, slow = (self.times.hung_s + hours * day.HOUR_S for hours in self.course.window_h)
        return fast, expected, slow


def is_accepted(finding: Finding, accepted: tuple[str, ...]) -> bool:
    """Say whether these words have been typed out in full; capitals and blanks do not count."""
    return _plain(finding.asks) in {_plain(words) for words in accepted}


def _plain(words: str) -> str:
    return " ".join(words.lower().split()).strip(".")


def make_plan(
    answers: Answers, profile: Profile, chamber: ChamberFile, formula: Formula, bowl: tuple[Finding, ...]
) -> Plan:
    """Work out the plan. Nothing is refused here: what speaks against it stands in `findings`.

    Args:
        answers: what the maker said.
        profile: as this chamber can do it, with a ferment.
        chamber: its file: model figures, rule that binds, error of the thermometer.
        formula: what goes into the bowl.
        bowl: what was found of the bowl.
    """
    ferment = ferment_of(profile)
    deciding = plan_of(chamber)
    here = ferment.where == "chamber"
    wanted_c = ferment.air_temp_c
    course = None if wanted_c is None else course_for(answers, profile, chamber, formula, ferment)
    allowed = None if wanted_c is None else allowed_hours(deciding, wanted_c)
    warm_s = warm_up_s(chamber, answers.room_c, wanted_c) if here and wanted_c is not None else None
    found = [*bowl, *judge_starter(answers, profile, deciding, ferment, grams_of(formula, "starter"), course)]
    found += judge_temperature(deciding, ferment, answers.units)
    if here and wanted_c is not None and warm_s is None:
        found.append(never_warm(chamber, answers.room_c, wanted_c))
    work = day.Clockwork(
        meat_kg=formula.meat_kg,
        warm_s=warm_s,
        window_h=None if course is None else course.window_h,
        awake=answers.awake,
        zone=day.zone_of(answers),
    )
    choice = day.choose(answers, work)
    found += choice.findings
    found += _in_time(answers, choice.times, ferment, course, allowed)
    found += _sugar(course, ferment)
    found += judge_mould(answers, profile)
    found += judge_places(answers, profile)
    latest = None if allowed is None else day.latest_wall_s(choice.times, allowed.least_h)
    steps = steps_of(answers, profile, formula, choice.times, course, latest)
    return Plan(
        sheet=_sheet(answers, profile, formula, steps, latest, found),
        profile=profile,
        chamber=chamber.name,
        timezone=answers.timezone,
        units=answers.units,
        made_wall_s=answers.now_wall_s,
        times=choice.times,
        course=course,
        allowed=allowed,
        warm_up_s=warm_s,
        awake_share=choice.awake_share,
        findings=tuple(found),
    )


def ferment_of(profile: Profile) -> Stage:
    """Return the stage that ferments. Raises ValueError for a profile without one: there is no bowl to plan."""
    for stage in profile.stages:
        if stage.kind == "ferment":
            return stage
    message = f"{profile.name}: has no ferment, so nothing is mixed and there is nothing to plan"
    raise ValueError(message)


def grams_of(formula: Formula, name: str) -> float:
    """Return the grams of one line of the bowl, 0 where it is not in it."""
    return sum(line.grams for line in formula.ingredients if line.name == name)


def course_for(
    answers: Answers, profile: Profile, chamber: ChamberFile, formula: Formula, ferment: Stage
) -> Course | None:
    """Return how the pH may fall in this batch; None where nobody can say."""
    if ferment.air_temp_c is None or ferment.until.ph_at_most is None or answers.starter is None:
        return None
    per_kg = profile.per_kg
    mix, _ = composition_of(formula, per_kg.salt_pct + per_kg.cure_pct, per_kg.dextrose_pct, soured=True)
    lamp_w = sum(entry.w or 0.0 for entry in chamber.output if entry.role == "heater")
    load = Load(
        meat_kg=formula.meat_kg,
        diameter_mm=answers.diameter_mm,
        meat_c=answers.meat_c,
        wanted_c=ferment.air_temp_c,
        dextrose_pct=grams_of(formula, "dextrose") / (10.0 * formula.mix_kg),
        culture_aw=culture_aw(mix),
        cells=living_share(answers),
        lamp_w=lamp_w if ferment.where == "chamber" else None,
        ua_w_per_k=chamber.model.ua_w_per_k,
        room_c=answers.room_c,
    )
    return course_of(profile, load, ferment.until.ph_at_most, chamber.ph_meter_error)


def never_warm(chamber: ChamberFile, room_c: float, wanted_c: float) -> Finding:
    """Return the refusal of a room in which the chamber does not get warm."""
    return Finding(
        "refused",
        f"{chamber.name} does not get to {show_temp(wanted_c, chamber.units)} within 12 h in a room of "
        f"{show_temp(room_c, chamber.units)}, by its model figures. A warmer room, more insulation, a "
        "stronger lamp, or another profile.",
    )


def _sugar(course: Course | None, ferment: Stage) -> list[Finding]:
    """Say that the pH may stand still before its aim, where that is not so in the expected case."""
    if course is None or course.slow.to_aim is not None or course.expected.to_aim is None:
        return []
    text = (
        f"In meat that buffers strongly the pH may stop near {course.slow.end_ph:.2f}, above the {course.meter_ph:.2f} "
        f"that {ferment.name} needs on the meter. End it then by `hangroom next --because` once it is flat, or take "
        "more dextrose."
    )
    return [Finding("warning", text, source="food.acid, a calibrated model: a range, no promise")]


def _in_time(
    answers: Answers, times: day.Times, ferment: Stage, course: Course | None, allowed: Allowed | None
) -> list[Finding]:
    """Say where no pH is due in waking hours after the slow case of 5.3 and before the latest hour for it."""
    if course is None or course.slow.to_5_3 is None or allowed is None or not allowed.protects:
        return []
    late_h = allowed.least_h
    due = [hours for hours in ferment.ph_due_h if course.slow.to_5_3 <= hours <= late_h]
    zone = day.zone_of(answers)
    if any(day.is_awake(times.hung_s + hours * day.HOUR_S, answers.awake, zone) for hours in due):
        return []
    clock = day.clock_of(zone)
    from_s, to_s = (times.hung_s + hours * day.HOUR_S for hours in (course.slow.to_5_3, late_h))
    text = (
        f"Between {clock(from_s)}, when a slow pH reaches 5.3, and the latest hour, {clock(to_s)}, no pH is due "
        "in your waking hours. Set an alarm clock and measure then: only a reading ends the counting."
    )
    return [Finding("warning", text)]


def judge_mould(answers: Answers, profile: Profile) -> list[Finding]:
    """Refuse white mould where there is smoke."""
    smoked = any(stage.kind == "smoke" for stage in profile.stages)
    if not (answers.mould and (smoked or answers.smokes)):
        return []
    remedy = f"leave out --mould, for {profile.name} smokes" if smoked else "leave out --mould or --smokes"
    return [Finding("refused", f"White mould and smoke: smoke keeps mould from growing; {remedy}.")]


def criteria_of(answers: Answers, profile: Profile) -> tuple[Criterion, ...]:
    """Return what is to be met before release: what was said, else what the profile's stages are there for."""
    if answers.criteria:
        return answers.criteria
    kinds = {stage.kind for stage in profile.stages}
    speaks = {
        "lethality": "cook" in kinds or answers.kill_step,
        "chill": "chill" in kinds,
        "weight-loss": any(stage.until.weight_loss_pct is not None for stage in profile.stages),
        "trichinae": answers.trichinae or needs_option([meat.species for meat in answers.meats]),
    }
    usual = USUAL_CRITERIA[profile.style]
    also: tuple[Criterion, ...] = ("lethality",) if answers.kill_step and "lethality" not in usual else ()
    return tuple(criterion for criterion in (*usual, *also) if speaks.get(criterion, True))


def _sheet(
    answers: Answers,
    profile: Profile,
    formula: Formula,
    steps: tuple[Planned, ...],
    latest: float | None,
    found: list[Finding],
) -> Sheet:
    return Sheet(
        formula=formula,
        authority=answers.authority,
        casing=answers.casing,
        diameter_mm=answers.diameter_mm,
        starter=answers.starter,
        criteria=criteria_of(answers, profile),
        trichinae=answers.trichinae,
        kill_step=answers.kill_step,
        mould=answers.mould or profile.mould,
        smokes=answers.smokes,
        dries=answers.dries,
        awake=answers.awake,
        steps=steps,
        latest_5_3_wall_s=latest,
        warnings=tuple(finding.text for finding in found if finding.weight != "refused"),
        accepted=tuple(
            finding.asks for finding in found if finding.weight == "word" and is_accepted(finding, answers.accepted)
        ),
    )
