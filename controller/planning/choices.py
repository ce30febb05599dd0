"""The lists that are read out at the questions on trichinae and E. coli: grouped, in words, with their names."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from msgspec import Struct

from controller.core.plan import Profile
from controller.food.bowl.cure import CONFIRM
from controller.food.germs.kill_steps import KILL_STEPS, KillStep
from controller.food.germs.measured import celsius
from controller.food.germs.trichinae import METHODS, OPTIONS, Offer, Option, offers
from controller.planning.bowl.kill_step import fitting

HEADINGS: Final = (
    "The meat itself",
    "Freezing by the thickness (domestic pork only)",
    "Freezing by the centre (domestic pork only)",
    "Freezing by the centre, EU (domestic pork only)",
    "Heat",
    "Curing and drying by a listed method (domestic pork only)",
)
STAR: Final = " *"
FOOT: Final = f"* {CONFIRM}"
CASINGS: Final = ("Casings up to 55 mm", "Casings of 56 to 105 mm", "Any casing, by the core")


class Group(Struct, frozen=True):
    """Hold one group of a list: its heading, and each name with its words."""

    title: str
    rows: tuple[tuple[str, str], ...]


def choices(key: str, given: Mapping[str, Any], profile: Profile) -> tuple[Group, ...]:
    """Return what this question takes, in groups; empty where anything may be said.

    Args:
        key: of the question.
        given: what is known by now; without a meat and a casing all are listed, else what fits.
        profile: for its salt.
    """
    if key == "trichinae":
        return tuple(_trichinae(given, profile))
    if key == "kill_step":
        fit = fitting(given["casing"][1], profile) if given.get("casing") else tuple(step.id for step in KILL_STEPS)
        groups = ((title, [step for step in KILL_STEPS if _casing(step) == title and step.id in fit])
                  for title in CASINGS)  # fmt: skip
        return tuple(
            Group(title, tuple((step.id, kill_words(step)) for step in steps)) for title, steps in groups if steps
        )
    return ()


def _trichinae(given: Mapping[str, Any], profile: Profile) -> Iterator[Group]:
    found: Iterable[Offer] = (Offer(option) for option in OPTIONS)
    if given.get("meats") and given.get("casing"):
        salt_pct = given.get("salt_pct") or profile.per_kg.salt_pct
        raw = all(stage.kind != "cook" for stage in profile.stages)
        found = offers({meat.species for meat in given["meats"]}, given["casing"][1], salt_pct, raw=raw)
    listed = tuple(found)
    for title in HEADINGS:
        rows = tuple((offer.option.id, _offered(offer)) for offer in listed if _heading(offer.option) == title)
        if rows:
            yield Group(title, rows)


def _offered(offer: Offer) -> str:
    days = f", {offer.drying_days:g} days in the drying room" if offer.drying_days is not None else ""
    beside = f" ({offer.note.rstrip('.')})" if offer.note else ""
    salt = next((f", from {method.salt_pct:.3g} % of salt" for method in METHODS if method.id == offer.option.id), "")
    return offer.option.words + salt + days + beside + (STAR if offer.option.confirm else "")


def _heading(option: Option) -> str:
    if option.kind == "freeze":
        return HEADINGS[1 if option.thickest_mm is not None else 3 if option.id.startswith("eu-") else 2]
    return {"none": HEADINGS[0], "cook": HEADINGS[4], "cure": HEADINGS[5]}[option.kind]


def _casing(step: KillStep) -> str:
    if step.casing_mm is None:
        return CASINGS[2]
    return CASINGS[0] if step.casing_mm[0] == 0.0 else CASINGS[1]


def kill_words(step: KillStep) -> str:
    """Return a process in words: ferment, pH, then what comes after; °F as printed, the ferment in °C too."""
    told = []
    if step.ferment_f is not None:
        told.append(f"ferment at {step.ferment_f:g} °F ({celsius(step.ferment_f):.0f} °C)")
    if step.ph is not None:
        sign, limit = step.ph
        told.append(f"to pH {limit:g} or {'lower' if sign == '<=' else 'higher'}")
    then = re.sub(r"(\d) F\b", r"\1 °F", step.then)
    told.append(f"then {then}" if told and not then.startswith("hold") else then)
    return ", ".join(told) + (STAR if step.confirm else "")
