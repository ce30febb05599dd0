"""Words and figures for the page: temperatures in the chamber's units, local times, lengths of time, folded lines."""

import re
import textwrap
from collections.abc import Callable
from datetime import datetime
from typing import Final, Literal
from zoneinfo import ZoneInfo

from msgspec import Struct

WIDTH: Final = 80
TIE: Final = "\ue000"
"""Stands for a blank while lines are made; no writing uses it."""
_FIGURE: Final = re.compile(r"\d (?:h|d|min|times?|%|°C|°F|K|g|kg)(?![\w])")
HOUR_S: Final = 3600.0
LONG_H: Final = 72.0
Units = Literal["C", "F"]


def _as_it_is(text: str) -> str:
    return text


class Look(Struct, frozen=True):
    """Hold how this chamber's page is read: its units, its time zone, and what the diary's sentences go through."""

    units: Units
    zone: ZoneInfo
    say: Callable[[str], str] = _as_it_is

    def temp(self, temp_c: float | None, decimals: int = 1, *, unit: bool = True) -> str:
        """Return a temperature in the chamber's units; "unknown" for None."""
        if temp_c is None:
            return "unknown" if unit else "-"
        shown = temp_c if self.units == "C" else temp_c * 1.8 + 32.0
        return f"{shown:.{decimals}f}{f' °{self.units}' if unit else ''}"

    def apart(self, by_k: float, decimals: int = 1) -> str:
        """Return a difference of temperatures in the chamber's units."""
        return f"{by_k:.{decimals}f} K" if self.units == "C" else f"{1.8 * by_k:.{decimals}f} °F"

    @property
    def band(self) -> str:
        """Return the band in which the share of time is counted."""
        return "0.5 K" if self.units == "C" else "0.9 °F"

    def minute(self, time: str) -> str:
        """Return an instant of the figures in local time, as 2026-01-05 14:30."""
        return f"{datetime.fromisoformat(time).astimezone(self.zone):%Y-%m-%d %H:%M}"

    def short(self, time: str | None) -> str:
        """Return an instant without its year, as 5 Jan 14:30; a dash for None."""
        if time is None:
            return "-"
        at = datetime.fromisoformat(time).astimezone(self.zone)
        return f"{at.day} {at:%b %H:%M}"


def pct(value: float | None, decimals: int = 0) -> str:
    """Return a share; "unknown" for None."""
    return "unknown" if value is None else f"{value:.{decimals}f} %"


def lasted(hours: float) -> str:
    """Return a length of time: 12 min, 4.5 h, 9.0 d."""
    if abs(hours) < 1.0:
        return f"{60.0 * hours:.0f} min"
    return f"{hours:.1f} h" if abs(hours) < LONG_H else f"{hours / 24.0:.1f} d"


def meant_to_last(hours: float) -> str:
    """Return a length of time as a profile has it: 15 min, 48 h, 30 d."""
    return f"{hours:g} h" if 1.0 <= hours < LONG_H else lasted(hours).replace(".0 ", " ")


def times(count: int) -> str:
    """Return how often: once as 1 time, else n times."""
    return f"{count} time{'' if count == 1 else 's'}"


def many(count: int, one: str, more: str = "") -> str:
    """Return a count with its word: 1 piece, 3 pieces."""
    return f"{count} {one if count == 1 else more or f'{one}s'}"


def tied(text: str) -> str:
    """Return a text in which no line may end between a figure and its unit; `untied` makes it readable again."""
    return _FIGURE.sub(lambda found: found[0].replace(" ", TIE), text)


def untied(text: str) -> str:
    """Return a text as it is to be read."""
    return text.replace(TIE, " ")


def fold(text: str) -> list[str]:
    """Return the lines of a text that may be too long; what goes on is set in by two more."""
    if len(text) <= WIDTH:
        return [text]
    indent = " " * (len(text) - len(text.lstrip()))
    lines = textwrap.wrap(tied(text), WIDTH, subsequent_indent=f"{indent}  ", break_on_hyphens=False)
    return [untied(line) for line in lines]
