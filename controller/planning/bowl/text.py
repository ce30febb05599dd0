"""The words that several judges of the bowl use."""

from typing import Final

from controller.food.bowl.cure import CONFIRM, Checked
from controller.food.bowl.formulation import Formula
from controller.planning.answers import Answers

CUSTOM: Final = "common practice, no source"
STRONG_PCT: Final = 6.25
WEAK_PCT: Final = 0.5
"""The two kinds that are taken for each other: a cure with 6.25 % nitrite and a nitrite salt with 0.4 to 0.6 %."""
STRONG_FROM_PCT: Final = 2.0
"""Between nitrite salts (up to 0.6 %) and cures (6.25 %); common practice, no source."""
SALT_LIKE_G_PER_KG: Final = 15.0
"""Nobody takes so much of a 6.25 % cure, and everybody of salt; common practice, no source."""


SMALL_PPM: Final = 20.0
MOST_DECIMALS: Final = 4


def figure(value: float) -> str:
    """Write a figure with two decimals at most, as 156.25, 40, 2.5."""
    return f"{round(value, 2):.10g}"


def ppm(value: float, limit: float | None = None) -> str:
    """Write mg/kg as whole ones, as no scale tells more; with decimals where it is small, or the limit lies so near."""
    fewest = 0 if value >= SMALL_PPM else 1
    if limit is None:
        return f"{round(value, fewest):g}" if fewest else f"{value:.0f}"
    sides = (value > limit, value < limit)
    shown = (round(value, places) for places in range(fewest, MOST_DECIMALS))
    kept = next((figure for figure in shown if (figure > limit, figure < limit) == sides), value)
    return f"{kept:.10g}"


def known(limit: Checked) -> str:
    """Name a limit in short: whose, of what, as what, and that it is to be confirmed where it rests on memory."""
    of_what, _, form = limit.basis.partition(", as ")
    parts = [limit.authority, f"of the {of_what.partition(',')[0].partition(' (')[0]}", f"as {form}" if form else ""]
    return ", ".join(filter(None, parts)) + (f"; {CONFIRM}" if limit.confirm else "")


def typed_pct(answers: Answers, formula: Formula) -> float:
    """Return the cure in % of the meat as it was typed, or else as worked out."""
    return formula.cure_pct if answers.cure_pct is None else answers.cure_pct


def both_ways(g_per_kg: float) -> str:
    """Say what this amount comes to in ppm with either kind of cure."""
    weak, strong = (g_per_kg * pct / 100.0 * 1000.0 for pct in (WEAK_PCT, STRONG_PCT))
    return (
        f"{figure(g_per_kg)} g per kg of a {WEAK_PCT:g} % nitrite salt are {ppm(weak)} ppm, of a {STRONG_PCT:g} % "
        f"cure {ppm(strong)} ppm."
    )
