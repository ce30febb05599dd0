"""Find a maker's earlier batches of the same kind, whose scatter says which difference is larger than usual."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Final

from msgspec import Struct

from controller.errors import HangroomError, NoInputError
from controller.records.batch_folder import BATCHES, CARD, BatchCard, read_card
from controller.review.compare.recipe import family_of
from controller.review.compare.traits import OVER, Traits, traits_of
from controller.review.logs.scan import NO_HINTS
from controller.review.logs.spreadsheet import Hints

MOST: Final = 25
"""So many are read, the newest: they tell how this maker works now, and reading each takes up to half a second."""
MOST_IN_GAPS: Final = 0.05
Follow = Callable[[Iterable[Path]], Iterable[Path]]


class Earlier(Struct, frozen=True):
    """Hold the earlier batches that count, those that do not with the reason, and how many older ones were not read."""

    folders: tuple[Path, ...]
    batches: tuple[Traits, ...]
    left_out: tuple[tuple[str, str], ...] = ()
    older: int = 0


def earlier_than(compared: Sequence[Traits], place: Path | None, follow: Follow, hints: Hints = NO_HINTS) -> Earlier:
    """Return the finished batches of the first one's kind that began before the newest of those compared.

    Args:
        compared: the batches that were named; none of them counts as earlier.
        place: where to look; None: the folders in which the compared ones lie.
        follow: wraps the folders while they are read.
        hints: what a person says about the times of climate files that a spreadsheet has saved again.

    Raises:
        NoInputError: there is no such folder.
    """
    homes = _homes(compared, place)
    own = {one.folder.resolve() for one in compared}
    newest = max(one.card.batch.began for one in compared)
    found: list[tuple[str, Path]] = []
    for home in homes:
        for path in sorted(home.iterdir()):
            card = _card(path)
            if card is None or path.resolve() in own or card.batch.began >= newest:
                continue
            if family_of(card) == compared[0].family:
                found.append((card.batch.began, path))
    found.sort()
    batches, left_out = [], []
    for path in follow([path for _, path in found[-MOST:]]):
        try:
            seen = traits_of(path, hints)
        except HangroomError as error:
            left_out.append((path.name, str(error).splitlines()[0]))
            continue
        why = _why_not(seen)
        if why:
            left_out.append((path.name, why))
        else:
            batches.append(seen)
    return Earlier(homes, tuple(batches), tuple(left_out), len(found[:-MOST]))


def _homes(compared: Sequence[Traits], place: Path | None) -> tuple[Path, ...]:
    if place is None:
        return tuple(dict.fromkeys(one.folder.resolve().parent for one in compared))
    if not place.is_dir():
        raise NoInputError(f"{place}: there is no such folder; name one that holds batch folders")
    inner = place / BATCHES
    return (inner if inner.is_dir() else place,)


def _card(path: Path) -> BatchCard | None:
    """Return the card of a folder; None where it is none, or what is in it cannot be read: it is no batch of a kind."""
    if not (path / CARD).is_file():
        return None
    try:
        return read_card(path)
    except HangroomError:
        return None


def _why_not(seen: Traits) -> str:
    """Return why a batch says nothing of the usual scatter; empty where it counts."""
    if seen.state not in OVER:
        return "it is not over"
    if seen.begin_s is None:
        return "when it was hung is on no record"
    if seen.damaged_readings:
        return f"{seen.damaged_readings} of its rows of readings and events cannot be read"
    if seen.ferment_missing:
        return "the climate of its ferment is not all on record"
    if seen.gap_share > MOST_IN_GAPS:
        return f"{100.0 * seen.gap_share:.0f} % of its climate is missing"
    return ""
