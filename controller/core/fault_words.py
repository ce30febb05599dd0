"""What is said of a sensor that gives no good reading, and which row of the fault table speaks for it."""

from typing import Final

from controller.core.values import Channel, FaultKind

ROW_OF_FAULT: Final[dict[FaultKind, str]] = {
    "missing": "S1",
    "unread": "S3",
    "hung": "S4",
    "checksum": "S2",
    "empty": "S2",
    "half_read": "S2",
    "bus_error": "S2",
    "power_on_value": "S5",
    "low_supply": "S5",
    "no_reply": "S8",
    "not_a_number": "S8",
    "out_of_range": "S8",
    "stale": "S3",
    "jump": "S7",
    "rate": "S7",
    "frozen": "S6",
    "disagree": "S9",
    "saturated": "S11",
}
"""Which row speaks for a faulty reading."""

FAULT_WORDS: Final[dict[FaultKind, str]] = {
    "missing": "is not answering",
    "unread": "has not given a value yet",
    "hung": "hangs while being read",
    "checksum": "gives damaged values",
    "empty": "gives empty answers",
    "half_read": "gives half answers",
    "bus_error": "cannot be reached on its bus",
    "power_on_value": "gives the value of a reset (85.000 °C)",
    "low_supply": "gives the value of a weak supply (127.94 °C)",
    "no_reply": "gives the value of an open bus (-127 °C)",
    "not_a_number": "gives no number",
    "out_of_range": "gives an impossible value",
    "stale": "has given nothing new for a minute",
    "jump": "has jumped",
    "rate": "changes faster than the chamber can",
    "frozen": "has not changed although the chamber did",
    "disagree": "disagrees with the other sensor",
    "saturated": "is wet",
}
"""What is said of the sensor."""

SENSOR_NAMES: Final[dict[Channel, str]] = {
    "air_temp": "The air thermometer",
    "air_temp_2": "The second air thermometer",
    "rh": "The humidity sensor",
    "rh_temp": "The thermometer in the humidity sensor",
    "core_temp": "The core probe",
    "ambient_temp": "The room thermometer",
    "door": "The door contact",
    "rh_2": "The second humidity sensor",
    "evaporator_temp": "The evaporator's thermometer",
    "heater_live": "The voltage contact of the lamp",
    "heater_current": "The current contact of the lamp",
    "cooler_current": "The current contact of the compressor",
    "cutout": "The contact of the thermal cut-out",
    "fan_turns": "The speed signal of the fan",
}
"""How a sentence about a sensor begins."""


def bare_name(channel: Channel) -> str:
    """Return what a sensor is called inside a sentence, without its article."""
    return SENSOR_NAMES[channel].removeprefix("The ")
