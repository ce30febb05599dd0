"""The file of learned priors, `priors.toml` in the state folder beside the folder of the batches. Nothing numeric here.

It stands there once the maker has taken it over, and forecasts of this chamber's batches begin with it. Whoever decides
in the chamber never reads it. A damaged file is no reason not to forecast: the shipped priors are used, and that is
told.
"""

from pathlib import Path
from typing import Annotated, Final

import msgspec
import tomli_w
from msgspec import Meta, Struct

from controller.errors import AccessError, NoInputError, SettingsError
from controller.records.batch_folder import BatchCard, named
from controller.records.durable import replace_whole
from controller.settings.reader import read_table

FILE: Final = "priors.toml"
FORGOTTEN: Final = "priors-forgotten.toml"
VERSION: Final = 1
HEADLINE: Final = """\
# What finished batches have taught the forecasts, taken over by a person: hangroom learn --forecasts shows it anew.
# Each figure is a natural logarithm beside what the recipe alone leads one to expect: 0.1 is 10 % more, -0.1 is 10 %
# less. A *_spread is how far the next batch may lie from that (standard deviation). Forecasts read this file, and
# nothing that decides does. To go back: hangroom learn --forecasts --forget.

"""

Shift = Annotated[float, Meta(ge=-2.5, le=2.5)]
"""A twelfth to twelve times the usual: beyond it is no starter and no chamber that a recipe fits."""
Spread = Annotated[float, Meta(ge=0.005, le=2.0)]
Batches = tuple[str, ...]


class AcidPrior(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold what the ferments with one starter have shown: slope of the fall, wait before it."""

    culture: str
    starter: str = ""  # As the plan has it; empty where no plan names one.
    batches: Batches
    slope: Shift
    slope_spread: Spread
    lag: Shift
    lag_spread: Spread


class DryingPrior(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold what drying in one chamber in one casing has shown: the days it takes."""

    chamber: str
    casing: str = ""  # As the plan has it; empty where no plan names one.
    batches: Batches
    days: Shift
    days_spread: Spread


class LeftOut(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold a batch that a person wants left out, and why."""

    batch: str
    because: str
    by: str
    on: str


class Priors(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hold all that was learned."""

    version: int = VERSION
    on: str = ""
    by: str = ""
    acid: tuple[AcidPrior, ...] = ()
    drying: tuple[DryingPrior, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


class Use(Struct, frozen=True):
    """Hold what is used: the priors, or why none are; both empty where there is no file."""

    priors: Priors = Priors()
    why_not: str = ""


def starter_of(card: BatchCard) -> tuple[str, str]:
    """Return the culture of a batch, and its starter as the plan names it."""
    named_as = "" if card.sheet is None or card.sheet.starter is None else card.sheet.starter.name
    return card.profile.starter, _plain(named_as)


def place_of(card: BatchCard) -> tuple[str, str]:
    """Return the chamber of a batch, and its casing as the plan names it."""
    return card.chamber.name, _plain("" if card.sheet is None else card.sheet.casing)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def acid_for(priors: Priors, card: BatchCard) -> AcidPrior | None:
    """Return what was learned of a batch's starter."""
    return next((one for one in priors.acid if (one.culture, one.starter) == starter_of(card)), None)


def drying_for(priors: Priors, card: BatchCard) -> DryingPrior | None:
    """Return what was learned of drying where a batch dries."""
    return next((one for one in priors.drying if (one.chamber, one.casing) == place_of(card)), None)


def read_priors(path: Path) -> Priors:
    """Return the priors of a file.

    Raises:
        NoInputError: there is none.
        AccessError: it may not be read.
        SettingsError: what is wrong in it, a line for each.
    """
    table = read_table(path, Priors)
    version = table.get("version")
    if version is not None and version != VERSION:
        table.say("version", f"this program reads version {VERSION}; learn anew: hangroom learn --forecasts")
    table.problems.raise_all()
    return table.build(Priors)


def use_priors(state_dir: Path) -> Use:
    """Return what is to be used of the file in this state folder; never raises."""
    try:
        return Use(read_priors(state_dir / FILE))
    except NoInputError:
        return Use()
    except (SettingsError, AccessError) as error:
        return Use(why_not=f"nothing learned is used, forecasts begin with the recipe: {str(error).splitlines()[0]}")


def encode_priors(priors: Priors) -> str:
    """Return the file's text."""
    table = named(msgspec.to_builtins(priors))
    return HEADLINE + tomli_w.dumps({key: value for key, value in table.items() if value not in ("", [])})


def write_priors(priors: Priors, state_dir: Path) -> Path:
    """Put the file into a state folder, whole or not at all, and keep the one before. Raises StorageError."""
    path = state_dir / FILE
    replace_whole(path, encode_priors(priors).encode(), force=True)
    return path
