"""What a person typed becomes a value with a unit, or a question: 64 could be °C or °F, 53 is no pH.

Only slips of the hand are caught here. Whether a value may be true for the batch is decided by the daemon.
"""

import contextlib
import datetime as dt
import re
from collections.abc import Sequence
from typing import Final
from zoneinfo import ZoneInfo

from controller.errors import DataError, UsageError
from controller.settings.clock import Clock, time_of_day
from controller.settings.problems import CURLY, DOUBLE_CURLY
from controller.settings.units import parse_length_mm, parse_mass_g, parse_mass_kg, parse_temp_c, to_c, to_f

DAY_S: Final = 86_400.0
LOWEST_PH: Final = 3.5
HIGHEST_PH: Final = 7.0
"""Fermented sausage lies between 4.4 and 6.0, fresh pork and beef below 6.5; what is outside 3.5 to 7.0 is a slip."""
LOWEST_CORE_C: Final = -5.0
HIGHEST_CORE_C: Final = 100.0
LOWEST_ROOM_C: Final = -30.0
HIGHEST_ROOM_C: Final = 50.0
MOST_MEAT_KG: Final = 200.0
THINNEST_MM: Final = 10.0
THICKEST_MM: Final = 200.0
"""Beyond these somebody took a wrong unit; common sense, no source. The meat is the chamber file's own bound."""
AHEAD_S: Final = 60.0
"""So much may a typed time lie ahead of now: a minute has no seconds when it is typed."""

_DATED = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}")
_SPAN = re.compile(r"(\d{1,6}(?:\.\d+)?)\s?(min|[smhd])\s*")
_SPANS = re.compile(rf"(?:{_SPAN.pattern})+")
_UNITS_S: Final = {"d": DAY_S, "h": 3600.0, "min": 60.0, "m": 60.0, "s": 1.0}
_LISTED = re.compile(r",\s*(?=[^,=]+=)")


def number(text: str, what: str, example: str) -> float:
    """Return a plain number with a decimal point. Raises DataError for everything else."""
    try:
        value = float(text)
    except ValueError:
        hint = f"did you mean {text.replace(',', '.')}?" if re.fullmatch(r"-?\d+,\d+", text) else f"e.g. {example}."
        raise DataError(f"{what} {text}: not a number; {hint}") from None
    if not abs(value) < float("inf"):
        raise DataError(f"{what} {text}: not a number one can measure; e.g. {example}.")
    return value


def ph(text: str, *, sure: bool = False) -> float:
    """Return a pH between 3.5 and 7.0. Raises DataError, with the value that was probably meant.

    What a person is sure of goes on to the daemon, which refuses only what no meat can have.
    """
    value = number(text, "pH", "5.21")
    if sure or LOWEST_PH <= value <= HIGHEST_PH:
        return value
    meant = next((value / ten for ten in (10, 100, 1000) if LOWEST_PH <= value / ten <= HIGHEST_PH), None)
    if meant is not None:
        raise DataError(f"pH {text}: did you mean {meant:g}?")
    raise DataError(f"pH {text}: of meat it lies between {LOWEST_PH:g} and {HIGHEST_PH:g}; measure again, e.g. 5.21.")


def pieces_g(words: Sequence[str]) -> dict[str, float]:
    """Return the grams of each piece from words such as `A=412` or `B=0.4kg`. Raises UsageError."""
    grams: dict[str, float] = {}
    for word in apart(words):
        piece, equals, weight = word.partition("=")
        if not (piece.strip() and equals and weight.strip()):
            raise UsageError(f"{word}: which piece weighs what? Write A=412 (grams) or A=0.4kg.")
        if piece in grams:
            raise UsageError(f"{word}: piece {piece} is named twice; each piece has one weight.")
        grams[piece] = parse_mass_g(weight, f"piece {piece}", bare="g")
    return grams


def apart(words: Sequence[str]) -> tuple[str, ...]:
    """Return pieces that were written as a list, one by one: `A=466, B=429` and `A=466,B=429` are two."""
    return tuple(part for word in words for part in _LISTED.split(word.strip().removesuffix(",")) if part)


def _within(low_c: float, high_c: float, text: str) -> str:
    """Return two bounds in the unit that was typed."""
    if text.strip().upper().endswith("F"):
        return f"{to_f(low_c):.0f} and {to_f(high_c):.0f} °F"
    return f"{low_c:g} and {high_c:g} °C"


def core_c(text: str) -> float:
    """Return the °C of a core, -5 to 100 °C. Raises UsageError for a missing unit, DataError for the value."""
    value_c = parse_temp_c(text, "core")
    if not LOWEST_CORE_C <= value_c <= HIGHEST_CORE_C:
        meant_c = to_c(value_c)
        fits = HIGHEST_CORE_C >= meant_c > 0.0 and text.strip().upper().endswith("C")
        hint = f"did you mean {value_c:g}F ({meant_c:.1f} °C)?" if fits else "measure again."
        raise DataError(f"core {text}: of meat it lies between {_within(LOWEST_CORE_C, HIGHEST_CORE_C, text)}; {hint}")
    return value_c


def sample_temp_c(text: str) -> float:
    """Return the °C of a sample, between -5 and 100 °C: it is wet meat. Raises UsageError, DataError."""
    value_c = parse_temp_c(text, "--sample-temp")
    if not LOWEST_CORE_C <= value_c <= HIGHEST_CORE_C:
        bounds = _within(LOWEST_CORE_C, HIGHEST_CORE_C, text)
        raise DataError(f"--sample-temp {text}: lies between {bounds}, e.g. 20C or 68F.")
    return value_c


def ambient_c(text: str, option: str = "--ambient") -> float:
    """Return the °C of a room, between -30 and 50 °C. Raises UsageError, DataError."""
    value_c = parse_temp_c(text, option)
    if not LOWEST_ROOM_C <= value_c <= HIGHEST_ROOM_C:
        bounds = _within(LOWEST_ROOM_C, HIGHEST_ROOM_C, text)
        raise DataError(f"{option} {text}: a room lies between {bounds}, e.g. 20C or 68F.")
    return value_c


def meat_kg(text: str) -> float:
    """Return the kg of meat, up to 200. Raises UsageError for a missing unit, DataError for a value."""
    value_kg = parse_mass_kg(text, "--meat")
    if value_kg > MOST_MEAT_KG:
        raise DataError(f"--meat {text}: more than {MOST_MEAT_KG:g} kg does not hang in one chamber, e.g. 4.5kg.")
    return value_kg


def diameter_mm(text: str) -> float:
    """Return the mm of a casing, 10 to 200. Raises UsageError for a missing unit, DataError for a value."""
    value_mm = parse_length_mm(text, "--diameter")
    if not THINNEST_MM <= value_mm <= THICKEST_MM:
        raise DataError(f"--diameter {text}: a casing has {THINNEST_MM:g} to {THICKEST_MM:g} mm, e.g. 55mm.")
    return value_mm


def instrument(text: str, known: Sequence[str]) -> str:
    """Return what it was measured with, and its id where it has one: "meter 1". Raises UsageError."""
    words = straight(text).split()
    words[:1] = [word.lower() for word in words[:1]]  # "Meter 1" and "meter 1" are one.
    if not words or words[0] not in known:
        raise UsageError(
            f"--by {text or chr(39) * 2}: measured with what? {' or '.join(known)}, with its id where it has one: "
            f'--by "{known[0]} 1".'
        )
    return " ".join(words)


def sentence(text: str, option: str) -> str:
    """Return a sentence on one line. Raises UsageError where there is none."""
    words = " ".join(straight(text).split())
    if not words:
        raise UsageError(f'{option} "": say something in words, for the record.')
    return words


def straight(text: str) -> str:
    """Return what was typed without the curly quotes that stand around it: a word processor has made them."""
    said = text.strip()
    bare = said.strip(CURLY)
    is_quoted = bool(bare) and said[0] in CURLY and said[-1] in CURLY and not any(sign in bare for sign in DOUBLE_CURLY)
    return bare if is_quoted else said


def positive(value: float, option: str, unit: str) -> float:
    """Return a number that is more than 0 and finite. Raises UsageError."""
    if not 0.0 < value < float("inf"):
        raise UsageError(f"{option} {value:g}: must be more than 0 {unit}.")
    return value


def span_s(text: str, what: str) -> float:
    """Return the seconds of a length of time, as 90s, 30m, 7h30m, 1 h 0 min or 3d. Raises UsageError."""
    said = text.strip()
    parts = [(float(number), _UNITS_S[unit]) for number, unit in _SPAN.findall(said)] if _SPANS.fullmatch(said) else []
    units_s = [unit_s for _, unit_s in parts]
    seconds = sum(number * unit_s for number, unit_s in parts)
    if seconds <= 0.0 or units_s != sorted(set(units_s), reverse=True):
        raise UsageError(f"{what} {text}: how long? Write 30m, 12h, 7h30m or 3d (units d, h, m, s).")
    return seconds


def moment(text: str, timezone: str, now_s: float, option: str = "--at") -> float:
    """Return the wall second of a time that lies in the past, in the chamber's local time.

    `14:30` and `2:30pm` are today's; a date stands before it with a `T` or a blank; a `Z` or `+01:00` behind it is
    believed.
    Raises UsageError where it cannot be understood, does not exist or exists twice; DataError where it is to come.
    """
    zone = ZoneInfo(timezone)
    now = dt.datetime.fromtimestamp(now_s, zone)
    clock = time_of_day(text)
    said = _parsed(text, option) if clock is None else _on_the_day_of(now, clock)
    at_s = said.timestamp() if said.tzinfo is not None else _local_s(said, zone, f"{option} {text}")
    if at_s > now_s + AHEAD_S:
        yesterday = dt.datetime.fromtimestamp(at_s - DAY_S, zone).strftime("%Y-%m-%dT%H:%M")
        hint = "" if clock is None else f"; yesterday's is {option} {yesterday}"
        raise DataError(f"{option} {text}: lies ahead; it is {now:%Y-%m-%d %H:%M} in {timezone}{hint}.")
    return at_s


def next_moment(text: str, timezone: str, now_s: float, option: str) -> float:
    """Return the wall second of a time that is to come, in the chamber's local time; `23:00` and `11pm` are the next.

    Raises UsageError where it cannot be understood, does not exist or exists twice; DataError where it is over.
    """
    if text.strip() == "now":
        return now_s
    zone = ZoneInfo(timezone)
    now = dt.datetime.fromtimestamp(now_s, zone)
    clock = time_of_day(text)
    if clock is None:
        said = _parsed(text, option)
        at_s = said.timestamp() if said.tzinfo is not None else _local_s(said, zone, f"{option} {text}")
        if at_s < now_s - AHEAD_S:
            raise DataError(f"{option} {text}: is over; it is {now:%Y-%m-%d %H:%M} in {timezone}. Say now, or 23:00.")
        return at_s
    today = _on_the_day_of(now, clock)
    if today < now.replace(tzinfo=None) - dt.timedelta(seconds=AHEAD_S):
        today += dt.timedelta(days=1)
    return _local_s(today, zone, f"{option} {text}")


def begin_wall_s(text: str) -> float:
    """Return the wall second at which a simulation begins; UTC where no zone is given. Raises UsageError."""
    parsed = _parsed(text, "--begin")
    return (parsed if parsed.tzinfo is not None else parsed.replace(tzinfo=dt.UTC)).timestamp()


def _parsed(text: str, option: str) -> dt.datetime:
    if _DATED.match(text.strip()):
        with contextlib.suppress(ValueError):  # A 30th of February looks like a time, too.
            return dt.datetime.fromisoformat(text.strip())
    raise UsageError(f"{option} {text}: not a time; write 14:30, 2:30pm or 2026-01-05T14:30.")


def _on_the_day_of(now: dt.datetime, clock: Clock) -> dt.datetime:
    """Return this time of day on the local day of `now`, without a zone."""
    return now.replace(tzinfo=None, hour=clock.minutes // 60, minute=clock.minutes % 60, second=0, microsecond=0)


def _local_s(local: dt.datetime, zone: ZoneInfo, text: str) -> float:
    """Return the wall second of a local time that exists exactly once."""
    first = local.replace(tzinfo=zone, fold=0).timestamp()
    second = local.replace(tzinfo=zone, fold=1).timestamp()
    if first == second:
        return first
    back = dt.datetime.fromtimestamp(first, zone).replace(tzinfo=None)
    if back != local:
        raise UsageError(f"{text}: there was no such time in {zone.key}; the clocks were put forward over it.")
    one, other = (dt.datetime.fromtimestamp(s, zone).isoformat(timespec="minutes") for s in (first, second))
    raise UsageError(f"{text}: came twice in {zone.key} when the clocks were put back; write {one} or {other}.")
