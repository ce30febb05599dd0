"""What a maker says at the kitchen table, and the plan that comes of it."""

import datetime as dt
from typing import Any, Final

from msgspec.structs import replace

from controller.core.plan import Profile
from controller.core.sheet import StarterChoice
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Meat
from controller.planning.answers import Answers
from controller.planning.bowl.judge import formula_of, judge_bowl
from controller.planning.sheet import Plan, make_plan
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.helpers.shipped_chambers import shipped_chamber

NINE: Final = dt.datetime(2026, 11, 25, 9, 0, tzinfo=dt.UTC).timestamp()
"""Nine in the morning of a Wednesday."""
HOUR_S: Final = 3600.0
WARM: Final = StarterChoice(name="culture A", dose_g_per_kg=0.25, temp_c=(26.0, 43.0), grams_left=20.0)
COOL: Final = StarterChoice(name="culture B", dose_g_per_kg=0.25, temp_c=(18.0, 32.0), grams_left=20.0)
SHOULDER: Final = Meat("shoulder", "pork", 4.5, 25.0, "certified")


def chamber_named(name: str = "old-fridge") -> ChamberFile:
    return shipped_chamber(name)


def profile_named(name: str, chamber: str = "old-fridge") -> Profile:
    return adapt(read_profile(find_profile(name)), plan_of(chamber_named(chamber)))[0]


def answers_for(name: str, **changes: Any) -> Answers:  # noqa: ANN401 - any of the answers
    """Say what a maker would for this shipped profile, with what is different here."""
    raw = name == "mild"
    said = Answers(
        meats=(SHOULDER,),
        casing="natural",
        starter=COOL if raw else WARM,
        cure="2" if raw else "1",
        strength=Strength(6.25, 4.0) if raw else Strength(6.25),
        on=dt.date(2026, 11, 25),
        now_wall_s=NINE,
        awake=(7.0, 23.0),
    )
    return replace(said, **changes)


def plan_for(name: str, chamber: str = "old-fridge", profile: Profile | None = None, **changes: Any) -> Plan:  # noqa: ANN401 - any of the answers
    """Make the plan as the command does."""
    answers = answers_for(name, **changes)
    chosen = profile or profile_named(name, chamber)
    formula = formula_of(answers, chosen)
    return make_plan(answers, chosen, chamber_named(chamber), formula, judge_bowl(answers, formula, chosen))


def at(profile: Profile, temp_c: float, **changes: Any) -> Profile:  # noqa: ANN401 - any field of a stage
    """Return the profile with its ferment (and the warm-up before it) at another temperature."""
    stages = tuple(
        replace(stage, air_temp_c=temp_c, **(changes if stage.kind == "ferment" else {}))
        if stage.kind in {"warm-up", "ferment"}
        else stage
        for stage in profile.stages
    )
    return replace(profile, stages=stages)


def refusals(plan: Plan) -> str:
    return "\n".join(finding.text for finding in plan.refused)


def hour(wall_s: float) -> str:
    return f"{dt.datetime.fromtimestamp(wall_s, dt.UTC):%a %H:%M}"
