"""Forecast the pH of one batch from its folder: 5.3, and what its ferment has to reach."""

from collections.abc import Sequence
from math import expm1
from typing import Final

import numpy as np
from msgspec.structs import replace

from controller.core.plan import Stage
from controller.food.acid import CULTURES
from controller.food.degree_hours import TARGET_PH
from controller.review.batch import BatchRecord
from controller.review.forecast import acid_curve
from controller.review.forecast.climate import STEP_S, air_since, wanted_of
from controller.review.forecast.estimate import Array, Prior, quantiles, share_never
from controller.review.forecast.mix import dextrose_pct_of
from controller.review.forecast.told import Forecast
from controller.review.priors.kept import AcidPrior
from controller.review.readings import measured_ph, standing
from controller.settings.chamber_file import plan_of

MEAT_C: Final = 4.0
"""Of the meat when it is hung; common practice, no source."""
WARMING_S: Final = 1.5 * 3600.0
WARMING_MM: Final = 55.0
"""Meat of this diameter follows the air with this lag, thicker meat in proportion: the film of air holds it back."""
FRESH_S: Final = 12.0 * 3600.0
"""So long before hanging a reading still is one of the fresh mix."""
AHEAD_S: Final = 500.0 * 3600.0
HAIR: Final = 1e-9


class FeltTime:
    """Turn wall time into the hours that the culture feels, and back."""

    def __init__(self, record: BatchRecord, culture: str, hung_s: float, now_s: float, wanted_c: float) -> None:
        """Follow the logged air up to now and the wanted temperature after that; the meat lags behind the air."""
        past_c = [air.temp_c for air in air_since(record, hung_s, now_s)]
        air_c = np.array([*past_c, *[wanted_c] * round(AHEAD_S / STEP_S)])
        follows = -expm1(-STEP_S / (WARMING_S * record.card.batch.diameter_mm / WARMING_MM))
        meat_c, felt_h, felt = MEAT_C, 0.0, [0.0]
        for temp_c in air_c.tolist():
            meat_c += (temp_c - meat_c) * follows
            felt_h += acid_curve.speed_at(culture, meat_c) * STEP_S / 3600.0
            felt.append(felt_h)
        self._wall_s: Array = np.asarray(hung_s + STEP_S * np.arange(len(felt)), dtype=np.float64)
        self._felt_h: Array = np.array(felt)

    def felt_h(self, wall_s: float) -> float:
        """Return the hours felt at an instant; none before hanging."""
        return float(np.interp(wall_s, self._wall_s, self._felt_h))

    def wall_s(self, felt_h: Array) -> Array:
        """Return the instants of these felt hours; infinite for what lies beyond three weeks, or never comes."""
        rising = np.concatenate(([True], np.diff(self._felt_h) > 0.0))
        found = np.interp(felt_h, self._felt_h[rising], self._wall_s[rising])
        return np.asarray(np.where(felt_h > self._felt_h[-1], np.inf, found))


def forecasts(
    record: BatchRecord, stage: Stage, hung_s: float, now_s: float, learned: AcidPrior | None = None
) -> list[Forecast]:
    """Return a forecast for pH 5.3 and, where it is another, for the pH that ends the ferment.

    Readings by strips, and those that were corrected, count for nothing. `learned` is what earlier batches with this
    starter have shown.
    """
    culture = record.card.profile.starter
    if culture not in CULTURES:
        return []
    wanted_c = _wanted_c(record, stage, now_s)
    felt = FeltTime(record, culture, hung_s, now_s, wanted_c)
    measured = [(at_s, ph) for at_s, ph in measured_ph(standing(record.readings)) if hung_s - FRESH_S <= at_s <= now_s]
    readings = [(felt.felt_h(at_s), ph) for at_s, ph in measured]
    recipe = acid_curve.Recipe(culture, dextrose_pct_of(record.card))
    prior = acid_curve.prior_of(recipe, readings)
    if learned is not None:
        prior = prior_with(prior, learned)
    posterior = acid_curve.posterior_of(prior, readings)
    rests = acid_curve.rests_on_readings(prior, readings)
    error = plan_of(record.card.chamber).ph_error
    told = []
    for target in _targets(stage):
        reached = [at_s for at_s, ph in measured if at_s >= hung_s and ph + error <= target + HAIR]
        walls_s = felt.wall_s(acid_curve.felt_h_at(posterior.draws, target))
        found = _tell(record, target, measured, reached, walls_s, posterior.weights, now_s=now_s, rests=rests)
        told.append(found if learned is None else replace(found, batches=len(learned.batches)))
    return told


def prior_with(prior: Prior, learned: AcidPrior) -> Prior:
    """Return the recipe's prior with slope and lag as a maker's own ferments have shown them."""
    moved = prior.learned(acid_curve.SPEED, learned.slope, learned.slope_spread)
    return moved.learned(acid_curve.LAG, learned.lag, learned.lag_spread)


def _tell(
    record: BatchRecord,
    target: float,
    measured: Sequence[tuple[float, float]],
    reached: Sequence[float],
    walls_s: Array,
    weights: Array,
    *,
    now_s: float,
    rests: bool,
) -> Forecast:
    """Return the forecast of one target."""
    told = Forecast(
        batch=record.card.batch.id,
        made_s=now_s,
        kind="ph",
        target=target,
        basis="readings" if rests else "recipe",
        readings=len(measured),
        reached_s=reached[0] if reached else None,
    )
    if reached:
        return told
    low, early, middle, late, high = quantiles(walls_s, weights)
    never = share_never(walls_s, weights)
    why = f"The dextrose in this batch ({dextrose_pct_of(record.card):.2g} % of the mix) may not be enough."
    return replace(
        told,
        quantiles_s=None if np.isinf(low) else (low, early, middle, late, high),
        p_never=never,
        measure_next_s=None if np.isinf(early) else early,
        why_never=why,
    )


def _targets(stage: Stage) -> list[float]:
    wanted = stage.until.ph_at_most
    return sorted({TARGET_PH, TARGET_PH if wanted is None else wanted}, reverse=True)


def _wanted_c(record: BatchRecord, stage: Stage, now_s: float) -> float:
    """Return the temperature wanted from now on: what the newest row of this stage wants, else what the stage asks."""
    for row in reversed(record.rows):
        if row.time_s <= now_s:
            if row.stage == stage.name and row.air_temp_set_c is not None:
                return row.air_temp_set_c
            break
    return wanted_of(stage)[0]
