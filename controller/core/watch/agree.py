"""Sensors that speak against each other."""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.watch.memory import AgreeWatch
from controller.core.watch.seen import Seen

SLIPPED_S: Final = 60.0


def watch_agreement(watch: AgreeWatch, seen: Seen) -> tuple[AgreeWatch, list[Condition]]:
    """Tell a probe that has slipped out of the chamber (H9) from sensors that merely disagree (S9).

    The gate has cut the heat at the first sight of it, and keeps it cut until both have been seen to agree again: that
    one of them has fallen silent since proves nothing.
    """
    known, limits, now_s = seen.known, seen.chamber.limits, seen.now_s
    if known.spread_k is None:
        return watch, _silent_since(watch, now_s)
    if known.spread_k <= limits.agree_k:
        return (watch if watch.apart_since_s is None else AgreeWatch()), []
    if watch.apart_since_s is None:
        return replace(watch, apart_since_s=now_s), []
    apart_s = now_s - watch.apart_since_s
    air_c = known.slowed_c.get("air_temp")
    hottest_c = max(known.slowed_c.values())
    room_c = known.ambient_temp_c if known.ambient_temp_c is not None else seen.chamber.room_c[1]
    is_cold = air_c is not None and air_c < hottest_c - limits.agree_k and hottest_c > room_c
    if is_cold and apart_s >= SLIPPED_S:
        text = f"The air probe shows {air_c:.1f} °C, another sensor {hottest_c:.1f} °C: is it outside? Heat is off."
        return replace(watch, apart_row="H9"), [Condition("H9", text)]
    if apart_s >= seen.chamber.thresholds.apart_s:
        values = ", ".join(f"{name} {value:.1f}" for name, value in known.slowed_c.items())
        text = f"Temperatures disagree ({values} °C), limit {limits.agree_k:g} K. Heat is off."
        return replace(watch, apart_row="S9"), [Condition("S9", text)]
    return watch, []


def _silent_since(watch: AgreeWatch, now_s: float) -> list[Condition]:
    """Keep the alarm of a disagreement while one of the two says nothing."""
    if watch.apart_since_s is None or now_s - watch.apart_since_s < SLIPPED_S:
        return []
    return [Condition(watch.apart_row or "S9", "Temperatures disagreed, then a sensor fell silent. Heat is off.")]
