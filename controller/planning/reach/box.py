"""The chamber as the sums of reach see it: what it loses, and what its outputs give.

What the daemon goes by (`Chamber.figures`, outputs, limits) comes first, for it may have been learned; only what it
does not know stands in the chamber file's [model].
"""

from typing import Final

from msgspec import Struct

from controller.core.chamber.climate import mist_top
from controller.core.plan import Chamber, Drying, Output
from controller.core.values import Role
from controller.food.drying import (
    USUAL_DEXTROSE_PCT,
    USUAL_FAT_PCT,
    USUAL_SALT_PCT,
    fresh_area_m2_per_kg,
    mix_of,
    surface_m_per_s,
    water_activity,
)
from controller.settings.chamber_tables import ChamberFile
from controller.settings.model_figures import DEHUMIDIFIER_M3_S_PER_W, FAN_MASS

DIAMETER_MM: Final = 55.0
"""Of the sausage that is taken to hang: the usual casing of the profiles."""


class Load(Struct, frozen=True, kw_only=True):
    """Hold what hangs: its mass, its surface, how wet that is (0..1), and its mass transfer without and with a fan."""

    kg: float
    m2: float
    aw: float
    m_per_s: float
    m_per_s_fan: float


class Box(Struct, frozen=True, kw_only=True):
    """Hold one chamber; W/K, J/K, m3 and kg/s unless the name says otherwise. What is not there is 0."""

    volume_m3: float
    ua_w_per_k: float
    air_wall_w_per_k: float
    air_j_per_k: float
    wall_j_per_k: float
    meat_w_per_m2_k: float
    meat_j_per_kg_k: float
    leak_per_h: float
    lamp_w: float
    lamp_radiant: float
    lamp_s: float
    mist_kg_s: float  # While it is on.
    mist_w: float
    fan_w: float
    dry_m3_s: float  # Air that a dehumidifier dries as if cooled to its coil.
    dry_w: float
    drying: Drying
    has_vent: bool
    plate_w_per_k: float
    plate_j_per_k: float
    cooling_w: float  # With the plate at 0 °C.
    compressor_w: float
    cool_window_s: float
    cool_least_s: float


def load_of(file: ChamberFile) -> Load:
    """Return the meat that the chamber file names, fresh and of 55 mm."""
    mix = mix_of(USUAL_FAT_PCT, USUAL_SALT_PCT, USUAL_DEXTROSE_PCT)
    film, kg = file.model.meat_m_per_s, file.model.meat_kg
    return Load(
        kg=kg,
        m2=kg * fresh_area_m2_per_kg(DIAMETER_MM),
        aw=water_activity(mix, mix.water_kg),
        m_per_s=surface_m_per_s(film),
        m_per_s_fan=surface_m_per_s(film * FAN_MASS),
    )


def box_of(file: ChamberFile, plan: Chamber) -> Box:
    """Return the chamber's figures; `unknown` tells which the file leaves out."""
    model, figures = file.model, plan.figures
    cooler = plan.output("cooler")
    cools = cooler is not None and model.evaporator_w_per_k is not None
    dryer = _watts(plan.output("dehumidifier"))
    return Box(
        volume_m3=model.volume_l / 1000.0,
        ua_w_per_k=figures.ua_w_per_k,
        air_wall_w_per_k=figures.air_wall_w_per_k,
        air_j_per_k=figures.air_j_per_k,
        wall_j_per_k=figures.wall_j_per_k,
        meat_w_per_m2_k=figures.meat_w_per_m2_k,
        meat_j_per_kg_k=figures.meat_j_per_kg_k,
        leak_per_h=model.leak_per_h,
        lamp_w=figures.heater_w,
        lamp_radiant=figures.lamp_radiant,
        lamp_s=figures.lamp_s,
        mist_kg_s=_ml_per_h(plan) / 3.6e6,
        mist_w=_watts(plan.output("humidifier")),
        fan_w=_watts(plan.output("fan")),
        dry_m3_s=DEHUMIDIFIER_M3_S_PER_W * dryer,
        dry_w=dryer,
        drying=plan.drying,
        has_vent=plan.output("fresh_air") is not None,
        plate_w_per_k=model.evaporator_w_per_k or 0.0 if cools else 0.0,
        plate_j_per_k=model.evaporator_j_per_k,
        cooling_w=model.evaporator_w if cools else 0.0,
        compressor_w=_watts(cooler),
        cool_window_s=cooler.window_s if cooler is not None else 1.0,
        cool_least_s=cooler.min_on_s if cooler is not None else 0.0,
    )


def mist_limit_kg_s(plan: Chamber, wanted_c: float) -> float:
    """Return the most water that the program puts into the air on the mean, at this wanted temperature."""
    flow_ml_per_h = _ml_per_h(plan) * mist_top(plan, wanted_c)
    return min(flow_ml_per_h, plan.limits.mist_ml_per_h) / 3.6e6


def unknown(file: ChamberFile, plan: Chamber) -> tuple[str, ...]:
    """Return a sentence for each figure that the chamber file leaves out, and what is not known for want of it."""
    lacks: list[str] = []
    for role, key, what in _NEEDED:
        output = plan.output(role)
        if output is not None and not getattr(output, key):
            lacks.append(f"The chamber file gives no {key} for its {role}: {what}.")
    if plan.output("cooler") is not None and file.model.evaporator_w_per_k is None:
        lacks.append(
            "The chamber file gives no evaporator_w_per_k in [model]: how cold the chamber gets, and how dry by "
            "cooling, is not known."
        )
    return tuple(lacks)


_NEEDED: Final[tuple[tuple[Role, str, str], ...]] = (
    ("heater", "w", "how warm the chamber gets, and how fast, is not known"),
    ("humidifier", "ml_per_h", "how damp the chamber gets is not known"),
    ("dehumidifier", "w", "how dry the chamber gets is not known"),
    ("cooler", "w", "the compressor's energy is left out of the sum"),
    ("humidifier", "w", "the mister's energy is left out of the sum"),
    ("fan", "w", "the fan's energy and warmth are left out of the sum"),
)


def _watts(output: Output | None) -> float:
    return 0.0 if output is None else output.w


def _ml_per_h(plan: Chamber) -> float:
    output = plan.output("humidifier")
    return 0.0 if output is None else output.ml_per_h
