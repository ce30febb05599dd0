"""Fit a curve to few readings, with what was known before, and say how sure the answer is.

Theory of operation. The unknowns of a curve have independent normal priors (mean m, spread s). The most probable
unknowns minimise the sum of squares of [residuals / sigma, (unknowns - m) / s]. Around them the posterior is nearly
normal with the covariance of Laplace's approximation; a Student-t distribution with 5 degrees of freedom and a slightly
wider covariance has the fatter tails that make it a fit proposal. Each of 6000 draws from it is weighted with the true
posterior over the proposal, so a bent or lopsided posterior comes out as it is. Whatever follows from the unknowns,
also "never", is then reckoned draw by draw.

The random numbers always begin with the same seed: the same readings give the same forecast.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Array = NDArray[np.float64]
Residuals = Callable[[Array], Array]
"""From unknowns (draws, unknowns) to residuals over their sigma (draws, readings)."""

DRAWS: Final = 6000
FREEDOM: Final = 5.0
"""Degrees of freedom of the proposal."""
WIDER: Final = 1.15
SEED: Final = 20_260_105
LEVELS: Final = (0.10, 0.25, 0.50, 0.75, 0.90)


@dataclass(frozen=True, slots=True)
class Prior:
    """Hold what is known of the unknowns before any reading: means, spreads (standard deviations)."""

    mean: Array
    spread: Array

    def shifted(self, by: Array) -> "Prior":
        """Return the prior with each mean off by so many spreads; to see how a forecast bears wrong priors."""
        return Prior(self.mean + by * self.spread, self.spread)

    def learned(self, at: int, by: float, spread: float) -> "Prior":
        """Return the prior with one mean moved by what a maker's own batches have shown, and their spread for it."""
        mean, spreads = self.mean.copy(), self.spread.copy()
        mean[at] += by
        spreads[at] = spread
        return Prior(mean, spreads)


@dataclass(frozen=True, slots=True)
class Posterior:
    """Hold the most probable unknowns, and weighted draws around them (weights sum to 1)."""

    best: Array
    draws: Array
    weights: Array

    @property
    def effective(self) -> float:
        """Return how many equally weighted draws these are worth."""
        return float(1.0 / np.sum(self.weights**2))


def fit(prior: Prior, residuals: Residuals, random: np.random.Generator | None = None) -> Posterior:
    """Return what the readings make of the prior.

    Args:
        prior: of the unknowns.
        residuals: of the readings, each over its sigma; none are allowed too (shape (draws, 0)).
        random: where the draws come from; None: the fixed seed.
    """
    random = np.random.default_rng(SEED) if random is None else random

    def misfit(unknowns: Array) -> Array:
        stacked = unknowns[np.newaxis, :]
        return np.concatenate((residuals(stacked)[0], (unknowns - prior.mean) / prior.spread))

    found = least_squares(misfit, prior.mean, x_scale=prior.spread, method="trf", ftol=1e-10, xtol=1e-10)
    root = np.linalg.cholesky(np.linalg.inv(found.jac.T @ found.jac)) * WIDER
    size = prior.mean.size
    normal = random.standard_normal((DRAWS, size))
    stretch = np.sqrt(FREEDOM / random.chisquare(FREEDOM, DRAWS))
    standard = normal * stretch[:, np.newaxis]
    draws = found.x + standard @ root.T
    log_proposal = -0.5 * (FREEDOM + size) * np.log1p(np.sum(standard**2, axis=1) / FREEDOM)
    log_posterior = -0.5 * (
        np.sum(residuals(draws) ** 2, axis=1) + np.sum(((draws - prior.mean) / prior.spread) ** 2, axis=1)
    )
    log_weights = log_posterior - log_proposal
    weights = np.exp(log_weights - np.max(log_weights))
    return Posterior(found.x, draws, weights / np.sum(weights))


def quantiles(values: Array, weights: Array, levels: tuple[float, ...] = LEVELS) -> tuple[float, ...]:
    """Return weighted quantiles of the finite values; all infinite where there are none.

    The probability of "never" is told apart: a band that ends with "or never" would hide how wide it is.
    """
    finite = np.isfinite(values)
    if not np.any(finite):
        return (float("inf"),) * len(levels)
    values, weights = values[finite], weights[finite]
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    places = np.searchsorted(reached, np.asarray(levels) * reached[-1])
    return tuple(float(value) for value in values[order][np.minimum(places, values.size - 1)])


def share_never(values: Array, weights: Array) -> float:
    """Return the probability (0..1) that the value is infinite."""
    return float(np.sum(weights[np.isinf(values)]))
