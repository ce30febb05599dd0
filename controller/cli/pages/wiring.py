"""Which wire goes where: the roles, their GPIO numbers, and the pins of the header that one counts on the board."""

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from controller.cli.wires.header import HEADER_PIN, HELD_UP, name_pin
from controller.cli.wires.listed import HELD_UP_SAID, Wires, list_wires
from controller.settings.chamber_tables import ChamberFile, SensorEntry

__all__ = ["HEADER_PIN", "name_pin", "name_sensor", "tell_wiring"]

_BUS: Final[dict[str, str]] = {
    "ds18b20": "data to GPIO 4 (header pin 7, where dtoverlay=w1-gpio says nothing else), 4.7 kΩ from data to 3.3 V",
    "sht3x": "SDA to GPIO 2 (header pin 3), SCL to GPIO 3 (header pin 5)",
    "sht4x": "SDA to GPIO 2 (header pin 3), SCL to GPIO 3 (header pin 5)",
    "bme280": "SDA to GPIO 2 (header pin 3), SCL to GPIO 3 (header pin 5)",
    "dht22": "data to the GPIO that dtoverlay=dht11 names, 10 kΩ from data to 3.3 V",
}
"""Data wires as the kernel's stock overlays have them."""

_CONTACT: Final[dict[str, str]] = {
    "door": "between the GPIO and ground; closed while the door is shut",
    "cutout": "an auxiliary contact of the cut-out, free of mains, between the GPIO and ground; opens when it trips",
    "heater_live": "output of an opto-coupler or relay across the lamp itself, behind its cut-out, between the GPIO "
    "and ground; closed while there is voltage; the mains side by a qualified person",
    "heater_current": "output of a current relay in the lamp's wire, between the GPIO and ground; closed while "
    "current flows; the mains side by a qualified person",
    "cooler_current": "output of a current relay in the compressor's wire, between the GPIO and ground; closed while "
    "current flows; the mains side by a qualified person",
    "fan_turns": "the speed wire of a fan (open collector, pulses to ground); a fan of 5, 12 or 24 V only",
}
"""How each contact is wired. The pin is pulled up to 3.3 V; nothing but a bare contact or an open collector may be on
it."""


def name_sensor(sensor: SensorEntry) -> str:
    """Return how a sensor is told from others: its kind, and its id, address or pin."""
    where = sensor.id or sensor.address or ("" if sensor.pin is None else name_pin(sensor.pin))
    return f"{sensor.kind} {where}".strip()


def tell_wiring(chamber: ChamberFile, drawn: Path | None = None) -> Iterator[str]:
    """Yield the lines of the wiring table: outputs first, then sensors with their wires. At most 80 columns.

    The numbers of the wires are those of the drawing, which has just been written to `drawn`.
    """
    found = list_wires(chamber)
    yield f"Wiring of {chamber.name}"
    yield ""
    yield f"{'output':<13}{'GPIO':>4}  {'header pin':>10}  {'on when':<8}{'switch':<12}{'wire':>4}"
    for output in chamber.output:
        yield (
            f"{output.role.replace('_', ' '):<13}{output.pin:>4}  {HEADER_PIN.get(output.pin, '?'):>10}"
            f"  {output.active:<8}{output.switch:<12}{_wires(found, output.role):>4}"
        )
    yield ""
    yield "sensor"
    for sensor in chamber.sensor:
        yield f"{sensor.channel.replace('_', ' '):<13}{name_sensor(sensor)}"
        how = _CONTACT[sensor.channel] if sensor.kind == "contact" else _BUS[sensor.kind]
        numbers = _wires(found, sensor.channel)
        said = f"wire{'s' if ',' in numbers else ''} {numbers}: {how}"
        yield from (f"             {line}" for line in textwrap.wrap(said, 66))
    yield ""
    yield "Sensors take 3.3 V (wire 1: header pin 1, or 17) and ground (wire 2: header"
    yield "pin 39, or 6, 9, 14, 20, 25, 30, 34); never 5 V."
    yield "Each relay input needs a resistor that holds it off while the Pi starts: 10 kΩ"
    yield "to ground where it is on when high, to 3.3 V where it is on when low."
    for output in chamber.output:
        if output.pin in HELD_UP and output.active == "high":
            yield from textwrap.wrap(f"NOT for {output.role.replace('_', ' ')}: {HELD_UP_SAID}", 80)
    yield "Mains wiring is work for a qualified person: earth, 30 mA residual-current"
    yield "device, fuse, closed housing, and the thermal cut-out in the live wire of the"
    yield "heat itself."
    yield ""
    yield "hangroom check --wiring --out FILE.svg draws it on a page." if drawn is None else f"Drawn on a page: {drawn}"


def _wires(found: Wires, role: str) -> str:
    return ", ".join(map(str, found.of(role)))
