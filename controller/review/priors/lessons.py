"""What all finished batches of a chamber teach: which of them count, what follows, whether it helps, the file to keep.

Ferments are taken together by culture and starter, dryings by chamber and casing, as the plan names them; the casing's
diameter and the air are in the model already. What is proposed is a whole new file: groups that do not help are not in
it.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

from controller.errors import HangroomError
from controller.records.batch_folder import read_card
from controller.records.csv_text import printable
from controller.review.batch import BatchRecord, read_batch
from controller.review.forecast.estimate import Array
from controller.review.priors import dryings, ferments
from controller.review.priors.count import why_not
from controller.review.priors.kept import AcidPrior, DryingPrior, LeftOut, Priors, place_of, starter_of
from controller.review.priors.left_one_out import FEWEST, Scores, left_one_out
from controller.review.priors.shown import Shown
from controller.review.priors.shrinking import Belief, learn

MOST: Final = 60
"""So many batches are looked at, the newest: they tell of the chamber as it is, and each takes half a second."""
Thing = Literal["ferment", "drying"]
SPREADS: Final[dict[Thing, Array]] = {"ferment": ferments.SPREAD, "drying": dryings.SPREAD}


@dataclass(frozen=True, slots=True)
class Excluded:
    """Hold a batch that does not count, for what, and why; where a person said so, by whom."""

    batch: str
    thing: Literal["ferment", "drying", "batch"]
    why: str


@dataclass(frozen=True, slots=True)
class Lesson:
    """Hold what one group of batches teaches.

    Attributes:
        thing: ferment or drying.
        key: culture and starter, or chamber and casing.
        batches: their names.
        belief: of the next batch's shift.
        scores: with each left out.
    """

    thing: Thing
    key: tuple[str, str]
    batches: tuple[str, ...]
    belief: Belief
    scores: Scores

    @property
    def proposed(self) -> bool:
        """Say whether forecasts should begin with it."""
        return self.scores.better

    @property
    def prior(self) -> AcidPrior | DryingPrior:
        """Return it as it would be kept."""
        return _acid(self) if self.thing == "ferment" else _drying(self)

    @property
    def verdict(self) -> str:
        """Return in a maker's words whether it helps."""
        count = len(self.batches)
        if count < FEWEST:
            return f"not proposed: {count} of {FEWEST} batches that are needed to see whether it helps"
        if self.proposed:
            return "proposed: the batches that were left out were forecast better by the others than by the recipe"
        if self.scores.mean <= 0.0:
            return "not proposed: left out in turn, batches were forecast no better by the others than by the recipe"
        return "not proposed: batches were forecast better by the others, but not by more than chance"


@dataclass(frozen=True, slots=True)
class Lessons:
    """Hold all of it: what each group teaches, what does not count, how many finished ones were not looked at."""

    lessons: tuple[Lesson, ...]
    excluded: tuple[Excluded, ...]
    older: int = 0
    left_out: tuple[LeftOut, ...] = field(default=())

    def priors(self, on: str, by: str) -> Priors:
        """Return the file that would be kept."""
        good = [lesson for lesson in self.lessons if lesson.proposed]
        return Priors(
            on=on,
            by=by,
            acid=tuple(_acid(one) for one in good if one.thing == "ferment"),
            drying=tuple(_drying(one) for one in good if one.thing == "drying"),
            left_out=self.left_out,
        )


def _acid(lesson: Lesson) -> AcidPrior:
    mean, spread = lesson.belief.mean.round(4).tolist(), lesson.belief.spread.round(4).tolist()
    return AcidPrior(
        culture=lesson.key[0], starter=lesson.key[1], batches=lesson.batches,
        slope=mean[0], slope_spread=spread[0], lag=mean[1], lag_spread=spread[1],
    )  # fmt: skip


def _drying(lesson: Lesson) -> DryingPrior:
    return DryingPrior(
        chamber=lesson.key[0], casing=lesson.key[1], batches=lesson.batches,
        days=round(float(lesson.belief.mean[0]), 4), days_spread=round(float(lesson.belief.spread[0]), 4),
    )  # fmt: skip


def lessons_of(
    home: Path, left_out: Sequence[LeftOut] = (), follow: Callable[[Iterable[Path]], Iterable[Path]] = iter
) -> Lessons:
    """Return what the batches in a folder teach.

    Args:
        home: the folder of the batches.
        left_out: batches that a person does not want to count.
        follow: wraps the folders while they are looked at, to show how far it is.
    """
    folders = sorted(path for path in home.glob("*/") if (path / "recipe.toml").is_file())
    began = sorted(folders, key=_began)
    newest, older = began[-MOST:], len(began[:-MOST])
    said = {one.batch: one for one in left_out}
    shown: dict[tuple[Thing, tuple[str, str]], list[Shown]] = {}
    excluded: list[Excluded] = []
    for folder in follow(newest):
        for found in _look_at(folder, said):
            if isinstance(found, Excluded):
                excluded.append(found)
            else:
                shown.setdefault(found[0], []).append(found[1])
    lessons = tuple(_lesson(thing, key, batches) for (thing, key), batches in sorted(shown.items()))
    return Lessons(lessons, tuple(excluded), older, tuple(left_out))


def _began(folder: Path) -> tuple[str, str]:
    """Return what batches are sorted by; a card that cannot be read is told of later."""
    try:
        return read_card(folder).batch.began, folder.name
    except HangroomError:
        return folder.name[:10], folder.name


def _look_at(
    folder: Path, said: dict[str, LeftOut]
) -> Iterator[tuple[tuple[Thing, tuple[str, str]], Shown] | Excluded]:
    name = folder.name
    if name in said:
        yield Excluded(name, "batch", printable(f"left out by {said[name].by}: {said[name].because}"))
        return
    try:
        record = read_batch(folder)
    except HangroomError as error:
        yield Excluded(name, "batch", f"damaged: {str(error).splitlines()[0]}")
        return
    why = why_not(record)
    if why:
        yield Excluded(name, "batch", why)
        return
    for thing, key, look in _things(record):
        found = look(record)
        yield Excluded(name, thing, found) if isinstance(found, str) else ((thing, key), found)


def _things(
    record: BatchRecord,
) -> tuple[tuple[Thing, tuple[str, str], Callable[[BatchRecord], Shown | str]], ...]:
    return (
        ("ferment", starter_of(record.card), ferments.look_at),
        ("drying", place_of(record.card), dryings.look_at),
    )


def _lesson(thing: Thing, key: tuple[str, str], batches: Sequence[Shown]) -> Lesson:
    spread = SPREADS[thing]
    belief = learn([one.shift for one in batches], spread)
    return Lesson(thing, key, tuple(one.batch for one in batches), belief, left_one_out(batches, spread))
