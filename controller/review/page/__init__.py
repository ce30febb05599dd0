"""Put a review on a page of 80 columns for the terminal: plain text, the same in a pipe, no colour and no picture.

The order is that in which a maker asks: what is it and how does it stand, the few figures that matter, how long each
stage took, its climate, pH and weight, what went wrong and what was done, what people entered, forecasts, next time.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from controller.review.batch import read_batch
from controller.review.figures import review_of
from controller.review.page import forecasts, head, measured, next_time, people, stages, troubles
from controller.review.page.words import Look, Units, fold

__all__ = ["page", "page_of"]

PARTS: Final[tuple[Callable[[Mapping[str, Any], Look], list[str]], ...]] = (
    head.first_figures,
    stages.lengths,
    stages.climate,
    measured.ph,
    measured.weights,
    troubles.alarms,
    troubles.pauses,
    troubles.gaps,
    stages.switching,
    people.people,
    people.checks,
    people.notes,
    forecasts.forecasts,
    next_time.next_time,
)


def page(folder: Path) -> list[str]:
    """Return the lines of a batch's review, for reading; temperatures in the units of its chamber.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged.
    """
    record = read_batch(folder)
    return page_of(review_of(record), record.card.chamber.units)


def page_of(figures: Mapping[str, Any], units: Units = "C", say: Callable[[str], str] | None = None) -> list[str]:
    """Return the lines that tell what `review` found.

    Args:
        figures: of `review`.
        units: of the chamber.
        say: what the sentences of the diary go through, for local time and units; None: they stay as they are.
    """
    zone = ZoneInfo(figures["timezone"])
    look = Look(units, zone) if say is None else Look(units, zone, say)
    lines = list(head.head(figures))
    for part in PARTS:
        lines += ["", *part(figures, look)]
    return [line for text in lines for line in fold(text)]
