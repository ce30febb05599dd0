"""Call the rules of this room in turn, and say what they ask of the outputs beyond what the loops do."""

from collections.abc import Iterable
from typing import Final

from controller.core.alarms import Condition
from controller.core.plan import Chamber
from controller.core.plant.air import watch_air
from controller.core.plant.cold import is_undecided, watch_cold
from controller.core.plant.fan import FAN_HEAT, watch_fan
from controller.core.plant.feedback import watch_feedback
from controller.core.plant.leak import watch_leak
from controller.core.plant.memory import PlantWatch
from controller.core.plant.reach import watch_reach
from controller.core.plant.relays import watch_pins, watch_wear
from controller.core.values import Known, Role, Wanted
from controller.core.watch.seen import Seen

OVERHEATED: Final = frozenset({"A1", "A2"})
WET: Final = frozenset({"A6", "P7"})
"""What calls for drying as hard as the chamber can."""


def watch_plant(
    watch: PlantWatch, seen: Seen, *, lamp_tried: bool, cold_undecided: bool, warm_undecided: bool
) -> tuple[PlantWatch, list[Condition]]:
    """Look at everything that the outputs do or fail to do.

    Args:
        watch: what was seen of it.
        seen: this tick.
        lamp_tried: the lamp was found dead, and is only tried.
        cold_undecided: another rule still looks into why it is too cold.
        warm_undecided: the same for why it is too warm.
    """
    feedback, at_lamp = watch_feedback(watch.feedback, seen)
    air, off = watch_air(
        watch.air, seen, cold_undecided=cold_undecided, warm_undecided=warm_undecided, lamp_tried=lamp_tried
    )
    cold_tried = is_undecided(watch.cold, seen.now_s)
    reach, beyond = watch_reach(watch.reach, seen, lamp_tried=lamp_tried, cold_tried=cold_tried)
    leak, leaks = watch_leak(watch.leak, seen)
    cold, in_vain = watch_cold(watch.cold, seen)
    fan, still = watch_fan(watch.fan, seen)
    pins, deaf = watch_pins(watch.pins, seen)
    wear, worn = watch_wear(watch.wear, seen)
    found = [*at_lamp, *off, *beyond, *leaks, *in_vain, *still, *deaf, *worn]
    after = PlantWatch(feedback, air, reach, leak, cold, fan, pins, wear)
    return after, found


def urge(
    conditions: Iterable[Condition], duty: dict[Role, float], known: Known, wanted: Wanted, chamber: Chamber
) -> None:
    """Change the duties as the rows ask: cold against an overheated chamber, drying against wet air, less heat.

    It can take heat away and never asks for more.
    """
    for condition in conditions:
        if condition.row in OVERHEATED and not condition.warns and wanted.air_temp_c is not None:
            if known.air_temp_c is not None and known.air_temp_c > wanted.air_temp_c:
                duty["cooler"] = 1.0
        elif condition.row in WET:
            if chamber.drying == "dehumidifier":
                duty["dehumidifier"] = 1.0
            elif chamber.drying == "vent":
                duty["fresh_air"] = 1.0
        elif condition.row == "A9":
            duty["heater"] = min(duty.get("heater", 0.0), FAN_HEAT)
