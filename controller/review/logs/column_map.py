"""Take a column map: which column of a CSV from elsewhere is what, and in which unit."""

from pathlib import Path
from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta, Struct

from controller.errors import SettingsError
from controller.records.csv_text import printable
from controller.review.logs.spreadsheet import Dates, Hints
from controller.settings.reader import read_table

OUTPUTS: Final = ("heater_pct", "humidifier_pct", "cooler_pct", "dehumidifier_pct", "fan_pct")
Unit = Literal["C", "F"]


class TimeColumn(Struct, frozen=True, forbid_unknown_fields=True):
    """Name the column of the time; `format` in the codes of strptime(3), `zone` where it has none of its own."""

    column: str
    format: str | None = None
    zone: str | None = None
    dates: Dates | None = None

    @property
    def hints(self) -> Hints:
        """Return what is said about the times."""
        return Hints(self.zone, self.dates, self.format)


class TempColumn(Struct, frozen=True, forbid_unknown_fields=True):
    """Name a column of temperatures, and their unit."""

    column: str
    unit: Unit


class PctColumn(Struct, frozen=True, forbid_unknown_fields=True):
    """Name a column of per cent; `per` is what stands for all: 100, or 1 where 0.85 means 85 %."""

    column: str
    per: Literal[1, 100] = 100


class Wanted(Struct, frozen=True, forbid_unknown_fields=True):
    """Say what was wanted all the time; a column of its own goes before it."""

    air_temp_c: Annotated[float, Meta(ge=-30, le=120)] | None = None
    rh_pct: Annotated[float, Meta(ge=0, le=100)] | None = None


class Power(Struct, frozen=True, forbid_unknown_fields=True):
    """Say what an output takes, and what it gives."""

    w: Annotated[float, Meta(gt=0, le=3000)] | None = None
    ml_per_h: Annotated[float, Meta(gt=0, le=2000)] | None = None


class ColumnMap(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Hold a column map; what is not named is not there."""

    time: TimeColumn
    air_temp: TempColumn | None = None
    air_temp_set: TempColumn | None = None
    rh: PctColumn | None = None
    rh_set: PctColumn | None = None
    core_temp: TempColumn | None = None
    heater: PctColumn | None = None
    humidifier: PctColumn | None = None
    cooler: PctColumn | None = None
    dehumidifier: PctColumn | None = None
    fan: PctColumn | None = None
    wanted: Wanted = Wanted()
    power: dict[Literal["heater", "humidifier", "cooler", "dehumidifier", "fan"], Power] = {}
    only: dict[str, str] = {}  # Rows count whose columns say this.
    missing: tuple[str, ...] = ("", "NA")  # How a missing value is written.
    decimal: Literal[".", ","] | None = None  # None: a comma where columns are not separated by one.
    separator: Literal[",", ";", "\t"] | None = None  # None: it is found in the first line.
    every_s: Annotated[float, Meta(gt=0, le=86_400)] | None = None  # None: as far as most rows are apart.

    @property
    def temps(self) -> dict[str, TempColumn]:
        """Return the columns of temperatures by the name of ours."""
        named = {"air_temp_c": self.air_temp, "air_temp_set_c": self.air_temp_set, "core_temp_c": self.core_temp}
        return {name: column for name, column in named.items() if column is not None}

    @property
    def shares(self) -> dict[str, PctColumn]:
        """Return the columns of per cent by the name of ours."""
        named = {"rh_pct": self.rh, "rh_set_pct": self.rh_set}
        outputs = (self.heater, self.humidifier, self.cooler, self.dehumidifier, self.fan)
        named |= dict(zip(OUTPUTS, outputs, strict=True))
        return {name: column for name, column in named.items() if column is not None}

    @property
    def needed(self) -> list[str]:
        """Return all columns that the file must have."""
        temps, shares = self.temps.values(), self.shares.values()
        return [self.time.column, *(one.column for one in temps), *(one.column for one in shares), *self.only]


def read_map(path: Path) -> ColumnMap:
    """Return a column map.

    Raises:
        NoInputError, AccessError: there is no such file, or it may not be read.
        SettingsError: it cannot be right; all that is wrong is told at once.
    """
    table = read_table(path, ColumnMap)
    table.problems.raise_all()
    try:
        found = msgspec.convert(table.raw, ColumnMap)
    except msgspec.ValidationError as error:
        raise SettingsError(f"{path.name}: {printable(str(error))}") from error
    if not found.temps and not found.shares:
        raise SettingsError(f"{path.name}: names neither [air_temp] nor [rh]; there would be nothing to review")
    return found
