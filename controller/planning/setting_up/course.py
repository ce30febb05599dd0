"""The course of the interview: which question comes next, by what was answered and what the machine shows.

`course` yields the questions in their order, and is gone through anew after each answer; what stands behind a question
may rely on its answer. So to go back is to take answers away, and nothing else is remembered anywhere.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, Final, Literal

from msgspec import Struct

from controller.core.values import CONTACTS, ROLES, Role
from controller.planning.question import Question
from controller.planning.setting_up import typed
from controller.settings.chamber_checks import I2C_GPIO, I2C_KINDS, LAST_GPIO, ONE_WIRE_GPIO, POWERS, SEES
from controller.settings.found import Found

Given = Mapping[str, Any]


class Machine(Struct, frozen=True):
    """Hold what the machine says of itself; `may_click` is whether it has pins at all."""

    found: tuple[Found, ...]
    zone: str
    today: dt.date
    may_click: bool
    clock: bool = False


class Look(Question, frozen=True):
    """Ask to look for sensors once more: there is none."""


class Touch(Question, frozen=True, kw_only=True):
    """Ask which sensor is in the person's hand, or breathed on."""

    names: tuple[str, ...]
    what: Literal["temp", "rh"]


class Pin(Question, frozen=True, kw_only=True):
    """Ask for an output's GPIO; `free` may be clicked in turn where the person does not know it."""

    free: tuple[int, ...]


class Level(Question, frozen=True, kw_only=True):
    """Ask which level switches an output on, by a click where `by_click`."""

    pin: int
    by_click: bool


BOXES: Final = (
    ("fridge", "a fridge or freezer"),
    ("foam", "a box of foam, or lined with it"),
    ("wood", "a cabinet of wood"),
)
PLACES: Final[dict[str, str]] = {
    "air_temp": "main thermometer of the chamber's air",
    "air_temp_2": "second thermometer of the air",
    "rh": "humidity of the chamber's air",
    "rh_2": "second humidity sensor there",
    "core_temp": "probe in the meat",
    "ambient_temp": "in the room, beside the chamber",
    "evaporator_temp": "on the cold plate of the fridge",
    "unused": "not used",
}
GUESSES: Final[dict[bool, tuple[str, ...]]] = {
    False: ("air_temp", "air_temp_2", "ambient_temp", "core_temp"),
    True: ("rh", "rh_2"),
}
"""What a thermometer, and a humidity sensor, is for where nobody says otherwise, in this order."""
HANGS: Final[dict[Role, str]] = {
    "heater": "the heat lamp",
    "humidifier": "the humidifier",
    "cooler": "the fridge's compressor",
    "dehumidifier": "a dehumidifier",
    "fan": "the fan that stirs the air",
    "fresh_air": "a fan or flap for fresh air",
    "sounder": "a sounder or warning lamp",
    "master": "a second relay before the heat lamp",
}
WATCHES: Final[dict[str, str]] = {
    "door": "is it open",
    "heater_live": "voltage at the lamp",
    "heater_current": "current in the lamp's wire",
    "cooler_current": "current in the compressor's wire",
    "cutout": "has it opened",
    "fan_turns": "the fan's speed wire",
}
SWITCHES: Final = (
    ("mechanical", "one that clicks (mechanical)"),
    ("solid-state", "one without a click, without moving parts (solid-state)"),
)
DRYING: Final[dict[str, tuple[set[str], str]]] = {
    "cool-and-reheat": ({"cooler", "heater"}, "by cooling and warming again"),
    "dehumidifier": ({"dehumidifier"}, "by the dehumidifier"),
    "vent": ({"fresh_air"}, "by fresh air"),
}
FIND_FROM: Final = 9
CONSOLE: Final = (14, 15)
"""The serial console (Raspberry Pi documentation, "UART"): who sits at it would be thrown out by a click."""
LAST_OUTPUT: Final = len(ROLES)
NOT_KEPT: Final = ("in_relay", "tested_on", "tested_sure")
"""What is asked anew each time: it is about now, or too grave to be taken over by a touch of Enter."""


def course(given: Given, machine: Machine) -> Iterator[Question]:
    """Yield the questions in their order.

    Args:
        given: the answers so far, read, by key.
        machine: what the machine says of itself.
    """
    yield from _of_the_box(given, machine)
    yield from _of_sensors(given, machine)
    yield from _of_outputs(given, machine)
    yield from _of_heat(given, machine)


def placed(given: Given) -> dict[str, str]:
    """Return the place of each sensor that has one, by its name."""
    return {key.removeprefix("place "): place for key, place in given.items() if key.startswith("place ")}


def numbers(given: Given) -> list[int]:
    """Return the numbers of the outputs that are described, in their order."""
    return [number for number in range(1, LAST_OUTPUT + 1) if isinstance(given.get(f"pin {number}"), int)]


def _choices(key: str, ask: str, choices: Sequence[tuple[str, str]], usual: str | None = None) -> Question:
    read = typed.one_of([name for name, _ in choices])
    return Question(key, "", ask, read, usual, choices=tuple(choices))


def _of_the_box(given: Given, machine: Machine) -> Iterator[Question]:
    yield Question("title", "", 'What do you call this chamber? As "Old fridge in the cellar"', typed.words)
    yield _choices("units", "Temperatures in Celsius or Fahrenheit?", (("C", "°C"), ("F", "°F")), "C")
    units = given["units"]
    low, high = ("60F", "72F") if units == "F" else ("16C", "22C")
    yield Question("timezone", "", "Which time zone? As Europe/Vienna", typed.zone, machine.zone)
    yield Question(
        "room_low", "", f"How cold does the room get in which it stands? As {low}", partial(typed.room_c, units=units)
    )
    warmest = partial(typed.room_c, above_c=given["room_low"], units=units)
    yield Question("room_high", "", f"And how warm? As {high}", warmest)
    shown = "This machine shows a clock." if machine.clock else "This machine shows none."
    yield _choices(
        "clock_battery",
        f"Has the Pi a clock with a battery in it? {shown} A Pi 5 shows one also without its battery.",
        (("yes", ""), ("no", "")),
        None if machine.clock else "no",
    )
    yield _choices("box", "What kind of box is it?", BOXES)
    yield Question("volume", "", "How big is it inside? As 75l, 2.6ft3, or 50x40x90cm", typed.litres)
    meat = "10lb" if units == "F" else "5kg"
    yield Question("meat", "", f"How much meat hangs in it at most? As {meat}", typed.meat_kg)


def _of_sensors(given: Given, machine: Machine) -> Iterator[Question]:
    if not machine.found:
        yield Look("look", "", "Enter looks once more.", str, "")
    for humid in (False, True):
        group = [one.name for one in machine.found if one.humid is humid]
        left = list(group)
        while left:
            name = left[0]
            if len(left) > 1 or len(group) == 1:
                nth = len(group) - len(left) + 1
                yield _touch(f"{'breathe' if humid else 'warm'} {nth}", tuple(left), humid=humid)
                name = given[f"{'breathe' if humid else 'warm'} {nth}"]
            yield _place(name, given, machine, humid=humid)
            left.remove(name)


def _touch(key: str, names: tuple[str, ...], *, humid: bool) -> Touch:
    which = "it" if len(names) == 1 else "ONE of them"
    do = f"Breathe on {which}, slowly," if humid else f"Take {which} in your hand, or between two fingers,"
    how = ", skip takes it without" if len(names) == 1 else "; or type its number"
    ask = f"{do} after you have pressed Enter, until I say so. Enter begins{how}."
    what: Literal["temp", "rh"] = "rh" if humid else "temp"
    return Touch(key, "", ask, typed.device(names), "watch", names=names, what=what)


def _place(name: str, given: Given, machine: Machine, *, humid: bool) -> Question:
    others = {one: place for one, place in placed(given).items() if one != name}
    taken = set(others.values())
    fits = [
        place
        for place in PLACES
        if place not in taken
        and not (place in {"rh", "rh_2"} and not humid)
        and not (place == "rh_2" and "rh" not in taken)
    ]
    last = sum(one.name not in others for one in machine.found) == 1
    if last and "air_temp" not in taken:
        fits = ["air_temp"]  # There is no chamber without one.
    if "air_temp" in fits and len(fits) > 1 and len(machine.found) == 1:
        fits = ["air_temp"]
    usual = next((place for place in GUESSES[humid] if place in fits), "unused" if "unused" in fits else fits[0])
    ask = f"What is {name} for? I take it for: {PLACES[usual]}."
    return _choices(f"place {name}", ask, [(place, PLACES[place]) for place in fits], usual)


def _taken(given: Given, machine: Machine, before: int) -> frozenset[int]:
    kinds = {one.kind for one in machine.found}
    wires = set(I2C_GPIO) if kinds & I2C_KINDS else set()
    wires |= {ONE_WIRE_GPIO} if "ds18b20" in kinds else set()
    outputs = {given[f"pin {number}"] for number in numbers(given) if number < before}
    return frozenset({*wires, *given["others"], *outputs})


def _of_outputs(given: Given, machine: Machine) -> Iterator[Question]:
    yield Question(
        "others",
        "",
        "On which GPIO is something else than a relay (a contact, a display, a fan's wire)? They are never driven. "
        "As 24 26",
        typed.pins,
        typed.NONE,
    )
    clicks = machine.may_click
    if clicks:
        yield _choices(
            "in_relay",
            "To find the relays I click them. WHAT HANGS ON THEM NOW? Pull the plug of the heat lamp and of everything "
            "else at the relays; put an indicator lamp in place of the heat lamp, or leave the relay empty.",
            (
                ("indicator", "only an indicator lamp"),
                ("nothing", "nothing"),
                ("else", "something else: click nothing"),
            ),
        )
        clicks = given["in_relay"] != "else"
    for number in range(1, LAST_OUTPUT + 1):
        taken = _taken(given, machine, number)
        free = tuple(pin for pin in range(FIND_FROM, LAST_GPIO + 1) if pin not in {*taken, *CONSOLE})
        ways = ["A number", *(["find (I click one after the other)"] if clicks else [])]
        ways += ["none (no more)"] if number > 1 else []
        yield Pin(
            f"pin {number}",
            "",
            f"{'Which' if number == 1 else 'And which'} GPIO switches relay {number}? {', or '.join(ways)}",
            partial(typed.output_pin, taken=taken, may_find=clicks, may_end=number > 1),
            None if number == 1 else typed.NONE,
            free=free if clicks else (),
        )
        if given[f"pin {number}"] == typed.NONE:
            break
        yield from _of_output(given, number, by_click=clicks)
    yield from _after_outputs(given, machine)


def _of_output(given: Given, number: int, *, by_click: bool) -> Iterator[Question]:
    pin = given[f"pin {number}"]
    yield Level(f"level {number}", "", f"Which level switches GPIO {pin} on?", typed.seen, pin=pin, by_click=by_click)
    used = {given.get(f"role {other}") for other in numbers(given) if other != number}
    roles = [(role, HANGS[role]) for role in ROLES if role not in used]
    yield _choices(f"role {number}", f"What will hang on GPIO {pin}?", roles)
    role = given[f"role {number}"]
    yield _choices(f"switch {number}", "What kind of relay is it?", SWITCHES)
    if role == "humidifier":
        ask = "How much water does it give in an hour, in ml? On its label, or weigh it. As 200ml"
        yield Question(f"ml {number}", "", ask, typed.ml_per_h)
    elif role in POWERS:
        ask = "How many watts has the heat lamp?" if role == "heater" else "How many watts does it take?"
        yield Question(f"w {number}", "", f"{ask} As 60W", typed.watts)


def _after_outputs(given: Given, machine: Machine) -> Iterator[Question]:
    roles = {given[f"role {number}"] for number in numbers(given)}
    watched = tuple(one for one in CONTACTS if SEES.get(one) is None or SEES[one] in roles)
    taken = _taken(given, machine, LAST_OUTPUT + 1) - set(given["others"])
    yield Question(
        "contacts",
        "",
        f"Is there a contact that I shall watch? Each with its GPIO, as: door 26, cutout 24. I know "
        f"{', '.join(f'{one} ({WATCHES[one]})' for one in watched)}",
        partial(typed.contacts, channels=watched, taken=taken),
        typed.NONE,
    )
    ways = [(name, words) for name, (needs, words) in DRYING.items() if needs <= roles]
    if ways:
        ask = "Is the air dried in here, and how?"
        yield _choices("drying", ask, [*ways, ("none", "it is not: drying goes on elsewhere")], ways[0][0])


def _of_heat(given: Given, machine: Machine) -> Iterator[Question]:
    units, today = given["units"], machine.today
    cutout = "140F" if units == "F" else "60C"
    yield Question(
        "cutout",
        "",
        "At which temperature does the thermal cut-out open that sits in the heat lamp's own wire? It stands on the "
        f"part, as {cutout}. Without one no heat is given; then: none",
        partial(typed.cutout_c, units=units),
    )
    if given["cutout"] is None:
        return
    yield Question(
        "tested_on",
        "",
        "Have YOU seen this cut-out open by heat and the lamp go out, in this chamber? On which day? As "
        f"{today.isoformat()}. Until then no heat is given; it can be written later.",
        partial(typed.day_it_opened, today=today),
        "not yet",
    )
    if given["tested_on"] is not None:
        ask = f"You stand for it: it opened on {given['tested_on'].isoformat()}, and you saw it?"
        yield _choices("tested_sure", ask, (("yes", "I saw it open"), ("no", "leave the day out")))
