"""Forecast the weight loss: a stretched exponential whose prior is the model of the drying sausage.

    loss(t) = W [1 - exp(-((t + t_a) / tau)^n)] + what no curve knows

t counts days of drying at the present climate: time in other air counts by its drying drive, the vapour that wet meat
would give off there (`drive_at`); t_a is the time that the curve would have needed for the loss with which the count
began. What no curve knows (humidity, air and place change) is a random walk; so a forecast hangs on the last weighing,
and its band grows with the days to come. The climate to come may also differ from that so far as a whole.

Priors (`tests.bench.forecast_priors` prints what they rest on). tau is 22 days for 55 mm at 13 °C and 78 %RH, longer
with the power 1.3 of the diameter and shorter with the drive, spread 0.6 in its logarithm (the air moves more or
less). W and n are what fits runs of the model (150 runs of `simulator.rings`; 32 to 80 mm, 10 to 16 °C, 72 to 83 %RH,
fat 20 to 30 %, diffusivity and air in their ranges, up to 88 % of the equilibrium loss; the fits err by 0.09 % on
average): n is 1.07, spread 0.03; W lies 1.5 % above the equilibrium loss for 55 mm at 78 %RH, less for thicker pieces
and drier air, spread 1.5 %, and 1.8 % with the fat known to 1 %. Being a figure of the fit, W may lie above the
equilibrium; the loss never gets there (`Ahead.excess_pct`). Calibrated: a weighing is good to 0.2 % (scale and
casing), the walk gathers 0.25 % in a day, the pace to come may differ by 10 % (2 % of humidity do that at 78 %RH).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np

from controller.food.air import saturation_pressure_pa, vapour_density_kg_m3
from controller.review.forecast.estimate import SEED, Array, Posterior, Prior, fit

WEIGHING_SIGMA_PCT: Final = 0.2
WALK_PCT2_PER_DAY: Final = 0.25**2
PACE_SPREAD: Final = 0.10
END_SPREAD_PCT: Final = 1.8
EXCESS_PCT, EXCESS_PCT_PER_MM, EXCESS_PER_RH = 1.5, -0.086, 0.2
EXCESS_MM, EXCESS_RH_PCT = (32.0, 80.0), (72.0, 83.0)
"""W less the equilibrium loss, and between which figures that was fitted: outside of them nothing is extrapolated."""
BEND, BEND_SPREAD = 1.07, 0.03
TAU_DAYS, TAU_POWER, TAU_SPREAD = 22.0, 1.3, 0.6
USUAL_MM, USUAL_TEMP_C, USUAL_RH_PCT = 55.0, 13.0, 78.0
SURFACE_AW: Final = 0.96
"""Of fresh meat with salt; the published table of the mix says 0.956 to 0.964."""
LEAST_DRIVE: Final = 0.01
TAU: Final = 2
"""Place of ln tau among the unknowns."""


@dataclass(frozen=True, slots=True)
class Begun:
    """Hold where the count of drying days begins: the loss then, and how far it may be off (variance, %²)."""

    loss_pct: float = 0.0
    variance_pct2: float = 0.0


@dataclass(frozen=True, slots=True)
class Ahead:
    """Hold one climate to come.

    Attributes:
        until_pct: the loss that ends it.
        end_pct: the equilibrium loss in it, less that of the present climate.
        speed: its drive over the present one.
        excess_pct: what the fitted W has above the equilibrium, which is where drying really ends.
    """

    until_pct: float
    end_pct: float = 0.0
    speed: float = 1.0
    excess_pct: float = 0.0


def drive_at(temp_c: float, rh_pct: float) -> float:
    """Return the drying drive of this air over that at 13 °C and 78 %RH: vapour over wet meat less vapour in the air.

    Checked against the model of the drying sausage: 20 % loss of a 55 mm sausage comes after 13.8 days there, after
    24.6 at 12 °C and 85 %RH (the drive says 24.0) and after 10.7 at 15 °C and 75 %RH (it says 10.5).
    """

    def vapour(at_c: float, at_pct: float) -> float:
        full = vapour_density_kg_m3(at_c, saturation_pressure_pa(at_c))
        return full * max(SURFACE_AW - at_pct / 100.0, LEAST_DRIVE)

    return vapour(temp_c, rh_pct) / vapour(USUAL_TEMP_C, USUAL_RH_PCT)


def excess_pct(diameter_mm: float, rh_pct: float) -> float:
    """Return how far W, which fits the model's runs, lies above their equilibrium loss, in % of the green weight."""
    thick_mm = min(max(diameter_mm, EXCESS_MM[0]), EXCESS_MM[1]) - USUAL_MM
    damp_pct = min(max(rh_pct, EXCESS_RH_PCT[0]), EXCESS_RH_PCT[1]) - USUAL_RH_PCT
    return EXCESS_PCT + EXCESS_PCT_PER_MM * thick_mm + EXCESS_PER_RH * damp_pct


def prior_of(diameter_mm: float, temp_c: float, rh_pct: float, equilibrium_pct: float) -> Prior:
    """Return what is known before any weighing.

    Args:
        diameter_mm: of the fresh pieces.
        temp_c: of the air at present.
        rh_pct: of the air at present.
        equilibrium_pct: the loss at which drying ends at this humidity (food.drying.equilibrium_loss_pct).
    """
    tau_days = TAU_DAYS * (diameter_mm / USUAL_MM) ** TAU_POWER / drive_at(temp_c, rh_pct)
    mean = np.array([equilibrium_pct + excess_pct(diameter_mm, rh_pct), BEND, log(tau_days)])
    return Prior(mean, np.array([END_SPREAD_PCT, BEND_SPREAD, TAU_SPREAD]))


def loss_at(unknowns: Array, days: Array, begun: Begun = Begun()) -> Array:
    """Return the loss in % (draws, times) of curves [W, n, ln tau] at these days of drying."""
    end, bend, tau = _parts(unknowns)
    since = days[np.newaxis, :] + _days_at(begun.loss_pct, end, bend, tau)[:, np.newaxis]
    share = -np.expm1(-((np.maximum(since, 0.0) / tau[:, np.newaxis]) ** bend[:, np.newaxis]))
    return np.asarray(end[:, np.newaxis] * share)


def _parts(unknowns: Array) -> tuple[Array, Array, Array]:
    # The clamps lie many spreads away; they keep a stray draw from being no number at all.
    return np.maximum(unknowns[:, 0], 0.5), np.clip(unknowns[:, 1], 0.3, 3.0), np.exp(unknowns[:, 2])


def _days_at(loss_pct: float | Array, end: Array, bend: Array, tau: Array) -> Array:
    """Return after how many days these curves are at this loss; infinite where they never are."""
    left = 1.0 - np.maximum(loss_pct, 0.0) / end
    with np.errstate(divide="ignore", invalid="ignore"):
        days = tau * (-np.log(np.maximum(left, 0.0))) ** (1.0 / bend)
    return np.asarray(np.where(left > 0.0, days, np.inf))


def posterior_of(prior: Prior, weighings: Sequence[tuple[float, float]], begun: Begun = Begun()) -> Posterior:
    """Return what weighings of (days, loss in %) make of the prior. Their order in time must rise."""
    days, losses = _columns(weighings)
    whiten = np.linalg.inv(np.linalg.cholesky(_covariance(days, begun))) if days.size else np.zeros((0, 0))

    def residuals(unknowns: Array) -> Array:
        return np.asarray((losses[np.newaxis, :] - loss_at(unknowns, days, begun)) @ whiten.T)

    return fit(prior, residuals)


def _columns(weighings: Sequence[tuple[float, float]]) -> tuple[Array, Array]:
    return np.array([at for at, _ in weighings], dtype=float), np.array([loss for _, loss in weighings], dtype=float)


def _walk(days: Array, others: Array, begun: Begun) -> Array:
    """Return the covariance of the random walk between these days."""
    common = np.minimum(np.maximum(days, 0.0)[:, np.newaxis], np.maximum(others, 0.0)[np.newaxis, :])
    return np.asarray(begun.variance_pct2 + WALK_PCT2_PER_DAY * common)


def _covariance(days: Array, begun: Begun) -> Array:
    return np.asarray(_walk(days, days, begun) + np.eye(days.size) * WEIGHING_SIGMA_PCT**2)


def days_until(
    posterior: Posterior,
    weighings: Sequence[tuple[float, float]],
    now_days: float,
    ahead: Sequence[Ahead],
    begun: Begun = Begun(),
) -> Array:
    """Return how many real days after the last weighing each draw reaches the loss of the last climate to come.

    Args:
        posterior: of the curve.
        weighings: (days, loss in %) that it was fitted to.
        now_days: days of drying up to the last weighing, or to now where there is none.
        ahead: the climates to come, the present one first; each up to a loss, the last one's is what is asked.
        begun: where the count of days begins.
    """
    random = np.random.default_rng(SEED + 1)
    end, bend, tau = _parts(posterior.draws)
    off, variance = _walk_now(posterior.draws, weighings, now_days, begun)
    off = off + np.sqrt(variance) * random.standard_normal(off.size)
    future = random.standard_normal(off.size)
    # First without the walk to come, then with as much of it as gathers in that time.
    first = _walk_through(end, bend, tau, now_days, begun, ahead, off)
    gathered = np.sqrt(WALK_PCT2_PER_DAY * np.where(np.isinf(first), 0.0, np.maximum(first, 0.0))) * future
    pace = np.exp(PACE_SPREAD * random.standard_normal(off.size))
    return np.asarray(_walk_through(end, bend, tau, now_days, begun, ahead, off + gathered) * pace)


def _walk_now(
    draws: Array, weighings: Sequence[tuple[float, float]], now_days: float, begun: Begun
) -> tuple[Array, float]:
    """Return mean (per draw) and variance of the walk now, given the weighings."""
    days, losses = _columns(weighings)
    here = np.array([now_days])
    before = float(_walk(here, here, begun)[0, 0])
    if not days.size:
        return np.zeros(draws.shape[0]), before
    gain = np.linalg.solve(_covariance(days, begun), _walk(days, here, begun))[:, 0]
    left = max(before - float(_walk(here, days, begun)[0] @ gain), 0.0)
    return np.asarray((losses[np.newaxis, :] - loss_at(draws, days, begun)) @ gain), left


def _walk_through(
    end: Array, bend: Array, tau: Array, now_days: float, begun: Begun, ahead: Sequence[Ahead], off: Array
) -> Array:
    """Go from climate to climate on each draw's curve; return the real days that takes.

    In each climate the loss goes on from where it is, on the curve that has this climate's own end and speed. The curve
    ends where it ends, whatever the walk has added: only what is left to lose is wanted.
    """
    since = now_days + _days_at(begun.loss_pct, end, bend, tau)
    at = end * -np.expm1(-((since / tau) ** bend))
    total = np.zeros(end.size)
    for number, climate in enumerate(ahead, 1):
        here = np.maximum(end + climate.end_pct, 0.5)
        to = np.maximum(climate.until_pct - off, 0.0)
        begins, ends = _days_at(at, here, bend, tau), _days_at(to, here, bend, tau)
        never = (to >= here - climate.excess_pct) | np.isinf(ends)
        with np.errstate(invalid="ignore"):  # Where the curve is past its own end, infinity is taken from infinity.
            needs = np.where(never, np.inf, (ends - begins) / climate.speed)
        total += needs if number == len(ahead) else np.maximum(needs, 0.0)
        at = np.maximum(at, to)
    return total
