"""What nothing watches and nothing protects, said plainly, for one chamber.

What of the fault table this chamber cannot notice, for want of a sensor, is taken from the table itself.
"""

from collections.abc import Iterable, Iterator
from typing import Final, get_args

from controller.cli.wires.header import HELD_UP, name_pin
from controller.cli.wires.listed import HELD_UP_SAID
from controller.core.fault_table import ROWS, Part, lacking
from controller.core.values import Channel
from controller.settings.chamber_plan import plan_of
from controller.settings.chamber_tables import ChamberFile, OutputEntry

CHANNELS: Final = frozenset(get_args(Channel))
NAMES: Final[dict[Part, str]] = {
    "air_temp_2": "second air thermometer",
    "rh": "humidity sensor",
    "rh_temp": "humidity sensor",
    "rh_2": "second humidity sensor",
    "ambient_temp": "room thermometer",
    "core_temp": "core probe",
    "evaporator_temp": "thermometer on the evaporator",
    "door": "door contact",
    "heater_live": "voltage contact at the lamp",
    "heater_current": "current contact in the lamp's wire",
    "cooler_current": "current contact in the compressor's wire",
    "cutout": "contact at the thermal cut-out",
    "fan_turns": "speed signal of the fan",
}
LOSES_NOTHING: Final = "S15"
"""The row of a lost sensor on which nothing depends: without such a sensor there is none to lose."""

PULLED_UP: Final = range(9)
"""GPIO 0 to 8 are pulled high from power-up until a program takes them, 9 to 27 low (BCM2835 ARM Peripherals, table of
GPIO pins; from memory). A relay that is on at that level clicks before any software runs."""


def list_unprotected(chamber: ChamberFile) -> list[str]:
    """Return one sentence for each thing that this chamber does not notice or cannot stop."""
    return [
        *_of_sensors(chamber),
        *not_monitored(plan_of(chamber).parts),
        *_of_outputs(chamber),
        *_of_any_chamber(chamber),
        *_by_no_chamber(),
    ]


def not_monitored(parts: frozenset[Part]) -> Iterator[str]:
    """Yield one sentence for each row of the fault table that a chamber of these parts cannot notice, or only in part.

    A row about an output that is not there is left out: there is nothing to be noticed.
    """
    worse: dict[Part, list[str]] = {}
    for row in ROWS.values():
        group = lacking(row, parts)
        if not group:
            for part, what in row.better_with:
                if part not in parts:
                    worse.setdefault(part, []).append(f"{what} ({row.id})")
        elif CHANNELS.issuperset(group) and row.id != LOSES_NOTHING:
            yield f"Not monitored: {row.title} ({row.id}). It needs a {_any_of(group)}."
    for part, said in worse.items():
        yield f"No {NAMES[part]}: {'; '.join(said)}."


def _any_of(group: Iterable[Part]) -> str:
    return " or a ".join(dict.fromkeys(NAMES[part] for part in group))


def _of_sensors(chamber: ChamberFile) -> Iterator[str]:
    channels = {sensor.channel for sensor in chamber.sensor}
    if not channels & {"air_temp_2", "rh"}:
        yield (
            "No second thermometer in the air: a probe that slipped out is noticed late, one that is stuck only after "
            "2 h, and one that reads low not at all."
        )
    elif "air_temp_2" not in channels:
        yield "The only second thermometer is the one inside the humidity sensor."
    if "rh" not in channels:
        yield "No humidity sensor: humidity is neither controlled nor recorded."
    if "ambient_temp" not in channels:
        low, high = chamber.room_temp_c
        yield f"The room is not measured: it is believed to be {low:g} to {high:g} °C (room_temp_c)."
    if "core_temp" not in channels:
        yield "No core probe: the meat's own temperature is known only when you measure it."
    if not chamber.clock_battery:
        yield (
            "No clock battery, a required part (a DS3231 module, or the battery of a Pi 5): after a power cut without "
            "network only the cooling tells how long it can have been; a chamber as warm as its room waits for you."
        )


def _of_outputs(chamber: ChamberFile) -> Iterator[str]:
    by_role = {output.role: output for output in chamber.output}
    heater = by_role.get("heater")
    if heater is not None:
        yield {
            "mechanical": "The heater's relay is mechanical: its contacts may weld while the lamp is on.",
            "solid-state": "The heater's relay is solid-state: these mostly fail with the lamp on.",
        }[heater.switch]
        if "master" not in by_role:
            yield "No master contactor: a heater relay that is stuck on is called out, but only the cut-out ends it."
    if "sounder" not in by_role:
        yield "No sounder: an alarm reaches only who looks at the status."
    if "humidifier" in by_role:
        yield "The humidifier's water is not measured: that it is empty is only guessed from the air."
    for output in chamber.output:
        if output.active == "high" and output.pin in HELD_UP:
            yield f"{name_pin(output.pin)}, {output.role}: {HELD_UP_SAID}"
        elif output in wrongly_pulled(chamber):
            yield (
                f"{name_pin(output.pin)}, {output.role}: its pull while the Pi starts is the level that switches on; "
                "without a resistor of its own the relay may close before any program runs."
            )


def wrongly_pulled(chamber: ChamberFile) -> list[OutputEntry]:
    """Return the outputs whose pin has the level that switches on while the Pi starts, but for a resistor."""
    return [output for output in chamber.output if (output.active == "high") == (output.pin in PULLED_UP)]


def _of_any_chamber(chamber: ChamberFile) -> Iterator[str]:
    if chamber.smoke_in_chamber:
        yield "Smoke in this chamber (smoke_in_chamber): carbon monoxide is not measured; never in a closed room."
        yield "Soot and tar on relays, sensors and lamp are not noticed: clean and test them after each smoke."
    if chamber.thermal_cutout_c is not None and all(sensor.channel != "cutout" for sensor in chamber.sensor):
        yield "Whether the cut-out opens is not seen by the program: test it before each batch."
    yield "An instrument that drifts is noticed only when you check it: hangroom calibrate."
    yield "Software is no cut-out: a computer that hangs may leave the lamp on, and only the cut-out ends that."
    yield "The surfaces next to the lamp are not measured; they are far hotter than the air."
    yield "Smoke, fire and carbon monoxide are not noticed: fit alarms of their own."
    yield "While there is no power nothing is controlled; the gap is recorded, the meat goes on warming or cooling."


def _by_no_chamber() -> Iterator[str]:
    """Yield the rows of the fault table that this program can see in no chamber, with the reason."""
    for row in ROWS.values():
        if row.how == "unseen":
            yield f"No alarm of its own: {row.title} ({row.id}): {row.detects}."
