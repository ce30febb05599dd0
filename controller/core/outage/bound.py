"""How long the power can have been off at most, where no clock can tell: the cooling tells it.

A chamber that was warmer than its room has cooled since, one that was colder has warmed, each by its own time
constants. Nobody knows the figures well, nor how warm wall and meat were; so the slowest of all chambers that fit is
taken (`cooling`). The figures of the chamber file are believed within these factors, all of them common practice, no
source:

| figure | believed within |
|---|---|
| heat lost to the room, air to wall, air to meat | 1.5 either way; the meat's vapour may carry as much again and more |
| what wall and air hold | half to double |
| the meat's weight and heat | 15 % |
| the lamp's watts | 20 % less |
| the lamp's radiant share | 0.15 less to 0.25 more |
| the thermometer's response | 3.5 times slower, a core probe's lag two hours |
| thermometer against itself | 0.1 K; a DHT22 0.3 K |
| the room | as `room_temp_c` says and a kelvin beyond; by its thermometer, 3 K an hour |

Nothing may have warmed the chamber while the program was away, but its room. Where it is as warm as its room nothing
can be told, nor where it is warmer now than it was.
"""

from collections.abc import Iterable, Iterator
from itertools import product
from math import exp, inf
from typing import Final

from msgspec import Struct

from controller.core.outage.cooling import World, last_at_or_above
from controller.core.outage.warmth import HOUR_S, LOOK_S, Warmth
from controller.core.plan import Chamber

CHECKPOINT_OLD_S: Final = 75.0
"""The power fails at most so long after the newest checkpoint: a minute, a tick, and the time it takes to write it."""
CONDUCTANCE: Final = 1.5
CAPACITY: Final = 2.0
MEAT: Final = 1.15
LAMP: Final = 0.8
LESS_RADIANT: Final = 0.15
MORE_RADIANT: Final = 0.25
MOST_RADIANT: Final = 0.9
RESPONSE: Final = 3.5
CORE_LAG_S: Final = 7200.0
ROOM_K: Final = 1.0
ROOM_THERMOMETER_K: Final = 0.5
"""DS18B20 ±0.5 °C (data sheet)."""
ROOM_K_PER_S: Final = 3.0 / HOUR_S
VAPOUR_AT_0_C: Final = 0.35
VAPOUR_PER_K: Final = 0.05
"""Vapour carries heat from the meat to the walls too: at 36 °C twice what the air does, at 13 °C two thirds. By the
analogy of Chilton and Colburn (from memory), 0.0025 m/s beside 6 W/m²K."""
CALM_AFTER_S: Final = 5400.0
CALM_K: Final = 0.25
CALM_SHARE: Final = 0.15
CALM_W: Final = 0.5
CALM_MOVED: Final = 0.02
EVEN_AFTER_S: Final = 1800.0
EVEN_K: Final = 1.0
FALLING: Final = 0.9
"""While cold meat warms the lamp gives less and less; its mean over a quarter of an hour is behind by so much."""
STEADY: Final = 0.85
"""In a chamber that has been calm for an hour and a half, this much of the lamp's mean power leaves it."""
FROST_J: Final = 30_000.0
PLATE_C: Final = -25.0
"""What an evaporator may hold: 60 g of frost and then some, and a plate as cold as this."""
RADIANT_ON_MEAT: Final = 0.3
WALL_FOLLOWS: Final = 0.3
"""How much of the air's swing with the lamp's rhythm the wall follows."""
OUTER_SHARE: Final = 0.75
CORE_K: Final = 1.0
"""Two thermometers, of ±0.5 °C each."""
STILL_RISES_K: Final = 0.3
WET_BULB_K: Final = 3.0
"""Meat that dries is colder than the air by so much at most."""
LAMP_TAIL: Final = 2.0
"""So many of the lamp's time constants pass until a thermometer that was still rising has turned."""
MEAT_M2_PER_KG_M: Final = 4.0 / 1050.0
"""Surface of a round piece: 4 / (diameter x density)."""


class Load(Struct, frozen=True, gc=False):
    """Hold the meat in the chamber: its weight when it was hung, and the diameter of a piece."""

    kg: float = 0.0
    diameter_mm: float = 55.0


class Now(Struct, frozen=True, gc=False):
    """Hold what the thermometers show after the return, all of them good; None where there is none."""

    air_c: float
    core_c: float | None = None
    room_c: float | None = None


class _Range(Struct, frozen=True, gc=False):
    """Hold where the room can be: at the cut, and later, in the scale of the air's thermometer."""

    low_c: float
    high_c: float
    lowest_c: float
    highest_c: float


def longest_s(warmth: Warmth, load: Load, chamber: Chamber, now: Now) -> float | None:
    """Return how long ago the checkpoint can have been made at most, in seconds; None where nothing can be told.

    Args:
        warmth: what the checkpoint knew.
        load: the meat.
        chamber: its figures, and its room.
        now: what the thermometers show now.
    """
    air_c = warmth.air_c
    if air_c is None:
        return None
    room = _room(warmth, chamber, now)
    calm_w = _calm_w(warmth)
    repeat_k = chamber.figures.repeat_k
    if air_c > room.high_c or (calm_w > 0.0 and air_c > room.low_c):
        if now.air_c - repeat_k > warmth.high_c:
            return None  # Warmer than before: something else has warmed it.
        return _longest(
            _cooling(warmth, air_c, load, chamber, room), now.air_c, _core_k(warmth, now, repeat_k), chamber
        )
    if air_c < room.low_c and now.air_c + repeat_k >= warmth.low_c:
        return _longest(_warming(warmth, air_c, load, chamber, room), -now.air_c, None, chamber)
    return None


def _longest(worlds: Iterable[World | None], air_c: float, fallen_k: float | None, chamber: Chamber) -> float | None:
    """Return the longest that any world takes; None where one of them tells nothing."""
    longest_s = 0.0
    for world in worlds:
        if world is None:
            return None
        lasts_s = last_at_or_above(world, air_c - chamber.figures.repeat_k, fallen_k)
        if lasts_s == inf:
            return None
        longest_s = max(longest_s, lasts_s + (0.0 if world.driven_s else CHECKPOINT_OLD_S))
    return longest_s + LAMP_TAIL * chamber.figures.lamp_s


def _core_k(warmth: Warmth, now: Now, repeat_k: float) -> float | None:
    """Return how much the core has fallen at most; None where it was not in balance with the meat, or is unknown."""
    if warmth.core_c is None or now.core_c is None or _calm_w(warmth) <= 0.0:
        return None
    fallen_k = warmth.core_c - now.core_c + repeat_k + STILL_RISES_K
    return fallen_k if fallen_k > 0.0 else None


def _room(warmth: Warmth, chamber: Chamber, now: Now) -> _Range:
    """Return where the room can be: by its thermometer before and after the cut, else by the chamber file."""
    wide_k = ROOM_K + chamber.air_error_k
    low_c, high_c = chamber.room_c[0] - wide_k, chamber.room_c[1] + wide_k
    if warmth.room_c is None or now.room_c is None:
        return _Range(low_c, high_c, low_c, high_c)
    narrow_k = ROOM_THERMOMETER_K + chamber.air_error_k
    from_c, to_c = min(warmth.room_c, now.room_c) - narrow_k, max(warmth.room_c, now.room_c) + narrow_k
    return _Range(from_c, to_c, min(low_c, from_c), max(high_c, to_c))


def _calm_w(warmth: Warmth) -> float:
    """Return the heat that surely leaves a chamber that has been calm for long; 0 where it has not been."""
    calm = (
        warmth.air_c is not None
        and warmth.followed_s() >= CALM_AFTER_S
        and abs(warmth.air_c - warmth.hour_c) <= CALM_K
        and abs(warmth.heat_w - warmth.hour_w) <= CALM_SHARE * warmth.hour_w + CALM_W
        and warmth.moved <= CALM_MOVED
    )
    return max(STEADY * LAMP * warmth.hour_w - warmth.mist_w, 0.0) if calm else 0.0


def _is_even(warmth: Warmth) -> bool:
    """Say whether the air has been led so evenly for long that the lamp does nothing new within a minute."""
    return (
        warmth.air_c is not None
        and warmth.followed_s() >= EVEN_AFTER_S
        and warmth.high_c - warmth.low_c <= EVEN_K
        and abs(warmth.now_c - warmth.air_c) <= CALM_K
    )


def _meat(warmth: Warmth, air_c: float) -> tuple[float, float]:
    """Return between which temperatures the meat lies: the middle lags, and the whole lies between it and the air."""
    low_c, high_c, core_c = warmth.meat_low_c, warmth.meat_high_c, warmth.core_c
    if core_c is None:
        return low_c, high_c
    near_c = core_c + OUTER_SHARE * (air_c - core_c)
    return max(low_c, min(core_c, near_c) - CORE_K), min(high_c, max(core_c, near_c) + CORE_K)


def _cooling(warmth: Warmth, air_c: float, load: Load, chamber: Chamber, room: _Range) -> Iterator[World | None]:
    """Give the worlds of a chamber that is warmer than its room; None is one in which nothing can be told."""
    figures = chamber.figures
    calm_w = _calm_w(warmth)
    power_w = LAMP * (min(warmth.heat_w, warmth.hour_w) if calm_w else FALLING * warmth.heat_w)
    is_led = calm_w > 0.0 or _is_even(warmth)
    full_w = 0.0 if is_led else figures.heater_w * (1.0 - max(figures.lamp_radiant - LESS_RADIANT, 0.0))
    raised_k = warmth.high_c - air_c
    for wall_w, air_meat_w, radiant in _conductances(load, chamber, warmth.high_c):
        by_air_w = max((1.0 - radiant) * power_w - warmth.mist_w, 0.0)
        for meat_c in _meat_temps(warmth, air_c, air_meat_w, by_air_w, power_w, radiant):
            to_meat_w = air_meat_w * (air_c - meat_c)
            wall_c = air_c - (by_air_w - to_meat_w) / wall_w
            most_w = CONDUCTANCE * figures.ua_w_per_k * (wall_c - room.lowest_c)
            lost_w = max(min(calm_w - max(to_meat_w, 0.0), most_w), 0.0)
            room_c, loss_w = _loss(lost_w, wall_c, figures.ua_w_per_k, room)
            yield World(
                air_c=warmth.high_c,
                wall_c=wall_c + WALL_FOLLOWS * raised_k,
                meat_c=meat_c,
                air_j=CAPACITY * figures.air_j_per_k,
                wall_j=CAPACITY * figures.wall_j_per_k,
                meat_j=MEAT * load.kg * figures.meat_j_per_kg_k,
                air_wall_w=wall_w,
                air_meat_w=air_meat_w,
                wall_room_w=loss_w,
                room_c=room_c,
                room_k_per_s=ROOM_K_PER_S,
                room_end_c=max(room.highest_c, room_c),
                lag_s=RESPONSE * chamber.response_s.get("air_temp", 120.0),
                core_lag_s=CORE_LAG_S,
                driven_w=full_w,
                driven_s=0.0 if is_led else LOOK_S + CHECKPOINT_OLD_S,
            )


def _conductances(load: Load, chamber: Chamber, warm_c: float) -> Iterator[tuple[float, float, float]]:
    """Give the corners of what is known least: air to wall, air to meat (W/K), and the lamp's radiant share."""
    figures = chamber.figures
    meat_w = figures.meat_w_per_m2_k * load.kg * MEAT_M2_PER_KG_M / (load.diameter_mm / 1000.0)
    yield from product(
        (figures.air_wall_w_per_k / CONDUCTANCE, figures.air_wall_w_per_k * CONDUCTANCE),
        (meat_w / CONDUCTANCE, meat_w * CONDUCTANCE * (1.0 + VAPOUR_AT_0_C * exp(VAPOUR_PER_K * warm_c)))
        if meat_w
        else (0.0,),
        (max(figures.lamp_radiant - LESS_RADIANT, 0.0), min(figures.lamp_radiant + MORE_RADIANT, MOST_RADIANT)),
    )


def _meat_temps(
    warmth: Warmth, air_c: float, air_meat_w: float, by_air_w: float, power_w: float, radiant: float
) -> list[float]:
    """Return how warm the meat can be, from the warmest to as cold as the lamp's power can have it."""
    if air_meat_w <= 0.0:
        return [air_c]
    low_c, high_c = _meat(warmth, air_c)
    lit_c = air_c + RADIANT_ON_MEAT * radiant * power_w / air_meat_w
    hot_c = max(high_c, lit_c) if warmth.core_c is None else high_c
    wished = (hot_c, air_c, air_c - 0.5 * by_air_w / air_meat_w, air_c - by_air_w / air_meat_w,
              air_c - power_w / air_meat_w)  # fmt: skip
    return list(dict.fromkeys(min(max(temp_c, low_c), hot_c) for temp_c in wished))


def _loss(lost_w: float, wall_c: float, ua_w_per_k: float, room: _Range) -> tuple[float, float]:
    """Return the room's temperature and the conductance to it that let a wall of this temperature cool most slowly.

    Args:
        lost_w: what is surely lost at the cut.
        wall_c: the wall.
        ua_w_per_k: the chamber file's figure.
        room: where the room can be.
    """
    span_k = wall_c - room.high_c
    lost_w = max(lost_w, ua_w_per_k / CONDUCTANCE * span_k)
    most_w = ua_w_per_k * CONDUCTANCE
    if lost_w <= 0.0:
        return room.high_c, most_w  # The wall is colder than the room, and is warmed by it.
    span_k = max(span_k, lost_w / most_w)
    return wall_c - span_k, lost_w / span_k


def _warming(warmth: Warmth, air_c: float, load: Load, chamber: Chamber, room: _Range) -> Iterator[World | None]:
    """Give the worlds of a chamber that is colder than its room, upside down, so that they cool.

    A cold plate with frost, air that the lamp had warmed, and meat that dries keep it cold for longer.
    """
    figures = chamber.figures
    low_c = warmth.low_c
    meat_c = min(_meat(warmth, air_c)[0], low_c - WET_BULB_K)
    stored_j = FROST_J + figures.plate_j_per_k * (low_c - PLATE_C) if warmth.moved > 0.0 else 0.0
    wall_j = CAPACITY * figures.wall_j_per_k
    for wall_w, air_meat_w, radiant in _conductances(load, chamber, warmth.high_c):
        lamp_k = (1.0 - radiant) * warmth.heat_w / wall_w
        yield World(
            air_c=-low_c,
            wall_c=-(low_c - lamp_k - stored_j / wall_j),
            meat_c=-meat_c,
            air_j=CAPACITY * figures.air_j_per_k,
            wall_j=wall_j,
            meat_j=MEAT * load.kg * figures.meat_j_per_kg_k,
            air_wall_w=wall_w,
            air_meat_w=air_meat_w,
            wall_room_w=figures.ua_w_per_k / CONDUCTANCE,
            room_c=-room.low_c,
            room_k_per_s=ROOM_K_PER_S,
            room_end_c=-room.lowest_c,
            lag_s=RESPONSE * chamber.response_s.get("air_temp", 120.0),
            core_lag_s=CORE_LAG_S,
        )
