"""Fit the forecasts' curves to runs of the models: `python -m tests.bench.forecast_priors [RUNS]`.

Prints what the priors of `controller.review.forecast` rest on: how far the figures of the curves that fit whole runs
lie from what the recipe says, on average and from run to run. The runs are others than
those the forecasts are scored on.
"""

import sys
from collections.abc import Sequence
from math import exp, log
from random import Random

import numpy as np
from scipy.optimize import least_squares

from controller.food.drying import D13_M2_PER_S, STILL_M_PER_S, equilibrium_loss_pct, mix_of
from controller.review.forecast import acid_curve, drying_curve
from controller.simulator.rings import Rings
from tests.bench.forecasts import LACTATE_MOL, felt_hours, still_air, true_ph

USUAL = mix_of(25.0, 2.7, 0.5)


def drying_run(seed: int) -> list[float]:
    """Dry one sausage to 88 % of its equilibrium loss; return how its curve differs from the prior, and more."""
    random = Random(seed)
    diameter_mm = random.uniform(32.0, 80.0)
    fat_pct, salt_pct = random.triangular(20.0, 30.0, 25.0), random.triangular(2.4, 3.0, 2.7)
    wetter, airier = random.triangular(-1.0, 1.06, 0.0) * log(2.0), random.triangular(-0.35, 0.35, 0.0)
    temp_c, rh_pct = random.uniform(10.0, 16.0), random.uniform(72.0, 83.0)
    mix = mix_of(fat_pct, salt_pct, 0.5)
    rings, lost_kg_s, loss = Rings(diameter_mm / 1000.0, mix.water_kg, D13_M2_PER_S * exp(wetter)), 0.0, [0.0]
    ends_pct = 0.88 * equilibrium_loss_pct(mix, rh_pct, LACTATE_MOL)
    while loss[-1] < ends_pct and len(loss) < 120:
        for _ in range(48):
            lost_kg_s = still_air(rings, mix, temp_c, rh_pct, STILL_M_PER_S * exp(airier), lost_kg_s)
            rings.advance(1800.0, temp_c, lost_kg_s)
        loss.append(100.0 * (mix.water_kg - rings.water_kg))
    days, seen = np.arange(len(loss), dtype=float), np.array(loss)

    def misses(unknowns: np.ndarray) -> np.ndarray:
        return np.asarray(drying_curve.loss_at(unknowns[np.newaxis, :], days)[0] - seen)

    usual_pct = equilibrium_loss_pct(USUAL, rh_pct, LACTATE_MOL)
    prior = drying_curve.prior_of(diameter_mm, temp_c, rh_pct, usual_pct)
    found = least_squares(misses, prior.mean)
    off = [found.x[0] - usual_pct, found.x[1], found.x[2] - prior.mean[2], float(np.sqrt(np.mean(found.fun**2)))]
    return [*off, diameter_mm - 55.0, rh_pct - 78.0, temp_c - 13.0, fat_pct - 25.0, wetter, airier]


def drying(runs: int) -> None:
    """Print the drying curve's figures, and what W depends on."""
    table = np.array([drying_run(5000 + run) for run in range(runs)])
    for place, name in enumerate(("W less equilibrium, %", "n", "ln tau less prior", "rms misfit, %")):
        _print(name, table[:, place])
    known = np.column_stack([np.ones(runs), table[:, 4:]])
    slopes, *_ = np.linalg.lstsq(known, table[:, 0], rcond=None)
    names = ("at 55 mm, 78 %RH", "per mm", "per %RH", "per K", "per % of fat", "per ln D13", "per ln of the film")
    print("W less equilibrium:")
    for name, by in zip(names, slopes, strict=True):
        print(f"  {name:24} {by:+.3f}")
    unknown = table[:, 0] - known[:, :5] @ slopes[:5]
    print(f"  spread where diameter, air and fat are known: {np.std(unknown):.2f} %")


def souring(culture: str, temp_c: float, dextrose_pct: float, runs: int) -> None:
    """Print the acid curve's figures less those of the prior."""
    hours, felt = felt_hours(culture, temp_c)
    off = []
    for run in range(runs):
        ph = np.array(true_ph(culture, temp_c, dextrose_pct, 7000 + run).ph[::15])
        at = np.interp(np.arange(ph.size) * 0.25, hours, felt)
        prior = acid_curve.prior_of(acid_curve.Recipe(culture, dextrose_pct), [(0.0, float(ph[0]))])

        def misses(unknowns: np.ndarray, at: np.ndarray = at, ph: np.ndarray = ph) -> np.ndarray:
            return np.asarray(acid_curve.ph_at(unknowns[np.newaxis, :], at)[0] - ph)

        off.append(least_squares(misses, prior.mean).x - prior.mean)
    print(f"{culture}, {temp_c:g} °C, {dextrose_pct:g} % of dextrose: curve less prior")
    for place, name in enumerate(("pH0", "A", "ln mu", "ln lambda")):
        _print(name, np.array(off)[:, place])


def _print(name: str, values: Sequence[float] | np.ndarray) -> None:
    low, middle, high = np.percentile(values, [5, 50, 95])
    print(f"  {name:24} mean {np.mean(values):+7.3f}  spread {np.std(values):6.3f}  5/50/95 % {low:+.3f} {middle:+.3f} "
          f"{high:+.3f}")  # fmt: skip


def main() -> None:
    """Run and print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    print("drying: curve that fits the run")
    drying(runs)
    for culture, temp_c, dextrose_pct in (("mesophilic", 24.0, 0.3), ("thermotolerant", 36.0, 0.5)):
        souring(culture, temp_c, dextrose_pct, runs)


if __name__ == "__main__":
    main()
