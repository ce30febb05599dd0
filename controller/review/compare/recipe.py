"""What was meant: every key of recipe, profile and chamber of some batches that is not the same in all of them."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final

import msgspec

from controller.records.batch_folder import BatchCard, named
from controller.review.forecast.mix import dextrose_pct_of

SHEET: Final = ("authority", "casing", "criteria", "trichinae", "kill_step", "mould", "smokes", "dries")
PLACE: Final = frozenset({"state_dir", "timezone", "title"})
"""Of the chamber file: what says nothing of the sausage."""


def differing(cards: Sequence[BatchCard]) -> list[tuple[str, list[Any]]]:
    """Return (key, one value for each batch) of what differs; None where a batch has no such key."""
    flat = [_flat(card) for card in cards]
    keys = dict.fromkeys(key for one in flat for key in one)
    rows = [(key, [one.get(key) for one in flat]) for key in keys]
    return [(key, values) for key, values in rows if any(value != values[0] for value in values)]


def family_of(card: BatchCard) -> tuple[str, str, tuple[str, ...]]:
    """Return what kind of sausage it is: style, culture, and the kinds of its stages in their order."""
    return card.profile.style, card.profile.starter, tuple(dict.fromkeys(stage.kind for stage in card.profile.stages))


def family_words(family: tuple[str, str, tuple[str, ...]]) -> str:
    """Return it for people."""
    style, starter, kinds = family
    return f"{style}, {'no starter' if starter == 'none' else f'{starter} starter'}; {', '.join(kinds)}"


def _flat(card: BatchCard) -> dict[str, Any]:
    found: dict[str, Any] = {"meat_kg": card.batch.meat_kg, "diameter_mm": card.batch.diameter_mm}
    for name in ("salt", "cure", "dextrose", "starter"):
        grams = getattr(card.formulation, f"{name}_g")
        found[f"formulation.{name}_g_per_kg"] = round(grams / card.batch.meat_kg, 2 if name == "starter" else 1)
    found["formulation.dextrose_pct_of_mix"] = round(dextrose_pct_of(card), 2)
    profile = msgspec.to_builtins(card.profile)
    stages = {stage.pop("name"): stage for stage in profile.pop("stages")}
    found |= dict(_walk("profile", profile))
    for name, stage in stages.items():
        found[f"stage {name}"] = "there"
        found |= dict(_walk(f"stage {name}", stage))
    found |= dict(_plan(card))
    return found | dict(_chamber(card))


def _plan(card: BatchCard) -> Iterator[tuple[str, Any]]:
    """Yield what the plan says, where there is one: its dates and warnings belong to one day."""
    if card.sheet is None:
        return
    sheet = msgspec.to_builtins(card.sheet)
    yield from _walk("plan", {name: sheet[name] for name in SHEET})
    yield from _walk("plan.starter", sheet["starter"] or {})
    formula = sheet["formula"]
    yield from _walk("plan", {"fat_pct": formula["fat_pct"], "cure": formula["cure"]})
    for meat in formula["meats"]:
        yield f"plan.meat {meat['name']}", f"{100.0 * meat['kg'] / formula['meat_kg']:.0f} %"
    for line in formula["ingredients"]:
        yield f"plan.{line['name']}_g_per_kg", round(line["grams"] / formula["meat_kg"], 2)


def _chamber(card: BatchCard) -> Iterator[tuple[str, Any]]:
    chamber = named(msgspec.to_builtins(card.chamber, builtin_types=(date,)))
    parts = [(name, chamber.pop(name)) for name in ("sensor", "output")]
    yield from _walk("chamber", {key: value for key, value in chamber.items() if key not in PLACE})
    for name, entries in parts:
        for entry in entries if isinstance(entries, list) else []:
            yield from _walk(f"chamber.{name} {entry.get('channel') or entry.get('role')}", entry)


def _walk(prefix: str, table: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _walk(f"{prefix}.{key}", value)
        elif value not in (None, "", [], ()):
            yield f"{prefix}.{key}", list(value) if isinstance(value, (list, tuple)) else value
