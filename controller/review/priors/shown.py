"""What one finished batch shows of its maker's usual figures, whatever is forecast: how it lies, what came of it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from controller.review.forecast.estimate import Array, Posterior, Prior, quantiles
from controller.review.priors.shrinking import Belief, Shift

WIDER: Final = 3.0
"""The learned unknowns are fitted under a prior so many times wider, which is taken out again: else it would count
twice, here and in the learning."""
LATE: Final = 2.0
"""What is told for later than so many times the time in which a batch was followed counts as that late."""
BAND: Final = (0.10, 0.90)


@dataclass(frozen=True, slots=True)
class Shown:
    """Hold what one batch shows.

    Attributes:
        batch: its name.
        shift: the likelihood of its own shift.
        came: what was told at the begin and came (hours or days); None where it never came, or nobody measured it.
        tell: what would have been told at the begin with a belief: values (may be infinite) and their weights.
        latest: what later values, and infinite ones, count as in a score.
    """

    batch: str
    shift: Shift
    came: float | None
    tell: Callable[[Belief], tuple[Array, Array]]
    latest: float


@dataclass(frozen=True, slots=True)
class Told:
    """Hold how one telling did: whether the 80 % range held what came, how wide it was, its CRPS."""

    held: bool
    width: float
    crps: float


def widened(prior: Prior, places: tuple[int, ...]) -> Prior:
    """Return a prior under which the batch's own readings decide about these unknowns."""
    for place in places:
        prior = prior.learned(place, 0.0, WIDER * float(prior.spread[place]))
    return prior


def shift_of(posterior: Posterior, wide: Prior, places: tuple[int, ...]) -> Shift:
    """Return what the readings alone say of these unknowns' shifts: the posterior as a normal, less its prior.

    A direction about which the readings say nothing keeps the precision 0.
    """
    at = list(places)
    draws = posterior.draws[:, at]
    mean = posterior.weights @ draws
    covariance = (draws - mean).T @ ((draws - mean) * posterior.weights[:, np.newaxis])
    before = np.diag(1.0 / wide.spread[at] ** 2)
    whole = np.linalg.inv(covariance)
    values, vectors = np.linalg.eigh(whole - before)
    precision = (vectors * np.maximum(values, 0.0)) @ vectors.T
    pulled = whole @ mean - before @ wide.mean[at]
    return Shift(np.linalg.pinv(precision, hermitian=True) @ pulled - wide.mean[at], precision)


def told_of(shown: Shown, belief: Belief) -> Told | None:
    """Return how a telling with this belief did; None where nothing came that could be compared."""
    if shown.came is None:
        return None
    values, weights = shown.tell(belief)
    low, high = quantiles(values, weights, BAND)
    capped = np.minimum(values, shown.latest)
    width = min(high, shown.latest) - min(low, shown.latest)
    return Told(low <= shown.came <= high, width, crps(capped, weights, shown.came))


def crps(values: Array, weights: Array, came: float) -> float:
    """Return the continuous ranked probability score of weighted draws, E|X - y| - E|X - X'|/2; less is better.

    Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102:359, eq. 21 (from memory). It is in the unit of the values, and
    the plain error where all draws are one value.
    """
    order = np.argsort(values)
    sorted_values, sorted_weights = values[order], weights[order]
    below = np.cumsum(sorted_weights)
    apart = np.sum(sorted_weights * sorted_values * (2.0 * below - sorted_weights - 1.0))
    return float(np.sum(weights * np.abs(values - came)) - apart)
