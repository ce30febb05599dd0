"""How the answers about a chamber are read from what was typed. UsageError or DataError with what would be right."""

import contextlib
import datetime as dt
import re
from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from controller.errors import DataError, UsageError
from controller.settings.chamber_checks import (
    FIRST_GPIO,
    HIGHEST_ROOM_C,
    LAST_GPIO,
    LOWEST_ROOM_C,
    timezone_trouble,
)
from controller.settings.units import Units, parse_mass_kg, parse_temp_c, show_temp

NONE: Final = "none"
LEAST_L, MOST_L = 20.0, 2000.0
LOWEST_CUTOUT_C, HIGHEST_CUTOUT_C = 35.0, 90.0
MOST_W, MOST_ML_PER_H = 3000.0, 2000.0
MOST_MEAT_KG: Final = 200.0
"""As the chamber file takes them."""
LITRES: Final = {"l": 1.0, "litre": 1.0, "litres": 1.0, "liter": 1.0, "liters": 1.0, "ft3": 28.316846592}
"""A foot is exactly 0.3048 m (international yard and pound agreement, 1959)."""
CM: Final = {"cm": 1.0, "mm": 0.1, "in": 2.54}
LONGEST_TITLE: Final = 80
_PLACE: Final = re.compile(r"[0-9]{1,2}")
_SIDES: Final = re.compile(r"([\d.]+)\s*x\s*([\d.]+)\s*x\s*([\d.]+)\s*(cm|mm|in)")
_NUMBER: Final = re.compile(r"(\d+(?:\.\d*)?|\.\d+)\s*([a-z0-9/]*)")


def one_of(names: Sequence[str]) -> Callable[[str], str]:
    """Return what reads one of these names: the whole name, how it begins, or its number in the list from 1 on."""

    def read(text: str) -> str:
        said = text.strip().lower()
        if _PLACE.fullmatch(said) and 1 <= int(said) <= len(names):
            return names[int(said) - 1]
        low = {name.lower(): name for name in names}
        fitting = [low[said]] if said in low else [name for one, name in low.items() if said and one.startswith(said)]
        if len(fitting) != 1:
            plain = "" if any("_" in name for name in names) else f", or: {', '.join(names)}"
            number = f"a number from 1 to {len(names)}" if len(names) > 1 else "1"
            raise UsageError(f"{text.strip() or 'Nothing'}: type {number}{plain}.")
        return fitting[0]

    return read


yes_or_no: Final = one_of(("yes", "no"))


def words(text: str) -> str:
    """Return words on one line, as they are to stand in a file."""
    said = " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
    if not said:
        raise UsageError('Say it in words, as "Old fridge in the cellar".')
    if len(said) > LONGEST_TITLE:
        raise DataError(f"That has {len(said)} letters; take {LONGEST_TITLE} at most.")
    return said


def zone(text: str) -> str:
    """Return the name of a time zone."""
    trouble = timezone_trouble(text.strip())
    if trouble:
        raise UsageError(f"{text.strip()}: {trouble}.")
    return text.strip()


def room_c(text: str, above_c: float | None = None, units: Units = "C") -> float:
    """Return the °C of a room, not below the coldest that was said before."""
    temp_c = parse_temp_c(text, "room")
    if not LOWEST_ROOM_C <= temp_c <= HIGHEST_ROOM_C:
        raise DataError(
            f"{text}: a room has {show_temp(LOWEST_ROOM_C, units, 0)} to {show_temp(HIGHEST_ROOM_C, units, 0)}."
        )
    if above_c is not None and temp_c < above_c:
        raise DataError(f"{text}: the warmest cannot lie below the coldest, {show_temp(above_c, units)}.")
    return temp_c


def litres(text: str) -> float:
    """Return the litres of a box from 75, 75l, 2.6ft3 or 50x40x90cm."""
    said = text.strip().lower()
    sides = _SIDES.fullmatch(said)
    number = _NUMBER.fullmatch(said)
    volume_l = 0.0
    if sides is not None:
        with contextlib.suppress(ValueError):
            volume_l = float(sides[1]) * float(sides[2]) * float(sides[3]) * CM[sides[4]] ** 3 / 1000.0
    elif number is not None and (number[2] or "l") in LITRES:
        volume_l = float(number[1]) * LITRES[number[2] or "l"]
    if not volume_l:
        raise UsageError(f"{text}: write it as 75l, 2.6ft3, or its inner sides as 50x40x90cm.")
    return _within(volume_l, LEAST_L, MOST_L, text, "litres")


def meat_kg(text: str) -> float:
    """Return the kilograms of meat."""
    kg = parse_mass_kg(text, "meat")
    return _within(kg, 0.1, MOST_MEAT_KG, text, "kg")


def watts(text: str) -> float:
    """Return watts from 60 or 60W."""
    return _within(_plain(text, ("", "w", "watt", "watts"), "60W"), 1.0, MOST_W, text, "W")


def ml_per_h(text: str) -> float:
    """Return millilitres an hour from 200 or 200ml."""
    given = _plain(text, ("", "ml", "ml/h"), "200ml")
    return _within(given, 1.0, MOST_ML_PER_H, text, "ml an hour")


def _plain(text: str, units: tuple[str, ...], example: str) -> float:
    number = _NUMBER.fullmatch(text.strip().lower())
    if number is None or number[2] not in units:
        raise UsageError(f"{text}: write it as {example}.")
    return float(number[1])


def _within(value: float, least: float, most: float, text: str, unit: str) -> float:
    if not least <= value <= most:
        raise DataError(f"{text}: must be {least:g} to {most:g} {unit}.")
    return round(value, 3)


def pins(text: str) -> tuple[int, ...]:
    """Return GPIO numbers from a line of them; none are none."""
    if text.strip().lower() in {"", NONE, "no"}:
        return ()
    return tuple(gpio(word) for word in re.split(r"[\s,]+", text.strip()))


def gpio(text: str, taken: frozenset[int] = frozenset()) -> int:
    """Return one GPIO number."""
    said = re.fullmatch(r"(?:gpio\s*)?(\d{1,2})", text.strip().lower())
    if said is None or not FIRST_GPIO <= int(said[1]) <= LAST_GPIO:
        raise UsageError(f"{text}: a GPIO number is {FIRST_GPIO} to {LAST_GPIO} (BCM, not the header's pin), as 17.")
    if int(said[1]) in taken:
        raise DataError(f"GPIO {said[1]} is taken already; take another.")
    return int(said[1])


def output_pin(text: str, taken: frozenset[int], *, may_find: bool, may_end: bool) -> int | str:
    """Return a GPIO number; "find"; or "none", where there are no more outputs. A chamber has one at least."""
    said = text.strip().lower()
    if said in {NONE, "no"}:
        if not may_end:
            raise DataError("A chamber has one relay at least. (quit ends here; your answers are kept.)")
        return NONE
    if said == "find" and may_find:
        return "find"
    return gpio(text, taken)


def contacts(text: str, channels: tuple[str, ...], taken: frozenset[int]) -> tuple[tuple[str, int], ...]:
    """Return contacts, each with its GPIO, from `door 26, cutout 24`; none are none."""
    if text.strip().lower() in {"", NONE, "no"}:
        return ()
    found: list[tuple[str, int]] = []
    for part in text.split(","):
        name, _, pin = part.strip().rpartition(" ")
        channel = one_of(channels)(name)
        number = gpio(pin, taken | {pin for _, pin in found})
        if channel in {name for name, _ in found}:
            raise DataError(f"{channel} was named twice.")
        found.append((channel, number))
    return tuple(found)


def cutout_c(text: str, units: Units) -> float | None:
    """Return the °C at which a cut-out opens; None where there is none."""
    if text.strip().lower() in {NONE, "no"}:
        return None
    temp_c = parse_temp_c(text, "cut-out")
    if not LOWEST_CUTOUT_C <= temp_c <= HIGHEST_CUTOUT_C:
        raise DataError(
            f"{text}: a cut-out for this opens between {show_temp(LOWEST_CUTOUT_C, units, 0)} and "
            f"{show_temp(HIGHEST_CUTOUT_C, units, 0)}."
        )
    return round(temp_c, 1)


def day_it_opened(text: str, today: dt.date) -> dt.date | None:
    """Return the day on which somebody saw the cut-out open; None for "not yet"."""
    said = text.strip().lower()
    if said in {"not yet", "no", "not", NONE}:
        return None
    if said == "today":
        return today
    try:
        day = dt.date.fromisoformat(said)
    except ValueError:
        raise UsageError(f"{text}: write the day as {today.isoformat()}, or: not yet.") from None
    if day > today:
        raise DataError(f"{text}: lies ahead; today is {today.isoformat()}.")
    return day


def seen(text: str) -> tuple[str, str]:
    """Return the level that switches an output on, and on which day that was seen; empty where it was not seen."""
    level, _, day = text.strip().lower().partition(" ")
    return one_of(("high", "low"))(level), day if re.fullmatch(r"\d{4}-\d{2}-\d{2}", day) else ""


def device(names: tuple[str, ...]) -> Callable[[str], str]:
    """Return what reads one of several sensors."""
    return partial(_device, names)


def _device(names: tuple[str, ...], text: str) -> str:
    said = text.strip().lower()
    if said == "skip" and len(names) == 1:
        return names[0]
    return one_of(names)(said)
