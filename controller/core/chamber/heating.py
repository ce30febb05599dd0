"""The lamp's loop: what the walls take, and a PI loop for all that is not known.

A cold wall takes nearly all of the lamp, and ever less as it warms. An integral that had to learn this would be full
when the air arrives, and overshoot. So the wall's temperature is reckoned from what the air has had, by the chamber's
own figures, and what it takes is given at once; the PI loop has the rest: meat, leaks, wrong figures. The same sum
holds the air against the room (a thermometer outside makes it exact), follows a ramp, and knows how warm the walls
still are after an open door.
"""

from math import expm1
from typing import Final

from msgspec.structs import replace

from controller.core.chamber.pi import pi_step
from controller.core.memory import Loops
from controller.core.plan import Chamber, Figures
from controller.core.values import Known

LAMP_ON_WALL: Final = 0.7
"""Of the lamp's radiation; the rest falls on the meat. Common practice, no source."""

CALM: Final = 0.5
"""Of all gains where only a slow thermometer speaks. Then the wall is reckoned from air of minutes ago; with figures
that are wrong by half, as a guess may be, the whole gains would bring an empty box near to swinging by itself."""

TOO_WARM_K: Final = 1.5
"""So far above what is wanted no heat is given, whatever the sum says. Common practice, no source."""

NEUTRAL_K: Final = 0.5
"""Lamp and cold stay so far apart at least; common practice asks for a gap of about 1 K to the lamp's own ripple."""
RIPPLE_SHARE: Final = 1.2
RIPPLE_S: Final = 7200.0
PULSE_S: Final = 600.0
MOST_RIPPLE_K: Final = 3.0
LEAST_HOLD: Final = 0.01
LATELY_S: Final = 7200.0
"""Lamp and cold know of each other for so long. Common practice, no source."""


def heat(
    loops: Loops,
    heat_by_c: float,
    known: Known,
    wanted_c: float,
    chamber: Chamber,
    now_s: float,
    dt_s: float,
    *,
    allowed: bool = True,
) -> tuple[Loops, float]:
    """Return the loops after this tick, and the lamp's duty (0..1).

    Args:
        loops: as they were.
        heat_by_c: what the leading thermometer shows, or the higher one of two that are in doubt.
        known: the quicker thermometer, and the one outside.
        wanted_c: the set-point.
        chamber: figures and gains.
        now_s: the monotonic clock.
        dt_s: seconds since the last tick; 0 freezes what is learnt.
        allowed: False while the cold has the chamber: no heat, and nothing is learnt of heat.
    """
    figures, heater, gains = chamber.figures, chamber.output("heater"), chamber.gains
    if heater is None or figures.heater_w <= 0.0:
        return loops, 0.0
    too_warm = heat_by_c >= wanted_c + TOO_WARM_K
    swift_k = known.swift_k
    air_c = heat_by_c + (swift_k or 0.0)
    room_c = known.ambient_temp_c if known.ambient_temp_c is not None else sum(chamber.room_c) / 2
    if now_s - loops.last_cool_s < LATELY_S and loops.dry_duty <= 0.0:
        wanted_c -= NEUTRAL_K  # What the compressor took too much comes back by itself; the lamp need not fight it.
    wall_c = air_c if loops.wall_c is None else loops.wall_c
    # A window is held as a whole: what counts is how warm the wall is in its middle, if the air stays as wanted.
    warms = max(_wall_k_per_s(figures, wall_c, min(air_c, wanted_c), room_c, loops.heat_holds), 0.0)
    then_c = wall_c + warms * heater.window_s / 2.0
    lamp_w = figures.heater_w * (1.0 - figures.lamp_radiant)
    calm, per_k, ti_s = 1.0, gains.heat_per_k, gains.heat_ti_s
    if swift_k is not None and gains.swift_per_k:
        per_k, ti_s = gains.swift_per_k, gains.swift_ti_s
    elif gains.swift_per_k:
        calm = CALM
    share = calm * known_share(figures, heater.window_s)
    takes = min(max(share * figures.air_wall_w_per_k * (wanted_c - then_c) / lamp_w, 0.0), 1.0)
    integral, more = pi_step(
        (wanted_c, air_c),
        calm * per_k,
        ti_s / calm,
        loops.heat_integral,
        loops.heat_integral if too_warm else loops.heat_duty - takes,  # Who is cut off must learn to ask for less.
        dt_s,
        (-takes, 1.0 - takes),
    )
    duty = min(max(takes + more, 0.0), 1.0) if allowed and not too_warm else 0.0
    if not allowed:
        integral = min(integral, loops.heat_integral)
    return replace(
        loops,
        heat_integral=integral,
        heat_duty=duty,
        heat_holds=_holds(figures, wanted_c, room_c, takes, integral),
        wall_c=wall_c + _wall_k_per_s(figures, wall_c, air_c, room_c, duty) * _settled_s(figures, dt_s),
    ), duty


def known_share(figures: Figures, window_s: float) -> float:
    """Return how much of what the walls take is given at once: less where a thin wall changes within a window."""
    wall_s = figures.wall_j_per_k / (figures.air_wall_w_per_k + figures.ua_w_per_k)
    return wall_s / (wall_s + window_s / 2.0)


def _holds(figures: Figures, wanted_c: float, room_c: float, takes: float, integral: float) -> float:
    """Return the duty that holds the air now, or will when the walls are warm: whichever is less."""
    in_the_end = figures.ua_w_per_k * (wanted_c - room_c) / figures.heater_w + max(integral, 0.0)
    return min(max(min(takes + integral, in_the_end), 0.0), 1.0)


def _wall_k_per_s(figures: Figures, wall_c: float, air_c: float, room_c: float, duty: float) -> float:
    """Return how fast the inner wall warms in K/s, with the air, the room and the lamp's radiation as they are."""
    gained_w = (
        figures.air_wall_w_per_k * (air_c - wall_c)
        - figures.ua_w_per_k * (wall_c - room_c)
        + figures.lamp_radiant * LAMP_ON_WALL * figures.heater_w * duty
    )
    return gained_w / figures.wall_j_per_k


def _settled_s(figures: Figures, dt_s: float) -> float:
    """Return for how many seconds the pace of now counts: a thin wall has settled before the tick is over.

    Without this a foil's wall would swing ever further off, and the lamp burn on whatever the air has.
    """
    wall_s = figures.wall_j_per_k / (figures.air_wall_w_per_k + figures.ua_w_per_k)
    return -wall_s * expm1(-dt_s / wall_s)


def ripple_k(loops: Loops, above_k: float, now_s: float, dt_s: float) -> float:
    """Return how far the lamp's own pulses lift the air, which is no case for the cold; it is forgotten in hours."""
    kept_k = loops.ripple_k * max(1.0 - dt_s / RIPPLE_S, 0.0)
    heats = loops.heat_holds > LEAST_HOLD and now_s - loops.last_heat_s < PULSE_S
    return max(kept_k, min(above_k, MOST_RIPPLE_K)) if heats else kept_k


def neutral_k(loops: Loops, lifts_k: float, now_s: float) -> float:
    """Return how far above the set-point the cold begins: none where the lamp has long not been needed."""
    return max(NEUTRAL_K, RIPPLE_SHARE * lifts_k) if now_s - loops.last_heat_s < LATELY_S else 0.0
