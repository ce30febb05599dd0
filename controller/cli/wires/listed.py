"""The wires of a chamber, made from its file: what each part is, what it is joined to, and which resistor it needs.

A wire has a number, the same in the table and at both of its ends in the drawing. Wire 1 is 3.3 V and wire 2 ground;
the others follow in the order of the header: what the Pi reads first, then what it switches.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from controller.cli.wires.header import GROUND_PIN, HEADER_PIN, HELD_UP, POWER_PIN, name_pin
from controller.core.values import Role
from controller.settings.chamber_tables import ChamberFile

Kind = Literal["power", "ground", "sensor", "contact", "output"]
Rail = Literal["3.3 V", "ground"]
BOTH: Final[tuple[Rail, ...]] = ("3.3 V", "ground")
POWER: Final = 1
GROUND: Final = 2
"""The numbers of the two wires that everything shares."""
ONE_WIRE: Final = 4
SDA: Final = 2
SCL: Final = 3
"""GPIO numbers of the kernel's stock overlays (raspberrypi/firmware, boot/overlays/README)."""
I2C_KINDS: Final = frozenset({"sht3x", "sht4x", "bme280"})

READS: Final[dict[str, str]] = {
    "air_temp": "air thermometer",
    "air_temp_2": "air thermometer 2",
    "rh": "humidity sensor",
    "rh_2": "humidity sensor 2",
    "core_temp": "core probe",
    "ambient_temp": "room thermometer",
    "evaporator_temp": "evaporator probe",
    "door": "door contact",
    "heater_live": "voltage at lamp",
    "heater_current": "current of lamp",
    "cooler_current": "current of cooler",
    "cutout": "cut-out's contact",
    "fan_turns": "speed of fan",
}
CLOSED: Final[dict[str, str]] = {
    "door": "closed while it is shut",
    "heater_live": "closed under voltage",
    "heater_current": "closed while it flows",
    "cooler_current": "closed while it flows",
    "cutout": "opens when it trips",
    "fan_turns": "pulses to ground",
}
DHT_PIN: Final = "its pin: config.txt"
HELD_UP_SAID: Final = (
    "GPIO 2 and 3 are pulled to 3.3 V on the board itself; no resistor holds a relay off there while the Pi starts: "
    "take another pin."
)
SWITCHES: Final[dict[Role, str]] = {
    "heater": "heater",
    "humidifier": "humidifier",
    "cooler": "cooler",
    "dehumidifier": "dehumidifier",
    "fan": "fan",
    "fresh_air": "fresh air",
    "sounder": "sounder",
    "master": "master contactor",
}


@dataclass(frozen=True, slots=True)
class Wire:
    """Hold one wire that leaves the header. `gpio` is None for power and ground, `pin` too where nobody knows it."""

    number: int
    kind: Kind
    name: str
    gpio: int | None = None
    pin: int | None = None


@dataclass(frozen=True, slots=True)
class Resistor:
    """Hold a resistor between a wire and a rail."""

    said: str
    wire: int
    to: Rail


@dataclass(frozen=True, slots=True)
class Part:
    """Hold one part: what stands on it, the terminals of its wires, the rails it hangs on, and its resistor."""

    side: Literal["reads", "switches"]
    role: str
    lines: tuple[str, ...]
    terminals: tuple[tuple[str, int], ...] = ()  # The name of the terminal and the number of the wire.
    rails: tuple[Rail, ...] = ()
    resistor: Resistor | None = None
    held_up: bool = False  # An output that no resistor holds off: its pin is pulled up on the board itself.


@dataclass(frozen=True, slots=True)
class Wires:
    """Hold all wires and parts of one chamber, in the order of their numbers."""

    wires: tuple[Wire, ...]
    parts: tuple[Part, ...]
    by_number: dict[int, Wire] = field(default_factory=dict)

    def of(self, role: str) -> tuple[int, ...]:
        """Return the numbers of the wires of a channel or role, those of 3.3 V and ground left out."""
        return tuple(number for part in self.parts if part.role == role for _, number in part.terminals)


def list_wires(chamber: ChamberFile) -> Wires:
    """Return the wires of a chamber file that was read without a problem."""
    listing = _Listing()
    listing.wire("power", "3.3 V", pin=POWER_PIN)
    listing.wire("ground", "ground", pin=GROUND_PIN)
    _add_bus(listing, chamber)
    _add_one_wire(listing, chamber)
    _add_dht(listing, chamber)
    _add_contacts(listing, chamber)
    _add_outputs(listing, chamber)
    return Wires(tuple(listing.wires), tuple(listing.parts), {wire.number: wire for wire in listing.wires})


class _Listing:
    """Gather wires and parts, and number the wires."""

    def __init__(self) -> None:
        self.wires: list[Wire] = []
        self.parts: list[Part] = []

    def wire(self, kind: Kind, name: str, gpio: int | None = None, pin: int | None = None) -> int:
        """Add a wire and return its number."""
        number = len(self.wires) + 1
        where = pin if gpio is None else HEADER_PIN.get(gpio)
        self.wires.append(Wire(number, kind, name, gpio, where))
        return number


def _add_bus(listing: _Listing, chamber: ChamberFile) -> None:
    """Add the sensors on the I2C bus: they share two wires. The board itself has the bus's resistors."""
    sensors = [sensor for sensor in chamber.sensor if sensor.kind in I2C_KINDS]
    if not sensors:
        return
    terminals = (("SDA", listing.wire("sensor", "SDA", SDA)), ("SCL", listing.wire("sensor", "SCL", SCL)))
    for sensor in sensors:
        lines = (READS[sensor.channel], sensor.kind.upper(), sensor.address)
        listing.parts.append(Part("reads", sensor.channel, lines, terminals, BOTH))


def _add_one_wire(listing: _Listing, chamber: ChamberFile) -> None:
    """Add the sensors on the 1-wire bus: they share one wire and one resistor."""
    sensors = [sensor for sensor in chamber.sensor if sensor.kind == "ds18b20"]
    if not sensors:
        return
    data = listing.wire("sensor", "data", ONE_WIRE)
    for sensor in sensors:
        resistor = Resistor("4.7 kΩ", data, "3.3 V") if sensor is sensors[-1] else None
        lines = (READS[sensor.channel], "DS18B20", sensor.id)
        listing.parts.append(Part("reads", sensor.channel, lines, (("data", data),), BOTH, resistor))


def _add_dht(listing: _Listing, chamber: ChamberFile) -> None:
    """Add the sensors whose pin the file does not hold: an overlay in config.txt says it."""
    for sensor in chamber.sensor:
        if sensor.kind == "dht22":
            data = listing.wire("sensor", "data")
            lines = (READS[sensor.channel], f"DHT22 {sensor.address}".strip(), DHT_PIN)
            resistor = Resistor("10 kΩ", data, "3.3 V")
            listing.parts.append(Part("reads", sensor.channel, lines, (("data", data),), BOTH, resistor))


def _add_contacts(listing: _Listing, chamber: ChamberFile) -> None:
    """Add the contacts to ground. The Pi itself pulls such a pin to 3.3 V."""
    pinned = [(sensor.pin, sensor) for sensor in chamber.sensor if sensor.kind == "contact" and sensor.pin is not None]
    for pin, sensor in sorted(pinned, key=lambda one: HEADER_PIN.get(one[0], 0)):
        name = READS[sensor.channel]
        number = listing.wire("contact", name, pin)
        listing.parts.append(
            Part("reads", sensor.channel, (name, CLOSED[sensor.channel]), (("", number),), ("ground",))
        )


def _add_outputs(listing: _Listing, chamber: ChamberFile) -> None:
    """Add the relays, each with the resistor that holds it off while nobody drives its pin."""
    for output in sorted(chamber.output, key=lambda one: HEADER_PIN.get(one.pin, 0)):
        name = SWITCHES[output.role]
        number = listing.wire("output", name, output.pin)
        high = output.active == "high"
        held_up = high and output.pin in HELD_UP
        resistor = Resistor("10 kΩ", number, "ground" if high else "3.3 V")
        switch = output.switch if output.w is None else f"{output.switch}, {output.w:g} W"
        lines: tuple[str, ...] = (name, f"on when {output.active}", switch)
        if held_up:
            lines = (*lines, "NOT HELD OFF")
        listing.parts.append(
            Part(
                "switches", output.role, lines, (("in", number),), ("ground",), None if held_up else resistor,
                held_up=held_up,
            )
        )  # fmt: skip


def sentences(found: Wires) -> Iterator[str]:
    """Yield one sentence for each wire, and one for each resistor: the drawing, for who does not see it."""
    for wire in found.wires:
        ends = [
            f"{part.lines[0]} ({name})" if name else part.lines[0]
            for part in found.parts
            for name, number in part.terminals
            if number == wire.number
        ]
        if wire.kind in {"power", "ground"}:
            ends = [part.lines[0] for part in found.parts if wire.name in part.rails]
        if not ends:
            continue
        start = f"header pin {wire.pin}" if wire.pin else "the GPIO that dtoverlay=dht11 names"
        if wire.gpio is not None:
            start = name_pin(wire.gpio)
        yield f"Wire {wire.number}, {wire.name}: from {start} to {', '.join(ends)}."
    for part in found.parts:
        if part.resistor is not None:
            yield f"Resistor {part.resistor.said} from wire {part.resistor.wire} to {part.resistor.to}."
        if part.held_up:
            yield f"{part.lines[0]}: {HELD_UP_SAID}"


def as_object(chamber: ChamberFile) -> list[dict[str, object]]:
    """Return the wires for programs: number, GPIO and header pin, where known, and the channels or roles it goes to."""
    found = list_wires(chamber)
    return [
        {
            "number": wire.number,
            "name": wire.name,
            "gpio": wire.gpio,
            "header_pin": wire.pin,
            "to": [
                part.role
                for part in found.parts
                if wire.name in part.rails or any(number == wire.number for _, number in part.terminals)
            ],
        }
        for wire in found.wires
    ]
