"""Heat: the trip, heat that does not warm, and warming without heat.

How much a healthy chamber warms is not a fixed figure: five kilograms of cold meat swallow for an hour what lifts an
empty box by a kelvin a minute. So the rise is judged against what the chamber's own figures and its load lead one to
expect from the heat that was given, and not against a number of minutes. What the contacts at the lamp say is looked at
in `feedback`.
"""

from math import exp
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.plant.cold import is_undecided as compressor_is_undecided
from controller.core.watch.hidden import hidden_by_cold
from controller.core.watch.memory import HeatWatch, IdleWatch, TripWatch, Watch
from controller.core.watch.seen import Seen

FULL_DUTY: Final = 0.9
FAR_K: Final = 2.0
NEW_WISH_K: Final = 0.5
COOLED_K: Final = 1.0
HELD_K: Final = 3.0
NOT_IDLE: Final = IdleWatch()
COLD_LINGERS_S: Final = 1200.0
"""So long after a run of the compressor its cold still works against the lamp."""
CLEAR_SHARE: Final = 4.0
"""Of the rise that is expected before a missing one says anything. Common practice, no source."""
TRIAL_S: Final = 300.0
TRIAL_LEAST_S: Final = 60.0
TRIAL_SHARE: Final = 2.0
TRIAL_EVERY_S: Final = 1800.0
MARK_S: Final = 120.0
COLD_MEAT_C: Final = 4.0
MEAT_M2_PER_KG: Final = 0.07
"""Meat from the refrigerator, in casings of 55 mm: 4 m²/m³ over 0.055 m and 1,060 kg/m³. Common practice, no source."""


def watch_trip(watch: TripWatch, seen: Seen) -> tuple[TripWatch, list[Condition]]:
    """Raise A2 when a witness has been at the trip or above in two readings in a row."""
    known, limits = seen.known, seen.chamber.limits
    if known.highest_firm_c is None or known.highest_firm_c < limits.trip_c:
        return (watch if watch.readings == 0 else replace(watch, readings=0)), []
    if known.highest_firm_s > watch.newest_s:
        watch = TripWatch(watch.readings + 1, known.highest_firm_s)
    if watch.readings < 2:  # noqa: PLR2004 - two readings in a row
        return watch, []
    text = f"Too hot: {known.highest_firm_c:.1f} °C, limit {limits.trip_c:g} °C."
    return watch, [Condition("A2", text, level=1)]


def watch_heating(watch: HeatWatch, seen: Seen) -> tuple[HeatWatch, list[Condition]]:
    """Raise A3 when full power has not brought the rise that figures and load lead one to expect."""
    air_c, thresholds, now_s = seen.known.air_temp_c, seen.chamber.thresholds, seen.now_s
    wanted_c = seen.wanted.air_temp_c
    full = seen.duty.get("heater", 0.0) >= FULL_DUTY and "heater" in seen.outputs
    stays = watch.found and wanted_c is not None and not seen.excused
    if seen.air_blinks or (stays and not _shows(seen, air_c, wanted_c, full=full)):
        return watch, []
    if air_c is None or wanted_c is None or not full or air_c > wanted_c - FAR_K or _is_excused(seen, air_c):
        return (watch if watch.full_since_s is None else HeatWatch()), []
    if watch.full_since_s is None or abs(wanted_c - watch.wanted_c) > NEW_WISH_K:
        return _begun(now_s, air_c, wanted_c), []
    expected_k = watch.expected_k + expected_k_per_s(seen, air_c) * seen.dt_s
    lowest_c = min(watch.lowest_c, air_c)
    rise_k = air_c - lowest_c
    if rise_k >= thresholds.heat_gained_k:
        return _begun(now_s, air_c, wanted_c), []
    watch = replace(watch, lowest_c=lowest_c, expected_k=expected_k)
    lasted_s = now_s - (watch.full_since_s or now_s)
    # A strong lamp has an empty box at 90 °C in twenty minutes: where so much should have come, nobody waits so long.
    is_long = lasted_s >= thresholds.heat_watched_s or expected_k >= CLEAR_SHARE * thresholds.heat_expected_k
    if not is_long or expected_k < thresholds.heat_expected_k or _holds(watch, seen, air_c):
        return watch, []
    text = (
        f"Lamp gives no heat: {rise_k:.1f} K in {lasted_s / 60:.0f} min at full power, {expected_k:.1f} K expected; "
        f"air {air_c:.1f} °C, wanted {wanted_c:.1f} °C. Is the probe inside?"
    )
    return replace(watch, found=True), [Condition("A3", text, priority=no_heat_priority(seen))]


def _shows(seen: Seen, air_c: float | None, wanted_c: float | None, *, full: bool) -> bool:
    """Say whether this tick can show that a lamp that was found to give nothing gives heat after all.

    Neither a reading that is missing nor a lamp that may not burn, as right after a start, shows anything.
    """
    if air_c is None or wanted_c is None:
        return False
    return air_c > wanted_c - FAR_K or (full and not _is_blocked(seen))


def _is_blocked(seen: Seen) -> bool:
    """Say whether the lamp may not burn, for another reason than that it gives nothing."""
    return any(block != "A3" for block in seen.blocks)


def _begun(now_s: float, air_c: float, wanted_c: float) -> HeatWatch:
    return HeatWatch(now_s, air_c, wanted_c=wanted_c, first_c=air_c)


def expected_k_per_s(seen: Seen, air_c: float) -> float:
    """Return how fast figures and load lead one to expect the full lamp to warm the air, in K/s, at least 0.

    Meat that may still be cold, and takes more than the lamp has left, lets nothing be expected, nor the air get hot.
    """
    left_w = lamp_left_w(seen, air_c)
    return left_w / capacity_j_per_k(seen) if left_w > meat_takes_w(seen, air_c) else 0.0


def lamp_left_w(seen: Seen, air_c: float) -> float:
    """Return how much of the full lamp does not go out through the walls, in W, at least 0."""
    figures, known_c = seen.chamber.figures, seen.known.ambient_temp_c
    room_c = known_c if known_c is not None else min(seen.chamber.room_c)
    return max(figures.heater_w - figures.ua_w_per_k * (air_c - room_c), 0.0)


def meat_takes_w(seen: Seen, air_c: float) -> float:
    """Return how much heat the meat takes from the air, in W, if it came from the cold when it was hung."""
    if seen.hung_for_s is None:
        return 0.0
    figures = seen.chamber.figures
    takes_w_per_kg_k = figures.meat_w_per_m2_k * MEAT_M2_PER_KG
    warmed = exp(-seen.hung_for_s * takes_w_per_kg_k / figures.meat_j_per_kg_k)
    return seen.hung_kg * takes_w_per_kg_k * max(air_c - COLD_MEAT_C, 0.0) * warmed


def _holds(watch: HeatWatch, seen: Seen, air_c: float) -> bool:
    """Say whether the air stays warmer than any room: then the lamp does burn, and more is not to be had (P2)."""
    known_c = seen.known.ambient_temp_c
    room_c = known_c if known_c is not None else max(seen.chamber.room_c)
    return air_c > room_c + HELD_K and air_c > watch.first_c - seen.chamber.thresholds.heat_gained_k


def _is_excused(seen: Seen, air_c: float) -> bool:
    """Say whether a missing rise says nothing of the lamp: it is not allowed to burn, or something cools the air.

    Air that is colder than its room has been cooled by something; the lamp's absence alone would let it warm.
    """
    if seen.excused or _is_blocked(seen):
        return True
    if "cooler" not in seen.outputs:
        return False
    room_c = seen.known.ambient_temp_c if seen.known.ambient_temp_c is not None else min(seen.chamber.room_c)
    return air_c < room_c - COOLED_K or (not seen.in_ferment and seen.off_for_s("cooler") < COLD_LINGERS_S)


def is_undecided(watch: Watch, seen: Seen) -> tuple[bool, bool]:
    """Say whether a rule still looks into why the air is too cold, and why it is too warm: then nobody else calls.

    Too cold: A3 looks at the lamp at full power. Too warm: A1 at the lamp that is off, A8 at the compressor. Each has
    its time and a little more; after that what is seen is said.
    """
    now_s, limits = seen.now_s, seen.chamber.thresholds
    full_s, off_s = watch.heat.full_since_s, seen.off_for_s("heater")
    at_lamp = full_s is not None and now_s - full_s < 2.0 * limits.heat_watched_s
    at_relay = 0.0 < off_s < limits.idle_s + 2.0 * MARK_S
    return at_lamp, at_relay or compressor_is_undecided(watch.plant.cold, now_s)


def no_heat_priority(seen: Seen) -> str:
    """Return the priority of a lamp that gives nothing: the table's in a ferment, where the cold costs the batch."""
    return "" if seen.in_ferment else "2"


def capacity_j_per_k(seen: Seen) -> float:
    """Return how much heat lifts air, walls and meat by one kelvin, in J/K."""
    figures = seen.chamber.figures
    return figures.air_j_per_k + figures.wall_j_per_k + seen.hung_kg * figures.meat_j_per_kg_k


def is_trial(watch: Watch, seen: Seen) -> bool:
    """Say whether the lamp may be tried now although it gave no heat: five minutes in each half hour.

    A strong lamp needs less to show that it burns: twice the rise that A3 asks of the figures is enough.
    """
    since_s = watch.plant.feedback.dead_s if watch.plant.feedback.dead_s is not None else watch.heat.full_since_s
    if since_s is None:
        return False
    enough_j = TRIAL_SHARE * seen.chamber.thresholds.heat_expected_k * capacity_j_per_k(seen)
    lasts_s = min(TRIAL_S, max(enough_j / max(seen.chamber.figures.heater_w, 1.0), TRIAL_LEAST_S))
    return (seen.now_s - since_s) % TRIAL_EVERY_S < lasts_s


def watch_idle(watch: IdleWatch, seen: Seen) -> tuple[IdleWatch, list[Condition]]:
    """Raise A1 when the chamber warms far above what is wanted although the lamp has been off for ten minutes.

    That it warms is not enough: a room that got warmer does that too. The heat that must be flowing in, to lift air,
    walls and meat so fast and to make good what goes out through the walls, has to be a good part of the lamp's: a
    quarter where the room is measured; a half where it is only known from the chamber file, and taken to be as warm as
    that says. On a day ten kelvin hotter than the file knows this is still no case for "unplug the lamp".

    What was found is over only when the same balance shows that so much heat flows in no more. That the air has come
    down shows nothing: a compressor can do that against a lamp that burns on.
    """
    air_c, heater, now_s, thresholds = (
        seen.known.air_temp_c, seen.outputs.get("heater"), seen.now_s, seen.chamber.thresholds
    )  # fmt: skip
    if heater is None or heater.on_until_s > now_s:
        return (watch if watch == NOT_IDLE else NOT_IDLE), []
    if air_c is None:
        watch = watch if watch.since_s is None or seen.air_is_away else IdleWatch(found=watch.found)
        return watch, _still_found(watch, "no thermometer of the air can be believed")
    if watch.since_s is None:
        watch = IdleWatch(now_s, ((now_s, air_c),), watch.found, air_c)
        return watch, _still_found(watch, "the air has not been looked at for long enough")
    off_s, marks = thresholds.idle_s, watch.marks
    if now_s - marks[-1][0] >= MARK_S:
        marks = (*(mark for mark in marks if now_s - mark[0] <= off_s + MARK_S), (now_s, air_c))
        watch = replace(watch, marks=marks)
    if watch.since_s is None or now_s - watch.since_s < off_s:
        return watch, _still_found(watch, "the air has not been looked at for long enough")
    old_s, old_c = next(((at_s, value) for at_s, value in marks if now_s - at_s >= off_s), (now_s, air_c))
    pace = (air_c - old_c) / max(now_s - old_s, 1.0)
    if air_c - old_c >= thresholds.idle_rise_k and _lamp_must_burn(seen, air_c, pace):
        rise = f"{air_c - old_c:+.1f} K in {(now_s - old_s) / 60:.0f} min"
        text = (
            f"Warming although the lamp has been off for {(now_s - watch.since_s) / 60:.0f} min: {air_c:.1f} °C, {rise}"
        )
        text = f"{text}; {_room_words(seen)}."
        return replace(watch, found=text), [Condition("A1", text, level=1)]
    return _may_be_over(watch, seen, air_c, pace) if watch.found else _hidden(watch, seen)


def _hidden(watch: IdleWatch, seen: Seen) -> tuple[IdleWatch, list[Condition]]:
    watch, text = hidden_by_cold(watch, seen)
    return watch, [Condition("A1", text, level=1)] if text else []


def _room_words(seen: Seen) -> str:
    low_c, high_c = seen.chamber.room_c
    if seen.known.ambient_temp_c is not None:
        return f"room {seen.known.ambient_temp_c:.1f} °C"
    return f"or the room is far warmer than {low_c:g} to {high_c:g} °C (room_temp_c)"


def _still_found(watch: IdleWatch, why: str) -> list[Condition]:
    """Return what was found, where nothing can tell whether it is over, and why."""
    if not watch.found:
        return []
    text = f"{watch.found} Whether that heat has stopped cannot be told: {why}."
    return [Condition("A1", text, level=1, unsure=True)]


def _may_be_over(watch: IdleWatch, seen: Seen, air_c: float, rise_k_per_s: float) -> tuple[IdleWatch, list[Condition]]:
    """Let go what was found where less heat flows in than a lamp gives, though the room be as cold as it can be."""
    if "cooler" in seen.outputs and seen.off_for_s("cooler") < seen.chamber.thresholds.idle_s + COLD_LINGERS_S:
        return watch, _still_found(watch, "the compressor works against it, or did a moment ago")
    if seen.excused:
        return watch, _still_found(watch, "the door is or was open")
    figures, thresholds, known_c = seen.chamber.figures, seen.chamber.thresholds, seen.known.ambient_temp_c
    room_c = known_c if known_c is not None else min(seen.chamber.room_c)
    flows_w = capacity_j_per_k(seen) * rise_k_per_s + figures.ua_w_per_k * (air_c - room_c)
    share = thresholds.idle_share if known_c is not None else thresholds.idle_share_room
    if flows_w < share * figures.heater_w:
        return replace(watch, found=""), []
    text = f"{watch.found} It still gets {flows_w:.0f} W of heat by the chamber's figures, and the lamp is off."
    return watch, [Condition("A1", text, level=1)]


def _lamp_must_burn(seen: Seen, air_c: float, rise_k_per_s: float) -> bool:
    """Say whether a chamber that is far too warm, and gets warmer, must get its heat from the lamp."""
    figures, thresholds, known_c = seen.chamber.figures, seen.chamber.thresholds, seen.known.ambient_temp_c
    room_c = known_c if known_c is not None else seen.chamber.room_c[1]
    limit_c = (seen.wanted.air_temp_c if seen.wanted.air_temp_c is not None else room_c) + FAR_K
    if air_c < limit_c or air_c <= room_c:
        return False
    flows_w = capacity_j_per_k(seen) * rise_k_per_s + figures.ua_w_per_k * (air_c - room_c)
    share = thresholds.idle_share if known_c is not None else thresholds.idle_share_room
    return flows_w >= share * figures.heater_w
