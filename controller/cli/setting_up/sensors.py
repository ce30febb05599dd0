"""What the sensors show, and which of them a person holds in the hand or breathes on."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final, Literal

from controller.cli.setting_up.talk import say
from controller.core.fault_words import FAULT_WORDS
from controller.core.values import Fault
from controller.planning.setting_up.rising import TIMES, risen
from controller.settings.found import Found
from controller.settings.units import Units, show_temp

if TYPE_CHECKING:
    from controller.app import Workbench

Pause = Callable[[float], None]
FIRST_WITHIN_S: Final = 6.0
"""So long a first value is waited for; a sensor that hangs has none."""
LOOK_S = 0.5
PATIENCE_S: Final = 90.0
SHOW_EVERY_S: Final = 5.0


class Watch:
    """Watch some sensors until one of them rises clearly more than the others."""

    def __init__(self, bench: "Workbench", found: tuple[Found, ...], units: Units, pause: Pause) -> None:
        """Take the sensors that there are."""
        self._bench, self._found, self._units, self._pause = bench, found, units, pause

    def for_one(self, names: tuple[str, ...], what: Literal["temp", "rh"]) -> str:
        """Return the name of the one that rises; empty where none does for a minute and a half, and say what to do.

        Args:
            names: who may be meant; all of one kind.
            what: the temperature or the humidity.
        """
        live = self._bench.live(tuple(one for one in self._found if one.name in names))
        try:
            before = first_values(live, names, what, self._pause)
            if not before:
                say("None of them gives a value; look at their wires. A number takes one all the same.")
                return ""
            say("Now. (Ctrl-C ends it)")
            return self._wait(live, before, what)
        finally:
            live.close()

    def _wait(self, live: Any, before: dict[str, float], what: Literal["temp", "rh"]) -> str:  # noqa: ANN401 - made by app
        last, times, shown_s, waited_s = "", 0, 0.0, 0.0
        while waited_s < PATIENCE_S:
            self._pause(LOOK_S)
            waited_s += LOOK_S
            now = values(live.newest(), tuple(before), what)
            name = risen(before, now, what)
            times = times + 1 if name and name == last else int(bool(name))
            last = name
            if times >= TIMES:
                self._show(now, what)
                return name
            if waited_s - shown_s >= SHOW_EVERY_S:
                shown_s = waited_s
                self._show(now, what)
        say("None rises clearly more than the others.")
        say("Hold it tighter, or in warm water that stays out of its cable's end; in a very warm room cool it instead?")
        say("That I cannot see: then type its number.")
        return ""

    def _show(self, now: Mapping[str, float], what: Literal["temp", "rh"]) -> None:
        for name, value in now.items():
            say(f"   {name}  {show_temp(value, self._units) if what == 'temp' else f'{value:.0f} %'}")


def first_values(live: Any, names: tuple[str, ...], what: Literal["temp", "rh"], pause: Pause) -> dict[str, float]:  # noqa: ANN401 - as above
    """Wait until every sensor has given its first value, or has had its time for it; return them."""
    waited_s = 0.0
    while True:
        shown = live.newest()
        unread = [one for one in shown.values() if isinstance(one.temp_c, Fault) and one.temp_c.kind == "unread"]
        if not unread or waited_s >= FIRST_WITHIN_S:
            return values(shown, names, what)
        pause(LOOK_S)
        waited_s += LOOK_S


def values(shown: Mapping[str, Any], names: tuple[str, ...], what: Literal["temp", "rh"]) -> dict[str, float]:
    """Return what can be measured now, by name; who gives no value is left out."""
    found = {name: shown[name].temp_c if what == "temp" else shown[name].rh_pct for name in names if name in shown}
    return {name: float(value) for name, value in found.items() if isinstance(value, (int, float))}


def show_sensors(bench: "Workbench", found: tuple[Found, ...], units: Units, pause: Pause) -> None:
    """List all sensors with what each shows now."""
    say("I find these sensors. They show now:")
    live = bench.live(found)
    try:
        first_values(live, (), "temp", pause)
        for one, shown in ((one, live.newest()[one.name]) for one in found):
            rh = shown.rh_pct
            humidity = f", {rh:.0f} %" if isinstance(rh, float) else ""
            if isinstance(shown.temp_c, Fault):
                say(f"{one.name}: {FAULT_WORDS[shown.temp_c.kind]}", "      ", "   ")
            else:
                say(f"{one.name}  {show_temp(shown.temp_c, units)}{humidity}", "      ", "   ")
    finally:
        live.close()
