"""Chambers as no shipped one is: with all that a file may name, on any pin, under names that nobody would give."""

from typing import Final, Literal

from msgspec.structs import replace

from controller.core.values import ROLES
from controller.settings.chamber_file import ChamberFile, find_chamber, read_chamber
from controller.settings.chamber_tables import OutputEntry, SensorEntry
from controller.settings.shipped import shipped_names

CONTACTS: Final = ("door", "heater_live", "heater_current", "cooler_current", "cutout", "fan_turns")
THERMOMETERS: Final = ("air_temp", "air_temp_2", "core_temp", "ambient_temp", "evaporator_temp")
UNLIKELY: Final = "a-very-long-address-of-a-device-that-nobody-has-ever-seen"
ODD_NAME: Final = "W" * 120
ODD_TITLE: Final = "<script>&\"'</text> \x07\x1b\ufffe\u202e火腿腿 " + "é" * 200


def on_pins(pins: tuple[int, ...], active: Literal["high", "low"] = "high") -> tuple[OutputEntry, ...]:
    return tuple(
        OutputEntry(role=role, pin=pin, active=active, switch="solid-state", w=1500.0)
        for role, pin in zip(ROLES, pins, strict=True)
    )


def one_wire(*channels: str) -> tuple[SensorEntry, ...]:
    return tuple(
        SensorEntry(channel=channel, kind="ds18b20", id=f"28-0000054433{number:02x}")  # type: ignore[arg-type] # a name
        for number, channel in enumerate(channels)
    )


def contacts(pins: tuple[int, ...]) -> tuple[SensorEntry, ...]:
    return tuple(
        SensorEntry(channel=channel, kind="contact", pin=pin)  # type: ignore[arg-type] # a name
        for channel, pin in zip(CONTACTS, pins, strict=True)
    )


def _on_dht(*channels: str) -> tuple[SensorEntry, ...]:
    return tuple(
        SensorEntry(channel=channel, kind="dht22", address=f"{UNLIKELY}-{channel}")  # type: ignore[arg-type] # a name
        for channel in channels
    )


def odd_chambers() -> dict[str, ChamberFile]:
    """Return all shipped chambers, and the odd ones."""
    base = read_chamber(find_chamber("old-fridge"))
    humid = (
        SensorEntry(channel="rh", kind="sht4x", address="1-0044"),
        SensorEntry(channel="rh_2", kind="bme280", address="1-0076"),
    )
    shipped = {name: read_chamber(find_chamber(name)) for name in shipped_names("chamber")}
    return {
        **shipped,
        "all there is": replace(
            base,
            sensor=(*one_wire(*THERMOMETERS), *humid, *contacts((5, 6, 13, 19, 26, 21))),
            output=on_pins((17, 27, 22, 23, 24, 25, 16, 20)),
            clock_battery=True,
        ),
        "all in the other row": replace(
            base,
            sensor=(*one_wire("air_temp", "core_temp"), *humid, *contacts((14, 15, 18, 23, 24, 25))),
            output=on_pins((17, 27, 22, 10, 9, 11, 5, 6), "low"),
        ),
        "all on dht22": replace(
            base,
            sensor=(*_on_dht(*THERMOMETERS, "rh", "rh_2"), *contacts((17, 27, 22, 10, 9, 11))),
            output=on_pins((2, 3, 4, 14, 15, 18, 21, 26)),
        ),
        "odd names": replace(
            base, name=ODD_NAME, title=ODD_TITLE, units="F", output=on_pins((8, 7, 12, 16, 20, 21, 26, 19), "low")
        ),
        "one thermometer": replace(base, sensor=one_wire("air_temp"), output=(), title="", thermal_cutout_c=None),
    }
