"""The three chambers of the published table as chamber files, and a piece of meat that never changes."""

import csv
from pathlib import Path
from typing import Any, Final

from controller.settings.chamber_file import ChamberFile, ModelTable, OutputEntry, SensorEntry
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.chamber_parameters import parameters_of

TABLE: Final = Path(__file__).parents[1] / "data" / "chamber_parameters.csv"
NAMES: Final = ("insulated-box", "plywood-cabinet", "old-fridge")
BEGIN_WALL_S: Final = 1_767_592_800.0  # 2026-01-05T06:00:00Z.

SENSORS: Final = (
    SensorEntry(channel="air_temp", kind="ds18b20", id="28-000000000001", response_s=120.0),
    SensorEntry(channel="rh", kind="sht4x", address="1-0044", response_s=8.0),
    SensorEntry(channel="core_temp", kind="ds18b20", id="28-000000000002"),
    SensorEntry(channel="ambient_temp", kind="ds18b20", id="28-000000000003"),
    SensorEntry(channel="door", kind="contact", pin=26),
)


def published(chamber: str) -> dict[str, dict[str, str]]:
    """Return the rows of the published table for one chamber, by key."""
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return {row["key"]: row for row in csv.DictReader(lines) if row["chamber"] == chamber}


def chamber_of(name: str, *, sensors: tuple[SensorEntry, ...] = SENSORS, master: bool = False) -> ChamberFile:
    """Return a chamber file with exactly the figures of the published table."""
    rows = published(name)
    value = {key: float(row["value"]) for key, row in rows.items()}
    known = set(ModelTable.__struct_fields__)
    figures: dict[str, Any] = {key: figure for key, figure in value.items() if key in known}
    cools = "evaporator_w_per_k" in value
    outputs = [
        OutputEntry(role="heater", pin=17, switch="solid-state", w=value["heater.w"]),
        OutputEntry(role="humidifier", pin=27, ml_per_h=value["humidifier.ml_per_h"]),
    ]
    if cools:
        outputs += [OutputEntry(role="cooler", pin=22), OutputEntry(role="fan", pin=23, w=3.0)]
    if master:
        outputs.append(OutputEntry(role="master", pin=24))
    return ChamberFile(name=name, sensor=sensors, output=tuple(outputs), model=ModelTable(**figures))


def model_of(name: str, *, room_c: float = 20.0, room_rh_pct: float = 50.0) -> ChamberModel:
    """Return the bare model of a chamber in its room."""
    return ChamberModel(parameters_of(chamber_of(name)), room_c=room_c, room_rh_pct=room_rh_pct)


def load(model: ChamberModel, name: str, *, temp_c: float, aw: float) -> None:
    """Hang the table's meat, with a surface of this water activity; 0 is meat that gives off nothing."""
    value = {key: float(row["value"]) for key, row in published(name).items()}
    mass_kg, kc = value["meat_kg"], value["meat_m_per_s"]
    model.hang(mass_kg, temp_c)
    model.set_meat(mass_kg, value["meat_area_m2"], aw, kc, 3.0 * kc)


class SteadyMeat:
    """Be meat that keeps its surface, loses what it gives off, and is as warm inside as outside."""

    def __init__(self, mass_kg: float = 5.0, *, temp_c: float = 4.0, aw: float = 0.96) -> None:
        """Take its beginnings; 0.07 m2 of surface for each kilogram is a sausage of 55 mm."""
        self.green_kg = self.mass_kg = mass_kg
        self.core_temp_c = temp_c
        self.surface_aw = self.mean_aw = aw
        self.area_m2 = 0.069 * mass_kg
        self.ph = 5.8
        self.lived_s = 0.0

    @property
    def weight_loss_pct(self) -> float:
        """Return the loss in per cent of the green weight."""
        return 100.0 * (1.0 - self.mass_kg / self.green_kg)

    def surface_mass_conductance(self, kc: float) -> float:
        """Return the film of air alone."""
        return kc

    def advance(self, dt_s: float, temp_c: float, evaporated_kg: float) -> None:
        """Grow older, lighter, and as warm as told."""
        self.lived_s += dt_s
        self.mass_kg -= evaporated_kg
        self.core_temp_c = temp_c
