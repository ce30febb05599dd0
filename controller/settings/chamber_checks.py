"""What of a chamber file is well typed but cannot be meant: pins, identities, powers, limits, and what drying needs."""

import datetime as dt
import re
from collections.abc import Iterator
from typing import Final
from zoneinfo import ZoneInfo, available_timezones

from controller.core.plan import Drying
from controller.core.values import CONTACTS, Channel, Role
from controller.settings.chamber_plan import switching_of
from controller.settings.problems import nearest
from controller.settings.reader import Table, fahrenheit_hint
from controller.settings.units import to_c

FIRST_GPIO: Final = 2
LAST_GPIO: Final = 27
"""Of the 40-pin header; 0 and 1 are kept for the identity chip of an add-on board (Raspberry Pi HAT design guide)."""
ONE_WIRE_GPIO: Final = 4
"""The default of the overlay w1-gpio (raspberrypi/firmware, boot/overlays/README)."""
I2C_GPIO: Final = {2: "SDA", 3: "SCL"}
I2C_KINDS: Final = {"sht3x", "sht4x", "bme280"}
HUMIDITY_KINDS: Final = {*I2C_KINDS, "dht22"}
HUMIDITY: Final = {"rh", "rh_2"}
SEES: Final[dict[Channel, Role]] = {
    "evaporator_temp": "cooler",
    "heater_live": "heater",
    "heater_current": "heater",
    "cooler_current": "cooler",
    "cutout": "heater",
    "fan_turns": "fan",
}
"""What watches an output, and which one."""
TRIP_BELOW_CUTOUT_K: Final = 5.0
SMOKED_TRIP_C: Final = 45.0
"""The default trip; with tar on the lamp it may not be raised. Common practice, no source."""
LEAST_PH_ERROR: Final = 0.01
"""The last digit of a pocket meter; common practice, no source."""
LEAST_ERROR_K: Final = 0.1
"""What a good ice bath itself is known to; common practice, no source."""
LOWEST_ROOM_C: Final = -20.0
HIGHEST_ROOM_C: Final = 45.0
POWERS: Final[dict[Role, tuple[str, float]]] = {
    "heater": ("w", 60),
    "humidifier": ("ml_per_h", 150),
    "dehumidifier": ("w", 60),
}
"""What the model, and the judge of what is healthy, must know of an output, with an example."""
DRYING_NEEDS: Final[dict[Drying, tuple[Role, ...]]] = {
    "none": (),
    "cool-and-reheat": ("cooler", "heater"),
    "dehumidifier": ("dehumidifier",),
    "vent": ("fresh_air",),
}

_ONE_WIRE_ID: Final = re.compile(r"28-[0-9a-f]{12}")
_BUS_ADDRESS: Final = re.compile(r"(0x)?[0-9a-f]{2}", re.IGNORECASE)


ABBREVIATED: Final = {
    short: name
    for name, shorts in {
        "America/New_York": ("EST", "EDT", "ET"),
        "America/Chicago": ("CST", "CDT", "CT"),
        "America/Denver": ("MST", "MDT", "MT"),
        "America/Los_Angeles": ("PST", "PDT", "PT"),
        "America/Anchorage": ("AKST", "AKDT"),
    }.items()
    for short in shorts
}
"""What clocks in the United States are called, and the zone that has their change of summer time in it. The list has an
EST and an MST of its own, which never change; whoever means that writes America/Panama or America/Phoenix."""


def check_chamber(chamber: Table, today: dt.date) -> None:
    """Add a problem for everything that cannot be meant, beside what the reader has found already."""
    _check_head(chamber, today)
    _check_sensors(chamber)
    _check_errors(chamber)
    _check_outputs(chamber)
    _check_pins(chamber)
    _check_trip(chamber)
    _check_drying(chamber)
    _check_smoke(chamber)


def _check_head(chamber: Table, today: dt.date) -> None:
    name = chamber.get("name")
    if name is not None and not name.strip():
        chamber.say("name", 'must be a name, as "old-fridge"')
    zone = chamber.get("timezone")
    trouble = "" if zone is None else timezone_trouble(zone)
    if trouble:
        chamber.say("timezone", trouble)
    state_dir = chamber.get("state_dir")
    if state_dir is not None and not state_dir.startswith("/"):
        chamber.say("state_dir", 'must be a whole path, as "/var/lib/hangroom"')
    tested_on = chamber.get("cutout_tested_on")
    if tested_on is not None and tested_on > today:
        chamber.say("cutout_tested_on", f"lies ahead; today is {today.isoformat()}: the day it was last tested")
    room_c = chamber.get("room_temp_c")
    if room_c is None:
        return
    low_c, high_c = room_c
    if high_c > HIGHEST_ROOM_C or low_c < LOWEST_ROOM_C:
        hint = fahrenheit_hint(high_c) if LOWEST_ROOM_C <= to_c(high_c) <= HIGHEST_ROOM_C else ""
        chamber.say("room_temp_c", f"a room has {LOWEST_ROOM_C:g} to {HIGHEST_ROOM_C:g} °C{hint}")
    elif low_c > high_c:
        chamber.say("room_temp_c", f"the colder comes first: [{high_c:g}, {low_c:g}]")


def timezone_trouble(zone: str) -> str:
    """Return why this is no time zone, with the one that may be meant; empty where it is one."""
    if zone.strip().upper() not in ABBREVIATED and _is_timezone(zone):
        return ""
    known = {name.lower(): name for name in sorted(available_timezones())}
    ends = next((name for lower, name in known.items() if lower.endswith(f"/{zone.lower()}")), None)
    guess = ABBREVIATED.get(zone.strip().upper()) or ends or known.get(nearest(zone, known) or "")
    hint = f'did you mean "{guess}"?' if guess else 'as "Europe/Vienna" or "America/Chicago"'
    return f"no place of the IANA list of time zones; {hint}"


def _is_timezone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # Not found; no relative path; a folder or nothing of the kind.
        return False
    return True


def _check_errors(chamber: Table) -> None:
    """See that no instrument is taken to be without error: it is what keeps a count, or a pH, on its own side."""
    ph_error = chamber.get("ph_meter_error")
    if ph_error is not None and ph_error < LEAST_PH_ERROR and not chamber.problems.of("ph_meter_error"):
        chamber.say(
            "ph_meter_error",
            f"no meter is exact, and its buffers are known to ±0.02; take {LEAST_PH_ERROR:g} or more, as 0.05",
        )
    for sensor in chamber.tables("sensor"):
        error_k = sensor.get("error_k")
        if error_k is not None and error_k < LEAST_ERROR_K and not sensor.problems.of(sensor.key("error_k")):
            sensor.say(
                "error_k",
                f"no thermometer is exact, and melting ice is known to ±0.1; take {LEAST_ERROR_K:g} or more, or leave "
                "it out: then it goes by the kind",
            )


def _check_sensors(chamber: Table) -> None:
    channels: dict[str, str] = {}
    devices: dict[tuple[str, str], str] = {}
    sensors = chamber.tables("sensor")
    for sensor in sensors:
        channel, kind = sensor.get("channel"), sensor.get("kind")
        if channel is not None:
            if channel in channels:
                sensor.say("channel", f"measured by {channels[channel]} already; name another, as air_temp_2")
            channels.setdefault(channel, sensor.prefix.rstrip("."))
        if kind is None:
            continue
        if channel is not None:
            _check_kind(sensor, channel, kind)
        _check_identity(sensor, kind)
        device = (kind, sensor.get("id") or sensor.get("address") or "")
        if kind != "contact" and (device[1] or kind != "ds18b20"):
            field = "id" if kind == "ds18b20" else "address"
            if device in devices:
                sensor.say(field, f"the same device as {devices[device]}; give each sensor its own {field}")
            devices.setdefault(device, sensor.prefix.rstrip("."))
    known = all(sensor.get("channel") is not None for sensor in sensors)
    if sensors and known and "air_temp" not in channels:
        chamber.say("sensor", 'no sensor measures the air; one needs channel = "air_temp"')
    if known:
        _check_what_is_watched(chamber, sensors, channels)


def _check_what_is_watched(chamber: Table, sensors: list[Table], channels: dict[str, str]) -> None:
    """See that what watches an output has one to watch, and that a second sensor has a first one."""
    outputs = chamber.tables("output")
    roles = {output.get("role") for output in outputs}
    for sensor in sensors:
        channel = sensor.get("channel")
        role = SEES.get(channel)
        if role is not None and role not in roles and None not in roles:
            sensor.say("channel", f"there is no {role} among the outputs whose work this could show; take it out")
        if channel == "rh_2" and "rh" not in channels:
            sensor.say("channel", 'there is no first humidity sensor; call this one "rh"')


def _check_kind(sensor: Table, channel: str, kind: str) -> None:
    if channel in HUMIDITY and kind not in HUMIDITY_KINDS:
        sensor.say("kind", "measures no humidity; take sht4x, sht3x, bme280 or dht22")
    elif channel in CONTACTS and kind != "contact":
        sensor.say("kind", f"{channel} is open or closed; take contact, with its pin")
    elif channel not in CONTACTS and kind == "contact":
        sensor.say("kind", f"a contact measures no climate; its channel is {', '.join(CONTACTS)}")


def _check_identity(sensor: Table, kind: str) -> None:
    """See that the device is named in the way that its kind is named."""
    given = {name for name in ("id", "address", "pin") if sensor.get(name) not in {"", None}}
    right = {"ds18b20": "id", "contact": "pin"}.get(kind, "address")
    for name in sorted(given - {right}):
        sensor.say(name, f"{kind} has no {name}; it is named by its {right}")
    if given and right not in given:
        return
    if kind == "ds18b20":
        found = sensor.get("id")
        if found is not None and not _ONE_WIRE_ID.fullmatch(found):
            sensor.say("id", 'must be its 1-wire id, as "28-000005443322" (a folder in /sys/bus/w1/devices)')
    elif kind == "contact":
        if "pin" not in sensor.raw:
            sensor.say("pin", "missing; a contact needs the GPIO it is wired to, as pin = 26")
    else:
        address = sensor.get("address") or ""
        if _BUS_ADDRESS.fullmatch(address) or "/" in address:
            sensor.say("address", 'must be the kernel\'s name of the device, as "1-0044": bus 1, address 44')


def _check_outputs(chamber: Table) -> None:
    roles: dict[str, str] = {}
    for output in chamber.tables("output"):
        role = output.get("role")
        if role is None:
            continue
        if role in roles:
            output.say("role", f"{roles[role]} is the {role} already; a chamber has one of each")
        roles.setdefault(role, output.prefix.rstrip("."))
        if role in POWERS:
            field, example = POWERS[role]
            if field not in output.raw:
                output.say(field, f"missing; a {role} needs it, as {field} = {example:g}")
        _check_times(output, role)
    model = chamber.tables("model")
    if "cooler" in roles and model and "evaporator_w_per_k" not in model[0].raw:
        model[0].say("evaporator_w_per_k", "missing; there is a cooler: as evaporator_w_per_k = 3.5")


def _check_times(output: Table, role: Role) -> None:
    """See that an on-time and an off-time fit into the window, with the defaults for what is left out."""
    names = ("window_s", "min_on_s", "min_off_s")
    if any(output.problems.of(output.key(name)) for name in (*names, "switch")):
        return
    usually = switching_of(role, output.get("switch"))
    window_s, on_s, off_s = (
        usual if output.get(name) is None else output.get(name) for name, usual in zip(names, usually, strict=True)
    )
    if on_s + off_s > window_s:
        name = next((name for name in names if name in output.raw), "window_s")
        output.say(
            name,
            f"{on_s:g} s on and {off_s:g} s off must fit into the window; take window_s = {on_s + off_s:g} or more",
        )


def _check_pins(chamber: Table) -> None:
    kinds = {sensor.get("kind") for sensor in chamber.tables("sensor")}
    used: dict[int, str] = {}
    for table, what in _pinned(chamber):
        pin = table.get("pin")
        if pin is None:
            continue
        if not FIRST_GPIO <= pin <= LAST_GPIO:
            table.say("pin", f"no GPIO of the header; take {FIRST_GPIO} to {LAST_GPIO}")
        elif pin in used:
            table.say("pin", f"{used[pin]} has this pin already; take another")
        elif pin == ONE_WIRE_GPIO and "ds18b20" in kinds:
            table.say("pin", "the 1-wire sensors (ds18b20) are on GPIO 4; take another")
        elif pin in I2C_GPIO and kinds & I2C_KINDS:
            table.say("pin", f"the I2C sensors have GPIO {pin} as {I2C_GPIO[pin]}; take another")
        used.setdefault(pin, f"{table.prefix.rstrip('.')} ({what})")


def _pinned(chamber: Table) -> Iterator[tuple[Table, str]]:
    for output in chamber.tables("output"):
        yield output, output.get("role") or "output"
    for sensor in chamber.tables("sensor"):
        if sensor.get("kind") == "contact":
            yield sensor, f"contact {sensor.get('channel') or ''}".strip()


def _check_trip(chamber: Table) -> None:
    cutout_c = chamber.get("thermal_cutout_c")
    limits = chamber.tables("limits")
    trip_c = limits[0].get("trip_c") if limits else chamber.get("limits").trip_c if chamber.get("limits") else None
    if cutout_c is None or trip_c is None or trip_c <= cutout_c - TRIP_BELOW_CUTOUT_K:
        return
    highest_c = cutout_c - TRIP_BELOW_CUTOUT_K
    if limits and "trip_c" in limits[0].raw:
        limits[0].say(
            "trip_c", f"must lie 5 K or more below thermal_cutout_c = {cutout_c:g}; take {highest_c:g} or less"
        )
    else:
        chamber.say(
            "thermal_cutout_c",
            f"trip_c is {trip_c:g} where the file does not say, and must lie 5 K or more below; "
            f"set limits.trip_c = {highest_c:g}",
        )


def _check_smoke(chamber: Table) -> None:
    """See that a chamber that is smoked in cuts the heat where fat does not burn yet."""
    limits = chamber.tables("limits")
    trip_c = limits[0].get("trip_c") if limits else None
    if chamber.get("smoke_in_chamber") and trip_c is not None and trip_c > SMOKED_TRIP_C:
        limits[0].say(
            "trip_c",
            f"with smoke_in_chamber = true all heat must end at {SMOKED_TRIP_C:g} °C: fat and tar burn; take "
            f"{SMOKED_TRIP_C:g} or less, or smoke elsewhere",
        )


def _check_drying(chamber: Table) -> None:
    drying = chamber.get("drying")
    outputs = chamber.tables("output")
    if drying is None or any(output.get("role") is None for output in outputs):
        return
    roles = {output.get("role") for output in outputs}
    lacking = [role for role in DRYING_NEEDS[drying] if role not in roles]
    if lacking:
        chamber.say("drying", f'there is no {" and no ".join(lacking)} among the outputs; add it, or write "none"')
