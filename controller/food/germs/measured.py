"""What a few readings prove: between two of them the worse one counts, and what nobody measured is not met.

A log is a list of (time in seconds, °C) by rising time. A kill counts the *lower* neighbour for the whole way from one
reading to the next, a chill the later one: a straight line between two typed readings would claim what nobody saw.
Before the first reading and after the last nothing is known, and nothing counts; nor does a break, where rows of a
machine are missing or nobody looked for too long. A log holds it as readings of `nan`.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isnan, nan
from typing import Final, Literal

HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0
MM_PER_IN: Final = 25.4
TYPED_APART_S: Final = 12.0 * HOUR_S
"""Typed readings that lie further apart prove nothing of the time between; common practice, no source."""
BREAK_S: Final = 1.0

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


def readings_of(log: Log) -> list[tuple[float, float]]:
    """Return the readings alone, without the breaks between them."""
    return [point for point in log if not isnan(point[1])]


def broken(log: Log, longest_s: float) -> list[tuple[float, float]]:
    """Return a log with a break wherever two readings lie further apart than this many seconds."""
    whole: list[tuple[float, float]] = []
    for at_s, temp_c in log:
        if whole and at_s - whole[-1][0] > longest_s:
            whole += [(whole[-1][0] + BREAK_S, nan), (at_s - BREAK_S, nan)]
        whole.append((at_s, temp_c))
    return whole


def apart(log: Log) -> list[tuple[float, float]]:
    """Return a log that is a break before its first reading and after its last, to be sorted in among others."""
    return [(log[0][0] - BREAK_S, nan), *log, (log[-1][0] + BREAK_S, nan)] if log else []


def filled(log: Log) -> list[tuple[float, float]]:
    """Return a log whose breaks are filled with the higher of the readings beside them: the most that can have been.

    What is enough in this log and not in the log itself is not measured, rather than not met.
    """
    ahead = list(_next_readings(log))
    whole: list[tuple[float, float]] = []
    last_c = nan
    for (at_s, temp_c), next_c in zip(log, ahead, strict=True):
        if not isnan(temp_c):
            whole.append((at_s, temp_c))
            last_c = temp_c
        elif not isnan(last_c) and not isnan(next_c):
            whole.append((at_s, max(last_c, next_c)))
    return whole


def _next_readings(log: Log) -> Iterator[float]:
    """Yield for each place of a log the temperature of the next reading from there on."""
    ahead, next_c = list[float](), nan
    for _, temp_c in reversed(log):
        next_c = next_c if isnan(temp_c) else temp_c
        ahead.append(next_c)
    return reversed(ahead)


def break_h(log: Log) -> float:
    """Return how many hours between the first reading and the last are breaks."""
    known = readings_of(log)
    if not known:
        return 0.0
    return (known[-1][0] - known[0][0] - sum(to_s - at_s for at_s, to_s, _ in lower_pieces(log))) / HOUR_S


def lower_pieces(log: Log) -> list[tuple[float, float, float]]:
    """Return (from second, to second, °C): from one reading to the next the lower of the two counts, no break."""
    return [
        (at_s, next_s, min(temp_c, next_c))
        for (at_s, temp_c), (next_s, next_c) in pairwise(log)
        if not (isnan(temp_c) or isnan(next_c))
    ]


def colder(log: Log, by_k: float) -> list[tuple[float, float]]:
    """Return a log with the error of its thermometer taken off."""
    return [(at_s, temp_c - by_k) for at_s, temp_c in log]


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
    last_s = float("-inf")
    for at_s, to_s, temp_c in lower_pieces(log):
        now = 0.0 if fahrenheit(temp_c) < temp_f else (now if at_s == last_s else 0.0) + (to_s - at_s) / HOUR_S
        longest, last_s = max(longest, now), to_s
    return longest


def time_words(hours: float) -> str:
    """Return a length of time in words: 40 min, 6 h, 20 d."""
    if hours < 1.0:
        return f"{hours * 60.0:.0f} min"
    return f"{hours:.1f} h".replace(".0 h", " h") if hours < 72.0 else f"{hours / 24.0:.1f} d".replace(".0 d", " d")
