"""The text of a chamber file, made of the answers: each key with its comment, and what nobody has measured said so."""

import datetime as dt
import re
from collections.abc import Iterator
from typing import Any, Final

import tomli_w

from controller.core.values import Role
from controller.planning.setting_up.course import BOXES, Given, numbers, placed
from controller.settings.chamber_checks import TRIP_BELOW_CUTOUT_K
from controller.settings.chamber_file import read_chamber
from controller.settings.chamber_plan import ERROR_K, RESPONSE_S
from controller.settings.chamber_tables import ChamberFile, LimitsTable, ModelTable
from controller.settings.found import Found
from controller.settings.shipped import find_chamber

LIKE: Final = {"fridge": "old-fridge", "foam": "insulated-box", "wood": "plywood-cabinet"}
"""Which shipped chamber has the walls of which kind of box."""
STATE_DIR: Final = "/var/lib/hangroom"
COLUMN: Final = 34
WIDTH: Final = 118
LARGEST: Final = {"lamp_j_per_k": 2000.0, "lamp_w_per_k": 20.0, "evaporator_w_per_k": 30.0}
"""As the chamber file takes them."""
DRYING: Final = '"none", "cool-and-reheat", "dehumidifier" or "vent".'


def chamber_text(given: Given, found: tuple[Found, ...], today: dt.date, gpio_chip: str = "") -> str:
    """Return the chamber file as text.

    Args:
        given: all answers, read.
        found: the sensors of the machine.
        today: the day that is written beside what was tried.
        gpio_chip: the label of the GPIO chip; empty: the header of this Pi.
    """
    return "\n".join([*_head(given, today, gpio_chip), *_sensors(given, found), *_outputs(given), *_rest(given)]) + "\n"


def model_of(given: Given) -> ModelTable:
    """Return the figures of the box: those of the shipped one of its kind, with its walls as large as this volume asks.

    A box of the same shape has an area as volume to the power 2/3; the lamp's own figures go by its watts. They are
    guesses and are called so in the file.
    """
    like = _like(given)
    model = like.model
    walls = (given["volume"] / model.volume_l) ** (2.0 / 3.0)
    watts = _of_role(given, "w").get("heater")
    usual_w = next(output.w for output in like.output if output.role == "heater" and output.w is not None)
    lamp = 1.0 if watts is None else watts / usual_w
    cold = read_chamber(find_chamber(LIKE["fridge"])).model
    plate = cold.evaporator_w_per_k
    cooled = "cooler" in _roles(given).values() and plate is not None
    return ModelTable(
        volume_l=given["volume"],
        ua_w_per_k=_rounded(model.ua_w_per_k * walls),
        air_wall_w_per_k=_rounded(model.air_wall_w_per_k * walls),
        wall_j_per_k=_rounded(model.wall_j_per_k * walls),
        lamp_radiant=model.lamp_radiant,
        lamp_j_per_k=_rounded(min(model.lamp_j_per_k * lamp, LARGEST["lamp_j_per_k"])),
        lamp_w_per_k=_rounded(min(model.lamp_w_per_k * lamp, LARGEST["lamp_w_per_k"])),
        leak_per_h=model.leak_per_h,
        meat_kg=given["meat"],
        meat_w_per_m2_k=model.meat_w_per_m2_k,
        meat_m_per_s=model.meat_m_per_s,
        evaporator_w_per_k=_plate(plate, given["volume"] / cold.volume_l) if cooled and plate is not None else None,
    )


def _plate(w_per_k: float, bigger: float) -> float:
    return _rounded(min(w_per_k * bigger ** (2.0 / 3.0), LARGEST["evaporator_w_per_k"]))


def trip_c(cutout_c: float | None) -> float:
    """Return where all heat ends: as usual, or lower where the cut-out asks for it."""
    usual = LimitsTable().trip_c
    return usual if cutout_c is None else min(usual, cutout_c - TRIP_BELOW_CUTOUT_K)


def _like(given: Given) -> ChamberFile:
    return read_chamber(find_chamber(LIKE[given["box"]]))


def _roles(given: Given) -> dict[int, Role]:
    return {number: given[f"role {number}"] for number in numbers(given)}


def _of_role(given: Given, what: str) -> dict[Role, float]:
    return {role: given[f"{what} {number}"] for number, role in _roles(given).items() if f"{what} {number}" in given}


def _rounded(value: float) -> float:
    return float(f"{value:.3g}")


def _key(name: str, value: Any, why: str = "", *, off: bool = False) -> Iterator[str]:  # noqa: ANN401 as TOML takes it
    """Yield one line of TOML with its comment; a comment that is too long stands before it."""
    if isinstance(value, dt.date):
        text = f"{name} = {value.isoformat()}"
    elif isinstance(value, list):
        text = f"{name} = {value}"
    else:
        text = tomli_w.dumps({name: value}).rstrip("\n")
    text = f"# {text}" if off else text
    if not why:
        yield text
    elif len(text.ljust(COLUMN)) + 2 + len(why) > WIDTH:
        yield f"# {why}"
        yield text
    else:
        yield f"{text.ljust(COLUMN)}# {why}"


def _head(given: Given, today: dt.date, gpio_chip: str) -> Iterator[str]:
    words = dict(BOXES)[given["box"]]
    name = re.sub(r"[^a-z0-9]+", "-", given["title"].lower()).strip("-") or "chamber"
    yield f"# Written by hangroom setup on {today.isoformat()}: {words} of {given['volume']:g} litres."
    yield "# Temperatures are °C. What nobody has measured says so. Each key is explained in the README."
    yield "# After a change: hangroom check, then sudo systemctl restart hangroom."
    yield ""
    yield from _key("name", name[:60])
    yield from _key("title", given["title"])
    yield from _key("units", given["units"], 'In what temperatures are shown: "C" or "F".')
    yield from _key("timezone", given["timezone"])
    yield from _key("state_dir", STATE_DIR, "Where batches, requests and status are kept.")
    yield from _cutout(given)
    low, high = given["room_low"], given["room_high"]
    yield from _key(
        "room_temp_c", [round(low, 1), round(high, 1)], "The coldest and the warmest that the room gets, as was said."
    )
    yield from _key("drying", given.get("drying", "none"), DRYING)
    battery = given["clock_battery"] == "yes"
    yield from _key("clock_battery", battery, "Whether the Pi has a clock with a battery, as was said; not tried.")
    yield from _key("degree_hours_rule", "both", 'Which rule binds: "us", "canada", or "both". Not asked.')
    yield from _key("ph_meter_error", 0.05, "What your pH meter may be wrong by. Not measured: hangroom calibrate.")
    yield from _key("smoke_in_chamber", False, "Not asked; read the cautions before you write true.")
    if gpio_chip:
        yield from _key("gpio_chip", gpio_chip, "The label of the GPIO chip.")


def _cutout(given: Given) -> Iterator[str]:
    cutout = given["cutout"]
    tested = given.get("tested_on") if given.get("tested_sure") == "yes" else None
    if cutout is None:
        yield "# There is no thermal cut-out in the heat lamp's wire, so NO HEAT IS GIVEN. With one:"
        yield from _key("thermal_cutout_c", 60.0, off=True)
    else:
        yield from _key("thermal_cutout_c", cutout, "The cut-out in series with the lamp, as its label was read.")
    if tested is not None:
        yield from _key("cutout_tested_on", tested, "On this day its maker saw it open and the lamp go out.")
        return
    yield '# NOT TESTED, so NO HEAT IS GIVEN. See it open (README, "Testing the cut-out"), then write the day:'
    yield from _key("cutout_tested_on", dt.date(2026, 1, 31), off=True)


def _sensors(given: Given, found: tuple[Found, ...]) -> Iterator[str]:
    places = placed(given)
    idle = {"unused"} if "cooler" in _roles(given).values() else {"unused", "evaporator_temp"}
    order = {place: nth for nth, place in enumerate(("air_temp", "air_temp_2", "rh", "rh_2"))}
    used = [one for one in found if places.get(one.name, "unused") not in idle]
    for one in sorted(used, key=lambda one: order.get(places[one.name], len(order))):
        yield ""
        yield "[[sensor]]"
        yield from _key("channel", places[one.name])
        yield from _key("kind", one.kind)
        if one.kind == "ds18b20":
            yield from _key("id", one.name, "Its 1-wire id.")
        else:
            yield from _key("address", one.name, "The kernel's name of the device.")
        if places[one.name] in {"air_temp", "air_temp_2"}:
            yield from _key(
                "error_k", ERROR_K[one.kind], "What it may be wrong by. Not measured: hangroom calibrate ice."
            )
        yield from _key("response_s", RESPONSE_S[one.kind], "Seconds to two thirds of a change. Not measured: usual.")
    for channel, pin in given["contacts"]:
        yield ""
        yield "[[sensor]]"
        yield from _key("channel", channel)
        yield from _key("kind", "contact")
        yield from _key("pin", pin, "GPIO number (BCM), as was said; not tried.")
    for one in found:
        if places.get(one.name) in idle:
            why = "" if places[one.name] == "unused" else ", for no output cools its plate"
            yield ""
            yield f"# Seen and not used{why}: {one.kind} {one.name}."


def _outputs(given: Given) -> Iterator[str]:
    for number in numbers(given):
        level, day = given[f"level {number}"]
        seen = (
            f"Seen on {day}: a click at this level."
            if day
            else "NOT SEEN; as was said. Try it before anything is on it."
        )
        yield ""
        yield "[[output]]"
        yield from _key("role", given[f"role {number}"])
        yield from _key("pin", given[f"pin {number}"], "GPIO number (BCM).")
        yield from _key("active", level, f"The level that switches it on. {seen}")
        yield from _key("switch", given[f"switch {number}"], 'As was said: "solid-state" or "mechanical".')
        if f"w {number}" in given:
            yield from _key("w", given[f"w {number}"], "Watts, as was said; not measured.")
        if f"ml {number}" in given:
            yield from _key(
                "ml_per_h", given[f"ml {number}"], "Millilitres of water an hour, as was said; not measured."
            )


def _rest(given: Given) -> Iterator[str]:
    yield ""
    yield "[limits]"
    yield from _key(
        "trip_c", trip_c(given["cutout"]), "Any thermometer above this ends all heat; 5 K or more below the cut-out."
    )
    yield ""
    yield f"[model]  # NOT MEASURED: the figures of the shipped {LIKE[given['box']]}, for walls of this size."
    yield "# For the simulator, and for judging whether heating is healthy. `hangroom learn` measures this box."
    model = model_of(given)
    why = {
        "volume_l": "As was said.",
        "ua_w_per_k": "Heat lost to the room, watts for each kelvin.",
        "air_wall_w_per_k": "From the air to the inner wall.",
        "wall_j_per_k": "What the inner wall holds.",
        "lamp_radiant": "Share of the lamp's heat that goes out as radiation.",
        "leak_per_h": "Air changes an hour through cracks.",
        "meat_kg": "What hangs in it at most, as was said.",
        "meat_m_per_s": "How fast vapour leaves a wet surface in still air.",
        "evaporator_w_per_k": "The cold plate.",
    }
    for name in ModelTable.__struct_fields__:
        value = getattr(model, name)
        if value is None or (name.startswith("evaporator") and model.evaporator_w_per_k is None):
            continue
        yield from _key(name, value, why.get(name, ""))
