"""The parts of a step test that need no model of the box: noise and offset, after-heat, the humidifier, the cooling."""

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from scipy.optimize import least_squares
from scipy.signal import lfilter

from controller.core.learn.course import RESTLESS_K
from controller.food.air import VAPOUR_GAS_CONSTANT, ZERO_C_IN_K, saturation_pressure_pa, vapour_pressure_pa
from controller.review.learning.rows import NonsenseError, Series, Steps
from controller.settings.learned_file import NOTHING, Figure

NOISY_K: Final = 0.3
"""A thermometer that scatters more at rest tells nothing of a step; four times the step of the coarsest one."""
STEP_K: Final = 1.0 / 16.0
WINDOW_S: Final = 90.0
"""Slopes are those of straight lines over so long to both sides. Common practice, no source."""
LEAST_MIST_PCT: Final = 1.0
LEAST_COLD_K: Final = 0.5


@dataclass(frozen=True, slots=True)
class Rest:
    """Hold what the thermometers show while nothing is on."""

    noise_k: Figure
    offset_k: Figure
    drift_k: float
    room_c: float


def look_at_rest(steps: Steps) -> Rest:
    """Return noise and offset. Raises NonsenseError where the sensor is too noisy, or the chamber not at rest."""
    rest = steps.during("rest")
    probe_c, at_s = steps.values["air_temp"][rest], steps.at_s[rest]
    if len(probe_c) < 20:  # noqa: PLR2004 - a minute and a half
        raise NonsenseError("the rest before the lamp was too short")
    line = np.polynomial.Polynomial.fit(at_s, probe_c, 1)
    still = steps.still_c
    place = np.arange(len(still))
    noise_k = float(np.std(still - np.polynomial.Polynomial.fit(place, still, 1)(place)))
    if noise_k > NOISY_K:
        raise NonsenseError(
            f"the air thermometer scatters by {noise_k:.2f} K at rest, limit {NOISY_K:g} K; look at its wire"
        )
    drift_k = float(line(at_s[-1]) - line(at_s[0]))
    if abs(drift_k) > RESTLESS_K:
        raise NonsenseError(
            f"the chamber was not at rest: {drift_k:+.1f} K in {(at_s[-1] - at_s[0]) / 60:.0f} min with all off, "
            f"limit {RESTLESS_K:g} K. Let it stand open for an hour, shut it, and wait another"
        )
    offset = Figure(because="there is no second thermometer of the air")
    other = next((steps.values[one] for one in ("rh_temp", "air_temp_2") if one in steps.values), None)
    if other is not None:
        apart = other[rest] - probe_c
        together = sqrt(max(float(np.var(apart)), STEP_K**2 / 12.0) / 10.0)
        offset = figure_of(float(np.mean(apart)), together, 3)
    error_k = STEP_K / sqrt(12.0)  # One that stands still scatters by less than its step.
    noise = figure_of(noise_k, error_k, 3)
    return Rest(noise, offset, drift_k, float(np.mean(probe_c)))


def figure_of(value: float, error: float, digits: int) -> Figure:
    """Return a figure, rounded; its error is rounded up to the last digit that is shown."""
    return Figure(value=round(float(value), digits), error=max(round(float(error), digits), 10.0**-digits))


def smoothed(at_s: Series, value: Series, window_s: float = WINDOW_S) -> tuple[Series, Series, Series]:
    """Return value, slope and the slope's standard error by a parabola through what lies within the window.

    A thermometer with steps of 1/16 K has no slope from one value to the next; one through a few minutes has.
    """
    smooth, slope, error = np.empty_like(value), np.empty_like(value), np.empty_like(value)
    for place, now_s in enumerate(at_s):
        near = np.abs(at_s - now_s) <= window_s
        x = at_s[near] - now_s
        design = np.column_stack((np.ones_like(x), x, x**2))
        solved, *_ = np.linalg.lstsq(design, value[near], rcond=None)
        left = value[near] - design @ solved
        variance = max(float(np.mean(left**2)), STEP_K**2 / 12.0) * SPREAD
        smooth[place], slope[place] = solved[0], solved[1]
        error[place] = sqrt(variance * float(np.linalg.pinv(design.T @ design)[1, 1]))
    return smooth, slope, error


SPREAD: Final = 4.0
"""A coarse thermometer's errors hang together: the same step for many seconds. So they count for a quarter."""


def look_at_after_heat(steps: Steps) -> tuple[Figure, Figure]:
    """Return by how many kelvin the thermometer still rises after the lamp is off, and for how long."""
    begin_s = steps.begin_s("off")
    if begin_s is None:
        return NOTHING, NOTHING
    near = (steps.at_s >= begin_s - 2.0 * WINDOW_S / 3.0) & (steps.at_s <= begin_s + 1800.0)
    at_s, value = steps.at_s[near], steps.values["air_temp"][near]
    smooth, *_ = smoothed(at_s, value, WINDOW_S / 3.0)
    first = int(np.searchsorted(at_s, begin_s))
    top = first + int(np.argmax(smooth[first:]))
    rise_k = max(float(smooth[top] - smooth[first]), 0.0)
    lasts_s = float(at_s[top] - begin_s)
    return (
        figure_of(rise_k, STEP_K / sqrt(2.0), 2),
        figure_of(lasts_s, max(WINDOW_S / 3.0, steps.step_s), 0),
    )


def look_at_mist(steps: Steps) -> tuple[Figure, Figure, Figure]:
    """Return %RH per second of mist at 20 °C, its delay in s, and the time constant in s with which it falls back."""
    wet = steps.during("mist")
    missing = "the chamber has no humidifier, or no humidity sensor"
    if "humidifier" not in steps.on or "rh" not in steps.values or "rh_temp" not in steps.values:
        return (Figure(because=missing),) * 3
    if not np.any(wet):
        return (Figure(because=steps.notes or missing),) * 3
    on = steps.on["humidifier"][wet]
    rh, temp_c = steps.values["rh"][wet], steps.values["rh_temp"][wet]
    vapour = np.array([vapour_pressure_pa(t, h) for t, h in zip(temp_c, rh, strict=True)])
    density = vapour / (VAPOUR_GAS_CONSTANT * (temp_c + ZERO_C_IN_K))
    full = saturation_pressure_pa(20.0) / (VAPOUR_GAS_CONSTANT * (20.0 + ZERO_C_IN_K))
    share_pct = 100.0 * density / full
    lift_pct = float(np.max(share_pct) - share_pct[0])
    if float(np.sum(on)) <= 0.0 or lift_pct < LEAST_MIST_PCT:
        return (Figure(because=f"the humidity rose by {max(lift_pct, 0.0):.1f} % only; is there water in it?"),) * 3
    found, errors = _fit_mist(on, share_pct, steps.step_s)
    per_s, delay_s, falls_s = found
    falls = figure_of(falls_s, falls_s * errors[2], 0)
    if errors[2] > 1.0:
        falls = Figure(because="it fell back too little in the time of the test")
    return (
        figure_of(per_s, per_s * errors[0], 3),
        figure_of(delay_s, max(delay_s * errors[1], steps.step_s / 2.0), 1),
        falls,
    )


def _fit_mist(on: Series, share_pct: Series, step_s: float) -> tuple[Series, Series]:
    """Fit a store that mist fills and leaks empty, seen by a sensor that lags: (per s, lag s, time constant s)."""

    def curve(x: Series) -> Series:
        per_s, lag_s, falls_s = np.exp(np.clip(x[:3], -8.0, 14.0))
        keep, follow = np.exp(-step_s / falls_s), np.exp(-step_s / lag_s)
        level = lfilter([1.0], [1.0, -keep], on * per_s * step_s + (1.0 - keep) * x[3])
        level += x[4] * keep ** np.arange(1, len(on) + 1)
        shown = lfilter([1.0 - follow], [1.0, -follow], level)
        return np.asarray(shown + x[4] * follow ** np.arange(1, len(on) + 1))

    def residuals(x: Series) -> Series:
        prior = np.array([(x[1] - np.log(15.0)) / 1.0, (x[2] - np.log(1800.0)) / 2.0, (x[3] - share_pct[0]) / 30.0])
        return np.concatenate(((curve(x) - share_pct) / MIST_PCT, prior))

    start = np.array([np.log(1.0), np.log(15.0), np.log(1800.0), share_pct[0], share_pct[0]])
    solved = least_squares(residuals, start, method="lm", x_scale="jac", max_nfev=2000)
    left = solved.fun[:-3]
    variance = float(np.mean(left**2))
    together = min(max(float(np.mean(left[1:] * left[:-1])) / variance, 0.0), 0.98)
    covariance = np.linalg.pinv(solved.jac.T @ solved.jac) * max(variance, 1.0) * (1.0 + together) / (1.0 - together)
    errors = np.sqrt(np.maximum(np.diag(covariance)[:3], 0.0) + MIST_SHARE**2)
    return np.exp(solved.x[:3]), errors


MIST_PCT: Final = 0.3
MIST_SHARE: Final = 0.05
"""A humidity sensor shows a rise within a twentieth of itself (its slope; data sheets give ±1.8 % at a point)."""


def look_at_cold(steps: Steps) -> tuple[Figure, Figure, Figure]:
    """Return dead time (s), steepest slope (K/min) of the cooling, and by how much the air still falls after it."""
    begin_s, after_s = steps.begin_s("cool"), steps.begin_s("after")
    if begin_s is None or after_s is None:
        return (Figure(because=steps.notes or "the chamber has no cooling"),) * 3
    cold = (steps.at_s >= begin_s - WINDOW_S) & (steps.at_s <= after_s + 900.0)
    at_s, value = steps.at_s[cold], steps.values["air_temp"][cold]
    smooth, slope, error = smoothed(at_s, value, WINDOW_S * 2.0 / 3.0)
    runs = (at_s >= begin_s) & (at_s <= after_s)
    first = int(np.searchsorted(at_s, begin_s))
    fell_k = float(smooth[first] - np.min(smooth[runs]))
    if fell_k < LEAST_COLD_K:
        return (Figure(because=f"the air fell by {max(fell_k, 0.0):.1f} K only while the cooling was on"),) * 3
    steepest = int(np.flatnonzero(runs)[np.argmin(slope[runs])])
    per_s = -float(slope[steepest])
    dead_s = float(at_s[steepest] - begin_s) - (float(smooth[first]) - float(smooth[steepest])) / per_s
    dead_error_s = sqrt((STEP_K / per_s) ** 2 + ((at_s[steepest] - begin_s) * error[steepest] / per_s) ** 2)
    end = int(np.searchsorted(at_s, after_s))
    still_k = max(float(smooth[min(end, len(smooth) - 1)] - np.min(smooth[end:])), 0.0) if end < len(smooth) else 0.0
    slope_error = max(float(error[steepest]), MODEL_COLD_SHARE * per_s)
    return (
        figure_of(max(dead_s, 0.0), dead_error_s, 0),
        figure_of(per_s * 60.0, slope_error * 60.0, 3),
        figure_of(still_k, STEP_K / sqrt(2.0), 2),
    )


MODEL_COLD_SHARE: Final = 0.08
"""A compressor cools by how warm its plate is: its slope is no better known than this. Common practice, no source."""
