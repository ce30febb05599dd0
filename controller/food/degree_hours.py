"""Degree-hours: how long and how warm a ferment may be before its pH must have fallen to 5.3.

Staphylococcus aureus grows and makes its toxin above a critical temperature until acid stops it, and no cooking
destroys the toxin. Both rules count (chamber temperature - base) x hours until the first reading at or below pH 5.3,
and take their limit by the *highest* chamber temperature on the way.

The two rules are kept apart in their own units on purpose: the Canadian figures are no exact conversion of the US
ones, so 32.5 °C is in Canada's first band, but 90.5 °F (the same) in the second of the US. Never convert one into
the other. Most of the limits are from memory (each rule says so) and wait for a person to compare them with the text.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import floor, inf
from typing import Final, Literal


@dataclass(frozen=True, slots=True)
class Band:
    """Hold one limit in degree-hours, and up to which highest temperature it holds."""

    up_to: float
    inclusive: bool
    limit: float


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """Hold one authority's rule; all figures in its own `unit`.

    Attributes:
        name: the authority.
        unit: of base, bands and totals, F or C.
        base: what does not count.
        bands: from the coolest to the hottest; the last has no upper end.
        source: where it is published.
        how_known: what of it was read, and what stands from memory.
    """

    name: str
    unit: Literal["F", "C"]
    base: float
    bands: tuple[Band, ...]
    source: str
    how_known: str


US: Final = Rule(
    name="US (AMIF GMP, accepted by FSIS)",
    unit="F",
    base=60.0,
    bands=(Band(90.0, False, 1200.0), Band(100.0, True, 1000.0), Band(inf, True, 900.0)),
    source=(
        "American Meat Institute Foundation (1997), Good Manufacturing Practices for Fermented Dry and Semi-Dry "
        "Sausage Products, degree-hours section"
    ),
    how_known=(
        "1200 below 90 F read in a copy; 1000 and 900 from memory: they are the only round figures that give the hours "
        "of the University of Wisconsin-Madison Fermentation Log (2012), which were read"
    ),
)
CANADA: Final = Rule(
    name="Canada (CFIA)",
    unit="C",
    base=15.6,
    bands=(Band(33.0, False, 665.0), Band(37.0, True, 555.0), Band(inf, True, 500.0)),
    source="CFIA, Meat Hygiene Manual of Procedures, chapter 4, section 4.16.2.1 (archived)",
    how_known="base read in copies of the manual; limits and band edges from memory",
)
RULES: Final = (US, CANADA)
BINDING: Final[dict[Literal["us", "canada", "both"], tuple[Rule, ...]]] = {
    "us": (US,),
    "canada": (CANADA,),
    "both": RULES,
}
"""Which rules bind under each setting; with `both` whichever is used up first."""
BASE_C: Final = CANADA.base
"""At or below this (60 °F) degree-hours count next to nothing, however long it lasts: they protect nothing there."""
OVERSHOOT_K: Final = 0.5
"""So far a chamber in order goes above what is wanted; common practice, no source."""

TARGET_PH: Final = 5.3
"""Both rules: counting ends at the first reading at or below this pH."""

Verdict = Literal["within", "over"]


def has_reached(ph: float, at_most: float = TARGET_PH, error: float = 0.0) -> bool:
    """Say whether a measured pH is at or below a limit with the instrument's error added.

    5.25 + 0.05 has to be 5.3: a billionth is let pass, which no meter shows.
    """
    return ph + error <= at_most + 1e-9


def in_unit(rule: Rule, temp_c: float) -> float:
    """Return this temperature in the rule's own unit."""
    return temp_c * 1.8 + 32.0 if rule.unit == "F" else temp_c


def accumulate(rule: Rule, temp_c: float, hours: float) -> float:
    """Return the degree-hours, in the rule's unit, of so many hours at this chamber temperature; never negative."""
    return max(0.0, in_unit(rule, temp_c) - rule.base) * hours


def accumulate_between(rule: Rule, from_c: float, to_c: float, hours: float) -> float:
    """Return the degree-hours of so many hours during which the temperature went in a straight line between these two.

    Only the part above the base counts.
    """
    low, high = sorted((in_unit(rule, from_c) - rule.base, in_unit(rule, to_c) - rule.base))
    if high <= 0.0:
        return 0.0
    if low >= 0.0:
        return 0.5 * (low + high) * hours
    return 0.5 * high * hours * high / (high - low)


@lru_cache(maxsize=1024)  # Asked a dozen times a tick, and the hottest minute seldom changes.
def limit_for(rule: Rule, highest_c: float) -> float:
    """Return the limit that holds once the chamber has been this warm.

    The temperature is rounded to 0.1 degree in the rule's own unit before the band is chosen: 90 °F kept as 32.222 °C
    would else land in the wrong band.
    """
    highest = round(in_unit(rule, highest_c), 1)
    for band in rule.bands:
        if highest < band.up_to or (band.inclusive and highest == band.up_to):
            return band.limit
    return rule.bands[-1].limit


def verdict(rule: Rule, used: float, highest_c: float) -> Verdict:
    """Say whether a total is within the rule's limit. Totals are rounded to 1 first; exactly at the limit is within.

    The US text says "fewer than" the limit (from memory), yet its table of hours allows exactly 80 h x 15 = 1200.
    """
    return "within" if floor(used + 0.5) <= limit_for(rule, highest_c) else "over"


def hours_left(rule: Rule, used: float, temp_c: float, highest_c: float | None = None) -> float:
    """Return the hours until the limit if the chamber stays at this temperature: 0 when over, infinite below the base.

    Args:
        rule: the authority's rule.
        used: degree-hours so far, in the rule's unit.
        temp_c: chamber temperature from now on.
        highest_c: the highest so far, if it was higher than that.
    """
    above = in_unit(rule, temp_c) - rule.base
    if above <= 0.0:
        return inf
    limit = limit_for(rule, temp_c if highest_c is None else max(temp_c, highest_c))
    return max(0.0, limit - used) / above


def latest_hours_to_5_3(rule: Rule, temp_c: float) -> float:
    """Return the most hours to pH 5.3 at a constant chamber temperature; infinite at or below the base."""
    return hours_left(rule, 0.0, temp_c)


def nearest_edge(rule: Rule, temp_c: float) -> tuple[float, float, float]:
    """Return the band edge nearest to this temperature, and what changes there.

    Returns:
        The edge, how far it lies above the temperature (negative: below), and the limit on its far side, all in the
        rule's unit.
    """
    temp = round(in_unit(rule, temp_c), 1)
    band, after = min(zip(rule.bands, rule.bands[1:], strict=False), key=lambda pair: abs(pair[0].up_to - temp))
    below = temp < band.up_to or (band.inclusive and temp == band.up_to)
    return band.up_to, round(band.up_to - temp, 1), after.limit if below else band.limit


def standing_passes(readings: Sequence[tuple[bool, bool]]) -> list[int]:
    """Return the places of the readings that may end the count: none that a later real sausage has contradicted.

    The wrapped sample of the mince stands for the sausage only as long as the sausage agrees. Once a sausage was above
    5.3 after a sample had passed it, the sample ends no count any more; a sausage does.

    Args:
        readings: of a ferment by rising time, each (whether it passed 5.3, whether it is of a real sausage).
    """
    standing: list[int] = []
    sample_fails = False
    for place, (passed, of_sausage) in enumerate(readings):
        if passed and (of_sausage or not sample_fails):
            standing.append(place)
        elif of_sausage and not passed:
            sample_fails = sample_fails or bool(standing)
            standing = []
    return standing
