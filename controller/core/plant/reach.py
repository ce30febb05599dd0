"""Full power that does not get there (P2): the room is too cold or too warm for this chamber, or the air too dry.

A fixed hour at full power would call on every load of cold meat: twelve kilograms and a lamp of 60 W take eight. So
nothing is asked while the meat, if it was cold, takes all that the lamp has left; and then the pace decides: what is
still missing against what the last hour brought; and, where the room is measured, whether the chamber's own figures can
ever get there. What does not move at all is A3, A5, A7 or A8.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.chamber.climate import mist_top
from controller.core.plant.lasting import spoken
from controller.core.plant.memory import Pull, ReachWatch
from controller.core.values import Role
from controller.core.watch.heat import lamp_left_w, meat_takes_w
from controller.core.watch.seen import Seen

FULL: Final = 0.9
LOOK_S: Final = 60.0
TOO_DRY_FIRST: Final = "Look at the humidifier and for leaks; a very dry room asks for more mist than it gives."
"""What the table says first helps the temperature only."""
COLD_LINGERS_S: Final = 1200.0
"""So long after a run of the compressor its cold still works against the lamp."""


def watch_reach(
    watch: ReachWatch, seen: Seen, *, lamp_tried: bool, cold_tried: bool
) -> tuple[ReachWatch, tuple[Condition, ...]]:
    """Look once a minute whether what is given at full power will get there.

    Args:
        watch: what was seen of it.
        seen: this tick.
        lamp_tried: the lamp was found dead, and is only tried.
        cold_tried: it is still looked into whether the compressor does anything.
    """
    now_s, known, wanted = seen.now_s, seen.known, seen.wanted
    if 0.0 <= now_s - watch.looked_s < LOOK_S:
        return watch, watch.found
    if seen.air_is_away:
        return watch, watch.found
    if seen.excused or known.air_temp_c is None or wanted.air_temp_c is None:
        return ReachWatch(now_s), ()
    limits, found = seen.chamber.thresholds, list[Condition]()
    missing_k = wanted.air_temp_c - known.air_temp_c
    swallowed = lamp_left_w(seen, known.air_temp_c) < meat_takes_w(seen, known.air_temp_c)
    full = _is_full(seen, "heater", FULL) and not (seen.blocks or lamp_tried or swallowed or _cools(seen))
    never = full and _is_beyond_figures(seen, wanted.air_temp_c)
    heat, hopeless = _pull(watch.heat, seen, missing_k, limits.reach_k, full=full, never=never)
    if hopeless:
        room_c = known.ambient_temp_c
        room = "" if room_c is None else f" The room is at {room_c:.1f} °C."
        text = f"Heating at full power for {spoken(now_s - heat.began_s)}: {_way(heat, missing_k, 'K')}"
        air = f"air {known.air_temp_c:.1f} °C, wanted {wanted.air_temp_c:.1f} °C.{room}"
        found.append(Condition("P2", f"{text}; {air}"))
    full = _is_full(seen, "cooler", FULL) and missing_k < 0.0 and not cold_tried
    cold, hopeless = _pull(watch.cold, seen, -missing_k, limits.reach_k, full=full)
    if hopeless:
        text = f"Cooling at full power for {spoken(now_s - cold.began_s)}: {_way(cold, -missing_k, 'K')}"
        found.append(Condition("P2", f"{text}; air {known.air_temp_c:.1f} °C, wanted {wanted.air_temp_c:.1f} °C."))
    mist = Pull()
    if known.rh_pct is not None and wanted.rh_pct is not None and not seen.complete:
        full = _is_full(seen, "humidifier", FULL * mist_top(seen.chamber, wanted.air_temp_c))
        missing_pct = wanted.rh_pct - known.rh_pct
        mist, hopeless = _pull(watch.mist, seen, missing_pct, limits.reach_pct, full=full)
        if hopeless:
            text = f"Mist at full power for {spoken(now_s - mist.began_s)}: {_way(mist, missing_pct, '%')}"
            found.append(
                Condition(
                    "P2",
                    f"{text}; humidity {known.rh_pct:.0f} %, wanted {wanted.rh_pct:.0f} %.",
                    about="rh",
                    first=TOO_DRY_FIRST,
                )
            )
    return ReachWatch(now_s, heat, cold, mist, tuple(found)), tuple(found)


def _is_full(seen: Seen, role: Role, duty: float) -> bool:
    """Say whether as much as this is asked of an output that there is."""
    return role in seen.outputs and seen.duty.get(role, 0.0) >= duty


def _cools(seen: Seen) -> bool:
    """Say whether the compressor runs or has just run: then the lamp works against it, as it is meant to."""
    return "cooler" in seen.outputs and seen.off_for_s("cooler") < COLD_LINGERS_S and not seen.in_ferment


def _pull(pull: Pull, seen: Seen, missing: float, far: float, *, full: bool, never: bool = False) -> tuple[Pull, bool]:
    """Follow one output at full power; say whether it is hopeless.

    Args:
        pull: what was seen of it.
        seen: this tick.
        missing: how far the value is from what is wanted, in K or %RH, positive on the side that the output can help.
        far: what is far.
        full: it is given at full power.
        never: it is known that it cannot get there.
    """
    limits, now_s = seen.chamber.thresholds, seen.now_s
    if pull.raised and missing > far / 2.0:
        return pull, True  # Until it is within half of that.
    if not full or missing <= far:
        return Pull(), False
    if pull.since_s is None:
        return Pull(now_s, now_s, missing), False
    if now_s - pull.since_s < limits.reach_s:
        return pull, False
    gained = pull.missing - missing
    pace_s = limits.reach_s * missing / gained if gained > 0.0 else float("inf")
    if pace_s > limits.reach_more_s or never:
        return replace(pull, gained=gained, raised=True), True
    return Pull(now_s, pull.began_s, missing), False


def _is_beyond_figures(seen: Seen, wanted_c: float) -> bool:
    """Say whether the lamp can never get there in this room, by the chamber's figures; only where it is measured."""
    room_c, figures = seen.known.ambient_temp_c, seen.chamber.figures
    if room_c is None or figures.heater_w <= 0.0:
        return False
    convective_k = (1.0 - figures.lamp_radiant) / figures.air_wall_w_per_k  # What the air is warmer than its walls,
    hottest_c = room_c + figures.heater_w * (convective_k + 1.0 / figures.ua_w_per_k)  # and these than the room.
    return hottest_c < wanted_c - seen.chamber.thresholds.reach_k


def _way(pull: Pull, missing: float, unit: str) -> str:
    return f"{pull.gained:+.1f} {unit} in an hour, {missing:.1f} {unit} missing"
