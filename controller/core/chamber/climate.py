"""Hold the climate: from what is known and wanted to a duty for each output.

Temperature by the lamp's loop (`heating`) and a PI loop on cold, with a neutral zone between them that is as wide as
the lamp's own pulses. Moisture is held as vapour pressure, not as bare relative
humidity: one kelvin of ripple moves relative humidity by five per cent, and the vapour pressure not at all.
"""

from functools import lru_cache
from typing import Final, NamedTuple

from msgspec.structs import replace

from controller.core.chamber.heating import LATELY_S, NEUTRAL_K, heat, neutral_k, ripple_k
from controller.core.chamber.pi import pi_step
from controller.core.memory import Loops
from controller.core.plan import Chamber, Drying, StageKind
from controller.core.values import Known, Role, Wanted
from controller.food.air import saturation_pressure_pa

DAMP_MEAN_S: Final = 900.0
"""Film on the evaporator makes the humidity swing with each start: drying is judged on a mean of a quarter hour."""

LONGEST_PULSE_PCT: Final = 20.0
"""No pulse of mist lifts the humidity by more than this: an integral that met a dry humidifier must not flood later."""

ARRIVED_K: Final = 0.5
COLD_K: Final = 2.0
"""Mist cools the air as it evaporates: there is none before the air has come so near, nor while it is so cold again."""

NEAR_S: Final = 3600.0
"""Who has been so near for so long gets no nearer: a lamp that is too weak, or none. Common practice, no source."""

SHORT_PCT: Final = 3.0
"""So much drier than wanted the air may be while the lamp can give no more. Common practice, no source."""

CLEARLY_K: Final = 1.0
DRIER: Final[dict[Drying, Role]] = {
    "cool-and-reheat": "cooler",
    "dehumidifier": "dehumidifier",
    "vent": "fresh_air",
}
NEVER_DRIED: Final[frozenset[StageKind | None]] = frozenset({"ferment", "warm-up"})
NEVER_S: Final = float("-inf")
CYCLES_S: Final = 1800.0
"""Who has cooled within this time is cooling on. Common practice, no source."""


@lru_cache(maxsize=256)
def saturation_pa(wanted_c: float) -> float:
    """Return the saturation pressure at a set-point: the same one for hours, and asked for several times a tick."""
    return saturation_pressure_pa(wanted_c)


def control(
    loops: Loops,
    known: Known,
    wanted: Wanted,
    kind: StageKind | None,
    chamber: Chamber,
    now_s: float,
    dt_s: float,
    heat_by_c: float | None = None,
) -> tuple[Loops, dict[Role, float]]:
    """Return the loops' new memory and the wanted duty (0..1) of heater, cooler, humidifier and dehumidifier.

    Args:
        loops: the integrals and what was wanted before.
        known: what the judge believes; without a good air temperature nothing is asked for.
        wanted: the set-points; None asks for nothing.
        kind: the stage's kind; in a ferment the humidity is read as "at least".
        chamber: gains, figures and what this chamber has.
        now_s: the monotonic clock.
        dt_s: seconds since the last tick; 0 freezes the integrals.
        heat_by_c: what the heat goes by, where thermometers are in doubt; None: the leading one.
    """
    if wanted.air_temp_c is None or known.air_temp_c is None:
        off = replace(loops, heat_duty=0.0, cool_duty=0.0, mist_duty=0.0, dry_duty=0.0, wanted_c=wanted.air_temp_c)
        # Nobody follows the wall while nothing is wanted, and that may be half a year.
        return (replace(off, wall_c=None) if wanted.air_temp_c is None else off), {}
    loops = _mind_the_set_point(loops, wanted.air_temp_c)
    if loops.last_heat_s == NEVER_S:
        loops = replace(loops, last_heat_s=now_s)  # Nobody knows what was before the program began.
    damp_pct, dry_pct = _damp(known, wanted)
    loops = _mean(loops, damp_pct, known.air_temp_c - wanted.air_temp_c, dt_s)
    cold = _cold(loops, known.air_temp_c, wanted.air_temp_c, damp_pct, kind, chamber, now_s, dt_s)
    cold_first = now_s - loops.last_cool_s < chamber.limits.heat_cool_gap_s and (
        known.air_temp_c > wanted.air_temp_c - 2.0 * NEUTRAL_K
    )
    heat_by_c = known.air_temp_c if heat_by_c is None else heat_by_c
    if loops.warm_k > 0.0 and loops.heat_integral > 0.0 and _dries_by_cold(loops, chamber, now_s):
        # Each dip would teach the lamp something, and the rest of the cycle, in which it is off, nothing.
        loops = replace(loops, heat_integral=_followed(loops.heat_integral, 0.0, chamber.gains.heat_ti_s, dt_s))
    loops, hot = heat(
        replace(loops, ripple_k=cold.ripple_k),
        heat_by_c,
        known,
        wanted.air_temp_c,
        chamber,
        now_s,
        dt_s,
        allowed=cold.reheat or not cold_first,
    )
    if known.door_open and "door" in chamber.channels:
        hot = min(hot, loops.heat_holds)  # No more than what held the air before: the rest would come too late.
    mist_integral, mist = _mist(
        loops, _dry_now(dry_pct, loops, known, wanted), chamber, now_s, dt_s, wanted.air_temp_c, known
    )
    duty: dict[Role, float] = {"heater": hot, "cooler": cold.cool, "humidifier": mist}
    if chamber.drying == "dehumidifier":
        duty["dehumidifier"] = cold.dry
    elif chamber.drying == "vent":
        duty["fresh_air"] = cold.dry
    return Loops(
        loops.heat_integral,
        cold.cool_integral,
        mist_integral,
        cold.dry_integral,
        hot,
        cold.cool,
        mist,
        cold.dry,
        loops.damp_pct,
        wanted.air_temp_c,
        now_s if hot > 0.0 and not cold.reheat else loops.last_heat_s,
        now_s if cold.cool > 0.0 else loops.last_cool_s,
        now_s if mist > 0.0 else loops.last_mist_s,
        now_s if cold.dry > 0.0 else loops.last_dry_s,
        loops.wall_c,
        loops.heat_holds,
        loops.ripple_k,
        loops.came or abs(known.air_temp_c - wanted.air_temp_c) <= ARRIVED_K or loops.near_s >= NEAR_S,
        loops.near_s + dt_s if abs(known.air_temp_c - wanted.air_temp_c) <= COLD_K else 0.0,
        loops.warm_k,
    ), duty


class _Cold(NamedTuple):
    """Hold what is asked of cold and drying, and whether the lamp gives back what the cold takes."""

    cool: float
    cool_integral: float
    dry: float
    dry_integral: float
    reheat: bool
    ripple_k: float


def _cold(
    loops: Loops,
    air_c: float,
    wanted_c: float,
    damp_pct: float | None,
    kind: StageKind | None,
    chamber: Chamber,
    now_s: float,
    dt_s: float,
) -> _Cold:
    """Return what is asked of the cold, for the temperature's sake or, with the lamp against it, for the dryness.

    One plate serves two wishes, and the greater one has it. The other one follows it, so that it takes over where it
    wants more than is given, and not hours later: an integral that was left behind would have to be filled first.
    """
    lifts_k = ripple_k(loops, air_c - wanted_c, now_s, dt_s)
    gap_k = neutral_k(loops, lifts_k, now_s)
    by_cold = chamber.drying == "cool-and-reheat"
    dry_integral, dry = _dry(loops, damp_pct, kind, chamber, now_s, dt_s)
    # What dries by cold swings the air with each run, as it does the humidity: both are judged by their means.
    swings = abs(air_c - wanted_c) < CLEARLY_K and _dries_by_cold(loops, chamber, now_s)
    judged_c = wanted_c + loops.warm_k if swings else air_c
    cool_integral, cool = _cool(loops, judged_c, wanted_c + gap_k, chamber, dt_s)
    # What is colder than wanted needs no cold for its own sake, though the integral that looked on may yet ask for it.
    is_cold = loops.warm_k < 0.0 and air_c < wanted_c - NEUTRAL_K / 2.0
    if by_cold and (dry > cool or (dry > 0.0 and is_cold)):
        cool_integral = _followed(loops.cool_integral, dry_integral, chamber.gains.cool_ti_s, dt_s)
        return _Cold(dry, cool_integral, dry, dry_integral, reheat=True, ripple_k=lifts_k)
    if now_s - loops.last_heat_s < chamber.limits.heat_cool_gap_s and air_c < wanted_c + 2.0 * gap_k:
        cool, cool_integral = 0.0, min(cool_integral, loops.cool_integral)  # What is refused is not learnt.
    if by_cold:
        lasting = min(cool, cool_integral, _driest(chamber))  # An open door asks for more, and is over in minutes.
        given = lasting if damp_pct is not None and kind not in NEVER_DRIED else 0.0
        dry_integral, dry = _followed(loops.dry_integral, given, chamber.gains.dry_ti_s, dt_s), 0.0
    return _Cold(cool, cool_integral, dry, dry_integral, reheat=False, ripple_k=lifts_k)


def _dries_by_cold(loops: Loops, chamber: Chamber, now_s: float) -> bool:
    """Say whether the compressor has lately run for the dryness' sake."""
    return now_s - loops.last_dry_s < LATELY_S and chamber.drying == "cool-and-reheat"


def _followed(integral: float, given: float, ti_s: float, dt_s: float) -> float:
    """Return the integral of a loop that has to look on while another one commands its output (external reset)."""
    return integral + (given - integral) * min(dt_s / ti_s, 1.0)


def _mind_the_set_point(loops: Loops, wanted_c: float) -> Loops:
    """Begin anew where another climate is wanted; what held a warmer one is far too much for a clearly colder one."""
    if loops.wanted_c is not None and wanted_c > loops.wanted_c + CLEARLY_K:
        return replace(loops, came=False, near_s=0.0)
    if loops.wanted_c is not None and wanted_c < loops.wanted_c - CLEARLY_K:
        return replace(loops, heat_integral=0.0, cool_integral=0.0, dry_integral=0.0, came=False, near_s=0.0)
    return loops


def _cool(loops: Loops, air_temp_c: float, above_c: float, chamber: Chamber, dt_s: float) -> tuple[float, float]:
    if chamber.output("cooler") is None:
        return 0.0, 0.0
    gains = chamber.gains
    return pi_step(
        (above_c, air_temp_c), -gains.cool_per_k, gains.cool_ti_s, loops.cool_integral, loops.cool_duty, dt_s
    )


def _damp(known: Known, wanted: Wanted) -> tuple[float | None, float | None]:
    """Return how much too damp and how much too dry the air is, both in %RH at the wanted temperature."""
    if wanted.rh_pct is None or known.pressure_pa is None or wanted.air_temp_c is None:
        return None, None
    damp_pct = 100.0 * known.pressure_pa / saturation_pa(wanted.air_temp_c) - wanted.rh_pct
    return damp_pct, -damp_pct


def _dry_now(dry_pct: float | None, loops: Loops, known: Known, wanted: Wanted) -> float | None:
    """Return how much too dry the air is, and not as warm air while the lamp can give no more.

    What the warm air will need is put in when it is warm; before, it takes the very heat that is short.
    """
    if dry_pct is None or loops.heat_duty < 1.0 or wanted.rh_pct is None or known.rh_pct is None:
        return dry_pct
    return min(dry_pct, wanted.rh_pct - SHORT_PCT - known.rh_pct)


def _mean(loops: Loops, damp_pct: float | None, warm_k: float, dt_s: float) -> Loops:
    """Return the loops with their slow means of how much too damp and too warm the air is."""
    share = min(dt_s / DAMP_MEAN_S, 1.0)
    warm_k = loops.warm_k + (min(max(warm_k, -CLEARLY_K), CLEARLY_K) - loops.warm_k) * share
    if damp_pct is None:
        return replace(loops, warm_k=warm_k)
    return replace(loops, damp_pct=loops.damp_pct + (damp_pct - loops.damp_pct) * share, warm_k=warm_k)


def _dry(
    loops: Loops, damp_pct: float | None, kind: StageKind | None, chamber: Chamber, now_s: float, dt_s: float
) -> tuple[float, float]:
    """Return integral and duty of whatever dries, by the slow mean. A ferment is never dried."""
    if damp_pct is None or chamber.drying == "none" or kind in NEVER_DRIED:
        return 0.0, 0.0
    if now_s - loops.last_mist_s < chamber.limits.heat_cool_gap_s:
        return loops.dry_integral, 0.0
    gains, top = chamber.gains, _driest(chamber)
    return pi_step(
        (0.0, loops.damp_pct), -gains.dry_per_pct, gains.dry_ti_s, loops.dry_integral, loops.dry_duty, dt_s, (0.0, top)
    )


def _driest(chamber: Chamber) -> float:
    """Return the most (0..1) that is asked of whatever dries: it rests in each window."""
    drier = None if chamber.drying == "none" else chamber.output(DRIER[chamber.drying])
    return 1.0 if drier is None else max(1.0 - drier.min_off_s / drier.window_s, 0.1)


def _mist(
    loops: Loops, dry_pct: float | None, chamber: Chamber, now_s: float, dt_s: float, wanted_c: float, known: Known
) -> tuple[float, float]:
    """Return the integral and duty of the humidifier; nothing without a good humidity that is not saturated."""
    output = chamber.output("humidifier")
    if output is None or dry_pct is None or known.air_temp_c is None:
        return 0.0, 0.0
    if now_s - loops.last_dry_s < chamber.limits.heat_cool_gap_s:
        return _followed(loops.mist_integral, 0.0, chamber.gains.mist_ti_s, dt_s), 0.0
    if known.air_temp_c < wanted_c - (COLD_K if loops.came else ARRIVED_K):
        return loops.mist_integral, 0.0
    if now_s - loops.last_cool_s < CYCLES_S:
        dry_pct = -loops.damp_pct  # Each run of a compressor makes a dip that fills by itself.
    per_pct = 0.5 / (mist_lift_pct_per_s(chamber, wanted_c) * output.window_s)
    ti_s, top = chamber.gains.mist_ti_s, mist_top(chamber, wanted_c)
    return pi_step((dry_pct, 0.0), per_pct, ti_s, loops.mist_integral, loops.mist_duty, dt_s, (0.0, top))


def mist_lift_pct_per_s(chamber: Chamber, wanted_c: float) -> float:
    """Return how many %RH one second of mist adds in the empty box at the wanted temperature."""
    return chamber.figures.mist_pct_per_s * saturation_pa(20.0) / saturation_pa(wanted_c)


def mist_top(chamber: Chamber, wanted_c: float) -> float:
    """Return the highest duty (0..1) that is ever asked of the humidifier; 0 without one."""
    output = chamber.output("humidifier")
    if output is None:
        return 0.0
    lift = mist_lift_pct_per_s(chamber, wanted_c)
    return min(output.max_duty, LONGEST_PULSE_PCT / (lift * output.window_s)) if lift > 0.0 else output.max_duty
