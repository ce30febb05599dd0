"""The fault table as data: what can go wrong, how bad it is, and what a person does first.

The identifiers group the rows: S sensors, A actuators, P process, C computer and supply, H human. A row that latches
keeps its effect until a person clears it after the cause has gone. Priority 1 means act within half an hour (fire,
injury, loss of a batch's safety), 2 within hours, 3 within a day.

This is the first part of the table. Rows that are not listed are not monitored yet.
"""

from typing import Final

from msgspec import Struct

from controller.core.values import FaultKind


class Row(Struct, frozen=True):
    """Hold one row: its priority, whether it latches, whether its alarm locks the heat, and the first thing to do."""

    id: str
    title: str
    priority: str
    latches: bool
    locks_heat: bool
    first: str


ROWS: Final[dict[str, Row]] = {
    row.id: row
    for row in (
        Row("S1", "sensor missing", "1", False, False, "Check plug and cable; measure by hand now."),
        Row("S2", "reading damaged", "1", False, False, "Check cable, pull-up resistor and the distance to the mains."),
        Row("S3", "no new reading", "1", False, False, "Check the sensor; measure by hand now."),
        Row("S4", "reading hangs", "1", False, False, "Unplug the sensor and plug it in again."),
        Row("S5", "sensor was reset", "1", False, False, "Check the sensor's supply wire."),
        Row("S6", "sensor frozen", "1", True, True, "Replace the sensor, then clear the alarm."),
        Row("S7", "reading jumps", "1", False, False, "Check that the sensor hangs still and dry."),
        Row("S8", "reading impossible", "1", False, False, "Check the sensor and its cable."),
        Row("S9", "temperatures disagree", "1", True, True, "Find out with a thermometer which one is right."),
        Row("S11", "humidity sensor wet", "2", False, False, "Dry the humidity sensor or wait an hour."),
        Row("A1", "warming without heating", "1", True, True, "Unplug the lamp now. The relay may be stuck."),
        Row("A2", "too hot", "1", True, True, "Look at the chamber now; unplug the lamp if it still burns."),
        Row("A3", "heating without warming", "1", False, False, "Check lamp, plug and thermal cut-out."),
        Row("A5", "humidifier gives nothing", "2", False, False, "Fill the humidifier."),
        Row("P1", "door open", "2", False, False, "Close the door."),
        Row("P8", "drying too fast", "2", False, False, "Damper air by few points and less fan: hangroom set --rh."),
        Row("P9", "degree-hours", "1", True, False, "Measure the pH now."),
        Row("P10", "stage longer than planned", "3", False, False, "Look at the meat and decide."),
        Row("P11", "batch waits for a person", "1", False, False, "Look at the meat, then: hangroom resume."),
        Row(
            "P12",
            "two batches want the chamber",
            "3",
            False,
            False,
            "Move one of them, or let it hang along.",
        ),
        Row("P13", "drying stands still", "3", False, False, "Cut one open: is the rim hard? Even out, or dry more."),
        Row("C2", "program crashes", "1", True, True, "Read the journal of the service, then clear the alarm."),
        Row("C4", "clock stepped", "E", False, False, "Nothing."),
        Row("C6", "records cannot be written", "1", False, False, "Make room on the card or replace it."),
        Row("C16", "program was not running", "1", False, False, "Measure pH and look at the meat."),
        Row("H2", "pH not entered", "3", False, False, "Measure the pH and type it in."),
        Row("H9", "air probe outside", "1", True, True, "Put the probe back into the chamber's air."),
        Row(
            "H11", "no tested thermal cut-out", "E", False, False, "Fit and test a thermal cut-out, then write it down."
        ),
    )
}

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
