"""Cold that does nothing: a compressor that does not start (A8), and one that runs without effect (A7).

Two cases, told apart by whether the air has fallen since the compressor was last switched on. Never at all within half
an hour: it does not start; it rests ten minutes, so that its overload switch can cool, and is tried again, three times
in two hours. At first, and then for an hour no more although it ran for two: ice on the evaporator, or a door that
leaks; it rests half an hour so that ice melts. The alarm stands until the air falls, or is no longer too warm.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.plant.lasting import spoken
from controller.core.plant.memory import ColdWatch
from controller.core.watch.seen import Seen

FULL_DUTY: Final = 0.9
NEAR_K: Final = 0.5
TOO_WARM_K: Final = 1.0
OVERCOOLED_K: Final = 2.0
CLEARED_K: Final = 0.5
TRIES: Final = 3
TRIES_IN_S: Final = 7200.0
AGAIN_WITHIN_S: Final = 43_200.0
"""A second time within half a day is no ice that melts by itself."""
START_REST_S: Final = 600.0
ICE_REST_S: Final = 1800.0
"""How long the compressor rests. Common practice, no source."""


def watch_cold(watch: ColdWatch, seen: Seen) -> tuple[ColdWatch, tuple[Condition, ...]]:
    """Look whether the cold does what it is switched on for."""
    air_c, wanted_c = seen.known.air_temp_c, seen.wanted.air_temp_c
    flows = seen.known.contacts.get("cooler_current")
    if watch.full_s is None and not watch.row and not _is_full(seen) and flows is not False:
        return watch if watch.still_s is None else replace(watch, still_s=None), ()
    if "cooler" not in seen.outputs or wanted_c is None:
        return ColdWatch(tries=watch.tries, iced=watch.iced), ()
    if air_c is None or seen.excused:
        return _pause(watch), _told(watch, seen)
    watch = _current(watch, seen)
    if watch.row and air_c <= wanted_c + NEAR_K and flows is not False:
        watch = replace(watch, row="", level=0)
    if not _is_full(seen) or not seen.is_on("cooler") or watch.rests(seen.now_s):
        return _pause(watch), _told(watch, seen)
    return _run(watch, seen, air_c)


def overcools(seen: Seen) -> bool:
    """Say whether a run of the compressor is to end now: it has had its shortest time, and the air is far too cold.

    One that dries the air by cooling it takes more than a small lamp can give back; five kelvin in ten minutes.
    """
    air_c, wanted_c, memory = seen.known.air_temp_c, seen.wanted.air_temp_c, seen.outputs.get("cooler")
    if memory is None or air_c is None or wanted_c is None or air_c >= wanted_c - OVERCOOLED_K:
        return False
    output = seen.chamber.output("cooler")
    if output is None or memory.on_until_s <= seen.now_s:
        return True
    return seen.now_s - (memory.window_ends_s - output.window_s) >= output.min_on_s


def _is_full(seen: Seen) -> bool:
    air_c, wanted_c = seen.known.air_temp_c, seen.wanted.air_temp_c
    too_warm = air_c is not None and wanted_c is not None and air_c >= wanted_c + TOO_WARM_K
    return too_warm and seen.duty.get("cooler", 0.0) >= FULL_DUTY


def _pause(watch: ColdWatch) -> ColdWatch:
    return watch if watch.full_s is None else replace(watch, full_s=None)


def _current(watch: ColdWatch, seen: Seen) -> ColdWatch:
    """Find by its current that the compressor does not run, or that it does."""
    now_s, flows = seen.now_s, seen.known.contacts.get("cooler_current")
    if not seen.is_on("cooler") or flows is None:
        return watch if watch.still_s is None else replace(watch, still_s=None)
    if flows:
        over = watch.row == "A8" and watch.by_current
        return replace(watch, still_s=None, row="", level=0, by_current=False) if over else replace(watch, still_s=None)
    if watch.still_s is None:
        return replace(watch, still_s=now_s)
    if now_s - watch.still_s < seen.chamber.thresholds.no_current_s:
        return watch
    return replace(_not_started(watch, now_s), by_current=True, still_s=None)


def _run(watch: ColdWatch, seen: Seen, air_c: float) -> tuple[ColdWatch, tuple[Condition, ...]]:
    """Follow the air while the compressor is at full power."""
    now_s, limits = seen.now_s, seen.chamber.thresholds
    if watch.full_s is None:
        watch = replace(watch, full_s=now_s, mark_s=now_s, top_c=air_c, first_c=air_c, fell=False)
        return watch, _told(watch, seen)
    if air_c > watch.top_c:
        watch = replace(watch, top_c=air_c)
    if watch.top_c - air_c >= limits.cold_gained_k:
        watch = replace(watch, mark_s=now_s, top_c=air_c, fell=True)
        if (watch.row == "A8" and not watch.by_current) or watch.first_c - air_c >= CLEARED_K:
            watch = replace(watch, row="", level=0)
    evaporator_c = seen.known.evaporator_temp_c
    iced = evaporator_c is not None and evaporator_c < limits.evaporator_c
    hour_s, long_s = now_s - watch.mark_s, now_s - (watch.full_s or now_s)
    if not watch.fell and not iced and long_s >= limits.start_watched_s:
        watch = _not_started(watch, now_s)
    elif hour_s >= limits.cold_watched_s / 2.0 and (iced or long_s >= limits.cold_watched_s):
        watch = _iced(watch, now_s)
    return watch, _told(watch, seen)


def _not_started(watch: ColdWatch, now_s: float) -> ColdWatch:
    """Let it rest and be tried again; after three tries until the first of them is two hours old."""
    tries = (*(at_s for at_s in watch.tries if now_s - at_s < TRIES_IN_S), now_s)
    rests_until_s = now_s + START_REST_S if len(tries) < TRIES else tries[-TRIES] + TRIES_IN_S
    return replace(watch, row="A8", level=0, rests_until_s=rests_until_s, tries=tries, full_s=None)


def _iced(watch: ColdWatch, now_s: float) -> ColdWatch:
    before = tuple(at_s for at_s in watch.iced if now_s - at_s < AGAIN_WITHIN_S)
    return replace(
        watch,
        row="A7",
        level=1 if before else 0,
        rests_until_s=now_s + ICE_REST_S,
        iced=(*before, now_s),
        full_s=None,
    )


def _told(watch: ColdWatch, seen: Seen) -> tuple[Condition, ...]:
    """Return what stands, in words."""
    air_c, wanted_c, now_s = seen.known.air_temp_c, seen.wanted.air_temp_c, seen.now_s
    if not watch.row or air_c is None or wanted_c is None:
        return ()
    rests = watch.rests_until_s - now_s
    did = f"The compressor rests {spoken(rests)}." if rests > 0.0 else "The compressor is tried again."
    air = f"air {air_c:.1f} °C, wanted {wanted_c:.1f} °C"
    if watch.row == "A8":
        in_vain = f"has not cooled the air in {spoken(seen.chamber.thresholds.start_watched_s)}"
        why = "draws no current" if watch.by_current else in_vain
        times = f", {len(watch.tries)} times" if len(watch.tries) > 1 else ""
        return (Condition("A8", f"The compressor is switched on and {why}{times}; {air}.", did=did),)
    evaporator_c = seen.known.evaporator_temp_c
    plate = "" if evaporator_c is None else f", evaporator {evaporator_c:.1f} °C"
    text = f"Cooling at full power does nothing: {air}{plate}."
    if not watch.level:
        return (Condition("A7", text, did=did),)
    text = f"The second time in 12 h: {text[0].lower()}{text[1:]}"
    return (Condition("A7", text, priority="1", level=1, holds=True, did=f"{did} The batch waits for you."),)
