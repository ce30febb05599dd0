"""What contacts at the lamp say: voltage where none may be (A1), none or no current where there must be (A3, A4).

A contact that is silent says nothing, so each rule rests without its own. Voltage and current are looked at behind
everything that can interrupt them: relay, master contactor and thermal cut-out.
"""

from collections.abc import Mapping
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.plant.memory import FeedbackWatch
from controller.core.values import Channel
from controller.core.watch.heat import no_heat_priority
from controller.core.watch.seen import Seen

NOTHING: Final = FeedbackWatch()
AT_LAMP: Final[frozenset[Channel]] = frozenset({"heater_live", "heater_current", "cutout"})


def watch_feedback(watch: FeedbackWatch, seen: Seen) -> tuple[FeedbackWatch, list[Condition]]:
    """Compare what the lamp was told with what its contacts say."""
    contacts = seen.known.contacts
    if not (AT_LAMP & contacts.keys()) and watch == NOTHING:
        return watch, []
    watch, stuck = _stuck(watch, seen)
    watch, opened = _opened(watch, seen)
    watch, dead = _dead(watch, seen)
    return watch, stuck + opened + dead


def _stuck(watch: FeedbackWatch, seen: Seen) -> tuple[FeedbackWatch, list[Condition]]:
    """Raise A1: voltage or current at the lamp, seen twice, some seconds after it was switched off."""
    contacts, limit_s, off_s = seen.known.contacts, seen.chamber.thresholds.feedback_s, seen.off_for_s("heater")
    live = contacts.get("heater_live") or contacts.get("heater_current")
    if not live or off_s <= 0.0:
        return (watch if watch.stuck_s is None else replace(watch, stuck_s=None)), []
    if watch.stuck_s is None:
        return replace(watch, stuck_s=seen.now_s), []
    if off_s < limit_s:
        return watch, []
    what = "Voltage" if contacts.get("heater_live") else "Current"
    text = f"{what} at the lamp, which has been switched off for {off_s:.0f} s (limit {limit_s:g} s)."
    return watch, [Condition("A1", text, level=1)]


def _opened(watch: FeedbackWatch, seen: Seen) -> tuple[FeedbackWatch, list[Condition]]:
    """Raise A4: the thermal cut-out's own contact says that it has opened."""
    if not seen.known.contacts.get("cutout"):
        return (watch if watch.opened_s is None else replace(watch, opened_s=None)), []
    if watch.opened_s is None:
        return replace(watch, opened_s=seen.now_s), []
    if seen.now_s - watch.opened_s < seen.chamber.thresholds.no_current_s:
        return watch, []
    return watch, [Condition("A4", "The contact of the thermal cut-out says that it has opened.")]


def _dead(watch: FeedbackWatch, seen: Seen) -> tuple[FeedbackWatch, list[Condition]]:
    """Raise A3 or A4: the lamp is switched on, and there is no current, or not even voltage, for some seconds.

    A3 stands until the lamp was seen to burn: while it is off its contacts prove nothing.
    """
    contacts, now_s = seen.known.contacts, seen.now_s
    live, flows, cutout = contacts.get("heater_live"), contacts.get("heater_current"), contacts.get("cutout")
    on = seen.is_on("heater") and ("master" not in seen.outputs or seen.is_on("master"))
    dark = live is False or flows is False
    if not on or not dark or cutout:
        says_nothing = live is None and flows is None
        dead_s = None if says_nothing or (on and not dark) else watch.dead_s
        if watch.dark_s is not None or dead_s != watch.dead_s:
            watch = replace(watch, dark_s=None, dead_s=dead_s)
    elif watch.dark_s is None:
        watch = replace(watch, dark_s=now_s)
    elif now_s - watch.dark_s >= seen.chamber.thresholds.no_current_s:
        if live is False and cutout is None:
            text = f"No voltage at the lamp, {now_s - watch.dark_s:.0f} s after it was switched on."
            return replace(watch, dead_s=None), [Condition("A4", f"{text} Cut-out open, relay or plug loose?")]
        if watch.dead_s is None:
            watch = replace(watch, dead_s=now_s, without=_without(contacts))
    if watch.dead_s is None:
        return watch, []
    return watch, [Condition("A3", watch.without, priority=no_heat_priority(seen))]


def _without(contacts: Mapping[Channel, bool]) -> str:
    """Return what a lamp that is switched on goes without, in a sentence."""
    live, cutout = contacts.get("heater_live"), contacts.get("cutout")
    if live:
        return "The lamp is dead: voltage, but no current."
    if live is False:
        return "No voltage at the lamp although it is switched on, and the cut-out is shut: relay, fuse or plug."
    return "No current although the lamp is switched on." + ("" if cutout is None else " The cut-out is shut.")
