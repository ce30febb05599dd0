"""Cold that does nothing: a compressor that does not start (A8), and one that runs without effect (A7).

A compressor that runs cools the air of such a box by kelvins in minutes. Twenty minutes of running that bring no fall
are one that does not start: it rests ten minutes, so that its overload switch can cool, and is tried again, three times
in two hours. One that has cooled, runs on for two hours, and cools no more in the last of them has ice on its
evaporator, or a door that leaks: it rests half an hour so that ice melts. A thermometer at the evaporator, or a contact
for its current, tells at once that it does run. The alarm stands until the air falls, or is no longer too warm.
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
LOOKS_S: Final = 4500.0
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
    on = seen.is_on("cooler")
    if not (on or watch.row or watch.on_s):
        return (watch if watch.full_s is None and watch.still_s is None else _off(watch)), ()
    if wanted_c is None or "cooler" not in seen.outputs:
        return ColdWatch(tries=watch.tries, iced=watch.iced), ()
    if seen.air_is_away and not seen.excused:
        return watch, _told(watch, seen)
    if air_c is None or seen.excused:
        return _off(watch), _told(watch, seen)
    watch = _current(watch, seen) if on else _off(watch)
    if air_c < wanted_c + TOO_WARM_K:
        watch = replace(watch, on_s=0.0, full_s=None, mark_s=None)
        if watch.row and not watch.by_current and air_c <= wanted_c + NEAR_K:
            watch = replace(watch, row="", level=0)
        return watch, _told(watch, seen)
    if on and not watch.rests(seen.now_s):
        watch = _run(watch, seen, air_c)
    return watch, _told(watch, seen)


def is_undecided(watch: ColdWatch, now_s: float) -> bool:
    """Say whether the compressor is still at it: it cools, or it is looked into whether it does anything."""
    cools = now_s - watch.fell_s < LOOKS_S / 2.0
    return bool(watch.row) or cools or (watch.on_s > 0.0 and now_s - watch.began_s < LOOKS_S)


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


def _off(watch: ColdWatch) -> ColdWatch:
    still = watch.full_s is None and watch.still_s is None
    return watch if still else replace(watch, full_s=None, still_s=None)


def _current(watch: ColdWatch, seen: Seen) -> ColdWatch:
    """Find by its current that a compressor that is switched on does not run, or that it does."""
    now_s, flows = seen.now_s, seen.known.contacts.get("cooler_current")
    if flows is None or flows:
        if watch.by_current:  # It runs; or nobody can tell any more, and the air decides.
            return replace(watch, still_s=None, row="", by_current=False)
        return watch if watch.still_s is None else replace(watch, still_s=None)
    if watch.still_s is None:
        return replace(watch, still_s=now_s)
    if now_s - watch.still_s < seen.chamber.thresholds.no_current_s:
        return watch
    return replace(_not_started(watch, now_s), by_current=True, still_s=None)


def _run(watch: ColdWatch, seen: Seen, air_c: float) -> ColdWatch:
    """Follow the air while the compressor is on and the air too warm.

    That it runs is seen by any fall since the warmest, that it helps only by air that gets colder on the whole. A run
    of two minutes is over before a slow thermometer shows it: the quicker one counts.
    """
    air_c += seen.known.swift_k or 0.0
    now_s, limits = seen.now_s, seen.chamber.thresholds
    if watch.on_s <= 0.0:
        watch = replace(watch, began_s=now_s, top_c=air_c)
    if watch.mark_s is None or air_c <= watch.mark_c - limits.cold_gained_k:
        watch = replace(watch, mark_s=now_s, mark_c=air_c)
    if watch.full_s is None and seen.duty.get("cooler", 0.0) >= FULL_DUTY:
        watch = replace(watch, full_s=now_s, first_c=air_c)
    watch = replace(watch, on_s=watch.on_s + seen.dt_s, top_c=max(watch.top_c, air_c))
    if watch.top_c - air_c >= limits.cold_gained_k:
        watch = replace(watch, fell_s=now_s, top_c=air_c, on_s=0.0)
        if watch.row == "A8" and not watch.by_current:
            watch = replace(watch, row="")
    if watch.row == "A7" and watch.full_s is not None and watch.first_c - air_c >= CLEARED_K:
        watch = replace(watch, row="", level=0)
    return _found(watch, seen)


def _found(watch: ColdWatch, seen: Seen) -> ColdWatch:
    """Decide whether it does not start, or runs in vain."""
    now_s, limits, evaporator_c = seen.now_s, seen.chamber.thresholds, seen.known.evaporator_temp_c
    cold_plate = evaporator_c is not None and evaporator_c < limits.evaporator_c
    fell = watch.full_s is not None and watch.fell_s > watch.full_s
    runs = cold_plate or fell or bool(seen.known.contacts.get("cooler_current"))
    if not runs and watch.on_s >= limits.start_watched_s:
        return _not_started(watch, now_s)
    long = watch.full_s is not None and now_s - watch.full_s >= limits.cold_watched_s
    since_s = now_s - (now_s if watch.mark_s is None else watch.mark_s)
    if runs and (long or cold_plate) and since_s >= limits.cold_watched_s / 2.0:
        return _iced(watch, now_s)
    return watch


def _not_started(watch: ColdWatch, now_s: float) -> ColdWatch:
    """Let it rest and be tried again; after three tries until the first of them is two hours old."""
    tries = (*(at_s for at_s in watch.tries if now_s - at_s < TRIES_IN_S), now_s)
    rests_until_s = now_s + START_REST_S if len(tries) < TRIES else tries[-TRIES] + TRIES_IN_S
    return replace(
        watch, row="A8", level=0, rests_until_s=rests_until_s, tries=tries, full_s=None, on_s=0.0, mark_s=None
    )


def _iced(watch: ColdWatch, now_s: float) -> ColdWatch:
    before = tuple(at_s for at_s in watch.iced if now_s - at_s < AGAIN_WITHIN_S)
    return replace(
        watch,
        row="A7",
        level=1 if before else 0,
        rests_until_s=now_s + ICE_REST_S,
        iced=(*before, now_s),
        full_s=None,
        on_s=0.0,
        mark_s=None,
    )


def _told(watch: ColdWatch, seen: Seen) -> tuple[Condition, ...]:
    """Return what stands, in words."""
    air_c, wanted_c, now_s = seen.known.air_temp_c, seen.wanted.air_temp_c, seen.now_s
    if not watch.row or air_c is None or wanted_c is None:
        return ()
    rests = watch.rests_until_s - now_s
    did = f"The compressor rests {spoken(max(rests, 60.0))}." if rests > 0.0 else "The compressor is tried again."
    air = f"air {air_c:.1f} °C, wanted {wanted_c:.1f} °C"
    if watch.row == "A8":
        in_vain = f"has not cooled the air in {spoken(seen.chamber.thresholds.start_watched_s)} of running"
        why = "draws no current" if watch.by_current else in_vain
        times = f", {len(watch.tries)} times" if len(watch.tries) > 1 else ""
        return (Condition("A8", f"The compressor is switched on and {why}{times}; {air}.", did=did),)
    evaporator_c = seen.known.evaporator_temp_c
    limits = seen.chamber.thresholds
    plate = "" if evaporator_c is None else f", evaporator {evaporator_c:.1f} °C (limit {limits.evaporator_c:g} °C)"
    in_vain = f"less than {limits.cold_gained_k:g} K in {spoken(limits.cold_watched_s / 2.0)}"
    text = f"Cooling at full power does nothing: {in_vain}; {air}{plate}."
    if not watch.level:
        return (Condition("A7", text, did=did),)
    text = f"The second time in 12 h: {text[0].lower()}{text[1:]}"
    return (Condition("A7", text, priority="1", level=1, holds=True, did=f"{did} The batch waits for you."),)
