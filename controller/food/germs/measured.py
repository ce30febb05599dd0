"""What a few readings prove: between two of them the worse one counts, and what nobody measured is not met.

A log is a list of (time in seconds, °C) by rising time. A kill counts the *lower* neighbour for the whole way from one
reading to the next, a chill the later one: a straight line between two typed readings would claim what nobody saw.
Before the first reading and after the last nothing is known, and nothing counts.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0
MM_PER_IN: Final = 25.4

Verdict = Literal["met", "not met", "not measured"]
Log = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Condition:
    """Hold one thing that is asked, beside what was found.

    Attributes:
        what: what it is about, as "pH".
        wanted: what is asked, in words with the figure.
        found: what was measured, in words; empty where nothing was.
        verdict: met, not met, or not measured.
        source: where the limit is published.
        confirm: whether the limit rests on memory, so that a person has to compare it with the text.
    """

    what: str
    wanted: str
    found: str
    verdict: Verdict
    source: str = ""
    confirm: bool = False


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return what several conditions come to when all are needed; not measured where there is none."""
    found = set(verdicts)
    if "not met" in found:
        return "not met"
    return "met" if found == {"met"} else "not measured"


def best(verdicts: Iterable[Verdict]) -> Verdict:
    """Return what several conditions come to when one of them is enough."""
    found = set(verdicts)
    if "met" in found:
        return "met"
    return "not met" if found == {"not met"} else "not measured"


def verdict_of(holds: bool | None) -> Verdict:  # noqa: FBT001 - one of two answers, or none
    """Return the verdict of what is true, false, or not known."""
    return "not measured" if holds is None else "met" if holds else "not met"


def fahrenheit(temp_c: float) -> float:
    """Return a temperature in °F, rounded to 0.1: 130 °F kept as 54.4444 °C would else lie below its own row."""
    return round(temp_c * 1.8 + 32.0, 1)


def celsius(temp_f: float) -> float:
    """Return °C for °F. NIST SP 811, appendix B.8."""
    return (temp_f - 32.0) / 1.8


def lower_pieces(log: Log) -> list[tuple[float, float, float]]:
    """Return (from second, to second, °C): from one reading to the next the lower of the two counts."""
    return [(at_s, next_s, min(temp_c, next_c)) for (at_s, temp_c), (next_s, next_c) in pairwise(log)]


def hours_at_or_above(log: Log, temp_f: float, *, from_s: float = float("-inf")) -> float:
    """Return for how many hours since an instant the temperature is known to have been at least this, dips left out."""
    return sum(
        max(0.0, to_s - max(at_s, from_s)) / HOUR_S
        for at_s, to_s, temp_c in lower_pieces(log)
        if fahrenheit(temp_c) >= temp_f
    )


def held_s(log: Log, temp_f: float, hours: float, *, from_s: float = float("-inf")) -> float | None:
    """Return the instant at which these hours at or above this temperature are full; None where they are not.

    Zero hours are full at the first reading at or above the temperature.
    """
    if hours <= 0.0:
        return next((at_s for at_s, temp_c in log if at_s >= from_s and fahrenheit(temp_c) >= temp_f), None)
    left_s = hours * HOUR_S
    for at_s, to_s, temp_c in lower_pieces(log):
        lasts_s = to_s - max(at_s, from_s)
        if lasts_s <= 0.0 or fahrenheit(temp_c) < temp_f:
            continue
        if lasts_s >= left_s - 1e-6:
            return to_s - lasts_s + left_s
        left_s -= lasts_s
    return None


def longest_hours_at_or_above(log: Log, temp_f: float) -> float:
    """Return the longest time in a row, in hours, that the temperature is known to have been at least this."""
    longest = now = 0.0
    for at_s, to_s, temp_c in lower_pieces(log):
        now = now + (to_s - at_s) / HOUR_S if fahrenheit(temp_c) >= temp_f else 0.0
        longest = max(longest, now)
    return longest


def time_words(hours: float) -> str:
    """Return a length of time in words: 40 min, 6 h, 20 d."""
    if hours < 1.0:
        return f"{hours * 60.0:.0f} min"
    return f"{hours:.1f} h".replace(".0 h", " h") if hours < 72.0 else f"{hours / 24.0:.1f} d".replace(".0 d", " d")
