"""Sentences of the daemon as a maker reads them: its instants in local time, its °C, K and kg as the chamber has them.

The core speaks UTC, °C, K and kg and knows no other. A temperature becomes °F in a chamber of °F, a difference marked K
becomes one of °F, a command inside a sentence (`hangroom core 60C`) is given as this maker types it, and a mass in kg
gets its pounds. Degree-hours (°C·h) stay: each rule has its own unit.
"""

import datetime as dt
import re
from typing import Final

from controller.cli.say import show_time
from controller.core.fault_words import SENSOR_NAMES, bare_name
from controller.settings.units import KG_PER_LB, Units, to_f

_IN_UTC: Final = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2} UTC")
_NUMBER: Final = r"(?<![\w.:])[+-]?\d+(?:\.\d+)?"
_C: Final = r" °C(?!·|\w)"
_BOTH: Final = re.compile(
    rf"(?:{_NUMBER} to )?{_NUMBER}{_C}(?:, | \()((?:-?\d+(?:\.\d+)? to )?-?\d+(?:\.\d+)? °F)(?!·|\w)(?:(?<=°F)(\)?))"
)
"""Where the core gives both: 15.6 °C (60 °F); 54.4 °C, 130 °F; 10 to 54.4 °C (50 to 130 °F)."""
_C_BEHIND: Final = re.compile(rf"(?<= °F) \((?:{_NUMBER} to )?{_NUMBER} °C\)")
"""Where a rule is written in °F and has its °C behind it: 130 to 80 °F (54.4 to 26.7 °C)."""
_MEANT: Final = re.compile(r"(\d+(?:\.\d+)?)F \(-?\d+(?:\.\d+)? °C\)")
_NAMES: Final = "|".join(re.escape(bare_name(channel)) for channel in SENSOR_NAMES)
_TEMPS: Final = re.compile(rf"(?:between {_NUMBER} and |{_NUMBER} to |(?:{_NUMBER}, (?:{_NAMES}) )+)?{_NUMBER}{_C}")
"""One temperature, a range, or what several sensors show: 12 to 16 °C; air thermometer 20.1, core probe 25.3 °C."""
_PLAIN: Final = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")
_OFF: Final = re.compile(rf"(?:({_NUMBER}) )?(± ?|off by [+-]?)(\d+(?:\.\d+)?){_C}")
"""What one temperature may be off another by, and that one where it stands before it: 24.0 ± 2 °C; off by 0.5 °C."""
_KELVIN: Final = re.compile(r"(?<![\w.:])([+±-]?)(\d+(?:\.\d+)?) K\b(?!/)")
_TYPED: Final = re.compile(r"(?<![\w.])(-?)(\d+(?:\.\d+)?)C\b")
_KG: Final = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) kg\b(?!/)")
_LONG_KG: Final = re.compile(r"(?<![\w.])(\d+\.\d{3,}) kg\b(?!/)")
_LONG: Final = re.compile(r"(?<![\w.])(-?\d+\.\d{4,})( °[CF])")
_DOUBLE: Final = re.compile(r"(-?[\d.]+ °F) \(\1\)")
_HINT: Final = re.compile(r"[;,]? *\b[Dd]id you mean -?\d+(?:\.\d+)?(?:F \([^)]*\)| °C)\?")
_APART: Final = re.compile(r"[\s=]+")
_TYPED_F: Final = re.compile(r"([+-]?\d+(?:\.\d+)?)°?[Ff]")
_SHOWN_F: Final = re.compile(r"(?<![\w.])(-?\d+\.\d) °F(?!·|\w)")
ROUNDED_F: Final = 0.1001
"""A tenth of a °C is 0.18 °F, so half of it may be lost on the way, and a tenth of a °F once more."""
LEAST_KG: Final = 0.1
"""Lighter things are weighed in grams anyway."""


def in_local_time(text: str, timezone: str) -> str:
    """Return a sentence of the daemon with its instants, which it gives in UTC, in the chamber's local time."""

    def local(found: re.Match[str]) -> str:
        instant = dt.datetime.strptime(found[0], "%Y-%m-%d %H:%M UTC").replace(tzinfo=dt.UTC)
        return show_time(instant.timestamp(), timezone)

    return _IN_UTC.sub(local, text)


def in_units(text: str, units: Units) -> str:
    """Return a sentence with its temperatures, differences, commands and masses as a chamber of these units has them.

    Args:
        text: a sentence in °C, K and kg.
        units: of the chamber file.
    """
    if units == "C":
        rounded = _LONG.sub(lambda found: f"{float(found[1]):.1f}{found[2]}", text)
        return _LONG_KG.sub(lambda found: f"{_short(found[1], 2)} kg", rounded)
    text = _BOTH.sub(_fahrenheit_alone, text)
    text = _C_BEHIND.sub("", text)
    text = _MEANT.sub(lambda found: f"{_short(found[1], 1)}F", text)
    text = _OFF.sub(_off_in_fahrenheit, text)
    text = _TEMPS.sub(_in_fahrenheit, text)
    text = _DOUBLE.sub(r"\1", text)
    text = _KELVIN.sub(lambda found: f"{found[1]}{_short(str(float(found[2]) * 1.8), 1)} °F", text)
    text = _TYPED.sub(lambda found: f"{_short(str(to_f(float(found[1] + found[2]))), 1)}F", text)
    return _KG.sub(_with_pounds, text)


def in_local_words(text: str, timezone: str, units: Units) -> str:
    """Return a sentence of the daemon as it is read at this chamber: local time, and its units."""
    return in_units(in_local_time(text, timezone), units)


def without_hint(text: str, typed: str) -> str:
    """Return an answer without its "did you mean 150F (65.6 °C)?" where the temperature was typed in °F already."""
    return _HINT.sub("", text) if typed.strip().upper().endswith("F") else text


def as_typed(text: str, typed: str) -> str:
    """Return an answer in °F with the temperatures as they were typed: 43.3 °C would be 109.9 °F, and 110F it was."""
    values_f = [float(said[1]) for word in _APART.split(typed) if (said := _TYPED_F.fullmatch(word))]

    def own(found: re.Match[str]) -> str:
        near = [value_f for value_f in values_f if abs(float(found[1]) - value_f) <= ROUNDED_F]
        return f"{near[0]:.1f} °F" if near else found[0]

    return _SHOWN_F.sub(own, text)


def _short(number: str, decimals: int) -> str:
    """Return a number with at most so many decimals, without zeros that say nothing."""
    text = f"{float(number):.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _fahrenheit_alone(found: re.Match[str]) -> str:
    """Return what stands in °F already; a bracket that was closed by it goes, one from outside stays."""
    opened = "(" in found[0]
    return found[1] if opened else found[1] + (found[2] or "")


def _in_fahrenheit(found: re.Match[str]) -> str:
    return _PLAIN.sub(_one, found[0]).replace("°C", "°F")


def _off_in_fahrenheit(found: re.Match[str]) -> str:
    """Return a difference in °F: it has no 32 to be added; what stands before it has."""
    before = "" if found[1] is None else f"{_PLAIN.sub(_one, found[1])} "
    return f"{before}{found[2]}{_short(str(float(found[3]) * 1.8), 1)} °F"


def _one(found: re.Match[str]) -> str:
    temp_f = to_f(float(found[0]))
    return f"{temp_f:.1f}" if "." in found[0] else _short(str(temp_f), 1)


def _with_pounds(found: re.Match[str]) -> str:
    kg = float(found[1])
    return found[0] if kg < LEAST_KG else f"{_short(str(kg / KG_PER_LB), 1)} lb ({_short(found[1], 2)} kg)"
