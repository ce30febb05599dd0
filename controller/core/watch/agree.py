"""Thermometers that speak against each other, and one that shows the room."""

from collections.abc import Mapping
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.fault_words import bare_name
from controller.core.values import Channel, Known
from controller.core.watch.memory import AgreeWatch, OutsideWatch
from controller.core.watch.seen import Seen

SLIPPED_S: Final = 60.0
DEADBAND: Final = 0.8
"""A doubt, or a disagreement, is over when they are nearer than this share of its limit."""
WELL: Final = 0.5
"""Thermometers that have been apart or doubted agree well again when they are nearer than this share of a doubt."""
HALF_DUTY: Final = 0.5
BEHIND_S: Final = 300.0
"""A probe in a steel sleeve may be so much slower than its file says, and stays behind by that while the air climbs.
Common practice, no source."""
DOUBT_FIRST: Final = "Find out with a thermometer which one is right."
"""A mere doubt locks nothing, so there is nothing to be cleared."""


def watch_agreement(watch: AgreeWatch, seen: Seen) -> tuple[AgreeWatch, list[Condition]]:
    """Tell a probe that has slipped out of the chamber (H9) from sensors that merely disagree (S9).

    The gate has cut the heat at the first sight of it, and keeps it cut until both have been seen to agree again, and
    well so: what flutters about the limit is one disagreement. That one of them has fallen silent since proves nothing.
    Short of that they are doubted, and the heat goes by the higher.
    """
    known, limits, now_s = seen.known, seen.chamber.limits, seen.now_s
    if known.spread_k is None:
        watch = watch if watch.silent_since_s is not None else replace(watch, silent_since_s=now_s)
        return watch, _silent_since(watch, seen)
    if watch.silent_since_s is not None:
        watch = replace(watch, silent_since_s=None)
    if watch.apart_since_s is None:
        if known.spread_k <= limits.agree_k:
            return _doubt(watch, seen)
        return replace(watch, apart_since_s=now_s, beyond_since_s=now_s, wary=True), []
    if known.spread_k <= limits.agree_k * DEADBAND:
        lead_k = max(_lead_k(known), watch.lead_k)
        return _doubt(replace(watch, apart_since_s=None, beyond_since_s=None, apart_row="", lead_k=lead_k), seen)
    if known.spread_k <= limits.agree_k and not watch.apart_row:
        return (watch if watch.beyond_since_s is None else replace(watch, beyond_since_s=None)), []
    return _apart(watch if watch.beyond_since_s is not None else replace(watch, beyond_since_s=now_s), seen)


def _apart(watch: AgreeWatch, seen: Seen) -> tuple[AgreeWatch, list[Condition]]:
    """Raise H9 or S9 where they have been beyond the limit for long enough; what was raised stays until they agree."""
    known, limits = seen.known, seen.chamber.limits
    beyond_s = 0.0 if watch.beyond_since_s is None else seen.now_s - watch.beyond_since_s
    air_c = known.slowed_c.get("air_temp")
    hottest_c = max(known.slowed_c.values())
    room_c = known.ambient_temp_c if known.ambient_temp_c is not None else seen.chamber.room_c[1]
    is_cold = air_c is not None and air_c < hottest_c - limits.agree_k and hottest_c > room_c
    slipped = is_cold and not watch.doubted and beyond_s >= SLIPPED_S  # Who slips out passes the doubt in a minute.
    if watch.apart_row == "H9" or slipped:
        shown = "nothing" if air_c is None else f"{air_c:.1f} °C"
        limit = f"limit {limits.agree_k:g} K apart"
        text = f"The air probe shows {shown}, another sensor {hottest_c:.1f} °C, {limit}: is it outside?"
        return (watch if watch.apart_row == "H9" else replace(watch, apart_row="H9")), [Condition("H9", text)]
    if watch.apart_row or beyond_s >= seen.chamber.thresholds.apart_s:
        text = f"Temperatures disagree ({_listed(known.slowed_c)} °C), limit {limits.agree_k:g} K."
        return (watch if watch.apart_row else replace(watch, apart_row="S9")), [Condition("S9", text, level=1)]
    return watch, []


def _silent_since(watch: AgreeWatch, seen: Seen) -> list[Condition]:
    """Keep the alarm of a disagreement, or the warning of a doubt, while one of the two says nothing."""
    silent_s = seen.now_s - (seen.now_s if watch.silent_since_s is None else watch.silent_since_s)
    if watch.apart_row or (watch.apart_since_s is not None and silent_s >= SLIPPED_S):
        return [Condition(watch.apart_row or "S9", "Temperatures disagreed, then a sensor fell silent.", level=1)]
    if not watch.doubted:
        return []
    apart = f"up to {watch.lead_k:.1f} K apart" if watch.lead_k else "apart"
    text = f"Temperatures were {apart}, limit {seen.chamber.thresholds.doubt_k:g} K, and only one can be had now."
    did = "The heat goes by the one that is left, which showed more."
    if seen.known.air_temp_c is None:
        did = "Heat is off."
    elif watch.lead_k:
        did = f"The heat goes by {watch.lead_k:.1f} K more than the air thermometer shows."
    return [Condition("S9", text, priority="3", warns=True, did=did, first=DOUBT_FIRST)]


def _doubt(watch: AgreeWatch, seen: Seen) -> tuple[AgreeWatch, list[Condition]]:
    """Warn where they have been a little apart for long: one of them may be wrong, and nobody knows which."""
    spread_k, thresholds, now_s = seen.known.spread_k or 0.0, seen.chamber.thresholds, seen.now_s
    limit_k = thresholds.doubt_k
    if watch.wary and spread_k <= limit_k * WELL:
        watch = replace(watch, wary=False, lead_k=0.0)
    if spread_k <= limit_k and watch.doubt_since_s is None:
        return watch, []
    if spread_k <= limit_k * (DEADBAND if watch.doubted else 1.0):
        return replace(watch, doubt_since_s=None, doubted=False), []
    coldest_c, lasted_s = min(seen.known.slowed_c.values()), now_s - (watch.doubt_since_s or now_s)
    if watch.doubt_since_s is None:
        return replace(watch, doubt_since_s=now_s, doubt_at_c=coldest_c), []
    if lasted_s < thresholds.doubt_s:
        return watch, []
    if not watch.doubted and (coldest_c - watch.doubt_at_c) * BEHIND_S / lasted_s >= spread_k - limit_k:
        return replace(watch, doubt_since_s=now_s, doubt_at_c=coldest_c), []
    text = f"Temperatures are {spread_k:.1f} K apart ({_listed(seen.known.slowed_c)} °C), limit {limit_k:g} K."
    did = "The heat goes by the higher one." if seen.heats else "Heat is off."
    warning = Condition("S9", text, priority="3", warns=True, did=did, first=DOUBT_FIRST)
    lead_k = _lead_k(seen.known)
    if not watch.doubted or lead_k > watch.lead_k:
        watch = replace(watch, doubted=True, lead_k=max(lead_k, watch.lead_k), wary=True)
    return watch, [warning]


def _lead_k(known: Known) -> float:
    """Return by how much another thermometer is warmer than the leading one, in K, at least 0."""
    air_c = known.slowed_c.get("air_temp")
    return 0.0 if air_c is None else max(known.slowed_c.values()) - air_c


def _listed(slowed_c: Mapping[Channel, float]) -> str:
    return ", ".join(f"{bare_name(channel)} {value:.1f}" for channel, value in slowed_c.items())


def heat_goes_by_c(watch: AgreeWatch, known: Known) -> float | None:
    """Return the temperature by which the heat goes: the higher one while thermometers are doubted.

    Where the warmer one is silent it is as much warmer still as it was at most.
    """
    if not watch.doubted or known.air_temp_c is None:
        return known.air_temp_c
    if known.spread_k is None:
        return known.air_temp_c + watch.lead_k
    return max(known.air_temp_c, *known.slowed_c.values())


def hours_go_by_c(watch: AgreeWatch, known: Known) -> float | None:
    """Return the temperature by which degree-hours count: the higher one while thermometers are apart or doubted.

    So too until they agree well again: a probe that hung outside takes minutes to be as warm again, and one that still
    does is as good as right while the chamber has cooled towards its room.
    None where they were apart and only one speaks now: nobody knows then whether it is the right one. Else, where only
    one speaks, the lead of the warmer one is added to what the leading one shows.
    """
    if watch.apart_since_s is None and not watch.doubted and not watch.wary:
        return known.air_temp_c
    if known.spread_k is None:
        return None if watch.apart_since_s is not None or known.air_temp_c is None else known.air_temp_c + watch.lead_k
    temps: list[float] = [*known.slowed_c.values(), *(() if known.air_temp_c is None else (known.air_temp_c,))]
    return max(temps)


def watch_outside(watch: OutsideWatch, seen: Seen) -> tuple[OutsideWatch, list[Condition]]:
    """Raise H9 where a lonely air probe has shown the room's temperature through half an hour of heat.

    It is asked only where the heat that was really given should have lifted the air by what A3 expects too: a heavy
    load of cold meat passes the room's temperature slowly.
    """
    known = seen.known
    room_c, air_c, heater = known.ambient_temp_c, known.air_temp_c, seen.outputs.get("heater")
    if seen.air_blinks:
        return watch, []
    if room_c is None or known.spread_k is not None or air_c is None or heater is None:
        return (watch if watch.since_s is None else OutsideWatch()), []
    thresholds, figures, now_s = seen.chamber.thresholds, seen.chamber.figures, seen.now_s
    if abs(air_c - room_c) > thresholds.outside_k or seen.excused:
        return (watch if watch.since_s is None else OutsideWatch()), []
    lasted_s = 0.0 if watch.since_s is None else now_s - watch.since_s
    on_s = heater.on_total_s - watch.on_total_s
    if watch.since_s is None or (lasted_s >= thresholds.outside_s and on_s < HALF_DUTY * lasted_s):
        return OutsideWatch(now_s, heater.on_total_s), []
    capacity = figures.air_j_per_k + figures.wall_j_per_k + seen.hung_kg * figures.meat_j_per_kg_k
    expected_k = figures.heater_w * on_s / capacity
    if lasted_s < thresholds.outside_s or expected_k < thresholds.heat_expected_k:
        return watch, []
    text = (
        f"The air probe shows {air_c:.1f} °C like the room ({room_c:.1f} °C) after {lasted_s / 60.0:.0f} min with the "
        f"lamp on {100.0 * on_s / lasted_s:.0f} % of the time: it hangs outside, or the lamp gives nothing."
    )
    return watch, [Condition("H9", text)]
