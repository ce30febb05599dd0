"""First light: each safety layer proven once, with an indicator lamp in the place of the heat lamp.

Each layer says what to do, what must happen, and what it means if that does not happen. Nothing here decides: what was
seen is a person's, and a layer that was seen to work once has worked once.
"""

from collections.abc import Iterator
from typing import Final, Literal

from msgspec import Struct

from controller.core.values import Role
from controller.planning.setting_up.course import HANGS
from controller.settings.chamber_tables import ChamberFile, OutputEntry
from controller.settings.units import show_temp

NO_HEAT: Final = "Until this works: no heat lamp at this chamber, its plug pulled."
QUALIFIED: Final = "The mains side is work for a qualified person."
BURNS: Final = (
    "Only the indicator lamp hangs on the heat relay. Is it dark? Then start the program and a batch for the trial:",
    "sudo systemctl start hangroom; hangroom start tangy --meat 5kg; it burns, on and off, within a few minutes.",
    "After 20 minutes without warmth it burns only now and then: then hangroom end, and start once more.",
)
"""The same words at each layer that the program is to show while it heats."""
AS_INSTALLED: Final = "Was the service installed as the README says"
TRIP_OVER_K: Final = 10.0
SOUNDER: Final = "sounder"


class Layer(Struct, frozen=True, kw_only=True):
    """Hold one layer.

    Attributes:
        id: its name in the record.
        title: its name on a page.
        do: what to do, a sentence or a few each.
        must: what must happen then.
        no: what it means if it does not, and what to do.
        how: "click" where the program clicks the output itself, "sounder" where it lets the sounder sound, "temp"
            where a temperature is asked for.
        output: the output, where it is about one.
    """

    id: str
    title: str
    do: tuple[str, ...]
    must: str
    no: str
    how: Literal["", "click", "sounder", "temp"] = ""
    output: OutputEntry | None = None


def layers_of(chamber: ChamberFile) -> tuple[Layer, ...]:
    """Return the layers of this chamber, in the order in which they are best proven."""
    roles: set[Role] = {output.role for output in chamber.output}
    return (
        _power_up(),
        *(_click(output) for output in chamber.output),
        *_beside_the_program(chamber, roles),
        *(_with_the_program(chamber) if "heater" in roles else ()),
        *((_sounder(),) if "sounder" in roles else ()),
    )


def _power_up() -> Layer:
    return Layer(
        id="power-up",
        title="nothing closes while the Pi starts",
        do=(
            "Only an indicator lamp hangs on the heat relay, nothing on the others, and no batch runs.",
            "Pull the Pi's plug, wait ten seconds, put it in again, and watch the relays for two minutes.",
            "This interview ends with the Pi: come back afterwards, and say what you saw.",
        ),
        must="No relay closes and the indicator stays dark, all the time.",
        no=f"A relay that closes by itself heats while no program watches. {NO_HEAT} At its input a resistor must hold "
        "it off (10 kΩ: to ground where it is on when high, else to 3.3 V), or it needs another GPIO.",
    )


def _click(output: OutputEntry) -> Layer:
    return Layer(
        id=f"relay {output.role}",
        title=f"relay of {HANGS[output.role]}",
        do=(
            f"Only an indicator lamp, or nothing, hangs on the relay of {HANGS[output.role]} (GPIO {output.pin}).",
            "The program is stopped: sudo systemctl stop hangroom.",
            "I click it once, for a second, after you have said what hangs on it.",
        ),
        must="This relay, and no other one, is on for a second, and off before and after.",
        no=f"The file names another GPIO or level than what is wired, or the relay sticks. {NO_HEAT} hangroom setup "
        "finds GPIO and level anew; a relay that stays on is to be thrown away.",
        how="click",
        output=output,
    )


def _beside_the_program(chamber: ChamberFile, roles: set[Role]) -> Iterator[Layer]:
    yield Layer(
        id="residual-current device",
        title="residual-current device (30 mA)",
        do=("Everything of the chamber is plugged in behind it. Press its test button.",),
        must="It trips at once, and lamp, relays' mains and fridge are dead.",
        no=f"It does not protect you where mains meets water. {NO_HEAT} {QUALIFIED}",
    )
    yield Layer(
        id="smoke alarm",
        title="smoke alarm in the room",
        do=("Press its test button; then go where you sleep, doors shut, and have it pressed again.",),
        must="You hear it there.",
        no="Nobody would be woken. Another battery, place or alarm; until then no heat while you sleep.",
    )
    if "heater" in roles:
        yield _cutout(chamber)


def _cutout(chamber: ChamberFile) -> Layer:
    opens = "at the temperature on its label"
    if chamber.thermal_cutout_c is not None:
        opens = f"near {show_temp(chamber.thermal_cutout_c, chamber.units)} (thermal_cutout_c)"
    return Layer(
        id="thermal cut-out",
        title="thermal cut-out",
        do=(
            'As in the README, "Testing the cut-out". Empty chamber, the heat lamp in its guard.',
            "A thermometer of your own beside the cut-out, the plug in your hand; somebody stays beside it.",
            f"For this test alone the lamp is wired past the program's relay. {QUALIFIED}",
            "Afterwards that wire comes off again, before anything else is done.",
        ),
        must=f"The lamp goes out {opens}, and stays out when it is cool again, until it is reset by hand.",
        no="Then nothing ends a heat that no program ends. Pull the plug: no heat in this chamber before another "
        f"cut-out was seen to open. {QUALIFIED}",
        how="temp",
    )


def _with_the_program(chamber: ChamberFile) -> Iterator[Layer]:
    leading = next(sensor for sensor in chamber.sensor if sensor.channel == "air_temp")
    name = leading.id or leading.address or leading.kind
    trip = show_temp(chamber.limits.trip_c, chamber.units)
    warm = show_temp(chamber.limits.trip_c + TRIP_OVER_K, chamber.units)
    yield Layer(
        id="thermometer lost",
        title="a lost thermometer ends the heat",
        do=(*BURNS, f"While it burns, take the main thermometer ({name}) off its wires."),
        must="The indicator is dark within 15 seconds and stays dark; hangroom status names the thermometer.",
        no=f"The program heats blindly. {NO_HEAT} Is it this thermometer that the file calls air_temp? hangroom check.",
    )
    yield Layer(
        id="too hot",
        title=f"too hot ({trip}) ends the heat",
        do=(
            *BURNS,
            f"While it burns, put the tip of the main thermometer ({name}) into a cup of water of {warm}.",
            "Leave it there for five minutes, its cable's end dry; then take it out, and let it cool for ten.",
        ),
        must="The indicator is dark within 15 seconds (so quick a change is not believed). Within five minutes "
        'hangroom alarms says "Too hot"; it stays dark when the thermometer is cool again, until hangroom clear.',
        no=f"The program does not end the heat by itself. {NO_HEAT} Is trip_c as it should be? hangroom check.",
    )
    yield from _ends_of_the_program()


def _ends_of_the_program() -> Iterator[Layer]:
    yield Layer(
        id="program killed",
        title="a killed program ends the heat",
        do=(*BURNS, "While it burns: sudo systemctl kill -s KILL hangroom"),
        must="The indicator is dark within two seconds.",
        no=f"The lamp would burn on after a crash. {NO_HEAT} {AS_INSTALLED} (ExecStopPost), and is strict_gpiod set? "
        "journalctl -u hangroom tells what was done.",
    )
    yield Layer(
        id="program hangs",
        title="a program that hangs is ended",
        do=(*BURNS, "While it burns: sudo systemctl kill -s STOP hangroom"),
        must="The indicator is dark within 40 seconds, and the program starts again by itself.",
        no=f"The lamp would burn on under a program that hangs. {NO_HEAT} {AS_INSTALLED} (WatchdogSec)?",
    )
    yield Layer(
        id="crashes",
        title="a program that crashes again and again does not heat",
        do=(
            "Three times within five minutes, each after it has started again:",
            "sudo systemctl kill -s KILL hangroom",
        ),
        must="After the third the indicator stays dark, and hangroom status says why, until you say hangroom clear.",
        no=f"A crash loop would heat a little each time. {NO_HEAT} Look at journalctl -u hangroom.",
    )
    yield Layer(
        id="computer hangs",
        title="a computer that hangs is reset",
        do=(
            "Only while no meat hangs in it: this crashes the computer itself.",
            "While the indicator burns: echo c | sudo tee /proc/sysrq-trigger",
            "This interview ends with the Pi: come back afterwards, and say what you saw.",
        ),
        must="Within half a minute the Pi starts anew by itself, and the indicator is dark from then on.",
        no=f"The lamp would burn on under a computer that hangs, and only the cut-out would end it. {NO_HEAT} "
        'hangroom check must say "Hardware watchdog: armed".',
    )


def _sounder() -> Layer:
    return Layer(
        id=SOUNDER,
        title="the sounder is heard",
        do=("Go where you sleep or work, or send somebody there; the program runs. After Enter it sounds for 10 s.",),
        must="It is heard there.",
        no="An alarm reaches nobody. Look at its wires and its place; until then stay within earshot while it heats.",
        how="sounder",
    )
