"""Fit the lumped chamber to a step test: least squares, with what is known beforehand as weak observations.

What cannot be told from one curve (which share of the lamp's heat is radiation, how hot the room really is) is held
near what is usual by such an observation and keeps its uncertainty, which goes on into the errors of the others. The
errors are those of the fit, widened by how far the residuals hang together from one instant to the next.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from controller.review.learning.lumped import BODIES, PROBE, QUICK, Box, Series, run, tangent
from controller.review.learning.rows import Steps
from controller.settings.chamber_plan import FITTINGS_J_PER_K
from controller.settings.model_figures import AIR_J_PER_M3_K

PROBE_K: Final = 0.03
QUICK_K: Final = 0.03
"""What one value may be off by chance: a step of 1/16 K, and the noise of a humidity sensor's thermometer."""
THIN_S: Final = 30.0
MODEL_SHARE: Final = 0.04
"""No wall is one body: what a lumped model says of a real one is not better than this. Common practice, no source."""
LOAD_J_PER_KG_K: Final = 3900.0
"""Between meat (3300) and water (4186)."""

Names = tuple[str, ...]
Priors = dict[str, tuple[float, float]]
"""Of the logarithm of each figure: its value and how far it may be off; of `room_k` and `wall_k` in kelvin."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """Hold a fitted chamber: figures, their relative standard errors, the curves and what is left over."""

    box: Box
    names: Names
    covariance: NDArray[np.float64]
    at: Series
    room_k: float
    curve_c: Series  # Of the leading thermometer.
    left_k: Series
    start_c: float

    def error(self, of: Callable[[Box], float]) -> float:
        """Return the standard error of whatever follows from the figures, by its slope along each of them."""
        here = of(self.box)
        slopes = np.array([(of(self.moved(name, STEP)) - here) / STEP for name in self.names])
        chance = float(sqrt(max(float(slopes @ self.covariance @ slopes), 0.0)))
        return float(sqrt(chance**2 + (MODEL_SHARE * here) ** 2))

    def moved(self, name: str, by: float) -> Box:
        """Return the chamber with one figure larger by a share; what is no figure of it changes nothing."""
        if name in KELVINS:
            return self.box
        from dataclasses import replace

        changed: Box = replace(self.box, **{name: getattr(self.box, name) * exp(by)})
        return changed


STEP: Final = 1e-3
KELVINS: Final = ("room_k", "wall_k", "quick_k")


def fit(steps: Steps, noise_k: float) -> Fitted:
    """Return the chamber that fits the rest, the lamp and the cooling down; see the module's head.

    Args:
        steps: the rows.
        noise_k: of the leading thermometer at rest.
    """
    whole = steps.during("rest", "heat", "off")
    probe_c, lamp_on = steps.values["air_temp"][whole], steps.on["heater"][whole]
    quick_c = steps.values["rh_temp"][whole] if "rh_temp" in steps.values else None
    at_s = steps.at_s[whole]
    still = steps.during("rest")[whole]
    start_c = float(np.mean(probe_c[still]))
    room_c = steps.values["ambient_temp"][whole] if "ambient_temp" in steps.values else np.full(len(at_s), start_c)
    names, first, priors = _unknowns(steps, has_quick=quick_c is not None)
    frame = _Frame(steps, start_c, lamp_on, room_c - start_c, names)
    probe_sd = sqrt(PROBE_K**2 + noise_k**2)
    thin = slice(None, None, max(int(THIN_S / steps.step_s / 3.0), 1))

    def residuals(x: Series) -> Series:
        found = frame.curves(x)
        parts = [(found[thin, PROBE] - (probe_c[thin] - start_c)) / probe_sd]
        if quick_c is not None:
            offset_k = x[names.index("quick_k")]
            parts.append((found[thin, QUICK] + offset_k - (quick_c[thin] - start_c)) / QUICK_K)
        parts.append(np.array([(x[names.index(name)] - value) / sd for name, (value, sd) in priors.items()]))
        return np.concatenate(parts)

    solved = least_squares(residuals, first, method="lm", x_scale="jac", ftol=1e-6, xtol=1e-5, max_nfev=600)
    covariance = np.linalg.pinv(solved.jac.T @ solved.jac) * _widening(solved.fun[: -len(priors)])
    x = solved.x
    found = frame.curves(x)
    room_k = float(x[names.index("room_k")])
    return Fitted(
        frame.box(x),
        names,
        covariance,
        x,
        room_k,
        found[:, PROBE] + start_c,
        found[:, PROBE] + start_c - probe_c,
        start_c,
    )


def _unknowns(steps: Steps, *, has_quick: bool) -> tuple[Names, Series, Priors]:
    """Return what is looked for, where the search begins, and what is known of each beforehand."""
    model, head = steps.head.chamber.model, steps.head
    leading = next(entry for entry in head.chamber.sensor if entry.channel == "air_temp")
    begin = {
        "ua_w_per_k": model.ua_w_per_k,
        "air_wall_w_per_k": model.air_wall_w_per_k,
        "wall_j_per_k": model.wall_j_per_k,
        "lamp_radiant": model.lamp_radiant,
        "lamp_s": model.lamp_j_per_k / model.lamp_w_per_k,
        "probe_s": leading.response_s or 120.0,
    }
    priors: Priors = {
        "ua_w_per_k": (log(begin["ua_w_per_k"]), 2.0),
        "air_wall_w_per_k": (log(begin["air_wall_w_per_k"]), 2.0),
        "wall_j_per_k": (log(begin["wall_j_per_k"]), 2.0),
        "lamp_radiant": (log(0.35), 0.35),
        "lamp_s": (log(70.0), 0.5),
        "probe_s": (log(begin["probe_s"]), 1.0),
    }
    first = {name: log(value) for name, value in begin.items()}
    if has_quick:
        first["quick_s"], priors["quick_s"] = log(15.0), (log(15.0), 0.6)
        first["quick_k"], priors["quick_k"] = 0.0, (0.0, 1.0)
    if head.loaded_kg > 0.0:
        first["load_j_per_k"] = log(head.loaded_kg * LOAD_J_PER_KG_K)
        priors["load_j_per_k"] = (first["load_j_per_k"], 0.15)
        first["load_w_per_k"] = log(0.4 * head.loaded_kg)
        priors["load_w_per_k"] = (first["load_w_per_k"], 1.0)
    if model.evaporator_w_per_k and any(entry.role == "cooler" for entry in head.chamber.output):
        for name, value in (("plate_j_per_k", model.evaporator_j_per_k), ("plate_w_per_k", model.evaporator_w_per_k)):
            first[name], priors[name] = log(value), (log(value), 0.4)
    first["room_k"], priors["room_k"] = 0.0, (0.0, 0.5 if "ambient_temp" in steps.values else 1.0)
    first["wall_k"], priors["wall_k"] = 0.0, (0.0, 0.5)
    names = tuple(first)
    return names, np.array([first[name] for name in names]), priors


class _Frame:
    """Turn a vector of unknowns into a chamber and its curves."""

    def __init__(self, steps: Steps, start_c: float, lamp_on: Series, room_k: Series, names: Names) -> None:
        self._steps, self._lamp_on, self._room_k, self._names = steps, lamp_on, room_k, names
        self._start_c = start_c
        chamber = steps.head.chamber
        self._lamp_w = float(sum(entry.w or 0.0 for entry in chamber.output if entry.role == "heater"))
        self._air_j = chamber.model.volume_l / 1000.0 * AIR_J_PER_M3_K + FITTINGS_J_PER_K
        self._lamp_j = chamber.model.lamp_j_per_k

    def box(self, x: Series) -> Box:
        """Return the chamber."""
        found = {name: exp(min(max(value, -20.0), 20.0)) for name, value in zip(self._names, x, strict=True)}
        return Box(
            ua_w_per_k=found["ua_w_per_k"],
            air_wall_w_per_k=found["air_wall_w_per_k"],
            wall_j_per_k=found["wall_j_per_k"],
            air_j_per_k=self._air_j,
            lamp_w=self._lamp_w,
            lamp_radiant=min(found["lamp_radiant"], 0.9),
            lamp_j_per_k=self._lamp_j,
            lamp_s=found["lamp_s"],
            probe_s=found["probe_s"],
            quick_s=found.get("quick_s", 20.0),
            load_j_per_k=found.get("load_j_per_k", 0.0),
            load_w_per_k=found.get("load_w_per_k", 0.0),
            plate_j_per_k=found.get("plate_j_per_k", 0.0),
            plate_w_per_k=found.get("plate_w_per_k", 0.0),
        )

    def curves(self, x: Series) -> NDArray[np.float64]:
        """Return the temperatures of all bodies above the air at the begin."""
        room_k, wall_k = x[self._names.index("room_k")], x[self._names.index("wall_k")]
        start = np.full(BODIES, wall_k)
        return run(self.box(x), start, self._lamp_on, self._room_k + room_k, self._steps.step_s)


def _widening(left: Series) -> float:
    """Return by how much the squares of the errors are widened: residuals that hang together count for fewer."""
    variance = float(np.mean(left**2))
    together = float(np.mean(left[1:] * left[:-1])) / variance if variance > 0.0 else 0.0
    together = min(max(together, 0.0), 0.98)
    return max(variance, 1.0) * (1.0 + together) / (1.0 - together)


def dead_and_slope(fitted: Fitted) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return dead time (s) and steepest slope (K/s) under the full lamp, each with its standard error."""
    slope, dead_s = tangent(fitted.box)
    return (
        (dead_s, fitted.error(lambda box: tangent(box)[1])),
        (slope, fitted.error(lambda box: tangent(box)[0])),
    )
