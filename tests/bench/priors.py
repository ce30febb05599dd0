"""Learn from drawn makers' batches: `python -m tests.bench.priors [MAKERS] [BATCHES]`.

Each maker has a starter that is quicker or slower than the recipe's, and a chamber that dries quicker or slower; each
of his batches is one run of the mechanistic model (food.acid; food.drying on the simulator's rings) with figures and
errors of its own. The production code learns from some of them, and is scored on others that nobody has learned from.

Four kinds of makers: "far off" (starter and chamber differ from the recipe by one to two shipped spreads, batches are
alike), "a little off", "as shipped" (his own figures are the recipe's, batches scatter a little), and "nothing to
learn": each batch is drawn anew from the shipped prior itself, so that nothing learned can help. For each: how often
the learned prior was proposed, how far the mean error fell, and the gain in log score on the fresh batches of those who
were told yes and of all. Where there is nothing to learn, a yes is a mistake.
"""

import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import exp, inf, log
from random import Random
from statistics import fmean
from typing import Final

import numpy as np

from controller.food.acid import CULTURES, begin, ferment_on, sugar_at_start
from controller.food.drying import D13_M2_PER_S, STILL_M_PER_S, equilibrium_loss_pct, mix_of
from controller.review.forecast import acid_curve, drying_curve
from controller.review.forecast.drying_curve import Begun
from controller.review.forecast.estimate import Array
from controller.review.priors import dryings, ferments
from controller.review.priors.left_one_out import Scores, left_one_out
from controller.review.priors.shown import Shown
from controller.review.priors.shrinking import Belief, learn, log_score, usual
from controller.simulator.rings import Rings
from tests.bench.forecasts import LACTATE_MOL, felt_hours, still_air

CULTURE: Final = "mesophilic"
TEMP_C: Final = 24.0
DEXTROSE_PCT: Final = 0.3
MEASURED_H: Final = (0.0, 12.0, 20.0, 24.0, 28.0, 32.0, 36.0, 40.0, 44.0, 48.0, 54.0, 60.0, 72.0, 84.0, 96.0)
WEIGHED_DAYS: Final = (3, 7, 10, 14, 18, 21, 25, 28)
PH_NOISE: Final = 0.04
LOSS_NOISE_PCT: Final = 0.15
STRONGER: Final = 1.35
"""Both the film of air and the diffusivity have to change by so much more than the days that come of it."""
RH_PCT: Final = 78.0
FRESH: Final = 4
FIRST_SEED: Final = 60_000
"""Other makers than those that were looked at while the prior of the scatter was chosen (40,000 and on)."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Hold how far makers of a kind lie from the recipe (in shipped spreads), and how their batches scatter."""

    name: str
    least: float
    most: float
    scatter: float


KINDS: Final = (
    Kind("far off", 1.0, 2.0, 0.3),
    Kind("a little off", 0.3, 0.7, 0.3),
    Kind("as shipped", 0.0, 0.0, 0.3),
    Kind("nothing to learn", 0.0, 0.0, 1.0),
)


@cache
def ferment(speed_ln: float, lag_ln: float, seed: int) -> tuple[tuple[float, float], ...]:
    """Return (hour, pH as measured) of a ferment of e^speed times the culture's rates and e^lag times its wait."""
    random, usual_culture = Random(seed), CULTURES[CULTURE]
    culture = replace(
        usual_culture,
        growth_per_h=usual_culture.growth_per_h * exp(speed_ln),
        acid_per_h=usual_culture.acid_per_h * exp(speed_ln),
    )
    first, buffer = random.triangular(5.65, 5.85, 5.75), random.triangular(46.0, 54.0, 50.0)
    now = begin(culture, sugar_at_start(DEXTROSE_PCT), first)
    # Fewer cells wait longer: the usual wait is h0 + ln(most cells / cells at the start) doublings of e.
    folds = culture.lag + log(culture.most_cells / culture.cells)
    now = replace(now, cells=min(now.cells * exp(-folds * (exp(lag_ln) - 1.0)), 0.5 * culture.most_cells))
    seen = [(0.0, first + random.gauss(0.0, PH_NOISE))]
    due, minute, step_min = list(MEASURED_H[1:]), 0, 2
    while due:
        minute += step_min
        meat_c = TEMP_C - (TEMP_C - 4.0) * exp(-minute / 90.0)
        now = ferment_on(culture, now, step_min / 60.0, meat_c, 0.965, first, buffer)
        if minute >= 60.0 * due[0]:
            seen.append((due.pop(0), now.ph + random.gauss(0.0, PH_NOISE)))
    return tuple(seen)


def ferment_shown(name: str, shift: Sequence[float], seed: int) -> Shown:
    """Return what production makes of a ferment whose slope and wait differ from the recipe's by these logarithms."""
    slope_ln, lag_ln = shift
    hours, felt = felt_hours(CULTURE, TEMP_C)
    measured = ferment(round(slope_ln, 6), round(lag_ln + slope_ln, 6), seed)  # Faster cells also wait less.
    readings = [(float(np.interp(at, hours, felt)), ph) for at, ph in measured]

    def wall_h(felt_h: Array) -> Array:
        return np.asarray(np.where(np.isinf(felt_h), inf, np.interp(felt_h, felt, hours)))

    return ferments.shown_by(name, acid_curve.Recipe(CULTURE, DEXTROSE_PCT), readings, wall_h)


@cache
def drying(days_ln: float, seed: int, step_s: float = 3600.0) -> tuple[tuple[float, float], ...]:
    """Return (day, loss as weighed) of a 55 mm sausage in air and meat that dry in e^days times the usual days."""
    random, mix = Random(seed), mix_of(25.0, 2.7, 0.5)
    rings = Rings(0.055, mix.water_kg, D13_M2_PER_S * exp(-STRONGER * days_ln))
    kc, lost_kg_s, seen = STILL_M_PER_S * exp(-STRONGER * days_ln), 0.0, []
    for day in range(1, WEIGHED_DAYS[-1] + 1):
        rh_pct = RH_PCT + random.gauss(0.0, 2.0)
        for _ in range(round(86_400.0 / step_s)):
            lost_kg_s = still_air(rings, mix, 13.0, rh_pct, kc, lost_kg_s)
            rings.advance(step_s, 13.0, lost_kg_s)
        if day in WEIGHED_DAYS:
            seen.append((float(day), 100.0 * (mix.water_kg - rings.water_kg) + random.gauss(0.0, LOSS_NOISE_PCT)))
    return tuple(seen)


def drying_shown(name: str, shift: Sequence[float], seed: int) -> Shown:
    """Return what production makes of a drying that takes e^shift times the usual days."""
    end_pct = equilibrium_loss_pct(mix_of(25.0, 2.7, 0.5), RH_PCT, LACTATE_MOL)
    prior = drying_curve.prior_of(55.0, 13.0, RH_PCT, end_pct)
    excess = drying_curve.excess_pct(55.0, RH_PCT)
    return dryings.shown_by(name, dryings.Dried(prior, Begun(), drying(round(shift[0], 6), seed), excess))


PARTS: Final = {"ferment": (ferments.SPREAD, ferment_shown), "drying": (dryings.SPREAD, drying_shown)}


@dataclass(frozen=True, slots=True)
class Taught:
    """Hold one maker: what was learned, its scores, his true shift, and the gain on each fresh batch."""

    true: Array
    belief: Belief
    scores: Scores
    fresh: tuple[float, ...]


def teach(part: str, kind: Kind, seed: int, batches: int) -> Taught:
    """Draw a maker and his batches, learn from them, and score on fresh ones."""
    spread, make = PARTS[part]
    random = Random(seed)
    own = [random.choice((-1.0, 1.0)) * random.uniform(kind.least, kind.most) for _ in spread]
    true = np.array(own) * spread
    shown = []
    for number in range(batches + FRESH):
        shift = [mean + kind.scatter * size * random.gauss(0.0, 1.0) for mean, size in zip(true, spread, strict=True)]
        shown.append(make(f"{number}", shift, 1000 * seed + number))
    known, fresh = shown[:batches], shown[batches:]
    belief, before = learn([one.shift for one in known], spread), usual(spread)
    gains = tuple(
        log_score(one.shift, belief.mean, belief.spread) - log_score(one.shift, before.mean, before.spread)
        for one in fresh
    )
    return Taught(true, belief, left_one_out(known, spread), gains)


def main() -> None:
    """Run and print."""
    makers = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    batches = int(sys.argv[2]) if len(sys.argv) > 2 else 6
    began = time.perf_counter()
    print(f"{makers} makers of each kind, {batches} batches each; gains on {FRESH} fresh ones, in log score")
    print(f"{'':8} {'maker':18}{'proposed':>9}{'gain if so':>11}{'gain, all':>10}{'better':>8}{'told gain':>10}"
          f"{'held before':>12}{'after':>7}{'width':>7}{'after':>7}")  # fmt: skip
    for part in PARTS:
        for kind in KINDS:
            _print(part, kind, [teach(part, kind, FIRST_SEED + seed, batches) for seed in range(makers)])
    print(f"{time.perf_counter() - began:.0f} s")


def _print(part: str, kind: Kind, taught: Sequence[Taught]) -> None:
    told = [one for one in taught if one.scores.better]
    gain = fmean(fmean(one.fresh) for one in told) if told else float("nan")
    better = sum(fmean(one.fresh) > 0.0 for one in told) / len(told) if told else float("nan")
    every = fmean(fmean(one.fresh) for one in taught)
    loo = fmean(one.scores.mean for one in told) if told else float("nan")
    bands = [(one.scores.shipped, one.scores.learned) for one in taught]
    shipped = [before for before, _ in bands if before is not None]
    learned = [after for _, after in bands if after is not None]
    print(
        f"{part:8} {kind.name:18}{len(told) / len(taught):9.1%}{gain:11.2f}{every:10.2f}{better:8.0%}{loo:10.2f}"
        f"{sum(one.held for one in shipped) / sum(one.told for one in shipped):12.0%}"
        f"{sum(one.held for one in learned) / sum(one.told for one in learned):7.0%}"
        f"{fmean(one.width for one in shipped):7.1f}{fmean(one.width for one in learned):7.1f}",
        flush=True,
    )


if __name__ == "__main__":
    main()
