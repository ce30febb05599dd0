"""Where it is smoked and dried: what the maker said beside what the profile and this chamber do."""

from controller.core.plan import Profile
from controller.planning.answers import Answers, Finding

CHAMBER_WORDS = frozenset({"chamber", "here", "in the chamber", "the chamber"})
USUAL_PLACES = CHAMBER_WORDS | {"elsewhere", "yes"}
"""Places that say nothing beyond what the stage says itself."""


def judge_places(answers: Answers, profile: Profile) -> list[Finding]:
    """Warn where the maker named another place than the stages of the profile have in this chamber."""
    return [*_judge("smoke", "--smokes", answers.smokes, profile), *_judge("dry", "--dries", answers.dries, profile)]


def _judge(kind: str, option: str, said: str, profile: Profile) -> list[Finding]:
    stages = [stage for stage in profile.stages if stage.kind == kind]
    if not said or not stages:
        return []
    names = ", ".join(stage.name for stage in stages)
    in_chamber = said.lower() in CHAMBER_WORDS
    away = [stage for stage in stages if stage.where == "elsewhere"]
    if in_chamber and away:
        text = (
            f"{option} {said}: {names} of {profile.name} is not carried out by this chamber, and goes on elsewhere: "
            "it neither heats nor records it. Name the place where it will be."
        )
        return [Finding("warning", text)]
    if not in_chamber and said.lower() != "yes" and len(away) < len(stages):
        text = (
            f'{option} {said}: the file of {profile.name} has where = "chamber" for {names}, so the chamber goes on '
            "with that climate. Where the meat hangs elsewhere, write that into the profile; else nobody counts its "
            "hours."
        )
        return [Finding("warning", text)]
    return []
