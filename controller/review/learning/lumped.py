"""The chamber as a few bodies: lamp, air, wall, what stands in it, and the thermometers that follow the air.

It is linear, so each of its modes is moved by a whole step of the grid exactly, for an output that is on for the same
share of the step. Everything is told in kelvin above the air at the begin.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Series = NDArray[np.float64]
Matrix = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Box:
    """Hold the figures of a lumped chamber, in W/K, J/K, W and s. Without a load `load_j_per_k` is 0."""

    ua_w_per_k: float
    air_wall_w_per_k: float
    wall_j_per_k: float
    air_j_per_k: float
    lamp_w: float
    lamp_radiant: float
    lamp_j_per_k: float
    lamp_s: float
    probe_s: float
    quick_s: float
    load_j_per_k: float = 0.0
    load_w_per_k: float = 0.0
    plate_j_per_k: float = 0.0  # Of an evaporator that is off,
    plate_w_per_k: float = 0.0  # and from the air to it.


LAMP, AIR, WALL, LOAD, PLATE, PROBE, QUICK = range(7)
BODIES = 7
RADIANT_ON_LOAD = 0.3
"""Share of the lamp's radiation that falls on what stands in the chamber; common practice, no source."""
IDLE = 1e-12
STILL_J_PER_K = 1e9
"""A load that is not there: a body without any coupling."""


def matrices(box: Box) -> tuple[Matrix, Matrix]:
    """Return the rates of the bodies by their temperatures, and by the inputs (lamp's share, room)."""
    a, b = np.zeros((BODIES, BODIES)), np.zeros((BODIES, 2))
    lamp_w_per_k = box.lamp_j_per_k / box.lamp_s
    load_j = box.load_j_per_k or STILL_J_PER_K
    load_w = box.load_w_per_k if box.load_j_per_k else 0.0
    plate_j = box.plate_j_per_k or STILL_J_PER_K
    plate_w = box.plate_w_per_k if box.plate_j_per_k else 0.0
    on_load = RADIANT_ON_LOAD if box.load_j_per_k else 0.0
    a[LAMP, LAMP], a[LAMP, AIR] = -lamp_w_per_k / box.lamp_j_per_k, lamp_w_per_k / box.lamp_j_per_k
    b[LAMP, 0] = box.lamp_w * (1.0 - box.lamp_radiant) / box.lamp_j_per_k
    a[AIR, LAMP] = lamp_w_per_k / box.air_j_per_k
    a[AIR, WALL] = box.air_wall_w_per_k / box.air_j_per_k
    a[AIR, LOAD] = load_w / box.air_j_per_k
    a[AIR, PLATE] = plate_w / box.air_j_per_k
    a[AIR, AIR] = -a[AIR, LAMP] - a[AIR, WALL] - a[AIR, LOAD] - a[AIR, PLATE]
    a[WALL, AIR] = box.air_wall_w_per_k / box.wall_j_per_k
    a[WALL, WALL] = -(box.air_wall_w_per_k + box.ua_w_per_k) / box.wall_j_per_k
    b[WALL, 0] = (1.0 - on_load) * box.lamp_radiant * box.lamp_w / box.wall_j_per_k
    b[WALL, 1] = box.ua_w_per_k / box.wall_j_per_k
    a[LOAD, AIR], a[LOAD, LOAD] = load_w / load_j, -load_w / load_j
    a[PLATE, AIR], a[PLATE, PLATE] = plate_w / plate_j, -plate_w / plate_j
    b[LOAD, 0] = on_load * box.lamp_radiant * box.lamp_w / load_j
    for body, response_s in ((PROBE, box.probe_s), (QUICK, box.quick_s)):
        a[body, AIR], a[body, body] = 1.0 / response_s, -1.0 / response_s
    return a, b


def run(box: Box, start: Series, lamp_on: Series, room: Series, step_s: float) -> Matrix:
    """Return the temperatures of all bodies at each instant of the grid; what was on in the step before one counts.

    Args:
        box: the figures.
        start: temperatures of the bodies at the first instant.
        lamp_on: share of the step that ends at each instant in which the lamp was on.
        room: the room at each instant.
        step_s: the distance of two instants.
    """
    a, b = matrices(box)
    rates, modes = np.linalg.eig(a)  # Each mode goes its own way, so a filter moves it through all instants.
    shares, inputs = np.exp(rates * step_s), np.linalg.solve(modes, b)
    idle = np.abs(rates) * step_s < IDLE
    held_s = np.where(idle, step_s, np.expm1(rates * step_s) / np.where(idle, 1.0, rates))
    driven = (inputs * held_s[:, None]) @ np.vstack((lamp_on, room))
    driven[:, 0] = 0.0  # What was on before the first instant is in `start`.
    begun = np.linalg.solve(modes, start)
    found = np.empty((BODIES, len(lamp_on)), dtype=complex)
    for mode, share in enumerate(shares):
        found[mode] = lfilter([1.0], [1.0, -share], driven[mode])
        found[mode] += begun[mode] * share ** np.arange(len(lamp_on))
    return np.ascontiguousarray((modes @ found).real.T)


def tangent(box: Box, longest_s: float = 3600.0) -> tuple[float, float]:
    """Return the steepest slope (K/s) of the probe under the full lamp, and its tangent's dead time (s)."""
    step_s = 2.0
    steps = int(longest_s / step_s)
    shown = run(box, np.zeros(BODIES), np.ones(steps), np.zeros(steps), step_s)
    slopes = (shown[:, AIR] - shown[:, PROBE]) / box.probe_s
    steepest = int(np.argmax(slopes))
    slope = float(slopes[steepest])
    return slope, steepest * step_s - float(shown[steepest, PROBE]) / slope


def answer(box: Box, s: complex) -> complex:
    """Return the transfer function from the lamp's share to the probe at one complex frequency."""
    a, b = matrices(box)
    solved = np.linalg.solve(s * np.eye(BODIES) - a, b[:, 0])
    return complex(solved[PROBE])


def lags_s(box: Box) -> tuple[float, ...]:
    """Return the time constants of the chamber with its probe, the slowest first; nobody's load is left out."""
    a, _ = matrices(box)
    loads = [*((LOAD,) if box.load_j_per_k else ()), *((PLATE,) if box.plate_j_per_k else ())]
    kept = [LAMP, AIR, WALL, *loads, PROBE]
    values = np.linalg.eigvals(a[np.ix_(kept, kept)])
    return tuple(sorted((float(-1.0 / value.real) for value in values), reverse=True))
