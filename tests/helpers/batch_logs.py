"""Write batch folders by hand, row by row, as any program could that knows the columns of the contract."""

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from controller.core.plan import Profile
from controller.core.sheet import Sheet
from controller.records.batch_folder import BatchCard, BatchHead, Formulation, encode_card
from tests.helpers.recorded import NAME, PROFILE, WALL_S, chamber

CLIMATE = [
    "time",
    "stage",
    "state",
    "air_temp_c",
    "air_temp_min_c",
    "air_temp_max_c",
    "air_temp_set_c",
    "rh_pct",
    "rh_min_pct",
    "rh_max_pct",
    "rh_set_pct",
    "core_temp_c",
    "ambient_temp_c",
    "heater_pct",
    "humidifier_pct",
    "cooler_pct",
    "dehumidifier_pct",
    "fan_pct",
    "quality",
    "interlocks",
    "heater_closings",
    "humidifier_closings",
    "cooler_closings",
    "dehumidifier_closings",
    "fan_closings",
]
EVENTS = ("time", "kind", "id", "priority", "text", "actor")
READINGS = [
    "id",
    "time",
    "kind",
    "value",
    "unit",
    "piece",
    "instrument",
    "sample_temp_c",
    "actor",
    "entered_at",
    "replaces",
    "note",
]
HOUR_S = 3600.0


def text_of(hours: float) -> str:
    """Return the time so many hours after the invented morning."""
    return datetime.fromtimestamp(WALL_S + hours * HOUR_S, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@dataclass
class Log:
    """Gather what is to stand in a folder; instants are hours after the invented morning.

    `every_s` is how often the chamber writes a row: rows that lie further apart than two of them are a gap.
    """

    every_s: float = 60.0
    climate: list[dict[str, str]] = field(default_factory=list)
    events: list[dict[str, str]] = field(default_factory=list)
    readings: list[dict[str, str]] = field(default_factory=list)

    def minutes(
        self,
        from_h: float,
        to_h: float,
        air_c: float | Callable[[float], float] | None,
        *,
        stage: str = "ferment",
        state: str = "running",
        set_c: float | None = None,
        rh_pct: float = 85.0,
        every_min: float = 1.0,
        **other: str,
    ) -> "Log":
        """Add a row for every minute that ends in this time."""
        for count in range(1, round((to_h - from_h) * 60.0 / every_min) + 1):
            hours = from_h + count * every_min / 60.0
            value = air_c(hours) if callable(air_c) else air_c
            air = "" if value is None else f"{value:.3f}"
            row = dict.fromkeys(CLIMATE, "") | {"time": text_of(hours), "stage": stage, "state": state}
            row |= {"air_temp_c": air, "air_temp_min_c": air, "air_temp_max_c": air}
            row |= {"air_temp_set_c": "" if set_c is None else f"{set_c:.3f}", "rh_set_pct": "85.00"}
            row |= dict.fromkeys(("rh_pct", "rh_min_pct", "rh_max_pct"), f"{rh_pct:.2f}")
            self.climate.append(row | other)
        return self

    def event(self, at_h: float, kind: str, name: str = "", priority: str = "") -> "Log":
        """Add a row to the diary."""
        values = (text_of(at_h), kind, name, priority, "words", "Ann")
        self.events.append(dict(zip(EVENTS, values, strict=True)))
        return self

    def reading(self, at_h: float, kind: str, value: float | str, **other: str) -> "Log":
        """Add a reading."""
        row = dict.fromkeys(READINGS, "") | {"id": f"r{len(self.readings)}", "time": text_of(at_h), "kind": kind}
        self.readings.append(row | {"value": str(value), "instrument": "meter"} | other)
        return self

    def write(self, folder: Path, profile: Profile = PROFILE, sheet: Sheet | None = None) -> Path:
        """Write the folder, climate by UTC days; return it."""
        folder.mkdir(parents=True, exist_ok=True)
        card = BatchCard(
            batch=BatchHead(id=NAME, began=text_of(0.0), meat_kg=4.5, diameter_mm=55.0),
            formulation=Formulation(salt_g=117.0, cure_g=11.2, dextrose_g=13.5, starter_g=1.12),
            profile=profile,
            chamber=chamber(self.every_s),
            sheet=sheet,
        )
        (folder / "recipe.toml").write_bytes(encode_card(card))
        for day in dict.fromkeys(row["time"][:10] for row in self.climate):
            _write(folder / f"climate-{day}.csv", CLIMATE, [row for row in self.climate if row["time"][:10] == day])
        _write(folder / "events.csv", EVENTS, self.events)
        _write(folder / "readings.csv", READINGS, self.readings)
        return folder


def _write(path: Path, columns: Sequence[str], rows: Sequence[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\r\n")
        writer.writeheader()
        writer.writerows(rows)
