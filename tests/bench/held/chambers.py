"""The chambers that are held: three nominal ones, and drawn ones of each kind with every figure from its range.

The ranges are common practice, no source: foam and plywood by their thickness, lamps, fridges of 300 to 350 litres.
"""

from dataclasses import dataclass
from random import Random
from typing import Final, Literal

from msgspec.structs import replace

from controller.core.plan import Switch
from controller.settings.chamber_file import ChamberFile, OutputEntry, SensorEntry
from tests.helpers.shipped_chambers import shipped_chamber

Kind = Literal["insulated-box", "plywood-cabinet", "old-fridge"]
KINDS: Final[tuple[Kind, ...]] = ("insulated-box", "plywood-cabinet", "old-fridge")
DRAWN: Final = 20

RANGES: Final[dict[Kind, dict[str, tuple[float, float]]]] = {
    "insulated-box": {
        "volume_l": (50.0, 100.0),
        "ua_w_per_k": (0.6, 1.5),
        "air_wall_w_per_k": (5.0, 12.0),
        "wall_j_per_k": (2000.0, 8000.0),
        "leak_per_h": (0.1, 1.0),
        "meat_kg": (3.0, 8.0),
    },
    "plywood-cabinet": {
        "volume_l": (200.0, 300.0),
        "ua_w_per_k": (2.1, 5.0),
        "air_wall_w_per_k": (10.0, 25.0),
        "wall_j_per_k": (10_000.0, 30_000.0),
        "leak_per_h": (0.3, 2.0),
        "meat_kg": (6.0, 15.0),
    },
    "old-fridge": {
        "volume_l": (300.0, 350.0),
        "ua_w_per_k": (1.3, 2.5),
        "air_wall_w_per_k": (10.0, 25.0),
        "wall_j_per_k": (8000.0, 20_000.0),
        "leak_per_h": (0.1, 0.6),
        "meat_kg": (6.0, 20.0),
        "evaporator_w": (120.0, 300.0),
        "evaporator_w_per_k": (2.5, 4.5),
        "evaporator_j_per_k": (600.0, 1500.0),
    },
}
LAMP_W: Final[dict[Kind, tuple[float, float]]] = {
    "insulated-box": (60.0, 100.0),
    "plywood-cabinet": (100.0, 150.0),
    "old-fridge": (60.0, 100.0),
}
MIST_ML_PER_H: Final = (100.0, 300.0)
RADIANT: Final = (0.2, 0.6)
STRONG_W: Final = 250.0
STEEL_S: Final = 400.0
RESPONSE_S: Final = (45.0, 200.0)
ROOMS: Final = ("room", "garage", "hot", "weather")
"""A room of 20 °C, a garage of 5 °C, a day of 32 °C, and the hourly weather of an airport's winter or summer."""


@dataclass(frozen=True)
class Variant:
    """Hold one chamber as it truly is, and the room it stands in."""

    name: str
    kind: Kind
    seed: int
    file: ChamberFile
    room: str = "room"

    def with_switch(self, switch: Switch) -> ChamberFile:
        """Return its file with this kind of switch at lamp and mister, and the windows that belong to it.

        A board has switches of one kind.
        """
        entries = tuple(
            replace(entry, switch=switch, window_s=None, min_on_s=None, min_off_s=None)
            if entry.role in {"heater", "humidifier"}
            else entry
            for entry in self.file.output
        )
        return replace(self.file, output=entries)

    def as_guessed(self, file: ChamberFile) -> ChamberFile:
        """Return the file that a maker of this chamber would write: wires and watts are his, the rest is as shipped.

        He knows the lamp, the humidifier and what hangs in it; of the probe he knows whether it is in steel.
        """
        model = replace(shipped_chamber(self.kind).model, meat_kg=self.file.model.meat_kg)
        sensors = tuple(
            replace(entry, response_s=None if entry.response_s != STEEL_S else STEEL_S)
            if entry.channel == "air_temp"
            else entry
            for entry in file.sensor
        )
        return replace(file, model=model, sensor=sensors)


def nominal(kind: Kind) -> Variant:
    """Return a shipped chamber, whose thermometer outside is taken away: that is the harder case."""
    return Variant(f"{kind} nominal", kind, 0, _without_ambient(shipped_chamber(kind)))


def drawn(kind: Kind, seed: int) -> Variant:
    """Return the chamber of this seed; every fifth has a lamp that is far too strong, every fifth a probe in steel."""
    random = Random(f"climate:{kind}:{seed}")
    file = shipped_chamber(kind) if seed % 2 else _without_ambient(shipped_chamber(kind))
    figures = {name: random.uniform(*span) for name, span in RANGES[kind].items()}
    model = replace(file.model, **figures, lamp_radiant=random.uniform(*RADIANT))
    lamp_w = STRONG_W if seed % 5 == 1 else random.uniform(*LAMP_W[kind])
    response_s = STEEL_S if seed % 5 == 3 else random.uniform(*RESPONSE_S)
    mist_ml_per_h = random.uniform(*MIST_ML_PER_H)
    room = ROOMS[seed // 5 % len(ROOMS)]
    return Variant(
        f"{kind} {seed}",
        kind,
        seed,
        replace(
            file,
            model=model,
            output=tuple(_with_figures(entry, lamp_w, mist_ml_per_h) for entry in file.output),
            sensor=tuple(_with_response(entry, response_s) for entry in file.sensor),
            room_temp_c={"room": (16.0, 24.0), "garage": (3.0, 10.0), "hot": (24.0, 34.0), "weather": (-10.0, 34.0)}[
                room
            ],
        ),
        room,
    )


def variants() -> list[Variant]:
    """Return all of them."""
    return [v for kind in KINDS for v in (nominal(kind), *(drawn(kind, seed) for seed in range(1, DRAWN + 1)))]


def _with_figures(entry: OutputEntry, lamp_w: float, mist_ml_per_h: float) -> OutputEntry:
    if entry.role == "heater":
        return replace(entry, w=round(lamp_w, 1))
    return replace(entry, ml_per_h=round(mist_ml_per_h, 1)) if entry.role == "humidifier" else entry


def _with_response(entry: SensorEntry, response_s: float) -> SensorEntry:
    return replace(entry, response_s=round(response_s, 1)) if entry.channel == "air_temp" else entry


def _without_ambient(file: ChamberFile) -> ChamberFile:
    return replace(file, sensor=tuple(entry for entry in file.sensor if entry.channel != "ambient_temp"))
