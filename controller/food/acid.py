"""Acidification: how a starter culture turns sugar into lactic acid, and what that does to the pH.

Growth follows Baranyi and Roberts (1994), slowed by temperature and pH (Rosso 1993, 1995), by water activity and by
the cure; acid follows growth and upkeep (Luedeking and Piret); the pH follows the acid through the buffer of the meat.
The equations are published, from memory where not said otherwise. The cultures' figures are calibrated so that the
model behaves as described ferments do; they were measured nowhere. They serve simulation and forecast and decide
nothing: only a measured pH does.

Units: cells in 1e9 per g, sugar in mmol of glucose and acid in mmol of lactic acid per kg of mix, rates per hour.
"""

from dataclasses import dataclass
from math import exp, expm1, log
from typing import Final

_LN10: Final = log(10.0)

LACTIC_PKA: Final = 3.86
"""From memory."""
GLUCOSE_MMOL_PER_G: Final = 5.55
ACID_PER_SUGAR: Final = 1.8
"""mol of lactic acid per mol of glucose: 2 by theory, times a yield of 0.90 (0.93 to 1.0 g/g measured in broth: Trontel
et al. 2011, Boonmee 2003; 0.90 calibrated)."""
HALF_SPEED_SUGAR: Final = 0.5
"""Sugar in mmol/kg at which the culture goes at half its speed; calibrated."""
CURE_FACTOR: Final = 0.9
"""What nitrite leaves of the growth rate; calibrated."""
MIX_PH: Final = 5.75
MIX_AW: Final = 0.965
"""Of a usual mix before the ferment; the cultures are calibrated at these."""
BUFFER: Final = 50.0
"""mmol of acid per kg of mix and unit of pH, at 25 to 30 % fat. Calibrated, range 42 to 58; about 45 to 55 per kg of
lean meat in Puolanne and Kivikari 2000, from memory."""
SMALLEST_BUFFER: Final = 42.0
"""The lower end of that range: the same acid lowers the pH the most."""
OWN_SUGAR: Final = 3.0
"""mmol of glucose equivalents per kg that the meat brings along. Calibrated, range 1 to 6."""


@dataclass(frozen=True, slots=True)
class Culture:
    """Hold the figures of one kind of starter.

    Attributes:
        name: as the profile calls it.
        temp_min_c: below it nothing grows; with `temp_best_c` and `temp_max_c` from memory.
        temp_best_c: fastest growth.
        temp_max_c: above it nothing grows.
        ph_min: apparent, includes what undissociated acid does; calibrated as all that follows.
        ph_best: fastest growth.
        ph_max: above it nothing grows.
        aw_min: below this water activity nothing grows.
        growth_per_h: at best temperature and pH and water activity 1, without cure.
        lag: Baranyi's h0, growth rate times lag time.
        cells: at the start, 1e9 per g.
        most_cells: the most there can be, 1e9 per g.
        acid_per_growth: mmol/kg for 1e9 new cells per g.
        acid_per_h: mmol/kg and hour of 1e9 cells per g that do not grow.
    """

    name: str
    temp_min_c: float
    temp_best_c: float
    temp_max_c: float
    ph_min: float
    ph_best: float
    ph_max: float
    aw_min: float
    growth_per_h: float
    lag: float
    cells: float
    most_cells: float
    acid_per_growth: float
    acid_per_h: float


MESOPHILIC: Final = Culture(
    name="mesophilic",  # As Latilactobacillus sakei or curvatus.
    temp_min_c=1.0,
    temp_best_c=32.0,
    temp_max_c=40.0,
    ph_min=4.40,
    ph_best=6.0,
    ph_max=8.0,
    aw_min=0.928,
    growth_per_h=0.75,
    lag=3.0,
    cells=5e-3,
    most_cells=0.6,
    acid_per_growth=20.0,
    acid_per_h=3.5,
)
THERMOTOLERANT: Final = Culture(
    name="thermotolerant",  # As Pediococcus or Lactiplantibacillus plantarum.
    temp_min_c=8.0,
    temp_best_c=40.0,
    temp_max_c=50.0,
    ph_min=4.40,
    ph_best=6.2,
    ph_max=8.0,
    aw_min=0.928,
    growth_per_h=1.25,
    lag=2.0,
    cells=1e-2,
    most_cells=0.8,
    acid_per_growth=20.0,
    acid_per_h=8.0,
)
CULTURES: Final = {culture.name: culture for culture in (MESOPHILIC, THERMOTOLERANT)}


def temperature_factor(temp_c: float, min_c: float, best_c: float, max_c: float) -> float:
    """Return the share (0..1) of the best growth rate at this temperature.

    Rosso et al. 1993 (cardinal temperature model with inflection), read in nlsMicrobio, R/secondary.R:
    (T-Tmax)(T-Tmin)² / {(Topt-Tmin)[(Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)]}.
    """
    if not min_c < temp_c < max_c:
        return 0.0
    span = best_c - min_c
    below = temp_c - min_c
    return (
        (temp_c - max_c)
        * below
        * below
        / (span * (span * (temp_c - best_c) - (best_c - max_c) * (best_c + min_c - 2.0 * temp_c)))
    )


def ph_factor(ph: float, ph_min: float, ph_best: float, ph_max: float) -> float:
    """Return the share (0..1) of the best growth rate at this pH.

    Rosso et al. 1995 (cardinal pH model), read in nlsMicrobio, R/secondary.R.
    """
    if not ph_min < ph < ph_max:
        return 0.0
    product = (ph - ph_min) * (ph - ph_max)
    return product / (product - (ph - ph_best) ** 2)


def aw_factor(aw: float, aw_min: float) -> float:
    """Return the share (0..1) of the growth rate of pure water; linear, as in biogrowth, R/gamma_models.R."""
    return max(0.0, (aw - aw_min) / (1.0 - aw_min))


def growth_per_h(culture: Culture, temp_c: float, ph: float, aw: float) -> float:
    """Return the specific growth rate in cured meat, before lag, crowding and want of sugar."""
    return culture.growth_per_h * climate_factor(culture, temp_c, ph) * aw_factor(aw, culture.aw_min) * CURE_FACTOR


def climate_factor(culture: Culture, temp_c: float, ph: float) -> float:
    """Return the share (0..1) that temperature and pH leave of a culture's speed."""
    return temperature_factor(temp_c, culture.temp_min_c, culture.temp_best_c, culture.temp_max_c) * ph_factor(
        ph, culture.ph_min, culture.ph_best, culture.ph_max
    )


def readiness(lag: float) -> float:
    """Return Baranyi's q0 = 1/(e^h0 - 1): how far the cells are from being over their lag."""
    return 1.0 / expm1(lag)


@dataclass(frozen=True, slots=True)
class Ferment:
    """Hold where a ferment stands.

    Attributes:
        cells: 1e9 per g.
        ready: Baranyi's q; the cells are over their lag when it is far above 1.
        sugar: mmol of glucose equivalents per kg.
        acid: mmol of lactic acid made, per kg.
        ph: what the buffer makes of it.
    """

    cells: float
    ready: float
    sugar: float
    acid: float
    ph: float


def begin(culture: Culture, sugar: float, ph: float = MIX_PH) -> Ferment:
    """Return a ferment just mixed."""
    return Ferment(cells=culture.cells, ready=readiness(culture.lag), sugar=sugar, acid=0.0, ph=ph)


def ferment_on(
    culture: Culture, now: Ferment, hours: float, temp_c: float, aw: float, ph_at_start: float, buffer: float
) -> Ferment:
    """Return where the ferment stands a little later.

    dln X/dt = mu q/(1+q) (1 - X/Xmax) S/(S+0.5);  dq/dt = mu q;
    acid rate = [alpha (dln X/dt) + m f(T) f(pH) S/(S+0.5) q/(1+q)] X;  dS/dt = -rate/1.8.
    Cells and readiness are moved on exactly with all rates held: a step of a minute errs by some 0.3 % of the time.

    Args:
        culture: the starter.
        now: where it stands.
        hours: at most a few hundredths.
        temp_c: of the meat.
        aw: water activity that slows the cells, acid not counted.
        ph_at_start: of the mix.
        buffer: mmol of acid per kg and unit of pH.
    """
    factor = climate_factor(culture, temp_c, now.ph)
    if factor <= 0.0 or now.cells <= 0.0 or now.sugar <= 0.0:
        return now
    speed = culture.growth_per_h * factor * aw_factor(aw, culture.aw_min) * CURE_FACTOR
    fed_and_ready = now.sugar / (now.sugar + HALF_SPEED_SUGAR) * now.ready / (1.0 + now.ready)
    cells = now.cells * exp(speed * fed_and_ready * (1.0 - now.cells / culture.most_cells) * hours)
    made = culture.acid_per_growth * (cells - now.cells)
    made += culture.acid_per_h * factor * fed_and_ready * 0.5 * (cells + now.cells) * hours
    made = min(max(made, 0.0), now.sugar * ACID_PER_SUGAR)
    acid = now.acid + made
    return Ferment(
        cells=cells,
        # Far over the lag its exact figure means nothing, and without an end it would overflow within weeks.
        ready=min(now.ready * exp(speed * hours), 1e9),
        sugar=now.sugar - made / ACID_PER_SUGAR,
        acid=acid,
        ph=ph_of_acid(acid, ph_at_start, buffer, now.ph),
    )


def ph_of_acid(acid: float, ph_at_start: float = MIX_PH, buffer: float = BUFFER, guess: float | None = None) -> float:
    """Return the pH with so much lactic acid: solves buffer (pH0 - pH) = acid / (1 + 10^(pKa - pH)).

    By Newton's method, kept between the two pH that can be told from the start: no acid and all of it dissociated.

    Args:
        acid: mmol per kg of mix, 0 to some 500.
        ph_at_start: of the mix.
        buffer: mmol per kg and unit of pH.
        guess: a pH near by, to be faster.
    """
    low, high = ph_at_start - acid / buffer, ph_at_start
    ph = ph_at_start if guess is None else guess
    last = high - low + 1.0
    for _ in range(60):
        undissociated = exp(_LN10 * (LACTIC_PKA - ph))
        whole = 1.0 + undissociated
        misses = buffer * (ph_at_start - ph) - acid / whole
        step = misses / (buffer + acid * undissociated * _LN10 / (whole * whole))
        if misses > 0.0:  # The balance falls with rising pH: the answer lies above.
            low = ph
        else:
            high = ph
        nearer = ph + step
        if abs(step) < 1e-9:
            return nearer if low <= nearer <= high else ph
        # With very much acid two steps would throw it to and fro for ever: a step has to be half the one before.
        if not low <= nearer <= high or abs(step) > 0.5 * last:
            nearer = 0.5 * (low + high)
        last = abs(nearer - ph)
        ph = nearer
    return ph


def sugar_at_start(dextrose_pct: float, own: float = OWN_SUGAR) -> float:
    """Return mmol of glucose equivalents per kg of mix with so much dextrose added (% of the mix)."""
    return dextrose_pct * 10.0 * GLUCOSE_MMOL_PER_G + own


def end_ph(
    dextrose_pct: float,
    *,
    ph_at_start: float = MIX_PH,
    buffer: float = BUFFER,
    own_sugar: float = OWN_SUGAR,
    ph_min: float = MESOPHILIC.ph_min,
) -> float:
    """Return the pH where a ferment ends: the sugar is used up, or the culture stops itself at `ph_min`.

    Common figures of the trade spread widely around it (0.3 to 1.0 g of sugar per kg for 0.1 pH): show a range, as
    with buffers of 42 and 58, never a promise.
    """
    acid = sugar_at_start(dextrose_pct, own_sugar) * ACID_PER_SUGAR
    return max(ph_min, ph_of_acid(acid, ph_at_start, buffer))


def fastest_drop_per_h(temp_c: float) -> float:
    """Return how much the pH of sausage could fall in an hour at most, by the fastest culture at this temperature.

    Acid rate at the best pH with sugar in plenty and no lag, at the number of cells x (as a share of the most there
    can be) that makes it largest: [alpha mu x (1-x) + m f(T) x] Xmax, over the smallest buffer. It is an upper bound of
    this module's model, for catching a mistyped figure; an unusual culture may be faster.
    """
    return max(_fastest_acid_per_h(culture, temp_c) for culture in CULTURES.values()) / SMALLEST_BUFFER


def _fastest_acid_per_h(culture: Culture, temp_c: float) -> float:
    by_growth = culture.acid_per_growth * growth_per_h(culture, temp_c, culture.ph_best, MIX_AW)
    by_upkeep = culture.acid_per_h * climate_factor(culture, temp_c, culture.ph_best)
    if by_growth <= 0.0:
        return 0.0
    share = min(1.0, (by_growth + by_upkeep) / (2.0 * by_growth))
    return (by_growth * share * (1.0 - share) + by_upkeep * share) * culture.most_cells
