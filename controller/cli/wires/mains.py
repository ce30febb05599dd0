"""The mains side as a closed block: which part stands behind which, and who may work on it. No conductor is drawn.

Nothing in the block is joined to a wire of the Pi. What stands between the two, a relay, a contactor or a free contact,
is named on both sides by the number of its wire.
"""

from collections.abc import Iterator
from typing import Final

from controller.cli.wires.listed import Wires
from controller.core.values import Role
from controller.settings.chamber_tables import ChamberFile
from controller.settings.units import show_temp

TIE: Final = "\xa0"


def chain(chamber: ChamberFile, found: Wires) -> Iterator[str]:
    """Yield what stands in the way of the heat, from the supply on. Principle only."""
    roles: dict[Role, float | None] = {output.role: output.w for output in chamber.output}
    channels = {sensor.channel for sensor in chamber.sensor}
    yield "mains supply, with earth"
    yield f"residual-current device, 30{TIE}mA"
    yield "fuse"
    if "heater" not in roles:
        yield "no heat in this chamber"
        return
    if "master" in roles:
        yield f"master contactor, closed only while all is well ({_one(found, 'master')})"
    yield f"heat relay or solid-state relay ({_one(found, 'heater')})"
    cutout_c = chamber.thermal_cutout_c
    degrees = "" if cutout_c is None else f", opens at {_tied(show_temp(cutout_c, chamber.units))}"
    contact = (
        f"its free auxiliary contact, with no mains on it, is {_one(found, 'cutout')}"
        if "cutout" in channels
        else "no wire of it goes to the Pi"
    )
    yield f"thermal cut-out, reset by hand{degrees}; {contact}"
    watts = roles["heater"]
    yield "heat lamp in its guard" if watts is None else f"heat lamp in its guard, {watts:g}{TIE}W"


def others(chamber: ChamberFile, found: Wires) -> Iterator[str]:
    """Yield what else may be on the mains side."""
    there = [
        f"{output.role.replace('_', ' ')} ({_one(found, output.role)})"
        for output in chamber.output
        if output.role not in {"heater", "master", "sounder"}
    ]
    if there:
        yield f"Behind the same residual-current device, each with relay and fuse, if on mains: {', '.join(there)}."
    for channel, what in (
        ("heater_live", "Voltage contact across the lamp itself, behind the cut-out: its output is"),
        ("heater_current", "Current relay in the lamp's wire: its contact is"),
        ("cooler_current", "Current relay in the compressor's wire: its contact is"),
    ):
        if found.of(channel):
            yield f"{what} {_one(found, channel)}."


def _tied(figure: str) -> str:
    return figure.replace(" ", TIE)


def _one(found: Wires, role: str) -> str:
    return ", ".join(f"wire{TIE}{number}" for number in found.of(role))
