"""How far the lamp's loop is from swinging by itself: its sensitivity Ms on the linear chamber, all of it in the loop.

The loop is the whole one: chamber, both thermometers, half a window of waiting, PI, and what the walls are reckoned to
take. Usual values of Ms are 1.2 to 2 (Astrom and Hagglund, Advanced PID Control, 2006, from memory). Delays are exact.
"""

from collections.abc import Iterator

import numpy as np
import pytest

from controller.core.chamber.heating import CALM, LAMP_ON_WALL, known_share
from controller.core.plan import Chamber, Switch
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.simulator.chamber_parameters import parameters_of
from tests.bench.held.chambers import KINDS, Kind, Variant, drawn, nominal
from tests.bench.held.linear import system

OMEGAS = np.logspace(-5.0, -0.5, 800)
CHIP_S = 20.0
SHOWN_S = 8.0
SWITCHES: tuple[Switch, ...] = ("solid-state", "mechanical")


def ms_of(true: ChamberFile, believed: Chamber, meat_kg: float, *, quick: bool) -> float:
    """Return the largest |1/(1+L)| of the lamp's loop with a chamber as it is and as it is believed to be."""
    a, b = system(parameters_of(true), meat_kg)
    s = 1j * OMEGAS
    air = np.array([np.linalg.solve(one * np.eye(4) - a, b)[1] for one in s])
    figures, gains, heater = believed.figures, believed.gains, believed.output("heater")
    assert heater is not None
    response_s = plan_of(true).response_s["air_temp"]
    shown = 1.0 / (response_s * s + 1.0)
    per_k, ti_s, calm = gains.heat_per_k * CALM, gains.heat_ti_s / CALM, CALM
    if quick:
        shown = shown + (1.0 - 1.0 / ((response_s - SHOWN_S) * s + 1.0)) / (CHIP_S * s + 1.0)
        per_k, ti_s, calm = gains.swift_per_k, gains.swift_ti_s, 1.0
    wall = figures.wall_j_per_k * s + figures.air_wall_w_per_k + figures.ua_w_per_k
    share = (
        calm
        * known_share(figures, heater.window_s)
        * figures.air_wall_w_per_k
        / (figures.heater_w * (1.0 - figures.lamp_radiant))
    )
    by_radiation = share * figures.lamp_radiant * LAMP_ON_WALL * figures.heater_w / wall
    law = (per_k * (1.0 + 1.0 / (ti_s * s)) + share * figures.air_wall_w_per_k / wall) / (1.0 + by_radiation)
    loop = air * shown * np.exp(-s * heater.window_s / 2.0) * law
    return float(np.max(np.abs(1.0 / (1.0 + loop))))


def each(variant: Variant, *, guessed: bool) -> Iterator[tuple[bool, float]]:
    """Return (with the quick thermometer, Ms) by both switches, empty and loaded."""
    for switch in SWITCHES:
        file = variant.with_switch(switch)
        believed = plan_of(variant.as_guessed(file) if guessed else file)
        for meat_kg in (0.0, file.model.meat_kg):
            for quick in (True, False):
                yield quick, ms_of(file, believed, meat_kg, quick=quick)


@pytest.mark.parametrize("kind", KINDS)
def test_a_chamber_that_is_as_its_file_says_is_far_from_swinging(kind: Kind) -> None:
    assert max(ms for _, ms in each(nominal(kind), guessed=False)) < 1.9


@pytest.mark.parametrize("kind", KINDS)
def test_so_is_every_drawn_chamber_whose_figures_are_known(kind: Kind) -> None:
    found = [ms for seed in range(1, 21) for _, ms in each(drawn(kind, seed), guessed=False)]
    assert max(found) < 2.5  # 2.39: an empty box with thin walls and a mechanical relay. The median is below 1.6.
    assert np.median(found) < 1.6


@pytest.mark.parametrize("kind", KINDS)
def test_no_drawn_chamber_swings_by_itself_though_its_walls_are_guessed(kind: Kind) -> None:
    """A wrong guess costs robustness; a step test gives it back."""
    found = [ms for seed in range(1, 21) for _, ms in each(drawn(kind, seed), guessed=True)]
    assert max(found) < 4.0
    assert np.median(found) < 1.8
