"""Learn from several batches how far a maker's own figures lie from the recipe's, and how far they scatter.

Theory of operation. A curve's unknowns (as ln tau) have a prior: mean of the recipe, spread s. What a maker's batches
show is how far each lies from that mean: the shift of batch j, known as a normal likelihood of mean d_j and precision
L_j (few readings, little precision; none at all is allowed too). The batches of one maker scatter about his own shift
mu with a spread t, and makers scatter about the recipe:

    shift_j ~ N(mu, t²),   mu ~ N(0, s²/2),   t² ~ scaled inverse chi-square of 4 degrees of freedom, mean s²/2

This is the hierarchical normal model of Gelman et al., Bayesian Data Analysis, 3rd ed., section 5.4 (from memory), with
informed priors: given t, mu is normal and conjugate (section 2.5); t lies on a grid, each point weighted by its
marginal posterior, (5.21) there. The next batch is N(mu, t²) averaged over both. Without batches its spread is s again,
as shipped: half of the shipped variance is taken to lie between makers, half between one maker's batches, and the
latter counts as if four batches had shown it; the half and the four are common practice, no source. So a single batch
moves the mean by about half its way, a few that happen to lie close make no forecast sure, and many decide.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import gamma, sqrt
from typing import Final

import numpy as np

from controller.review.forecast.estimate import Array

BETWEEN_MAKERS: Final = 0.5
"""Share of the shipped variance that lies between makers."""
FREEDOM: Final = 4.0
"""Degrees of freedom of the prior of t²: as many batches as it is worth."""
POINTS: Final = 41
GRID: Final = (0.1, 12.0)
"""From and to where the grid of t reaches, in shipped spreads, by equal factors."""


@dataclass(frozen=True, slots=True)
class Shift:
    """Hold the likelihood of one batch's own shift of k unknowns: mean (k) and precision (k, k), which may be 0."""

    mean: Array
    precision: Array


@dataclass(frozen=True, slots=True)
class Belief:
    """Hold what is believed of the next batch's shift (mean, spread), and of the scatter t from batch to batch."""

    mean: Array
    spread: Array
    scatter: Array


def usual(spread: Array) -> Belief:
    """Return what is believed without any batch: the recipe's own mean and spread."""
    half = 0.5 * FREEDOM
    scatter = spread * sqrt((half - 1.0) * (1.0 - BETWEEN_MAKERS)) * gamma(half - 0.5) / gamma(half)
    return Belief(np.zeros_like(spread), np.asarray(spread), np.asarray(scatter))


def learn(shifts: Sequence[Shift], spread: Array) -> Belief:
    """Return what these batches make of the usual prior.

    Args:
        shifts: one for each batch.
        spread: of the shipped prior, one for each unknown (1 or 2 of them).
    """
    if not shifts:
        return usual(spread)
    scatters, log_weights = _grid(spread)
    squares = scatters**2  # (points, k)
    prior = np.diag(1.0 / (BETWEEN_MAKERS * spread**2))
    total, pull, fit = (
        np.broadcast_to(prior, (len(scatters), *prior.shape)).copy(),
        np.zeros_like(scatters),
        np.zeros(len(scatters)),
    )
    for shift in shifts:
        precision, log_det = _widened(shift.precision, squares)
        pulled = precision @ shift.mean
        total += precision
        pull += pulled
        fit = fit + pulled @ shift.mean
        log_weights = log_weights - 0.5 * log_det
    covariance = np.linalg.inv(total)
    means = np.einsum("pij,pj->pi", covariance, pull)
    log_weights = log_weights - 0.5 * (fit - np.einsum("pi,pi->p", means, pull)) - 0.5 * np.linalg.slogdet(total)[1]
    weights = np.exp(log_weights - np.max(log_weights))
    weights /= np.sum(weights)
    mean = weights @ means
    variance = weights @ (np.einsum("pii->pi", covariance) + squares + (means - mean) ** 2)
    return Belief(mean, np.sqrt(variance), weights @ scatters)


def log_score(shift: Shift, mean: Array, spread: Array) -> float:
    """Return the log of how likely this batch's readings were under a prior, but for what no prior changes.

    So differences between two priors are differences of the log score of all that was measured of the batch.
    """
    precision, log_det = _widened(shift.precision, (spread**2)[np.newaxis, :])
    off = shift.mean - mean
    return float(-0.5 * log_det[0] - 0.5 * off @ precision[0] @ off)


def _widened(precision: Array, squares: Array) -> tuple[Array, Array]:
    """Return for each row of variances the precision about mu, (L^-1 + T)^-1 = L (1 + T L)^-1, and ln det(1 + T L)."""
    inside = np.eye(precision.shape[0]) + squares[:, :, np.newaxis] * precision[np.newaxis, :, :]
    return precision[np.newaxis, :, :] @ np.linalg.inv(inside), np.linalg.slogdet(inside)[1]


def _grid(spread: Array) -> tuple[Array, Array]:
    """Return the grid of scatters (points, k), and the log of its prior weights."""
    in_spreads = np.geomspace(*GRID, POINTS)
    # The density of t is t^-(freedom + 1) exp(-...); one t more for the width of a step by equal factors.
    log_weight = -FREEDOM * np.log(in_spreads)
    log_weight -= 0.5 * (FREEDOM - 2.0) * (1.0 - BETWEEN_MAKERS) / in_spreads**2
    places = list(product(range(POINTS), repeat=spread.size))
    scatters = np.array([[in_spreads[at] for at in place] for place in places]) * spread
    return scatters, np.array([sum(log_weight[at] for at in place) for place in places])
