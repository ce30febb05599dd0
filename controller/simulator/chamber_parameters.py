"""The figures of one modelled chamber in SI units, taken from its chamber file."""

from typing import Final

from msgspec import Struct

from controller.core.values import Role
from controller.errors import SettingsError
from controller.settings.chamber_file import ChamberFile
from controller.settings.model_figures import AIR_J_PER_M3_K

FITTINGS_J_PER_K: Final = 300.0
"""Lamp holder, hooks, cables: what follows the air at once. Common practice, no source."""


class Parameters(Struct, frozen=True, kw_only=True):
    """Hold the figures of the lumped model; W/K unless the name says otherwise."""

    volume_m3: float
    room_w_per_k: float
    air_wall_w_per_k: float
    air_j_per_k: float
    wall_j_per_k: float
    lamp_w: float
    lamp_radiant: float
    lamp_j_per_k: float
    lamp_w_per_k: float
    leak_per_h: float
    meat_w_per_m2_k: float
    meat_m_per_s: float
    mist_kg_s: float
    fan_w: float
    dehumidifier_w: float
    plate_w_per_k: float  # 0.0 where there is no evaporator.
    plate_j_per_k: float
    cooling_w: float


def parameters_of(chamber: ChamberFile) -> Parameters:
    """Return the model's figures of this chamber file.

    Raises:
        SettingsError: an output lacks the figure without which it cannot be modelled.
    """
    problems: list[str] = []

    def figure(role: Role, key: str) -> float:
        for entry in chamber.output:
            if entry.role == role:
                value: float | None = getattr(entry, key)
                if value is None:
                    problems.append(
                        f"{chamber.name}: output {role}: {key} is missing; the model needs it, as {key} = 60"
                    )
                return value or 0.0
        return 0.0

    model = chamber.model
    lamp_w, mist_ml_per_h = figure("heater", "w"), figure("humidifier", "ml_per_h")
    dehumidifier_w = figure("dehumidifier", "w")
    cools = any(entry.role == "cooler" for entry in chamber.output)
    if cools and model.evaporator_w_per_k is None:
        problems.append(f"{chamber.name}: model: evaporator_w_per_k is missing; a cooler needs it, as 3.5")
    if problems:
        raise SettingsError("\n".join(problems))
    fan_w = next((entry.w or 0.0 for entry in chamber.output if entry.role == "fan"), 0.0)
    volume_m3 = model.volume_l / 1000.0
    return Parameters(
        volume_m3=volume_m3,
        room_w_per_k=model.ua_w_per_k,
        air_wall_w_per_k=model.air_wall_w_per_k,
        air_j_per_k=volume_m3 * AIR_J_PER_M3_K + FITTINGS_J_PER_K,
        wall_j_per_k=model.wall_j_per_k,
        lamp_w=lamp_w,
        lamp_radiant=model.lamp_radiant,
        lamp_j_per_k=model.lamp_j_per_k,
        lamp_w_per_k=model.lamp_w_per_k,
        leak_per_h=model.leak_per_h,
        meat_w_per_m2_k=model.meat_w_per_m2_k,
        meat_m_per_s=model.meat_m_per_s,
        mist_kg_s=mist_ml_per_h / 3.6e6,
        fan_w=fan_w,
        dehumidifier_w=dehumidifier_w,
        plate_w_per_k=(model.evaporator_w_per_k or 0.0) if cools else 0.0,
        plate_j_per_k=model.evaporator_j_per_k,
        cooling_w=model.evaporator_w if cools else 0.0,
    )
