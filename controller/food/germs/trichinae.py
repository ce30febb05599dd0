"""Trichinae: which option a maker has for pork, and what it asks. Whether a batch meets it: `trichinae_record`.

Every option has a name that a plan and a profile can carry. The tables are printed without anything between their
rows: a casing takes the next larger row, a temperature or a time the next lower one. Freezing and curing are for
domestic pork; in game they cannot be relied on, for some of its trichinae outlive frost, and only heat is left.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from typing import Final, Literal

from controller.food.germs import trichinae_tables as printed
from controller.food.germs.measured import (
    MM_PER_IN,
    celsius,
    time_words,
)
from controller.food.germs.trichinae_tables import (
    METHODS,
    STATUS,
    TABLE_3A,
    TABLE_3B,
    TABLE_3B_F,
    TABLE_4,
    Method,
    Need,
)

__all__ = [
    "CAUTION", "GAME", "METHODS", "OPTIONS", "OPTION_IDS", "STATUS", "Offer", "Option", "days_of_method",
    "drying_days_6", "hill_days", "needs_option", "off_pct_3b", "offers", "option_of", "salt_pct_6",
]  # fmt: skip

Kind = Literal["none", "freeze", "cook", "cure"]
PORK: Final = frozenset({"pork"})
WILD: Final = frozenset({"game", "wild boar", "bear"})
FROST_PROOF: Final = WILD | {"horse"}
"""What only heat is an option for: some of its trichinae outlive frost."""
WITH_TRICHINAE: Final = PORK | FROST_PROOF
AFTER_ROUNDING: Final = 1e-6

GAME: Final = (
    "Freezing cannot be relied on in game: some of its trichinae outlive frost (MSD Veterinary Manual, read "
    "second-hand). The methods of curing are for domestic pork too; only heat is left."
)
CAUTION: Final = "No option here is proof against any other germ (CFIA)."


@dataclass(frozen=True, slots=True)
class Option:
    """Hold one option.

    Attributes:
        id: its name.
        kind: freeze, cook, cure, or none where the meat itself is proof.
        words: what it asks, for a person.
        temp_c: not above this when frozen, not below this when cooked.
        hours: so long; 0: at once.
        thickest_mm: of the piece or layer that is frozen; None: at the centre, any thickness.
        source: where it is published.
        confirm: whether it rests on memory.
    """

    id: str
    kind: Kind
    words: str
    temp_c: float | None = None
    hours: float | None = None
    thickest_mm: float | None = None
    source: str = ""
    confirm: bool = False


def _degrees(value: float) -> str:
    return f"minus{-value:g}" if value < 0 else f"{value:g}"


def _freezing() -> Iterable[Option]:
    for temp_f, *days_of in printed.FREEZING_1:
        for up_to_in, days in zip(printed.FREEZING_1_IN, days_of, strict=True):
            yield Option(
                f"freeze-{_degrees(temp_f)}f-{days:g}d", "freeze",
                f"frozen at {temp_f:g} °F ({celsius(temp_f):.1f} °C) or colder for {days:g} days, up to "
                f"{up_to_in:g} in ({up_to_in * MM_PER_IN:.0f} mm) thick",
                celsius(temp_f), days * 24.0, up_to_in * MM_PER_IN, printed.FREEZING_1_SOURCE,
            )  # fmt: skip
    for temp_f, hours in printed.FREEZING_2:
        yield Option(
            f"core-{_degrees(temp_f)}f-{hours:g}h", "freeze",
            f"centre at {temp_f:g} °F ({celsius(temp_f):.1f} °C) or colder for {hours:g} h",
            celsius(temp_f), hours, None, printed.FREEZING_2_SOURCE,
        )  # fmt: skip
    for temp_c, hours in printed.EU_FREEZING:
        yield Option(
            f"eu-{_degrees(temp_c)}c-{hours:g}h", "freeze", f"centre at {temp_c:g} °C or colder for {hours:g} h",
            temp_c, hours, None, printed.EU_SOURCE, confirm=True,
        )  # fmt: skip


def _heating() -> Iterable[Option]:
    for temp_f, minutes in printed.HEATING:
        how_long = f" for {time_words(minutes / 60.0)}" if minutes else ", at once"
        yield Option(
            f"cook-{temp_f:g}f", "cook", f"all parts at {temp_f:g} °F ({celsius(temp_f):.1f} °C) or more{how_long}",
            celsius(temp_f), minutes / 60.0, None, printed.HEATING_SOURCE, confirm=True,
        )  # fmt: skip


OPTIONS: Final = (
    Option("certified", "none", "pork found free of trichinae, or from a controlled herd", source=STATUS),
    *_freezing(),
    *_heating(),
    *(
        Option(method.id, "cure", f"curing method {method.id[-1]}", source=method.source, confirm=method.confirm)
        for method in METHODS
    ),
    Option("hill-2017", "cure", "fermented and dried (Hill et al. 2017)", source=printed.HILL_SOURCE),
)
OPTION_IDS: Final = tuple(option.id for option in OPTIONS)
FREEZING_IDS: Final = tuple(option.id for option in OPTIONS if option.kind == "freeze")


def option_of(name: str) -> Option:
    """Return the option of this name. Raises KeyError where there is none."""
    for option in OPTIONS:
        if option.id == name:
            return option
    raise KeyError(f"{name}: no such option; there are {', '.join(OPTION_IDS)}")


def needs_option(species: Iterable[str]) -> bool:
    """Say whether a meat block can hold trichinae at all: pork, game, wild boar, bear, and horse."""
    return not set(species).isdisjoint(WITH_TRICHINAE)


def salt_pct_6(salt: float, without_dry: float) -> float:
    """Return the salt of method 6 in %, of the sausage without its dry ingredients, both in the same unit of mass."""
    return 100.0 * salt / without_dry


def drying_days_6(diameter_mm: float, salt_pct: float, *, held_h: float = 0.0, held_f: float = 0.0) -> int | None:
    """Return the days in a drying room of 50 °F or more that method 6 asks; None where its tables do not reach.

    Table 3A by the casing, less the % of Table 3B for time held before drying, more the % of Table 4 for salt below
    3.33 %; then whole days, rounded up. Nothing is interpolated: the next larger casing, the next lower temperature,
    time and salt count.

    Args:
        diameter_mm: of the casing at stuffing, up to 6 in.
        salt_pct: by `salt_pct_6`, from 2.0 %.
        held_h: hours held before drying.
        held_f: at this °F or more.
    """
    days = next((days for up_to_in, days in TABLE_3A if diameter_mm <= up_to_in * MM_PER_IN + AFTER_ROUNDING), None)
    if days is None:
        return None
    more_pct = 0
    if salt_pct < printed.FULL_SALT_6_PCT:
        tenth = int(salt_pct * 10.0 + AFTER_ROUNDING) / 10.0
        if tenth not in TABLE_4:
            return None
        more_pct = TABLE_4[tenth]
    return ceil(days * (100 - off_pct_3b(held_h, held_f)) * (100 + more_pct) / 10_000 - AFTER_ROUNDING)


def off_pct_3b(held_h: float, held_f: float) -> int:
    """Return the % of the drying days that Table 3B takes off: the row and column next below, 0 below its first."""
    hours = max((row for row in TABLE_3B if row <= held_h + AFTER_ROUNDING), default=None)
    columns = [place for place, temp_f in enumerate(TABLE_3B_F) if temp_f <= held_f]
    return TABLE_3B[hours][columns[-1]] if hours is not None and columns else 0


def hill_days(ph: float, salt_pct: float) -> int | None:
    """Return the days that Hill et al. (2017) give; None outside pH 4.6 to 5.2 or under 1.3 % salt.

    Fermented at 23.8 °C, dried at 15.5 °C and 75 % RH to a water activity of 0.92.
    """
    low, high = printed.HILL_PH
    ph = round(ph, 2)
    if not low <= ph <= high or salt_pct < printed.HILL_SALT_PCT:
        return None
    if ph == low:
        return printed.HILL_AT_4_6_DAYS
    return [days for from_pct, days in printed.HILL_DAYS if from_pct <= salt_pct][-1]


def days_of_method(method: Method, diameter_mm: float, *, pepperoni: bool = False) -> tuple[Need, ...] | None:
    """Return what a method asks of this casing; None where it does not reach so far. Method 6 goes by its tables."""
    for size in method.sizes:
        if diameter_mm <= size.up_to_in * MM_PER_IN + AFTER_ROUNDING and (not size.only or pepperoni):
            return size.needs
    return None


@dataclass(frozen=True, slots=True)
class Offer:
    """Hold one option for a sausage, with the days in the drying room that it asks; None where it asks for none."""

    option: Option
    drying_days: float | None = None
    note: str = ""


def offers(
    species: Iterable[str], diameter_mm: float, salt_pct: float, *, raw: bool, pepperoni: bool = False
) -> tuple[Offer, ...]:
    """Return the options that are open to a meat block: none where no trichinae can be in it, heat only for game.

    Args:
        species: of the meats, as "pork".
        diameter_mm: of the casing.
        salt_pct: of the meat.
        raw: it is never cooked, so that heating is no option.
        pepperoni: method 1 has a row of its own for it.
    """
    species = set(species)
    if not needs_option(species):
        return ()
    cooked = tuple(Offer(option) for option in OPTIONS if option.kind == "cook" and not raw)
    if species & FROST_PROOF:
        return tuple(Offer(offer.option, None, GAME) for offer in cooked)
    found = [Offer(option) for option in OPTIONS if option.kind in {"none", "freeze"}]
    found += cooked
    for method in METHODS:
        if method.salt_pct > salt_pct + AFTER_ROUNDING:
            continue
        if method.id == "method-6":
            days: float | None = drying_days_6(diameter_mm, salt_pct)
            asks = days is not None
        else:
            needs = days_of_method(method, diameter_mm, pepperoni=pepperoni)
            asks = needs is not None
            days = next((need.hours / 24.0 for need in needs or () if need.place == "drying room"), None)
        if asks:
            found.append(Offer(option_of(method.id), days, method.note))
    if salt_pct >= printed.HILL_SALT_PCT:
        days = hill_days(5.2, salt_pct)
        found.append(Offer(option_of("hill-2017"), days, "by the pH in the end; to a water activity of 0.92"))
    return tuple(found)
