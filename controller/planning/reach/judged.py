"""What is said of a profile's stages in a chamber before a batch: figures, and a sentence for all that is lacking."""

from collections.abc import Iterator
from math import floor
from typing import Final

from msgspec import Struct

from controller.core.plan import Chamber, Profile, Stage
from controller.planning.reach.box import unknown
from controller.planning.reach.rooms import Rooms, StageReach, reach_of
from controller.planning.reach.stage import NEAR_PCT, InRoom, Stands, stands
from controller.planning.reach.strong import AHEAD_K, BARE_S, Strength, strength_of
from controller.settings.chamber_tables import ChamberFile
from controller.settings.fit import LOSING_KINDS

ALL: Final = 0.9995
"""A share of hours that is shown as 100.0 %."""
LIKE: Final = 0.99
"""From this share of it on one figure counts as the other."""


class Judged(Struct, frozen=True, kw_only=True):
    """Hold the stages that the chamber is asked for, how strong its lamp is, and sentences in °C and K."""

    rooms: Rooms
    meat_kg: float
    stages: tuple[StageReach, ...]
    lamp: Strength | None
    lacking: tuple[str, ...]
    unknown: tuple[str, ...]


def judge(file: ChamberFile, plan: Chamber, profile: Profile | None, rooms: Rooms) -> Judged:
    """Return what this chamber can do of this profile in these rooms.

    Args:
        file: the chamber file.
        plan: what the daemon goes by in this chamber.
        profile: as this chamber does it; None: only the lamp is judged.
        rooms: where it stands.
    """
    what = stands(file, plan)
    asked = () if profile is None else profile.stages
    stages = reach_of(what, asked, rooms)
    by_name = {stage.name: stage for stage in asked}
    lacking = [text for reach in stages for text in lacks_of(what, by_name[reach.name], reach)]
    lamp = strength_of(file, plan)
    strong = () if lamp is None or not lamp.too_strong else (too_strong(lamp),)
    return Judged(
        rooms=rooms,
        meat_kg=what.load.kg,
        stages=stages,
        lamp=lamp,
        lacking=(*strong, *dict.fromkeys(lacking)),
        unknown=unknown(file, plan),
    )


def too_strong(lamp: Strength) -> str:
    """Return why this lamp is too strong for this thermometer, and what would help."""
    probe = (
        f"a bare probe in moved air (response_s of {floor(lamp.response_s_at_most)} or less; some reach {BARE_S:.0f})"
        if lamp.response_s_at_most >= BARE_S
        else f"a thermometer that follows in {floor(lamp.response_s_at_most)} s (no bare DS18B20 does, an SHT4x does)"
    )
    return (
        f"The lamp is too strong for the thermometer that leads it: {lamp.lamp_w:g} W warm the air by "
        f"{lamp.slope_k_per_min:.2f} K a minute, and the thermometer takes {lamp.response_s:g} s to follow, so the air "
        f"is {lamp.ahead_k:.1f} K ahead of what it shows; more than {AHEAD_K:g} K is too much, the air will go over "
        f"what is wanted. A lamp of at most {floor(lamp.lamp_w_at_most)} W would help, or {probe}."
    )


def lacks_of(what: Stands, stage: Stage, reach: StageReach) -> Iterator[str]:
    """Yield a sentence for each thing of a stage that is out of reach in one of the rooms, with what would help."""
    for room in reach.rooms:
        if room.temp_within is False:
            yield _too_cold(what, reach, room) if room.room_c_at_least is not None else _too_warm(what, reach, room)
        if room.rh_within is False:
            dry = (room.rh_highest_pct or 0.0) < (reach.rh_pct or 0.0) - NEAR_PCT
            yield _too_dry(what, reach, room) if dry else _too_damp(what, reach, room)
    if stage.kind in LOSING_KINDS and reach.rh_pct is not None:
        least = min((room.rh_highest_empty_pct or 100.0 for room in reach.rooms), default=100.0)
        if least < reach.rh_pct - NEAR_PCT and all(room.rh_within for room in reach.rooms):
            yield (
                f"'{reach.name}' wants {reach.rh_pct:g} %: while fresh meat gives water it is reached; once the meat "
                f"gives little, the air may come down to {least:.0f} %."
            )


def _at(room: InRoom) -> str:
    return f"At {room.room_c:.1f} °C in the room"


def _too_cold(what: Stands, reach: StageReach, room: InRoom) -> str:
    wants = f"'{reach.name}' wants {reach.air_temp_c:.1f} °C"
    if what.plan.output("heater") is None:
        return (
            f"{_at(room)} nothing heats this chamber: {wants}. A lamp of at least {room.lamp_w_at_least or 0.0:.0f} W "
            f"would help, or a room of at least {room.room_c_at_least:.1f} °C."
        )
    tops = f"this lamp of {what.box.lamp_w:g} W tops out at {room.highest_c:.1f} °C"
    if room.highest_c is not None and room.highest_c >= reach.air_temp_c:
        tops = f"this lamp of {what.box.lamp_w:g} W cannot warm the air and the mist for {reach.rh_pct or 0.0:g} % too"
    return (
        f"{_at(room)} {tops}: {wants}. A lamp of at least {room.lamp_w_at_least:.0f} W would help, or a room of at "
        f"least {room.room_c_at_least:.1f} °C, or more insulation."
    )


def _too_warm(what: Stands, reach: StageReach, room: InRoom) -> str:
    cold = what.box.plate_w_per_k > 0.0
    why = "this cooler comes down to" if cold else "nothing cools this chamber: it stays at"
    helps = "A stronger cooler" if cold else "A cooler"
    lowest = "an unknown temperature" if room.lowest_c is None else f"{room.lowest_c:.1f} °C"
    return (
        f"{_at(room)} {why} {lowest}, '{reach.name}' wants {reach.air_temp_c:.1f} °C. {helps} would help, or a room of "
        f"at most {room.room_c_at_most:.1f} °C."
    )


def _too_dry(what: Stands, reach: StageReach, room: InRoom) -> str:
    wants = f"'{reach.name}' wants {reach.rh_pct:g} % at {reach.air_temp_c:.1f} °C"
    said = f"{_at(room)} the air comes to {room.rh_highest_pct:.0f} % at most: {wants}."
    if room.condenses_ml_per_h >= 0.5 * room.needs_ml_per_h:
        why = (
            f"{room.condenses_ml_per_h:.0f} ml an hour would settle on the inner wall, which is at {room.wall_c:.1f} °C"
        )
        helps = "A warmer room or more insulation"
    elif room.cooler_duty:
        why, helps = "what cools takes it away", "A cooler room"
    else:
        why, helps = "it leaks out", "A tighter box"
    mister, limit = what.plan.output("humidifier"), room.mist_limit_ml_per_h
    if mister is None:
        needs = f"It has no humidifier, and would need {room.needs_ml_per_h:.0f} ml an hour"
        return f"{said} {needs}: {why}. {helps} would help."
    if limit >= LIKE * mister.ml_per_h:
        most, more = f"it gives {limit:.0f} at most", ", or a stronger humidifier"
    elif limit >= LIKE * what.plan.limits.mist_ml_per_h:
        most, more = f"mist_ml_per_h allows {limit:.0f}", ", or a higher mist_ml_per_h in [limits]"
    else:
        most, more = f"{limit:.0f} are all that its pulses give without flooding so small a box", ""
    return f"{said} It would take {room.needs_ml_per_h:.0f} ml an hour, and {most}: {why}. {helps} would help{more}."


def _too_damp(what: Stands, reach: StageReach, room: InRoom) -> str:
    why = {
        "none": "nothing dries it",
        "cool-and-reheat": "the plate takes no more, or the lamp cannot warm again what it cools",
        "dehumidifier": "the dehumidifier takes no more, or its warmth is too much",
        "vent": f"the room's own air has {room.room_rh_pct:.0f} %, and only so much of it comes in",
    }[what.plan.drying]
    helps = "Less meat at once would help, or a stronger way of drying"
    if what.plan.drying == "cool-and-reheat":
        helps = "Less meat at once would help, or a stronger lamp or a warmer room"
    return (
        f"{_at(room)} the air stays at {room.rh_lowest_pct:.0f} % or more with {what.load.kg:g} kg of fresh meat: "
        f"'{reach.name}' wants {reach.rh_pct:g} %; {why}. {helps}; "
        "it gets drier by itself as the meat gives less."
    )
