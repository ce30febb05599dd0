"""How a climate is held: what share of the time lamp, cold, mist and whatever dries run; and how damp and dry it gets.

Heat comes from the lamp, cold from the plate. What dries takes its part of the heat along: a plate cools the air that
the lamp then warms again, a dehumidifier warms it, fresh air brings the room in.
"""

from typing import Final, NamedTuple

from msgspec import Struct

from controller.food.air import LATENT_J_PER_KG
from controller.planning.reach.balance import (
    NEAR_KG_M3,
    Balance,
    Moved,
    Room,
    balance,
    saturated_kg_m3,
    zero_of,
)
from controller.planning.reach.box import Box, Load
from controller.planning.reach.cold import NOTHING, taken_by_plate
from controller.settings.model_figures import COIL_KG_M3, FRESH_AIR_PER_H

NEAR_DUTY: Final = 0.003
ROUNDS: Final = 3
"""The lamp that warms dried air again warms the meat too, which gives off more: reckoned anew so often."""
LEAST_W: Final = 0.5
LEAST_KG_S: Final = 1e-9


class Place(NamedTuple):
    """Hold where a climate is to be: chamber, room, what hangs, and how much fan and fresh air run anyway."""

    box: Box
    room: Room
    load: Load | None
    moved: Moved


class Held(Struct, frozen=True, kw_only=True):
    """Hold what a climate takes: shares of the time (above 1: more than there is), water in kg/s, heat in W."""

    heater_w: float
    cooler: float
    dryer: float  # The dehumidifier, or the fresh air that dries.
    mist_kg_s: float
    cold_w: float  # Asked of the plate although there is none, or more than it has.
    undried_kg_s: float  # Asked of what dries, and more than it can.
    at: Balance


def hold(place: Place, air_c: float, kg_m3: float, *, dries: bool) -> Held:
    """Return what holds this air for good.

    Args:
        place: where.
        air_c: wanted.
        kg_m3: of vapour, wanted.
        dries: whether what can dry is used; a ferment is never dried.
    """
    box, fan = place.box, place.moved.fan
    at = _at(place, air_c, kg_m3)
    damp_kg_s = share = own_w = vent = 0.0
    taken = NOTHING
    for _ in range(ROUNDS if dries and at.water_kg_s < -LEAST_KG_S else 0):
        damp_kg_s = -at.water_kg_s if vent == 0.0 else -_at(place, air_c, kg_m3).water_kg_s
        share = _share_that_dries(place, air_c, kg_m3, max(damp_kg_s, 0.0))
        own_w, vent = _brought(place, kg_m3, share)
        taken = taken_by_plate(box, air_c, kg_m3, share, fan) if box.drying == "cool-and-reheat" else NOTHING
        at = _at(place, air_c, kg_m3, own_w - taken.heat_w, vent)
    removed_kg_s = _removed(place, kg_m3, share, taken.water_kg_s)
    cooler = share if box.drying == "cool-and-reheat" else 0.0
    cold_w = 0.0
    if at.heat_w < -LEAST_W:
        needed_w = taken.heat_w - at.heat_w
        cooler = _share_that_cools(box, air_c, kg_m3, needed_w, fan)
        taken = taken_by_plate(box, air_c, kg_m3, cooler, fan)
        cold_w = max(needed_w - taken.heat_w, 0.0)
        at = _at(place, air_c, kg_m3, own_w - taken.heat_w, vent)
        removed_kg_s += taken.water_kg_s if box.drying != "cool-and-reheat" else taken.water_kg_s - removed_kg_s
    water_kg_s = at.water_kg_s + removed_kg_s
    return Held(
        heater_w=max(at.heat_w, 0.0),
        cooler=cooler,
        dryer=share if box.drying in {"dehumidifier", "vent"} else 0.0,
        mist_kg_s=max(water_kg_s, 0.0),
        cold_w=cold_w if cold_w > LEAST_W else 0.0,
        undried_kg_s=max(-water_kg_s, 0.0),
        at=at,
    )


def settles_at_kg_m3(place: Place, air_c: float, given_kg_s: float = 0.0) -> float:
    """Return the vapour at which the air settles when only its temperature is held; what cools it takes its water too.

    Args:
        place: where.
        air_c: at which it is held.
        given_kg_s: what the humidifier gives besides.
    """

    def lacking_kg_s(kg_m3: float) -> float:
        held = hold(place, air_c, kg_m3, dries=False)
        return held.mist_kg_s - held.undried_kg_s - given_kg_s

    return zero_of(lacking_kg_s, 0.0, saturated_kg_m3(air_c), NEAR_KG_M3)


def driest_kg_m3(place: Place, air_c: float, by_itself: float) -> float:
    """Return the least vapour that what dries can reach while the temperature is held too.

    Args:
        place: where.
        air_c: at which it is held.
        by_itself: the vapour at which it settles when nothing dries, kg/m3.
    """

    def spare_kg_s(kg_m3: float) -> float:
        share = _most_share(place, air_c, kg_m3)
        own_w, vent = _brought(place, kg_m3, share)
        taken = taken_by_plate(place.box, air_c, kg_m3, share, place.moved.fan) if _reheats(place) else NOTHING
        at = _at(place, air_c, kg_m3, own_w - taken.heat_w, vent)
        removed_kg_s = _removed(place, kg_m3, share, taken.water_kg_s)
        if at.heat_w < -LEAST_W and not _reheats(place):
            # What cools against the warmth of what dries takes water too.
            cooler = _share_that_cools(place.box, air_c, kg_m3, -at.heat_w, place.moved.fan)
            removed_kg_s += taken_by_plate(place.box, air_c, kg_m3, cooler, place.moved.fan).water_kg_s
        return at.water_kg_s + removed_kg_s

    if place.box.drying == "none":
        return by_itself
    return min(zero_of(spare_kg_s, 0.0, by_itself, NEAR_KG_M3), by_itself)


def _reheats(place: Place) -> bool:
    return place.box.drying == "cool-and-reheat"


def _at(place: Place, air_c: float, kg_m3: float, own_w: float = 0.0, vent: float = 0.0) -> Balance:
    return balance(place.box, place.room, air_c, kg_m3, place.load, place.moved, own_w, vent)


def _brought(place: Place, kg_m3: float, share: float) -> tuple[float, float]:
    """Return the heat in W that a dehumidifier brings, and the share of the time that fresh air comes in."""
    box = place.box
    if box.drying == "dehumidifier":
        return share * (box.dry_w + _dried_kg_s(box, kg_m3) * LATENT_J_PER_KG), 0.0
    return 0.0, share if box.drying == "vent" and box.has_vent else 0.0


def _removed(place: Place, kg_m3: float, share: float, plate_kg_s: float) -> float:
    """Return the water that leaves by what dries; what fresh air carries off is in the balance already."""
    if place.box.drying == "dehumidifier":
        return share * _dried_kg_s(place.box, kg_m3)
    return plate_kg_s


def _dried_kg_s(box: Box, kg_m3: float) -> float:
    return box.dry_m3_s * max(kg_m3 - COIL_KG_M3, 0.0)


def _share_that_dries(place: Place, air_c: float, kg_m3: float, damp_kg_s: float) -> float:
    """Return the share of the time (at most 1) for which something has to dry so that this much water leaves."""
    box = place.box
    if box.drying == "dehumidifier":
        full = _dried_kg_s(box, kg_m3)
    elif box.drying == "vent" and box.has_vent:
        full = FRESH_AIR_PER_H * box.volume_m3 / 3600.0 * (kg_m3 - place.room.kg_m3)
    elif box.drying == "cool-and-reheat":
        fan = place.moved.fan
        if taken_by_plate(box, air_c, kg_m3, 1.0, fan).water_kg_s <= damp_kg_s:
            return 1.0
        return zero_of(
            lambda share: taken_by_plate(box, air_c, kg_m3, share, fan).water_kg_s - damp_kg_s, 0.02, 1.0, NEAR_DUTY
        )
    else:
        return 0.0
    return min(damp_kg_s / full, 1.0) if full > 0.0 else 1.0


def _share_that_cools(box: Box, air_c: float, kg_m3: float, needed_w: float, fan: float) -> float:
    if taken_by_plate(box, air_c, kg_m3, 1.0, fan).heat_w <= needed_w:
        return 1.0 if box.plate_w_per_k > 0.0 else 0.0
    return zero_of(lambda share: taken_by_plate(box, air_c, kg_m3, share, fan).heat_w - needed_w, 0.0, 1.0, NEAR_DUTY)


def _most_share(place: Place, air_c: float, kg_m3: float) -> float:
    """Return for how much of the time something can dry without the temperature being lost."""
    box, fan = place.box, place.moved.fan

    def heat_w(share: float) -> float:
        own_w, vent = _brought(place, kg_m3, share)
        cold_w = taken_by_plate(box, air_c, kg_m3, share, fan).heat_w if _reheats(place) else 0.0
        return _at(place, air_c, kg_m3, own_w - cold_w, vent).heat_w

    most_w = heat_w(1.0)
    if most_w > box.lamp_w:
        return max(zero_of(lambda share: heat_w(share) - box.lamp_w, 0.0, 1.0, NEAR_DUTY), 0.0)
    if most_w < 0.0 and box.plate_w_per_k <= 0.0 and heat_w(0.0) > 0.0:
        return zero_of(heat_w, 0.0, 1.0, NEAR_DUTY)
    return 1.0
