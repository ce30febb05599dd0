"""A sensor that the kernel shows on this machine, before anybody has said what it is for."""

from msgspec import Struct

from controller.settings.chamber_tables import SensorKind


class Found(Struct, frozen=True, order=True):
    """Name one sensor as a chamber file does.

    Attributes:
        kind: as in the chamber file.
        name: the 1-wire id of a DS18B20, else the kernel's name of the device.
    """

    kind: SensorKind
    name: str

    @property
    def humid(self) -> bool:
        """Say whether it measures humidity."""
        return self.kind != "ds18b20"
