"""Spoons and cups: a volume is no weight, and nobody knows the grams of a heaped spoon."""

import re
from typing import Final

from controller.errors import UsageError

_VOLUME: Final = re.compile(
    r"\b(tsps?|tbsps?|(tea|table)?spoon(ful)?s?|cups?|ml|cl|dl|pinch(es)?|fl\s?oz)\b|(?<=\d)(tsp|tbsp|cups?|ml|cl|dl)\b",
    re.IGNORECASE,
)


def refuse_volume(text: str, what: str, right: str) -> None:
    """Refuse what was typed as a volume, with what would be right. Raises UsageError."""
    found = _VOLUME.search(text)
    if found is not None:
        raise UsageError(
            f"{what} {text}: {found[0]} is a volume and tells no weight, least of all of a powder. Weigh it, and write "
            f"{right}."
        )
