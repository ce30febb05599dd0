"""The sounder is tried by the maker: only he can say whether he hears it from where he sleeps."""

from typing import Final

from controller.core.alarms.memory import Heard
from controller.core.plan import Chamber

DAY_S: Final = 86_400.0
HOLDS_DAYS: Final = 90.0
"""So long a test of the sounder holds; common practice, no source."""


def tell_due(heard: Heard | None, wall_s: float) -> str:
    """Return the sentence that asks for a test of the sounder; empty while the last one holds."""
    if heard is None:
        return "The sounder has never been heard in a test: hangroom alarms --test."
    if not heard.heard:
        return "The sounder was NOT heard when it was last tried: look at its wires, then: hangroom alarms --test."
    days = (wall_s - heard.at_wall_s) / DAY_S
    if days <= HOLDS_DAYS:
        return ""
    return f"The sounder was last heard in a test {days:.0f} days ago: hangroom alarms --test."


def tell_due_of(chamber: Chamber, heard: Heard | None, wall_s: float) -> str:
    """Return the same for a chamber; empty where it has no sounder."""
    return "" if chamber.output("sounder") is None else tell_due(heard, wall_s)


def tell_earshot(chamber: Chamber, heard: Heard | None, wall_s: float) -> str:
    """Return the caution of a start; empty where an alarm has been heard in a test in the last 24 hours."""
    if heard is not None and heard.heard and wall_s - heard.at_wall_s <= DAY_S:
        return ""
    caution = "No alarm has been heard in a test in the last 24 h: stay within earshot until one has."
    if chamber.output("sounder") is None:
        return f"{caution} This chamber has no sounder: it calls nobody; look at hangroom status."
    return f"{caution} Try it: hangroom alarms --test."
