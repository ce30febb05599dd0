"""How far earlier batches of one maker lie apart, and which difference between two batches is more than that.

Earlier values x_1 .. x_n of one quantity are taken for independent draws from one normal distribution, and so are the
two batches compared, if nothing was done otherwise. Then (a - b) / (s sqrt(2)) has Student's t distribution with n - 1
degrees of freedom, s being the standard deviation of the earlier ones: the prediction interval of a difference (Hahn
and Meeker, Statistical Intervals, chapter 4, from memory). A difference beyond its 97.5 % point to either side comes by
chance five times in a hundred; one batch alone lies beyond mean ± t s sqrt(1 + 1/n) as often. With fewer than three
earlier batches nothing is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev
from typing import Final

from scipy import stats

FEWEST: Final = 3
BY_CHANCE: Final = 0.05


@dataclass(frozen=True, slots=True)
class Scatter:
    """Hold what earlier batches show of one quantity; `limit` is None where nothing can be said."""

    count: int
    mean: float | None = None
    spread: float | None = None
    limit: float | None = None
    low: float | None = None
    high: float | None = None


def scatter_of(values: Sequence[float]) -> Scatter:
    """Return the scatter of earlier values. Where they are all the same there is no limit: counts often are."""
    count = len(values)
    if count < FEWEST:
        return Scatter(count, fmean(values) if values else None)
    mean, spread = fmean(values), stdev(values)
    if spread <= 0.0:
        return Scatter(count, mean, 0.0)
    far = float(stats.t.ppf(1.0 - BY_CHANCE / 2.0, count - 1)) * spread
    alone = far * sqrt(1.0 + 1.0 / count)
    return Scatter(count, mean, spread, far * sqrt(2.0), mean - alone, mean + alone)


def is_larger(difference: float | None, scatter: Scatter) -> bool | None:
    """Say whether a difference is larger than the scatter; None where that cannot be judged."""
    if difference is None or scatter.limit is None:
        return None
    return abs(difference) > scatter.limit
