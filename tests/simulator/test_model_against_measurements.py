"""The chamber's model against what was measured elsewhere, and what it can and cannot be right about.

A cooling curve that anybody can fit again; two published figures of a household refrigerator; published heat loads.
"""

from typing import Final

import numpy as np
import pytest
from msgspec.structs import replace
from numpy.typing import NDArray
from scipy.optimize import least_squares

from controller.simulator.chamber_model import ChamberModel
from tests.helpers.published_rows import rows_of
from tests.helpers.simulated_chambers import NAMES, load, model_of

Curve = NDArray[np.float64]

ONE_RMSE_K: Final = 1.48
TWO_RMSE_K: Final = 0.17
TWO_TAU_MIN: Final = (12.0, 74.0)
"""Of the measured curve, as found when it was chosen for this."""

FRIDGE_PERIOD_H: Final = 1.17
FRIDGE_SWING_K: Final = 2.4
FRIDGE_SD_K: Final = 0.63
"""Household refrigerator A1, air temperature every 10 min for 24 h: Jofré et al. 2019, Food Research International
126:108578; figures reckoned from the series refrigeratorSpain of R package biogrowth, which is not kept here."""


def fit(minutes: Curve, temps_c: Curve, bodies: int) -> tuple[float, list[float]]:
    """Return the rms misfit in K of a sum of exponentials on a constant, and its time constants, quick ones first."""

    def misfit(p: Curve) -> Curve:
        curve = np.full(len(minutes), p[0])
        for n in range(bodies):
            curve += p[1 + 2 * n] * np.exp(-minutes / p[2 + 2 * n])
        return curve - temps_c

    span_k = float(temps_c[0] - temps_c[-1])
    begin = [float(temps_c[-1])]
    for n in range(bodies):
        begin += [span_k / bodies, float(minutes[-1]) / (4.0 * 4.0 ** (bodies - 1 - n))]
    found = least_squares(misfit, begin, x_scale=np.maximum(np.abs(begin), 1.0))
    return float(np.sqrt(np.mean(found.fun**2))), sorted(found.x[2::2])


def measured() -> tuple[Curve, Curve]:
    rows = rows_of("cooling_water.csv")
    assert len(rows) == 222
    return np.array([float(r["time_min"]) for r in rows]), np.array([float(r["temp_c"]) for r in rows])


def test_a_measured_cooling_curve_needs_two_bodies() -> None:
    """One heat capacity with one conductance misses it by up to 9 K at its begin; two follow it to 0.2 K."""
    minutes, temps_c = measured()
    one_k, _ = fit(minutes, temps_c, 1)
    two_k, taus_min = fit(minutes, temps_c, 2)
    assert one_k == pytest.approx(ONE_RMSE_K, abs=0.01)
    assert two_k == pytest.approx(TWO_RMSE_K, abs=0.01)
    assert taus_min == pytest.approx(TWO_TAU_MIN, rel=0.05)


def test_two_lumped_bodies_of_this_models_kind_follow_the_measured_curve() -> None:
    """Two capacities, joined and one of them losing to the room, as air and meat are in the model; five figures fitted.

    A sum of exponentials might have amplitudes that no bodies have; these have conductances, and all are above zero.
    """
    minutes, temps_c = measured()

    def cooled(p: Curve) -> Curve:
        """Solve a body that loses to the room and a slow one behind it, by small steps."""
        fast, slow = float(p[4]), float(p[4])
        shown = np.empty(len(minutes))
        for n in range(len(minutes)):
            shown[n] = fast
            for _ in range(10):
                fast, slow = (
                    fast + 0.1 * (p[0] * (slow - fast) + p[1] * (p[3] - fast)),
                    slow + 0.1 * p[2] * (fast - slow),
                )
        return shown

    found = least_squares(lambda p: cooled(p) - temps_c, [0.05, 0.03, 0.02, 24.0, 98.0])
    assert float(np.sqrt(np.mean(found.fun**2))) < 0.35
    assert min(found.x) > 0.0  # Every conductance is one that a body can have.


def cooling(model: ChamberModel, every_min: float, points: int) -> tuple[Curve, Curve]:
    """Return the air of a dry chamber that was 35 K above its room everywhere."""
    model.air_c = model.wall_c = model.lamp_c = model.plate_c = model.meat_c = model.room_c + 35.0
    seen = []
    for _ in range(points):
        seen.append(model.air_c)
        model.advance(every_min * 60.0)
    return np.array([every_min * n for n in range(points)]), np.array(seen)


@pytest.mark.parametrize("name", NAMES)
def test_a_modelled_chamber_with_meat_cools_as_two_bodies_and_an_empty_one_as_one(name: str) -> None:
    """So a model of one body, as thermostats are often tuned by, is right for the empty box only, and by luck."""
    empty = cooling(model_of(name, room_c=25.0, room_rh_pct=5.0), 2.0, 120)
    assert fit(*empty, 1)[0] < 0.1
    model = model_of(name, room_c=25.0, room_rh_pct=5.0)
    load(model, name, temp_c=60.0, aw=0.0)
    loaded = cooling(model, 10.0, 160)
    one_k, two_k = fit(*loaded, 1)[0], fit(*loaded, 2)[0]
    assert one_k > 0.4
    assert two_k < 0.05
    assert one_k > 5.0 * two_k


def thermostat(plate_j_per_k: float, half_k: float) -> tuple[float, float, float]:
    """Return period (h), swing and standard deviation (K) of a loaded fridge at 5 °C in 22 °C, seen every 10 min."""
    model = model_of("old-fridge", room_c=22.0)
    model.parameters = replace(model.parameters, plate_j_per_k=plate_j_per_k)
    load(model, "old-fridge", temp_c=5.0, aw=0.0)
    model.air_c = model.wall_c = model.plate_c = 5.0
    starts_s, seen_c = [], []
    for step in range(18 * 720):
        if not model.cooler_on and model.air_c > 5.0 + half_k:
            model.cooler_on = True
            starts_s.append(step * 5.0)
        elif model.cooler_on and model.air_c < 5.0 - half_k:
            model.cooler_on = False
        model.advance(5.0)
        if step >= 4 * 720 and step % 120 == 0:
            seen_c.append(model.air_c)
    later_s = [start_s for start_s in starts_s if start_s >= 4 * 3600.0]
    return float(np.mean(np.diff(later_s))) / 3600.0, max(seen_c) - min(seen_c), float(np.std(seen_c))


def test_the_modelled_fridge_cycles_four_times_as_fast_as_a_measured_one_until_its_plate_is_as_heavy() -> None:
    """At the measured swing the shipped figures (plate of 900 J/K) give a quarter of the measured period.

    With 5500 J/K for the plate, its liner and its ice, period, swing and scatter are those of the measured fridge: the
    equations can do it, the shipped figure is that of a bare plate. It errs to the side of more starts of the
    compressor and faster swings of the humidity; a maker with a heavy plate writes evaporator_j_per_k.
    """
    period_h, _, _ = thermostat(900.0, 1.2)
    assert 3.0 < FRIDGE_PERIOD_H / period_h < 5.0
    period_h, swing_k, sd_k = thermostat(5500.0, 1.2)
    assert period_h == pytest.approx(FRIDGE_PERIOD_H, rel=0.15)
    assert swing_k == pytest.approx(FRIDGE_SWING_K, abs=0.25)
    assert sd_k == pytest.approx(FRIDGE_SD_K, abs=0.15)


def test_the_modelled_fridge_has_the_heat_load_of_a_household_fridge() -> None:
    """U of cabinets 0.4 (new) to 1.0 W/m2K (of the 1990s); load of a two-compartment one 70 W with its freezer.

    Published (a calculator's page and an abstract, scse.2025.3.156, weak sources). 330 l are about 0.6 x 0.6 x 1.45 m
    outside, 4.2 m2; its plain cooling part must take less than the two together.
    """
    p = model_of("old-fridge").parameters
    area_m2 = 2.0 * 0.6 * 0.6 + 4.0 * 0.6 * 1.45
    assert 0.4 <= p.room_w_per_k / area_m2 <= 1.0
    leak_w_per_k = p.leak_per_h / 3600.0 * p.volume_m3 * 1.2 * 1006.0
    load_w = (p.room_w_per_k + leak_w_per_k) * (25.0 - 4.0)
    assert 20.0 < load_w < 70.0


def test_the_walls_of_the_other_chambers_are_those_that_can_be_built() -> None:
    """18 mm of bare plywood (k 0.13) is U = 3, 25 mm of foam 0.9 (surfaces 0.17 m2K/W, ISO 6946, from memory)."""
    bare = 1.0 / (0.17 + 0.018 / 0.13)
    foam = 1.0 / (0.17 + 0.018 / 0.13 + 0.025 / 0.035)
    area_m2 = 6.0 * 0.25 ** (2.0 / 3.0)
    assert foam < model_of("plywood-cabinet").parameters.room_w_per_k / area_m2 < bare
    cool_box_m2 = 6.0 * 0.075 ** (2.0 / 3.0)
    assert 0.035 / 0.05 < model_of("insulated-box").parameters.room_w_per_k / cool_box_m2 < 0.035 / 0.02
