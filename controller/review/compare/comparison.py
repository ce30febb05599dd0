"""Put batches side by side: what was meant, what came, which difference is larger than the maker's usual scatter."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from controller.errors import DataError, UsageError
from controller.records.csv_text import time_text
from controller.review.compare.curves import Points
from controller.review.compare.earlier import Earlier, Follow, earlier_than
from controller.review.compare.recipe import differing, family_words
from controller.review.compare.scatter import BY_CHANCE, FEWEST, Scatter, is_larger, scatter_of
from controller.review.compare.traits import Figure, Traits, traits_of
from controller.review.logs.scan import NO_HINTS
from controller.review.logs.spreadsheet import Hints

MOST: Final = 6
"""So many stand beside each other in 80 columns."""
LETTERS: Final = "ABCDEF"


def compare(
    folders: Sequence[Path], place: Path | None = None, follow: Follow = iter, hints: Hints = NO_HINTS
) -> dict[str, Any]:
    """Return the comparison as plain values for JSON: hours and days from hanging, °C, %RH, per cent.

    Args:
        folders: of two to six batches; the others are compared with the first.
        place: where the earlier batches lie; None: beside those compared.
        follow: wraps the folders of earlier batches while they are read.
        hints: what a person says about the times of climate files that a spreadsheet has saved again.

    Raises:
        UsageError: fewer than two, or more than six.
        NoInputError: there is no such folder, or no batch card in it.
        DataError: a card is damaged, or a batch has no begin to be laid upon.
    """
    if not 2 <= len(folders) <= MOST:  # noqa: PLR2004 - one cannot be compared
        raise UsageError(f"compare: name two to {MOST} batches; these are {len(folders)}.")
    batches = [traits_of(folder, hints) for folder in folders]
    for one in batches:
        if one.begin_s is None:
            raise DataError(f"{one.folder}: neither hanging nor a ferment is on record, so nothing can be laid upon it")
    same = [one.family == batches[0].family for one in batches]
    earlier = earlier_than(batches, place, follow, hints) if any(same[1:]) else Earlier((), ())
    figures = _figures(batches, same, earlier)
    judged = [larger for figure in figures for larger in figure["larger"] if larger is not None]
    return {
        "batches": [_head(letter, one) for letter, one in zip(LETTERS, batches, strict=False)],
        "units": batches[0].card.chamber.units,
        "timezone": batches[0].card.chamber.timezone,
        "families": [family_words(one.family) for one in batches],
        "same_family": same,
        "recipe": [{"key": key, "values": values} for key, values in differing([one.card for one in batches])],
        "figures": figures,
        "earlier": {
            "folders": [str(folder) for folder in earlier.folders],
            "batches": [one.batch for one in earlier.batches],
            "left_out": [{"batch": name, "why": why} for name, why in earlier.left_out],
            "older_not_read": earlier.older,
            "fewest": FEWEST,
        },
        "chance": {
            "judged": len(judged),
            "larger": sum(judged),
            "expected_by_chance": round(BY_CHANCE * len(judged), 2),
            "each": BY_CHANCE,
        },
        "curves": [{name: _plain(points) for name, points in one.curves.items()} for one in batches],
    }


def _plain(points: Points) -> list[list[float]]:
    return [[round(at, 4), round(value, 4)] for at, value in points]


def _head(letter: str, one: Traits) -> dict[str, Any]:
    return {
        "letter": letter,
        "batch": one.batch,
        "folder": str(one.folder),
        "title": one.card.profile.title,
        "profile": one.card.profile.name,
        "state": one.state,
        "axis_begins": None if one.begin_s is None else time_text(one.begin_s),
        "counted_from": one.counted_from,
        "damage": list(one.damage),
    }


def _figures(batches: Sequence[Traits], same: Sequence[bool], earlier: Earlier) -> list[dict[str, Any]]:
    """Return the figures that at least one batch has, in the order of the page."""
    other = "degree_hours_c" if batches[0].card.chamber.units == "F" else "degree_hours_f"
    named: dict[str, Figure] = {}
    for one in batches:
        named |= one.named
    order = {"acid": 0, "drying": 1, "stages": 2, "climate": 3, "alarms": 4}
    rows = []
    for key, figure in sorted(named.items(), key=lambda item: order[item[1].group]):
        if key != other and any(one.figures.get(key) is not None for one in batches):
            rows.append(_figure(figure, batches, same, earlier.batches))
    return rows


def _figure(
    figure: Figure, batches: Sequence[Traits], same: Sequence[bool], earlier: Sequence[Traits]
) -> dict[str, Any]:
    key = figure.key
    values = [one.figures.get(key) for one in batches]
    so_far = [key in one.so_far for one in batches]
    known = [value for one in earlier if (value := one.figures.get(key)) is not None and key not in one.so_far]
    scatter = scatter_of(known)
    differences = [_difference(values[0], value) for value in values]
    differences[0] = None
    larger = [
        is_larger(difference, scatter) if alike and not (so_far[0] or still) else None
        for difference, alike, still in zip(differences, same, so_far, strict=True)
    ]
    return {
        "key": key,
        "group": figure.group,
        "words": figure.words,
        "unit": figure.unit,
        "decimals": figure.decimals,
        "values": [None if value is None else round(value, 4) for value in values],
        "so_far": so_far,
        "differences": [None if value is None else round(value, 4) for value in differences],
        "larger": larger,
        "earlier": _scatter(scatter),
    }


def _difference(first: float | None, value: float | None) -> float | None:
    return None if first is None or value is None else value - first


def _scatter(scatter: Scatter) -> Mapping[str, float | int | None]:
    return {
        "batches": scatter.count,
        "mean": _rounded(scatter.mean),
        "sd": _rounded(scatter.spread),
        "limit": _rounded(scatter.limit),
        "low": _rounded(scatter.low),
        "high": _rounded(scatter.high),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
