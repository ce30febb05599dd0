"""The relays: an output that does not follow (A10), one that switches too often (A11), one that is worn out (A12).

Closings are counted by the program from the commands it gives; the count outlives the program. It begins anew when the
chamber file names another day on which the relay was fitted. A solid-state relay has no contacts and is not counted.
"""

from typing import Final

from controller.core.alarms import Condition
from controller.core.plant.memory import PinWatch, WearWatch
from controller.core.values import Role
from controller.core.watch.seen import Seen

HOUR_S: Final = 3600.0
STUCK_S: Final = 60.0
"""A pin that was set anew for so long and still does not follow is no passing disturbance."""
SECOND: Final = 2
COMPRESSORS: Final[frozenset[Role]] = frozenset({"cooler", "dehumidifier"})
CALLED: Final[dict[Role, str]] = {
    "heater": "lamp",
    "humidifier": "humidifier",
    "cooler": "compressor",
    "dehumidifier": "dehumidifier",
    "fan": "fan",
    "fresh_air": "fresh air",
    "sounder": "sounder",
    "master": "master contactor",
}


def watch_pins(watch: PinWatch, seen: Seen) -> tuple[PinWatch, tuple[Condition, ...]]:
    """Raise A10 when a pin was not at its level at two looks; the second time, or for a minute, heat is locked."""
    if not seen.disobedient:
        return (watch if watch.since_s is None else PinWatch(None, watch.times)), ()
    now_s = seen.now_s
    if watch.since_s is None:
        return PinWatch(now_s, watch.times), ()
    since_s, times = watch.since_s, watch.times if watch.counted else watch.times + 1
    watch = PinWatch(since_s, times, counted=True)
    text = f"{_levels(seen)}, for {now_s - since_s:.0f} s."
    if times < SECOND and now_s - since_s < STUCK_S:
        return watch, (Condition("A10", text),)
    locked = "All heat is off and stays off; the pins are set anew."
    return watch, (Condition("A10", text, level=1, latches=True, did=locked),)


def _levels(seen: Seen) -> str:
    """Return which outputs of the computer are not as they were switched; they can only be the other way round."""
    on = [f"the {CALLED[role]}" for role in seen.disobedient if not seen.is_on(role)]
    off = [f"the {CALLED[role]}" for role in seen.disobedient if seen.is_on(role)]
    said = [f"for {' and '.join(on)} is ON although it was switched off"] if on else []
    said += [f"for {' and '.join(off)} is OFF although it was switched on"] if off else []
    return f"The computer's output {', and that '.join(said)}"


def watch_wear(watch: WearWatch, seen: Seen) -> tuple[WearWatch, tuple[Condition, ...]]:
    """Look once an hour how often each relay was switched in it, and in its life."""
    now_s = seen.now_s
    if 0.0 <= now_s - watch.hour_s < HOUR_S:
        return watch, watch.found
    closings = {role: memory.closings for role, memory in seen.outputs.items()}
    found: list[Condition] = []
    passed_h = (now_s - watch.hour_s) / HOUR_S
    for output in seen.chamber.outputs:
        role, count = output.role, closings.get(output.role, 0)
        per_h = (count - watch.closings.get(role, count)) / passed_h if passed_h > 0.0 else 0.0
        found += _too_often(seen, role, per_h, mechanical=output.switch == "mechanical")
        if output.switch == "mechanical":
            found += _worn(seen, role, count, output.rated_operations)
    return WearWatch(now_s, closings, tuple(found)), tuple(found)


def _too_often(seen: Seen, role: Role, per_h: float, *, mechanical: bool) -> list[Condition]:
    """Raise A11 for the lamp's mechanical relay and for a compressor; each other one has a window of its own."""
    limits = seen.chamber.thresholds
    if role in COMPRESSORS:
        limit, what = limits.starts_per_h, "starts"
    elif role == "heater" and mechanical:
        limit, what = limits.closings_per_h, "closings"
    else:
        return []
    if per_h <= limit:
        return []
    months = _life(seen, role) / per_h / 24.0 / 30.0
    lasts = f"; at this rate its relay lasts {months:.0f} months" if mechanical else ""
    text = f"{CALLED[role].capitalize()}: {per_h:.0f} {what} in an hour, limit {limit:g}{lasts}."
    return [Condition("A11", text, about=role)]


def _life(seen: Seen, role: Role) -> float:
    output = seen.chamber.output(role)
    rated = None if output is None else output.rated_operations
    return seen.chamber.thresholds.relay_life if rated is None else rated


def _worn(seen: Seen, role: Role, count: int, rated: float | None) -> list[Condition]:
    limits = seen.chamber.thresholds
    life = limits.relay_life if rated is None else rated
    if count < limits.relay_life_share * life:
        return []
    text = f"Relay of the {CALLED[role]}: {count:,} operations of the {life:,.0f} that it is made for."
    return [Condition("A12", text, about=role)]
