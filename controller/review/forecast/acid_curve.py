"""Forecast the pH: a logistic curve whose prior is the model of the ferment.

    pH(u) = pH0 - A / (1 + exp(4 mu / A (lambda - u) + 2))

The logistic form with maximum slope mu and lag lambda is Zwietering et al. 1990 (from memory). The time u is the time
that the culture feels: every rate of the model in `food.acid` is proportional to the culture's temperature factor, so
one hour at a factor of 0.7 is 0.7 hours at the best temperature. A chamber that ran cold for a night is thereby
reckoned with, and the hours to come are turned back at the wanted temperature.

Priors: pH0 is the first reading +-0.05; A is pH0 less the pH where the sugar ends +-0.13 (0.06 among runs of the
model that differ as batches do); mu and lambda lie around the model's curve with spreads of 0.25 and 0.30 in their
logarithms (0.05 to 0.08 and 0.18 to 0.24 among such runs: the model knows the lag badly, and itself perhaps too well).
A reading is good to 0.06: meter 0.05, and the sample. `tests.bench.forecast_priors` prints what these rest on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log
from typing import Final

import numpy as np
from scipy.optimize import least_squares

from controller.food.acid import (
    BUFFER,
    CULTURES,
    MIX_AW,
    MIX_PH,
    Culture,
    begin,
    end_ph,
    ferment_on,
    sugar_at_start,
    temperature_factor,
)
from controller.review.forecast.estimate import Array, Posterior, Prior, fit

READING_SIGMA: Final = 0.06
FIRST_SPREAD: Final = 0.05
DROP_SPREAD: Final = 0.13
SPEED_SPREAD: Final = 0.25
LAG_SPREAD: Final = 0.30
UNMEASURED_SPREAD: Final = 0.10
"""Of pH0 where nobody has measured the fresh mix."""
EARLY: Final = 0.25
"""Up to this share of the lag a reading still shows the fresh mix."""
IN_THE_DROP: Final = 0.15
"""A reading so far below the start says something about this batch's own speed."""
ENOUGH_IN_THE_DROP: Final = 2
LEAST_DROP: Final = 0.02
SPEED, LAG = 2, 3
"""Places of ln mu and ln lambda among the unknowns."""
MODEL_STEP_H: Final = 1.0 / 30.0
MODEL_LONGEST_H: Final = 300.0
SUGAR_GONE: Final = 0.05
"""mmol/kg; what it would still sour is 0.002 of a pH."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """Hold what the prior needs: the culture's name, the dextrose in % of the mix."""

    culture: str
    dextrose_pct: float


def ph_at(unknowns: Array, felt_h: Array) -> Array:
    """Return the pH (draws, times) of curves [pH0, A, ln mu, ln lambda] at these felt hours."""
    first, drop = unknowns[:, 0:1], np.maximum(unknowns[:, 1:2], LEAST_DROP)
    speed, lag = np.exp(unknowns[:, 2:3]), np.exp(unknowns[:, 3:4])
    exponent = np.clip(4.0 * speed / drop * (lag - felt_h[np.newaxis, :]) + 2.0, -700.0, 700.0)
    return np.asarray(first - drop / (1.0 + np.exp(exponent)))


def felt_h_at(unknowns: Array, target_ph: float) -> Array:
    """Return after how many felt hours each curve reaches this pH; infinite where it never does."""
    first, drop = unknowns[:, 0], np.maximum(unknowns[:, 1], LEAST_DROP)
    speed, lag = np.exp(unknowns[:, 2]), np.exp(unknowns[:, 3])
    fall = np.maximum(first - target_ph, 1e-9)
    with np.errstate(divide="ignore", invalid="ignore"):
        hours = lag - (np.log(drop / fall - 1.0) - 2.0) * drop / (4.0 * speed)
    hours = np.where(drop > fall, hours, np.inf)
    return np.asarray(np.where(first <= target_ph, 0.0, np.maximum(hours, 0.0)))


def prior_of(recipe: Recipe, readings: Sequence[tuple[float, float]]) -> Prior:
    """Return what is known before the drop, from the recipe and the first pH.

    Args:
        recipe: culture and sugar.
        readings: (felt hours, pH), the first one first; where it came too late to show the fresh mix, or none came, the
            usual pH of a mix is taken, with a wider spread.

    Raises:
        KeyError: no such culture.
    """
    first_ph, spread = MIX_PH, UNMEASURED_SPREAD
    _, _, usual_lag_h = _model_curve(recipe.culture, round(recipe.dextrose_pct, 3), MIX_PH)
    if readings and readings[0][0] <= EARLY * usual_lag_h:
        first_ph, spread = readings[0][1], FIRST_SPREAD
    drop, speed, lag_h = _model_curve(recipe.culture, round(recipe.dextrose_pct, 3), round(first_ph, 2))
    return Prior(
        np.array([first_ph, drop, log(speed), log(lag_h)]),
        np.array([spread, DROP_SPREAD, SPEED_SPREAD, LAG_SPREAD]),
    )


@lru_cache(maxsize=256)
def _model_curve(culture_name: str, dextrose_pct: float, first_ph: float) -> tuple[float, float, float]:
    """Return A, mu and lambda of the logistic nearest to the model's curve, in hours at the best temperature."""
    culture = CULTURES[culture_name]
    hours, ph = _run(culture, dextrose_pct, first_ph)
    drop = max(first_ph - end_ph(dextrose_pct, ph_at_start=first_ph, ph_min=culture.ph_min), 2.0 * LEAST_DROP)

    def misses(unknowns: Array) -> Array:
        curve = np.array([[first_ph, drop, unknowns[0], unknowns[1]]])
        return np.asarray(ph_at(curve, hours)[0] - ph)

    half_h = float(hours[np.searchsorted(first_ph - ph, 0.5 * drop).clip(0, hours.size - 1)])
    found = least_squares(misses, [log(drop / max(half_h, 1.0)), log(max(0.7 * half_h, 1.0))])
    return drop, exp(float(found.x[0])), exp(float(found.x[1]))


def _run(culture: Culture, dextrose_pct: float, first_ph: float) -> tuple[Array, Array]:
    """Run the model at the culture's best temperature until the sugar is gone; return hours and pH."""
    now, hour = begin(culture, sugar_at_start(dextrose_pct), first_ph), 0.0
    hours, ph = [hour], [now.ph]
    while now.sugar > SUGAR_GONE and hour < MODEL_LONGEST_H:
        for _ in range(10):
            now = ferment_on(culture, now, MODEL_STEP_H, culture.temp_best_c, MIX_AW, first_ph, BUFFER)
        hour += 10.0 * MODEL_STEP_H
        hours.append(hour)
        ph.append(now.ph)
    return np.array(hours), np.array(ph)


def speed_at(culture_name: str, temp_c: float) -> float:
    """Return how many hours at the best temperature one hour at this temperature of the meat is worth (0..1)."""
    culture = CULTURES[culture_name]
    return max(temperature_factor(temp_c, culture.temp_min_c, culture.temp_best_c, culture.temp_max_c), 0.0)


def posterior_of(prior: Prior, readings: Sequence[tuple[float, float]]) -> Posterior:
    """Return what readings of (felt hours, pH) make of the prior."""
    felt_h = np.array([at for at, _ in readings], dtype=float)
    measured = np.array([value for _, value in readings], dtype=float)

    def residuals(unknowns: Array) -> Array:
        return np.asarray((ph_at(unknowns, felt_h) - measured[np.newaxis, :]) / READING_SIGMA)

    return fit(prior, residuals)


def rests_on_readings(prior: Prior, readings: Sequence[tuple[float, float]]) -> bool:
    """Say whether enough readings lie inside the drop; before that a forecast is mainly the recipe's."""
    return sum(value <= float(prior.mean[0]) - IN_THE_DROP for _, value in readings) >= ENOUGH_IN_THE_DROP
