"""Keep the memory's picture of how warm the chamber is up to date."""

from controller.core.memory import Batch, Memory
from controller.core.outage.warmth import LOOK_S, Warmth, follow
from controller.core.plan import Chamber
from controller.core.values import Known, Role


def warmth_now(memory: Memory, known: Known, leading: Batch | None, chamber: Chamber, now_s: float) -> Warmth:
    """Return how warm the chamber has been up to this tick; most ticks are no look, and cost nothing."""
    if now_s - memory.warmth.at_s < LOOK_S:
        return memory.warmth
    hangs = leading is not None and leading.hung_s is not None
    meat = f"{leading.id}:{leading.stage.where}" if leading is not None and hangs else ""
    sours = leading is not None and leading.stage.kind in {"warm-up", "ferment"}
    powers = _figure(chamber, "heater", "w"), _figure(chamber, "humidifier", "ml_per_h")
    return follow(memory.warmth, known, memory.outputs, powers, meat, now_s, sours=sours)


def _figure(chamber: Chamber, role: Role, name: str) -> float:
    output = chamber.output(role)
    return 0.0 if output is None else float(getattr(output, name))
