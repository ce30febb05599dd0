"""What can be said of a batch that begins without a plan: the profile's own bowl, by what stands in it."""

import datetime as dt

from controller.core.plan import Profile
from controller.core.sheet import StarterChoice
from controller.errors import HangroomError
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Meat
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.formula import PROFILE_CURE_PCT, formula_of
from controller.planning.bowl.judge import judge_bowl, judge_dextrose
from controller.planning.hours.starter import judge_starter
from controller.planning.meats import UNNAMED, USUAL_FAT_OF
from controller.planning.sheet import course_for, grams_of, judge_mould
from controller.planning.typed import zone
from controller.settings.chamber_file import ChamberFile, plan_of

NITRATE_PCT = 4.0
"""In a cure no. 2, as it is usual; the profile's `cure_pct` is meant for that. Common practice, no source."""


def judge_unplanned(
    profile: Profile, chamber: ChamberFile, *, meat_kg: float, diameter_mm: float, now_wall_s: float
) -> tuple[Finding, ...]:
    """Return for what a plan of this profile's own recipe would be refused: dextrose, starter, cure.

    What nobody was asked is left out: the meat's trichinae, the packet of the starter, the strength of the cure (the
    one that the profile's figure is meant for is taken).

    Args:
        profile: as this chamber can do it.
        chamber: its file.
        meat_kg: how much meat.
        diameter_mm: of the casing.
        now_wall_s: what time it is.
    """
    ferment = next((stage for stage in profile.stages if stage.kind == "ferment"), None)
    if ferment is None:
        return ()
    room_c = sum(chamber.room_temp_c) / 2.0
    answers = Answers(
        meats=(Meat(UNNAMED, "pork", meat_kg, USUAL_FAT_OF["pork"], "certified", fat_assumed=True),),
        diameter_mm=diameter_mm,
        starter=_starter(profile),
        cure=profile.cure,
        strength=_strength(profile),
        mould=profile.mould,
        kill_step=profile.kill_step,
        on=dt.datetime.fromtimestamp(now_wall_s, zone(chamber.timezone)).date(),
        timezone=chamber.timezone,
        units=chamber.units,
        now_wall_s=now_wall_s,
        room_c=room_c,
    )
    try:
        formula = formula_of(answers, profile)
    except HangroomError as error:
        return (Finding("refused", str(error)),)
    # What a profile's cure "other" holds stands nowhere, so nobody can tell whether it is too much or too little.
    judge = judge_dextrose if profile.cure == "other" else judge_bowl
    bowl = judge(answers, formula, profile)
    course = course_for(answers, profile, chamber, formula, ferment)
    starter = judge_starter(answers, profile, plan_of(chamber), ferment, grams_of(formula, "starter"), course)
    return tuple(
        finding for finding in (*bowl, *starter, *judge_mould(answers, profile)) if finding.weight == "refused"
    )


def _starter(profile: Profile) -> StarterChoice | None:
    if profile.starter == "none":
        return None
    return StarterChoice(
        name=profile.starter, dose_g_per_kg=profile.per_kg.starter_g_per_kg, temp_c=profile.starter_temp_c
    )


def _strength(profile: Profile) -> Strength:
    return Strength(PROFILE_CURE_PCT, NITRATE_PCT if profile.cure == "2" else 0.0)
