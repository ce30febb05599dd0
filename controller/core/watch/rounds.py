"""Call all the slow rules in turn, and say what they take away.

Those of `first_look` come before the gate, which needs what they found; the others after it.
"""

from collections.abc import Iterable
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.fault_table import ROWS
from controller.core.plant.air import looks_now
from controller.core.plant.look import watch_plant
from controller.core.values import Role
from controller.core.watch.agree import watch_agreement, watch_outside
from controller.core.watch.door import watch_door
from controller.core.watch.frozen import watch_frozen
from controller.core.watch.heat import is_undecided, watch_heating, watch_idle, watch_trip
from controller.core.watch.humidity import watch_pair, watch_wet
from controller.core.watch.machine import watch_machine
from controller.core.watch.memory import Watch
from controller.core.watch.mist import is_mist_trial, watch_mist
from controller.core.watch.seen import Seen
from controller.core.watch.sensors import find_strangers, watch_damage, watch_return

IN_TRIALS: Final = frozenset({"A3", "A5", "A7", "A8"})
"""Rows whose output is tried from time to time although it is of no use."""
RESTING: Final = frozenset({"A7", "A8"})


def first_look(watch: Watch, seen: Seen) -> tuple[Watch, list[Condition]]:
    """Look at what the gate has to know in this very tick."""
    trip, found = watch_trip(watch.trip, seen)
    agree, more = watch_agreement(watch.agree, seen)
    tried = watch.heat.found or watch.plant.feedback.dead_s is not None
    frozen, stuck = watch_frozen(watch.frozen, seen, lamp_tried=tried)
    back, outside = watch_return(watch.back, seen)
    found = found + more + stuck + outside
    if trip is watch.trip and agree is watch.agree and frozen is watch.frozen and back is watch.back:
        return watch, found
    return replace(watch, trip=trip, agree=agree, frozen=frozen, back=back), found


def look(watch: Watch, seen: Seen) -> tuple[Watch, list[Condition]]:
    """Look at everything else."""
    heat, found = watch_heating(watch.heat, seen)
    idle, warming = watch_idle(watch.idle, seen)
    mist, dry = watch_mist(watch.mist, seen)
    door, opened = watch_door(watch.door, seen)
    machine, unwell = watch_machine(watch.machine, seen)
    damage, damaged = watch_damage(watch.damage, seen)
    pair, apart = watch_pair(watch.pair, seen)
    wet, saturated = watch_wet(watch.wet, seen)
    outside, slipped = watch_outside(watch.outside, seen)
    tried = heat.found or watch.plant.feedback.dead_s is not None
    too_cold, too_warm = is_undecided(watch, seen) if looks_now(watch.plant.air, seen.now_s) else (False, False)
    plant, in_vain = watch_plant(
        watch.plant, seen, lamp_tried=tried, cold_undecided=too_cold or tried, warm_undecided=too_warm
    )
    after = Watch(
        watch.trip, watch.agree, heat, idle, mist, door, machine, plant, watch.frozen, watch.back, damage, pair, wet,
        outside,
    )  # fmt: skip
    found = [*found, *warming, *dry, *opened, *unwell, *damaged, *apart, *saturated, *slipped, *in_vain]
    return after, found + find_strangers(seen) if seen.strangers else found


def taken_away(conditions: Iterable[Condition], watch: Watch, now_s: float) -> set[Role]:
    """Return the outputs that may not be on now because of what was found."""
    off: set[Role] = set()
    for condition in conditions:
        if condition.warns:
            continue
        if condition.row == "A5":
            off |= set() if is_mist_trial(watch.mist, now_s) else {"humidifier"}
        elif condition.row in RESTING:
            off |= {"cooler"} if watch.plant.cold.rests(now_s) else set()
        elif condition.row not in IN_TRIALS:
            off.update(ROWS[condition.row].off)
    return off


def forbids_heat(conditions: Iterable[Condition]) -> tuple[str, ...]:
    """Return the rows found in this tick that forbid heat or let the batch wait by itself."""
    return tuple(
        condition.row
        for condition in conditions
        if not condition.warns and ("heater" in ROWS[condition.row].off or condition.row == "A3")
    )


__all__ = ["first_look", "forbids_heat", "look", "taken_away"]
