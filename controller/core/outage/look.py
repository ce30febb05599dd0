"""Keep the memory's picture of how warm the chamber is up to date, and say what it can become unseen."""

from typing import Final

from controller.core.batch.counting import sums_now
from controller.core.memory import Batch, Memory
from controller.core.outage.warmth import HOT_MEAT_C, LOOK_S, Warmth, follow
from controller.core.plan import Chamber
from controller.core.values import Known, Role

KITCHEN_C: Final = 25.0
"""Meat that is hung for a ferment comes straight from the kitchen. Common practice, no source."""


def warmth_now(memory: Memory, known: Known, leading: Batch | None, chamber: Chamber, now_s: float) -> Warmth:
    """Return how warm the chamber has been up to this tick; most ticks are no look, and cost nothing."""
    if now_s - memory.warmth.at_s < LOOK_S:
        return memory.warmth
    meat, hung_c = "", HOT_MEAT_C
    if leading is not None and leading.hung_s is not None:
        meat = f"{leading.id}:{leading.stage.where}"
        if leading.stage.kind in {"warm-up", "ferment"}:
            hung_c = max(KITCHEN_C, sums_now(leading).highest_air_c or KITCHEN_C)  # It may have hung elsewhere.
    powers = _figure(chamber, "heater", "w"), _figure(chamber, "humidifier", "ml_per_h")
    return follow(memory.warmth, known, memory.outputs, powers, meat, now_s, hung_c=hung_c)


def _figure(chamber: Chamber, role: Role, name: str) -> float:
    output = chamber.output(role)
    return 0.0 if output is None else float(getattr(output, name))


def warmest_unseen_c(memory: Memory) -> float | None:
    """Return how warm the air can become while nobody heats it and nobody sees it, in °C; None where nothing is known.

    Meat that hung in warm air gives its warmth back to air that was cooled since, and a cooled box takes on the warmth
    of its room: by the last look at both. No meat is warmer than the warmest air it has hung in.
    """
    warmth = memory.warmth
    hung = [sums_now(batch).highest_air_c for batch in memory.batches if batch.in_chamber and batch.hung_s is not None]
    warmest_c = max((temp_c for temp_c in hung if temp_c is not None), default=None)
    meat_c = None if warmest_c is None else min(warmest_c, warmth.meat_high_c)
    return max((temp_c for temp_c in (meat_c, warmth.room_c) if temp_c is not None), default=None)
