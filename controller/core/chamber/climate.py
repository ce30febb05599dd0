"""Hold the climate: from what is known and wanted to a duty for each output.

Temperature by a PI loop on heat and another on cold, with a neutral zone between them. The integral is frozen while
the duty is clipped, and seated on the expected holding duty when a long warm-up comes to its end: so the air arrives
without an overshoot that a full integral would make. Moisture is held as vapour pressure, not as bare relative
humidity: one kelvin of ripple moves relative humidity by five per cent, and the vapour pressure not at all.
"""

from functools import lru_cache
from typing import Final

from msgspec.structs import replace
from simple_pid import PID

from controller.core.memory import Loops
from controller.core.plan import Chamber, StageKind
from controller.core.values import Known, Role, Wanted
from controller.food.air import saturation_pressure_pa

NEUTRAL_K: Final = 0.5
"""The cold begins so far above the set-point; common practice asks for a gap of about 1 K to the lamp's own ripple."""

HOLD_SHARE: Final = 0.8
"""The share of the reckoned holding duty on which the integral is seated: a little less errs on the slow side."""

DAMP_MEAN_S: Final = 900.0
"""Film on the evaporator makes the humidity swing with each start: drying is judged on a mean of a quarter hour."""

DRY_NEUTRAL_PCT: Final = 1.0
LONGEST_PULSE_PCT: Final = 20.0
"""No pulse of mist lifts the humidity by more than this: an integral that met a dry humidifier must not flood later."""

LEAST_DT_S: Final = 1e-3
"""The first tick of a run may come at the very instant at which the run began."""

CLEARLY_K: Final = 1.0
COOLED_LATELY_S: Final = 7200.0


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
        return replace(loops, heat_duty=0.0, cool_duty=0.0, mist_duty=0.0, dry_duty=0.0, wanted_c=wanted.air_temp_c), {}
    loops = _mind_the_set_point(loops, wanted.air_temp_c)
    damp_pct, dry_pct = _damp(known, wanted)
    loops, dry = _dry(loops, damp_pct, kind, chamber, now_s, dt_s)
    reheat = dry > 0.0 and chamber.drying == "cool-and-reheat"
    heat_by_c = known.air_temp_c if heat_by_c is None else heat_by_c
    heat_integral, heat = _heat(loops, heat_by_c, known.ambient_temp_c, wanted.air_temp_c, chamber, now_s, dt_s)
    if known.door_open and "door" in chamber.channels and chamber.figures.heater_w > 0.0:
        # No more than what held the air before, or would hold it: the rest would come too late.
        held = heat_integral
        heat = min(heat, _holding(known.ambient_temp_c, wanted.air_temp_c, chamber) if held is None else held)
    cool_integral, cool = _cool(loops, known.air_temp_c, wanted.air_temp_c, chamber, dt_s)
    if not reheat:
        gap_s = chamber.limits.heat_cool_gap_s
        if cool > 0.0 and now_s - loops.last_heat_s < gap_s and known.air_temp_c < wanted.air_temp_c + 2 * NEUTRAL_K:
            cool = 0.0
        if heat > 0.0 and now_s - loops.last_cool_s < gap_s and known.air_temp_c > wanted.air_temp_c - 2 * NEUTRAL_K:
            heat = 0.0
    else:
        cool = max(cool, dry)
    mist_integral, mist = _mist(loops, dry_pct, chamber, now_s, dt_s, wanted.air_temp_c, known)
    duty: dict[Role, float] = {"heater": heat, "cooler": cool, "humidifier": mist}
    if chamber.drying == "dehumidifier":
        duty["dehumidifier"] = dry
    elif chamber.drying == "vent":
        duty["fresh_air"] = dry
    return Loops(
        heat_integral,
        cool_integral,
        mist_integral,
        loops.dry_integral,
        heat,
        cool,
        mist,
        dry,
        loops.damp_pct,
        wanted.air_temp_c,
        now_s if heat > 0.0 and not reheat else loops.last_heat_s,
        now_s if cool > 0.0 else loops.last_cool_s,
        now_s if mist > 0.0 else loops.last_mist_s,
        now_s if dry > 0.0 else loops.last_dry_s,
    ), duty


def _mind_the_set_point(loops: Loops, wanted_c: float) -> Loops:
    """Seat the integrals anew when a clearly colder climate is wanted: what held the old one is far too much."""
    if loops.wanted_c is not None and wanted_c < loops.wanted_c - CLEARLY_K:
        return replace(loops, heat_integral=None, cool_integral=0.0, dry_integral=0.0)
    return loops


def _pi(
    error: tuple[float, float], per_k: float, ti_s: float, integral: float, last: float, dt_s: float, top: float = 1.0
) -> tuple[float, float]:
    """Run one step of a PI loop by simple-pid, rebuilt from our own memory so that it hides nothing.

    `error` is (set-point, value); `per_k` is negative where more output lowers the value. The integral is frozen while
    the last duty was clipped and the error drives it further.
    """
    drives = (error[0] - error[1]) * per_k
    if integral <= 0.0 and drives <= 0.0:
        return 0.0, 0.0  # Nothing to take back and nothing to give: most loops, most of the time.
    clipped = (last >= top and drives > 0.0) or (last <= 0.0 and drives < 0.0)
    pid = PID(
        per_k,
        0.0 if clipped else per_k / ti_s,
        0.0,
        setpoint=error[0],
        sample_time=None,
        output_limits=(0.0, top),
        time_fn=_no_time,
        starting_output=integral,
    )
    duty = pid(error[1], dt=max(dt_s, LEAST_DT_S))
    return pid.components[1], 0.0 if duty is None else duty


def _no_time() -> float:
    return 0.0


def _heat(
    loops: Loops, air_c: float, ambient_c: float | None, wanted_c: float, chamber: Chamber, now_s: float, dt_s: float
) -> tuple[float | None, float]:
    if chamber.figures.heater_w <= 0.0:
        return None, 0.0
    gains = chamber.gains
    integral = loops.heat_integral
    if integral is None:
        if (wanted_c - air_c) * gains.heat_per_k >= 1.0:
            return None, 1.0  # Far below: full power, and the integral is seated later.
        integral = _holding(ambient_c, wanted_c, chamber)
    if now_s - loops.last_cool_s < COOLED_LATELY_S and loops.dry_duty <= 0.0:
        wanted_c -= NEUTRAL_K  # What the compressor took too much comes back by itself; the lamp need not fight it.
    return _pi((wanted_c, air_c), gains.heat_per_k, gains.heat_ti_s, integral, loops.heat_duty, dt_s)


def _holding(ambient_c: float | None, wanted_c: float, chamber: Chamber) -> float:
    """Return the duty on which the lamp's integral is seated: what holds the air by the figures, or a little less."""
    room_c = ambient_c if ambient_c is not None else sum(chamber.room_c) / 2
    hold = (wanted_c - room_c) * chamber.figures.ua_w_per_k / chamber.figures.heater_w
    return min(max(hold * HOLD_SHARE, 0.0), 1.0)


def _cool(loops: Loops, air_temp_c: float, wanted_c: float, chamber: Chamber, dt_s: float) -> tuple[float, float]:
    if chamber.output("cooler") is None:
        return 0.0, 0.0
    gains = chamber.gains
    return _pi(
        (wanted_c + NEUTRAL_K, air_temp_c),
        -gains.cool_per_k,
        gains.cool_ti_s,
        loops.cool_integral,
        loops.cool_duty,
        dt_s,
    )


def _damp(known: Known, wanted: Wanted) -> tuple[float | None, float | None]:
    """Return how much too damp and how much too dry the air is, both in %RH at the wanted temperature."""
    if wanted.rh_pct is None or known.pressure_pa is None or wanted.air_temp_c is None:
        return None, None
    damp_pct = 100.0 * known.pressure_pa / saturation_pa(wanted.air_temp_c) - wanted.rh_pct
    return damp_pct, -damp_pct


def _dry(
    loops: Loops, damp_pct: float | None, kind: StageKind | None, chamber: Chamber, now_s: float, dt_s: float
) -> tuple[Loops, float]:
    """Return the loops with their slow mean, and the duty of whatever dries. A ferment is never dried."""
    if damp_pct is None or chamber.drying == "none" or kind in {"ferment", "warm-up"}:
        return replace(loops, dry_integral=0.0, damp_pct=0.0), 0.0
    mean_pct = loops.damp_pct + (damp_pct - loops.damp_pct) * min(dt_s / DAMP_MEAN_S, 1.0)
    loops = replace(loops, damp_pct=mean_pct)
    if now_s - loops.last_mist_s < chamber.limits.heat_cool_gap_s:
        return loops, 0.0
    gains = chamber.gains
    integral, duty = _pi(
        (DRY_NEUTRAL_PCT, mean_pct), -gains.dry_per_pct, gains.dry_ti_s, loops.dry_integral, loops.dry_duty, dt_s
    )
    return replace(loops, dry_integral=integral), duty


def _mist(
    loops: Loops, dry_pct: float | None, chamber: Chamber, now_s: float, dt_s: float, wanted_c: float, known: Known
) -> tuple[float, float]:
    """Return the integral and duty of the humidifier; nothing without a good humidity that is not saturated."""
    output = chamber.output("humidifier")
    if output is None or dry_pct is None or known.air_temp_c is None:
        return 0.0, 0.0
    if now_s - loops.last_dry_s < chamber.limits.heat_cool_gap_s or known.air_temp_c < wanted_c - 2 * CLEARLY_K:
        return loops.mist_integral, 0.0
    per_pct = 0.5 / (mist_lift_pct_per_s(chamber, wanted_c) * output.window_s)
    ti_s, top = chamber.gains.mist_ti_s, mist_top(chamber, wanted_c)
    return _pi((dry_pct, 0.0), per_pct, ti_s, loops.mist_integral, loops.mist_duty, dt_s, top)


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
