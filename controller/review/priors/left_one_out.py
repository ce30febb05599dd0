"""Ask of each batch how well the others would have forecast it: whether learning helps, and how surely.

Each batch in turn is left out; the prior is learned from the others, and scored on all that was measured of the one
left out, beside the shipped prior. The gain is the difference of the two log scores. It is believed, and the learned
prior proposed, where its mean lies above 0 by more than chance: the one-sided bound of 95 % by Student's t over the
batches. As the others overlap, that bound is a rule of decision and no exact probability: `tests.bench.priors` tells
how often it errs. Beside it, what a maker sees: how often the 80 % range told at the begin held what came, how wide it
was, and the CRPS.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, median, stdev
from typing import Final

from scipy import stats

from controller.review.forecast.estimate import Array
from controller.review.priors.shown import Shown, Told, told_of
from controller.review.priors.shrinking import Belief, learn, log_score, usual

FEWEST: Final = 5
"""With three batches the sets overlap the most: one maker in five from whom nothing can be learned was told yes, with
six fewer than one in ten (drawn as in `tests.bench.priors`)."""
SURE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Band:
    """Hold how tellings did: how many held what came of how many, median width, mean CRPS."""

    held: int
    told: int
    width: float
    crps: float


@dataclass(frozen=True, slots=True)
class Scores:
    """Hold the gain in log score of each batch, its mean and lower bound (None below two batches), and both bands."""

    gains: tuple[float, ...]
    mean: float
    bound: float | None
    shipped: Band | None
    learned: Band | None

    @property
    def better(self) -> bool:
        """Say whether learning is believed to help."""
        return len(self.gains) >= FEWEST and self.bound is not None and self.bound > 0.0


def left_one_out(batches: Sequence[Shown], spread: Array) -> Scores:
    """Return how the prior learned from the others does on each batch, beside the shipped one. Needs one at least."""
    before = usual(spread)
    beliefs = [learn([other.shift for other in batches if other is not one], spread) for one in batches]
    gains = tuple(_gain(one, belief, before) for one, belief in zip(batches, beliefs, strict=True))
    shipped = [told_of(one, before) for one in batches]
    learned = [told_of(one, belief) for one, belief in zip(batches, beliefs, strict=True)]
    return Scores(gains, fmean(gains), lower_bound(gains), _band(shipped), _band(learned))


def _gain(one: Shown, belief: Belief, before: Belief) -> float:
    return log_score(one.shift, belief.mean, belief.spread) - log_score(one.shift, before.mean, before.spread)


def lower_bound(gains: Sequence[float]) -> float | None:
    """Return below what the mean gain hardly lies (one-sided, Student's t); None for fewer than two."""
    if len(gains) < 2:  # noqa: PLR2004 - one has no scatter
        return None
    return fmean(gains) - float(stats.t.ppf(SURE, len(gains) - 1)) * stdev(gains) / sqrt(len(gains))


def _band(told: Sequence[Told | None]) -> Band | None:
    known = [one for one in told if one is not None]
    if not known:
        return None
    held = sum(one.held for one in known)
    return Band(held, len(known), median(one.width for one in known), fmean(one.crps for one in known))
