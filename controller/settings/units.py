"""What a person types with its unit: 98F, 37C, 4.5kg, 10lb, 412g, 55mm, 90min. Inside, one unit each.

A bare number is taken only where it can mean one thing; else it is refused with the question. The pound is exactly
0.45359237 kg and the inch 25.4 mm (international yard and pound agreement, 1959).
"""

import re
from collections.abc import Mapping
from typing import Final, Literal

from controller.errors import UsageError

GRAMS: Final[Mapping[str, float]] = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237, "lbs": 453.59237}
KG_PER_LB: Final = 0.45359237
MILLIMETRES: Final[Mapping[str, float]] = {"mm": 1.0, "cm": 10.0, "in": 25.4, '"': 25.4}
SECONDS: Final[Mapping[str, float]] = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}
ZERO_K: Final = -273.15
Units = Literal["C", "F"]

_QUANTITY: Final = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*(\D*?)\s*")
_PART: Final = re.compile(r"\s*(\d+(?:\.\d*)?)\s*([a-z]+)\s*")


def to_c(temp_f: float) -> float:
    """Return °C for °F: t/°C = (t/°F - 32)/1.8. NIST SP 811, appendix B.8."""
    return (temp_f - 32.0) / 1.8


def to_f(temp_c: float) -> float:
    """Return °F for °C. NIST SP 811, appendix B.8."""
    return temp_c * 1.8 + 32.0


def parse_temp_c(text: str, what: str = "temperature") -> float:
    """Return the °C of a temperature such as 37C, 98.6F or 64 °C.

    Args:
        text: what was typed.
        what: what it is, for the message; as the option's or the value's name.

    Raises:
        UsageError: no number, no unit, another unit, or below absolute zero.
    """
    number, unit = _split(text, what, "37C or 98F")
    unit = unit.replace("°", "").strip().upper()
    if not unit:
        raise UsageError(f"{what} {text}: °C or °F? Write {number:g}C or {number:g}F.")
    if unit not in {"C", "F"}:
        raise UsageError(f"{what} {text}: {unit} is no unit of temperature here; write it as 37C or 98F.")
    temp_c = number if unit == "C" else to_c(number)
    if temp_c < ZERO_K:
        raise UsageError(f"{what} {text}: there is no such temperature; write it as 37C or 98F.")
    return temp_c


def parse_mass_g(text: str, what: str = "weight", bare: Literal["g"] | None = None) -> float:
    """Return the grams of a mass such as 412g, 4.5kg, 10lb, 8oz; above 0.

    A bare number is taken only where `bare` says what it is.

    Raises:
        UsageError: no number, no unit, another unit, or not above 0.
    """
    return _positive(text, what, GRAMS, bare, ("kg", "lb") if bare is None else ("g", "kg"))


def parse_mass_kg(text: str, what: str = "mass") -> float:
    """Return the kilograms of a mass such as 4.5kg or 10lb; above 0. Raises UsageError as `parse_mass_g`."""
    return parse_mass_g(text, what) / 1000.0


def parse_length_mm(text: str, what: str = "diameter") -> float:
    """Return the millimetres of a length such as 55mm, 5.5cm or 2.25in; above 0. Raises UsageError."""
    return _positive(text, what, MILLIMETRES, None, ("mm", "in"))


def parse_duration_s(text: str, what: str = "time") -> float:
    """Return the seconds of a length of time such as 90min, 2h, 1h30min or 3d; above 0.

    Raises:
        UsageError: no number, no unit, another unit, or not above 0.
    """
    parts = _PART.findall(text.lower())
    if parts and _PART.sub("", text.lower()) == "" and all(unit in SECONDS for _, unit in parts):
        total_s = sum(float(number) * SECONDS[unit] for number, unit in parts)
        if total_s > 0.0:
            return float(total_s)
    return _positive(text, what, SECONDS, None, ("min", "h"))


def show_temp(temp_c: float, units: Units, decimals: int = 1) -> str:
    """Return a temperature as the chamber file's units want it shown, as `36.0 °C` or `96.8 °F`."""
    shown = temp_c if units == "C" else to_f(temp_c)
    return f"{shown:.{decimals}f} °{units}"


def _split(text: str, what: str, example: str) -> tuple[float, str]:
    found = _QUANTITY.fullmatch(text)
    if found is None:
        comma = re.fullmatch(r"\s*-?\d+,\d+\s*\D*", text)
        hint = f"did you mean {text.replace(',', '.')}?" if comma else f"write it as {example}."
        raise UsageError(f"{what} {text}: not a number with its unit; {hint}")
    return float(found[1]), found[2]


def _positive(text: str, what: str, units: Mapping[str, float], bare: str | None, examples: tuple[str, str]) -> float:
    one, other = examples
    number, unit = _split(text, what, f"5{one} or 5{other}")
    unit = unit.lower() or bare or ""
    if not unit:
        raise UsageError(f"{what} {text}: in which unit? Write {number:g}{one} or {number:g}{other}.")
    if unit not in units:
        raise UsageError(f"{what} {text}: {unit} is no unit known here; take {', '.join(units)}.")
    if number <= 0.0:
        raise UsageError(f"{what} {text}: must be more than 0.")
    return number * units[unit]
