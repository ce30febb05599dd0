"""How values stand on the page: instants in local time with UTC in the data, verdicts in words, tables with a caption.

Whatever has an `__html__` here puts plain text through an escape; all other text is escaped by the template.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, Final
from zoneinfo import ZoneInfo

from markupsafe import Markup
from msgspec import Struct

from controller.records.csv_text import time_text
from controller.settings.units import Units, to_f

Say = Callable[[str, str, Units], str]
"""Puts a sentence of the program into local time and the chamber's units: (text, time zone, units) to text."""
NONE: Final = "\N{EN DASH}"
VERDICTS: Final = {
    "within": "within the limit",
    "over": "OVER the limit",
    "open": "open",
    "met": "met",
    "not met": "NOT MET",
    "not measured": "not measured",
}
ENDS: Final = {"until": "its end was reached", "person": "ended by a person", "hang": "the meat was hung"}
UNITS: Final = {"Cel": "°C", "[degF]": "°F", "1": "", "pH": ""}
BAD: Final = frozenset({"over", "not met"})
OPEN: Final = frozenset({"open", "not measured"})


class Time(Struct, frozen=True):
    """Hold an instant; it is shown in local time, and its UTC stands in the data."""

    at_s: float
    timezone: str
    form: str = "%Y-%m-%d %H:%M"

    def __str__(self) -> str:
        """Return it in local time."""
        return dt.datetime.fromtimestamp(self.at_s, ZoneInfo(self.timezone)).strftime(self.form)

    def __html__(self) -> str:
        """Return it as an element of HTML."""
        return Markup('<time datetime="{}">{}</time>').format(time_text(self.at_s), str(self))


class Stands(Struct, frozen=True):
    """Hold how something stands against its limit; `words` where they are others than usual."""

    verdict: str
    words: str = ""

    def __str__(self) -> str:
        """Return it in words."""
        return self.words or VERDICTS.get(self.verdict, self.verdict)

    def __html__(self) -> str:
        """Return it as an element of HTML; the class only adds to what the words say."""
        how = "bad" if self.verdict in BAD else "open" if self.verdict in OPEN else "good"
        return Markup('<strong class="stands {}">{}</strong>').format(how, str(self))


class Struck(Struct, frozen=True):
    """Hold what was replaced by a later entry."""

    text: str

    def __html__(self) -> str:
        """Return it as an element of HTML."""
        return Markup("<del>{}</del>").format(self.text)


class Code(Struct, frozen=True):
    """Hold a name of a file or a sum of its bytes, which may be broken anywhere."""

    text: str

    def __html__(self) -> str:
        """Return it as an element of HTML."""
        return Markup("<code>{}</code>").format(self.text)


Cell = Any
"""Text, a number in words, or one of the above."""


class Table(Struct, frozen=True, kw_only=True):
    """Hold a table: what it shows, its columns, its rows. The first cell of a row names it.

    `numbers` are the columns, counted from 0, whose cells stand at the right.
    """

    caption: str
    head: tuple[str, ...]
    rows: Sequence[tuple[Cell, ...]]
    numbers: tuple[int, ...] = ()
    nothing: str = "Nothing of it is on record."
    wide: bool = False  # It scrolls within its own box where the page is narrow.


class Shown(Struct, frozen=True, kw_only=True):
    """Hold how this chamber shows its figures."""

    timezone: str
    units: Units
    say: Say

    def words(self, text: str) -> str:
        """Return a sentence of the program in local time and units."""
        return self.say(text, self.timezone, self.units)

    def at(self, time: float | str | None, form: str = "%Y-%m-%d %H:%M") -> Time | str:
        """Return an instant, given in seconds since 1970 UTC or as RFC 3339."""
        if time is None:
            return NONE
        at_s = dt.datetime.fromisoformat(time).timestamp() if isinstance(time, str) else time
        return Time(at_s, self.timezone, form)

    @property
    def degree(self) -> str:
        """Return the unit of its temperatures."""
        return f"°{self.units}"

    def value(self, temp_c: float) -> float:
        """Return a temperature in the chamber's units, for an axis."""
        return temp_c if self.units == "C" else to_f(temp_c)

    def temp(self, temp_c: float | None, decimals: int = 1) -> str:
        """Return a temperature in the chamber's units."""
        return NONE if temp_c is None else f"{self.value(temp_c):.{decimals}f} {self.degree}"

    def apart(self, by_k: float) -> str:
        """Return a difference of temperatures."""
        return f"{by_k:g} K" if self.units == "C" else f"{round(1.8 * by_k, 2):g} °F"

    def mass(self, kg: float) -> str:
        """Return a mass of meat; where the chamber has °F, in pounds, too."""
        return self.words(f"{kg:.3f} kg") if self.units == "F" else f"{round(kg, 3):g} kg"


def number(value: float | None, decimals: int = 1, unit: str = "") -> str:
    """Return a number with its unit, or that it is not known."""
    return NONE if value is None else f"{value:.{decimals}f}{' ' if unit else ''}{unit}"


def span(low: float | None, high: float | None, decimals: int = 1) -> str:
    """Return from which value to which."""
    return NONE if low is None or high is None else f"{low:.{decimals}f} to {high:.{decimals}f}"


def counted(count: int, one: str, many: str = "") -> str:
    """Return how many of a thing there are."""
    return f"{count} {one if count == 1 else many or f'{one}s'}"
