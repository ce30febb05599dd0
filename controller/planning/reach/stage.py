"""Whether a stage is within reach in a room, what holds it there, and what would help where it is not."""

from functools import lru_cache
from math import ceil
from typing import Final

from msgspec import Struct

from controller.core.plan import Chamber, Stage
from controller.core.values import Role
from controller.planning.reach.balance import (
    NEAR_KG_M3,
    Moved,
    Room,
    balance,
    kg_m3_of,
    natural_kg_m3,
    rh_of,
    saturated_kg_m3,
    zero_of,
)
from controller.planning.reach.box import Box, Load, box_of, load_of, mist_limit_kg_s
from controller.planning.reach.cold import taken_for_good
from controller.planning.reach.holding import Held, Place, driest_kg_m3, hold, settles_at_kg_m3
from controller.planning.reach.warming import warming_s
from controller.settings.chamber_tables import ChamberFile
from controller.settings.fit import LOSING_KINDS

NEAR_PCT: Final = 0.5
NEAR_K: Final = 0.05
DAY_S: Final = 86_400.0
HOTTEST_C: Final = 140.0
COLDEST_C: Final = -30.0
"""No reach is looked for beyond these."""
BY_ITSELF_K: Final = 15.0
"""A chamber in which nothing heats or cools settles within this of its room: evaporation cools it, a fan warms it."""
LAMP_STEP_W: Final = 5.0
FRESH_MEAT_C: Final = 4.0


class Stands(Struct, frozen=True, kw_only=True):
    """Hold a chamber as it is asked about: its figures, what the daemon goes by, and what is to hang in it."""

    box: Box
    plan: Chamber
    load: Load


class InRoom(Struct, frozen=True, kw_only=True):
    """Hold what a stage comes to in one room; None is not known, or of no meaning.

    Duties are shares of the time and may be above 1: more than there is. `heater_w` is what holding takes on the mean.
    Humidities are where the air settles: by itself; with all the mist that is allowed, loaded and empty; and with all
    that dries.
    """

    room_c: float
    room_rh_pct: float
    highest_c: float | None
    lowest_c: float | None
    temp_within: bool | None
    heater_w: float
    heater_duty: float | None
    cooler_duty: float | None
    dryer_duty: float | None
    lamp_w_at_least: float | None = None
    room_c_at_least: float | None = None
    room_c_at_most: float | None = None
    empty_warm_s: float | None = None
    hung_air_s: float | None = None
    hung_core_s: float | None = None
    rh_within: bool | None = None
    rh_by_itself_pct: float | None = None
    rh_highest_pct: float | None = None
    rh_highest_empty_pct: float | None = None
    rh_lowest_pct: float | None = None
    wall_c: float | None = None  # While the wanted humidity is held,
    needs_ml_per_h: float = 0.0  # which takes so much mist,
    condenses_ml_per_h: float = 0.0  # and of that so much settles on the wall.
    mist_limit_ml_per_h: float = 0.0
    water_l_per_day: float = 0.0
    kwh_per_day: float | None = None
    kwh_lacks: tuple[Role, ...] = ()  # What runs, and whose power nobody has written down.


def stands(file: ChamberFile, plan: Chamber) -> Stands:
    """Return the chamber with the meat that its file names."""
    return Stands(box=box_of(file, plan), plan=plan, load=load_of(file))


def is_asked(stage: Stage) -> bool:
    """Say whether a stage asks this chamber for a temperature: others have no reach."""
    return stage.where == "chamber" and stage.air_temp_c is not None


def reach_in(what: Stands, stage: Stage, room: Room) -> InRoom:
    """Return what this stage comes to in this room; the stage must be asked of the chamber (`is_asked`)."""
    wanted_c, plan, box = stage.air_temp_c or 0.0, what.plan, what.box
    place = _place(what, stage, room)
    limit_kg_s = mist_limit_kg_s(plan, wanted_c)
    by_itself = settles_at_kg_m3(place, wanted_c)
    highest = settles_at_kg_m3(place, wanted_c, limit_kg_s)
    highest_empty = settles_at_kg_m3(place._replace(load=None), wanted_c, limit_kg_s)
    dries = stage.kind in LOSING_KINDS
    lowest = driest_kg_m3(place, wanted_c, by_itself) if dries and stage.rh_pct is not None else by_itself
    held = hold(place, wanted_c, _held_at(stage, by_itself, lowest, highest), dries=dries)
    damp = held if stage.rh_pct is None else hold(place, wanted_c, kg_m3_of(wanted_c, stage.rh_pct), dries=False)
    temp_within = _temp_within(what, held)
    highest_c, lowest_c = _extremes(what, place)
    warm = _warming(what, stage, place, temp_within=temp_within)
    knows_lamp = plan.output("heater") is None or box.lamp_w > 0.0
    return InRoom(
        room_c=room.temp_c,
        room_rh_pct=room.rh_pct,
        highest_c=highest_c,
        lowest_c=lowest_c,
        temp_within=temp_within,
        heater_w=held.heater_w,
        heater_duty=held.heater_w / box.lamp_w if box.lamp_w > 0.0 else None,
        cooler_duty=_cooler_duty(box, held),
        dryer_duty=held.dryer if plan.drying in {"dehumidifier", "vent"} else None,
        lamp_w_at_least=_lamp_at_least(box, held) if knows_lamp else None,
        room_c_at_least=_room_at_least(what, stage, room, held),
        room_c_at_most=_room_at_most(what, stage, room, held),
        empty_warm_s=warm[0],
        hung_air_s=warm[1],
        hung_core_s=warm[2],
        rh_within=_rh_within(what, stage, lowest, highest),
        rh_by_itself_pct=rh_of(wanted_c, by_itself),
        rh_highest_pct=rh_of(wanted_c, highest),
        rh_highest_empty_pct=rh_of(wanted_c, highest_empty),
        rh_lowest_pct=rh_of(wanted_c, lowest),
        wall_c=damp.at.wall_c,
        needs_ml_per_h=damp.mist_kg_s * 3.6e6,
        condenses_ml_per_h=damp.at.condensed_kg_s * 3.6e6,
        mist_limit_ml_per_h=limit_kg_s * 3.6e6,
        water_l_per_day=min(held.mist_kg_s, limit_kg_s) * DAY_S,
        kwh_per_day=_kwh_per_day(what, stage, held),
        kwh_lacks=_kwh_lacks(what, stage, held),
    )


def within(what: Stands, stage: Stage, room: Room) -> tuple[bool | None, bool | None]:
    """Return whether temperature and humidity of this stage are within reach in this room; None is not known.

    It says the same as `reach_in`, without the figures that take longer.
    """
    wanted_c = stage.air_temp_c or 0.0
    place, dries = _place(what, stage, room), stage.kind in LOSING_KINDS
    limit_kg_s = mist_limit_kg_s(what.plan, wanted_c)
    by_itself = settles_at_kg_m3(place, wanted_c)
    highest = settles_at_kg_m3(place, wanted_c, limit_kg_s)
    wanted = by_itself if stage.rh_pct is None else kg_m3_of(wanted_c, stage.rh_pct)
    lowest = by_itself
    if dries and wanted < by_itself:
        near = kg_m3_of(wanted_c, (stage.rh_pct or 0.0) + NEAR_PCT)
        lowest = wanted if near >= by_itself or hold(place, wanted_c, near, dries=True).undried_kg_s < _LITTLE else near
        if lowest == near and near < by_itself:
            lowest = by_itself
    held = hold(place, wanted_c, _held_at(stage, by_itself, lowest, highest), dries=dries)
    return _temp_within(what, held), _rh_within(what, stage, lowest, highest)


_LITTLE: Final = 3e-7
"""About a millilitre an hour; finer than any of these sums."""


def _place(what: Stands, stage: Stage, room: Room) -> Place:
    moved = Moved(min(stage.fan_min_per_h / 60.0, 1.0), min(stage.fresh_air_min_per_day / 1440.0, 1.0))
    if what.plan.output("fan") is None:
        moved = Moved(0.0, moved.fresh_air)
    return Place(what.box, room, None if stage.kind == "warm-up" else what.load, moved)


def _held_at(stage: Stage, by_itself: float, lowest: float, highest: float) -> float:
    """Return the vapour at which the stage is held in the end: what is wanted, as far as it can be had."""
    if stage.rh_pct is None or stage.air_temp_c is None:
        return by_itself
    wanted = kg_m3_of(stage.air_temp_c, stage.rh_pct)
    return max(lowest, min(wanted, highest)) if stage.kind in LOSING_KINDS else max(by_itself, min(wanted, highest))


def _temp_within(what: Stands, held: Held) -> bool | None:
    lamp = what.plan.output("heater")
    if held.heater_w > what.box.lamp_w + NEAR_K:
        return None if lamp is not None and what.box.lamp_w <= 0.0 else False
    if held.cold_w > 0.0:
        unknown = what.plan.output("cooler") is not None and what.box.plate_w_per_k <= 0.0
        return None if unknown else False
    return True


def _rh_within(what: Stands, stage: Stage, lowest: float, highest: float) -> bool | None:
    if stage.rh_pct is None or stage.air_temp_c is None:
        return None
    plan, wanted_c = what.plan, stage.air_temp_c
    if rh_of(wanted_c, highest) < stage.rh_pct - NEAR_PCT:
        mister = plan.output("humidifier")
        return None if mister is not None and mister.ml_per_h <= 0.0 else False
    if stage.kind in LOSING_KINDS and rh_of(wanted_c, lowest) > stage.rh_pct + NEAR_PCT:
        dryer = plan.output("dehumidifier")
        unknown = plan.drying == "dehumidifier" and dryer is not None and dryer.w <= 0.0
        unknown |= plan.drying == "cool-and-reheat" and what.box.plate_w_per_k <= 0.0
        return None if unknown else False
    return True


def _extremes(what: Stands, place: Place) -> tuple[float | None, float | None]:
    """Return the warmest and the coldest air of this chamber in this room, its humidity as it comes."""
    knows_lamp = what.box.lamp_w > 0.0 or what.plan.output("heater") is None
    knows_cold = what.box.plate_w_per_k > 0.0 or what.plan.output("cooler") is None
    return warmest_c(place) if knows_lamp else None, coldest_c(place) if knows_cold else None


@lru_cache(maxsize=512)  # The stages of a profile share it.
def warmest_c(place: Place) -> float:
    """Return the air's temperature with the lamp on for good; without a lamp where the air settles by itself."""
    box, room, load, moved = place

    def lacking_w(air_c: float) -> float:
        return balance(box, room, air_c, natural_kg_m3(box, room, air_c, load, moved), load, moved).heat_w - box.lamp_w

    return zero_of(lacking_w, room.temp_c - BY_ITSELF_K, HOTTEST_C, NEAR_K)


@lru_cache(maxsize=512)
def coldest_c(place: Place) -> float:
    """Return the air's temperature with the compressor on for good; without one where the air settles by itself."""
    box, room, load, moved = place

    def lacking_w(air_c: float) -> float:
        def lacking_kg_s(kg_m3: float) -> float:
            taken = taken_for_good(box, air_c, kg_m3, moved.fan)
            return balance(box, room, air_c, kg_m3, load, moved, -taken.heat_w).water_kg_s + taken.water_kg_s

        kg_m3 = zero_of(lacking_kg_s, 0.0, saturated_kg_m3(air_c), NEAR_KG_M3)
        taken = taken_for_good(box, air_c, kg_m3, moved.fan)
        return balance(box, room, air_c, kg_m3, load, moved, -taken.heat_w).heat_w

    return zero_of(lacking_w, COLDEST_C, room.temp_c + BY_ITSELF_K, NEAR_K)


def _warming(
    what: Stands, stage: Stage, place: Place, *, temp_within: bool | None
) -> tuple[float | None, float | None, float | None]:
    """Return the seconds to warm the empty chamber, and after hanging until the air is back and the meat is warm."""
    wanted_c, room = stage.air_temp_c or 0.0, place.room
    if not temp_within or what.box.lamp_w <= 0.0 or stage.kind not in {"warm-up", "ferment", "smoke", "cook"}:
        return None, None, None
    empty_s, _ = warming_s(what.box, room, wanted_c, moved=place.moved)
    if stage.kind == "warm-up":
        return empty_s, None, None
    begin_c = max(wanted_c, room.temp_c)
    air_s, core_s = warming_s(
        what.box, room, wanted_c, begin_c=begin_c, load=what.load, meat_c=FRESH_MEAT_C, moved=place.moved
    )
    return empty_s, air_s, core_s


def _cooler_duty(box: Box, held: Held) -> float | None:
    if box.plate_w_per_k <= 0.0:
        return None
    return held.cooler


def _lamp_at_least(box: Box, held: Held) -> float | None:
    return None if held.heater_w <= box.lamp_w else ceil(held.heater_w / LAMP_STEP_W) * LAMP_STEP_W


def _room_at_least(what: Stands, stage: Stage, room: Room, held: Held) -> float | None:
    """Return the coldest room in which the lamp is enough; None where it is enough in this one."""
    if what.box.lamp_w > 0.0 and held.heater_w <= what.box.lamp_w:
        return None
    if held.heater_w <= NEAR_K:
        return None
    lamp_w = max(what.box.lamp_w, NEAR_K)
    wanted_c = stage.air_temp_c or 0.0
    return zero_of(
        lambda room_c: _held_in(what, stage, Room(room_c, room.rh_pct)).heater_w - lamp_w,
        room.temp_c,
        max(wanted_c, room.temp_c) + 15.0,
        NEAR_K,
    )


def _room_at_most(what: Stands, stage: Stage, room: Room, held: Held) -> float | None:
    """Return the warmest room in which it is cold enough; None where it is in this one."""
    if held.cold_w <= 0.0:
        return None
    wanted_c = stage.air_temp_c or 0.0
    return zero_of(
        lambda room_c: _slack_w(_held_in(what, stage, Room(room_c, room.rh_pct))),
        min(wanted_c, room.temp_c) - 15.0,
        room.temp_c,
        NEAR_K,
    )


def _slack_w(held: Held) -> float:
    return held.cold_w - held.heater_w - NEAR_K


def _held_in(what: Stands, stage: Stage, room: Room) -> Held:
    place, wanted_c, dries = _place(what, stage, room), stage.air_temp_c or 0.0, stage.kind in LOSING_KINDS
    by_itself = settles_at_kg_m3(place, wanted_c)
    highest = settles_at_kg_m3(place, wanted_c, mist_limit_kg_s(what.plan, wanted_c))
    lowest = 0.0 if dries and what.plan.drying != "none" else by_itself
    return hold(place, wanted_c, _held_at(stage, by_itself, lowest, highest), dries=dries)


def _kwh_lacks(what: Stands, stage: Stage, held: Held) -> tuple[Role, ...]:
    box, plan = what.box, what.plan
    runs: tuple[tuple[Role, float, float], ...] = (
        ("cooler", held.cooler, box.compressor_w),
        ("humidifier", held.mist_kg_s, box.mist_w),
        ("dehumidifier", held.dryer, box.dry_w),
        ("fan", stage.fan_min_per_h, box.fan_w),
    )
    return tuple(role for role, share, watts in runs if share > 0.0 and watts <= 0.0 and plan.output(role) is not None)


def _kwh_per_day(what: Stands, stage: Stage, held: Held) -> float | None:
    """Return the energy of a day as far as powers are known (`box.unknown` tells which are not)."""
    box = what.box
    if box.lamp_w <= 0.0 and held.heater_w > 0.0:
        return None
    fan = min(stage.fan_min_per_h / 60.0, 1.0)
    mist = held.mist_kg_s / box.mist_kg_s if box.mist_kg_s > 0.0 else 0.0
    all_w = (
        min(held.heater_w, box.lamp_w) + box.compressor_w * held.cooler + box.fan_w * fan + box.mist_w * min(mist, 1.0)
        + (box.dry_w * held.dryer if box.drying == "dehumidifier" else 0.0)
    )  # fmt: skip
    return all_w * 24.0 / 1000.0
