"""Click a relay, and ask what was seen: on which pin it is, and which level switches it on."""

import datetime as dt
from typing import TYPE_CHECKING, Final, Literal

from controller.cli.pages.unprotected import PULLED_UP
from controller.cli.pages.wiring import name_pin
from controller.cli.setting_up.talk import hear, say, say_choices
from controller.errors import HangroomError, UnavailableError
from controller.planning.setting_up.typed import one_of

if TYPE_CHECKING:
    from controller.app import Workbench

Choices = tuple[tuple[str, str], ...]
SEEN: Final[Choices] = (
    ("on", "on for a moment, else off"),
    ("off", "off all the time"),
    ("turned", "on, then off for a moment, then on"),
    ("again", "I missed it: click once more"),
)
BY_PAPER: Final[Choices] = (
    ("again", "click once more"),
    ("high", "no click: it is on with 3.3 V (high), as its paper says"),
    ("low", "no click: it is on with 0 V (low), as its paper says"),
)
CLICK: Final[Choices] = (("click", ""),)
YES_NO: Final[Choices] = (("yes", ""), ("no", ""))
AT_START: Final = (
    "But while the Pi starts, this GPIO is pulled to just that level: without a resistor of its own (10 kΩ, to the "
    "other level) the relay may close before any program runs."
)
VOLTS: Final = {"high": "3.3 V (high)", "low": "0 V (low)"}


def click_and_ask(bench: "Workbench", pin: int, today: dt.date) -> str:
    """Click this pin until it is known which level switches it on; return that, with the day where it was seen.

    The level is believed only after a click at that very level was seen as one: on for a moment, else off.

    Raises:
        Back, Quit: that was typed.
    """
    level: Literal["high", "low"] = "high"
    while True:
        say(f"I click {name_pin(pin)} once, for a second. Look at the lamp, the relay's own light, and listen.")
        heard("click", CLICK)
        match _click(bench, pin, level):
            case "on":
                bench.hold_off(pin, level)
                say(f"GPIO {pin} is on with {VOLTS[level]}. It is off now.")
                if (level == "high") == (pin in PULLED_UP):
                    say(AT_START)
                return f"{level} {today.isoformat()}"
            case "turned":
                level = "low" if level == "high" else "high"
                say(f"Then it is on with {VOLTS[level]}. To be sure I click it that way.")
            case "off" | "failed":
                say("Then no relay of this kind answers there: another GPIO (back), a loose wire, or no supply.")
                say_choices(BY_PAPER)
                word = heard("again", BY_PAPER)
                if word != "again":
                    return word


def find_a_relay(bench: "Workbench", free: tuple[int, ...]) -> int | None:
    """Click one free pin after the other until a person says that a relay answered; return its number.

    Raises:
        Back, Quit: that was typed.
    """
    say(f"I click GPIO {', '.join(str(pin) for pin in free)}, one after the other, and ask after each.")
    for pin in free:
        say()
        say(f"{name_pin(pin)}: I click.")
        heard("click", CLICK)
        try:
            bench.click(pin, "high")
        except HangroomError as error:
            say(str(error))
            continue
        say("Did a relay click, or a lamp change?")
        if heard("no", YES_NO, numbered=False) == "yes":
            return pin
    say("That was the last one; none answered. Are the relays supplied, and is their ground the Pi's?")
    return None


def _click(bench: "Workbench", pin: int, level: Literal["high", "low"]) -> str:
    """Click once and return what was seen: on, off or turned; failed where the pin is not to be had."""
    while True:
        try:
            bench.click(pin, level)
        except UnavailableError as error:
            say(str(error))
            return "failed"
        say("What did you see?")
        say_choices(SEEN)
        word = heard(None, SEEN)
        if word != "again":
            return word
        say("I click again.")


def heard(usual: str | None, choices: Choices, *, numbered: bool = True) -> str:
    """Hear one of these; `numbered` is whether they were listed. Raises Back, Quit."""
    read = one_of([name for name, _ in choices])
    while True:
        text = hear(usual, choices if numbered and len(choices) > 1 else ())
        try:
            return read(text)
        except HangroomError as error:
            say(str(error))
