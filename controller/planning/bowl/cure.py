"""The cure of a plan: none, the wrong kind, and the slips that people make with it."""

from typing import Final

from controller.core.plan import Profile
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Formula
from controller.planning.answers import Answers, Finding
from controller.planning.bowl.limits import judge_accelerators, judge_limits
from controller.planning.bowl.text import CUSTOM, STRONG_FROM_PCT, STRONG_PCT, both_ways, figure, ppm, typed_pct

NO_CURE_WORDS: Final = "no cure goes in and I know of botulism"
BOTULISM: Final = (
    "Nitrite, salt, acid and drying act together against botulism, and leaving one out removes protection. Never "
    "bottle or vacuum-pack unfinished sausage in the warm."
)
TRADE: Final = "cures of the trade, read second-hand"
PURE_FROM_PCT: Final = 20.0
"""Between cures (6.25 %) and pure nitrite; common practice, no source."""
FRACTION_BELOW_PCT: Final = 0.1
"""No cure is so weak, and 6.25 % typed as 0.0625 is. Common practice, no source."""
FOUR_WEEKS: Final = 4.0
WEEKS_TO_DRY: Final = ((0.0, 0.0, 0.0), (40.0, 3.0, 4.0), (62.5, 5.0, 7.0), (95.0, 8.0, 12.0))
"""(diameter in mm, weeks at least, weeks at most) to lose 30 to 40 %: 35-45 mm 3-4, 60-65 mm 5-7, 90-100 mm 8-12.
Common practice, no source; straight lines between."""


def judge_cure(answers: Answers, formula: Formula, profile: Profile) -> list[Finding]:
    """Return what is to be said of nitrite, nitrate and what speeds them up."""
    if answers.cure == "none" and answers.salt_nitrite_pct <= 0.0:
        return [_none_at_all(), *judge_accelerators(answers, formula, profile)]
    accelerators = [
        finding for finding in judge_accelerators(answers, formula, profile) if not finding.text.startswith("Too much")
    ]
    return [
        *judge_strength(answers.cure, answers.strength, 10.0 * typed_pct(answers, formula)),
        *judge_limits(answers, formula, profile),
        *accelerators,
        *_kind(answers, profile, holds=formula.nitrate_ppm > 0.0),
        *_nitrite_salt(answers, formula),
    ]


def weeks_to_dry(diameter_mm: float) -> tuple[float, float]:
    """Return in how many weeks a raw sausage usually loses 30 to 40 %: (least, most). Common practice, no source."""
    above = next((index for index, point in enumerate(WEEKS_TO_DRY) if point[0] >= diameter_mm), len(WEEKS_TO_DRY) - 1)
    above = max(above, 1)
    (from_mm, from_least, from_most), (to_mm, to_least, to_most) = WEEKS_TO_DRY[above - 1], WEEKS_TO_DRY[above]
    share = (diameter_mm - from_mm) / (to_mm - from_mm)
    return from_least + share * (to_least - from_least), from_most + share * (to_most - from_most)


def _none_at_all() -> Finding:
    text = f"No nitrite and no nitrate goes in. {BOTULISM} If that is meant, type: {NO_CURE_WORDS}"
    return Finding("word", text, asks=NO_CURE_WORDS, source=CUSTOM)


def judge_strength(kind: str, strength: Strength | None, g_per_kg: float) -> list[Finding]:
    """Judge the strength as typed, against the kind; `g_per_kg` of cure only shows what either reading gives."""
    if strength is None or kind == "none":
        return []
    nitrite, nitrate = strength.nitrite_pct, strength.nitrate_pct
    found = []
    if 0.0 < nitrite < FRACTION_BELOW_PCT:
        text = (
            f"Cure: a strength of {nitrite:g} % looks like a fraction; in % it would be {figure(100.0 * nitrite)}. "
            "What does the pack say?"
        )
        found.append(Finding("refused", text, source=CUSTOM))
    if nitrite >= PURE_FROM_PCT:
        text = (
            f"Cure: {figure(nitrite)} % nitrite is nearly pure, and a gram of it too much is poison. Take a cure that "
            "is mixed with salt, as 6.25 % or 0.5 %, and compare with its pack."
        )
        found.append(Finding("refused", text, source=CUSTOM))
    if kind == "2" and nitrate <= 0.0:
        text = "Cure no. 2 holds nitrate beside nitrite, often 4 %, and none was given. What does the pack say?"
        found.append(Finding("refused", text, source=TRADE))
    if kind == "1" and nitrate > 0.0:
        text = f"Cure no. 1 holds nitrite only, and {figure(nitrate)} % nitrate was given: say no. 2, or other."
        found.append(Finding("refused", text, source=TRADE))
    if kind in {"1", "2"} and FRACTION_BELOW_PCT <= nitrite < STRONG_FROM_PCT:
        words = f"the pack says {figure(nitrite)} % nitrite"
        text = (
            f"Cure no. {kind} usually holds {STRONG_PCT:g} % nitrite, and {figure(nitrite)} % was given, as nitrite "
            f"salts have (those are --cure other). {both_ways(g_per_kg)} Read the pack "
            f"again, and if it is so, type: {words}"
        )
        found.append(Finding("word", text, asks=words, source=TRADE))
    return found


def judge_nitrate(kind: str, profile: Profile, *, holds_nitrate: bool) -> list[Finding]:
    """Refuse nitrate in what is cooked; the kind alone tells it of no. 2."""
    if profile.style != "cooked" or not (kind == "2" or holds_nitrate):
        return []
    text = (
        f"{_kind_name(kind)} in a sausage that is cooked: the heat kills the bacteria that make nitrite of nitrate, "
        "and the nitrate stays as it is. Take no. 1, nitrite only."
    )
    return [Finding("refused", text, source=CUSTOM)]


def _kind_name(kind: str) -> str:
    return "Cure no. 2" if kind == "2" else "A cure with nitrate"


def _kind(answers: Answers, profile: Profile, *, holds: bool) -> list[Finding]:
    """Judge the kind of cure by the style and by the weeks of drying."""
    holds_nitrate = answers.cure == "2" or holds
    name = _kind_name(answers.cure)
    if profile.style == "cooked":
        return judge_nitrate(answers.cure, profile, holds_nitrate=holds)
    least, most = weeks_to_dry(answers.diameter_mm)
    dries = f"a raw sausage of {answers.diameter_mm:.0f} mm dries for about {least:.0f} to {most:.0f} weeks"
    reason = "nitrite is used up in weeks, and nitrate is the reserve of which bacteria make more"
    if not holds_nitrate and most > FOUR_WEEKS:
        text = f"Cure without nitrate, and {dries}. Above four weeks no. 2 is usual: {reason}."
        return [Finding("warning", text, source=CUSTOM)]
    if holds_nitrate and most <= FOUR_WEEKS:
        text = f"{name}, and {dries}. Up to four weeks no. 1 is usual: {reason}, which takes longer."
        return [Finding("warning", text, source=CUSTOM)]
    return []


def _nitrite_salt(answers: Answers, formula: Formula) -> list[Finding]:
    """Judge a salt that holds nitrite itself."""
    held = answers.salt_nitrite_pct
    if held <= 0.0:
        return []
    if held >= STRONG_FROM_PCT:
        text = (
            f"The salt: {figure(held)} % nitrite is a cure, and as table salt, at {figure(formula.salt_pct)} % of the "
            f"meat, it poisons. {both_ways(10.0 * formula.salt_pct)} Is that what the pack of your salt says? Take "
            "plain salt, and weigh the cure as cure."
        )
        return [Finding("refused", text, source=CUSTOM)]
    if answers.cure == "none":
        return []
    strength = answers.strength
    from_cure = formula.cure_pct * (strength.nitrite_pct if strength else 0.0) * 100.0
    text = (
        f"Nitrite comes in twice: {ppm(from_cure)} ppm with the cure and "
        f"{ppm(formula.nitrite_ppm_us - from_cure)} ppm with the salt, together "
        f"{ppm(formula.nitrite_ppm_us)} ppm of the meat. One of the two is enough."
    )
    return [Finding("warning", text, source=CUSTOM)]
