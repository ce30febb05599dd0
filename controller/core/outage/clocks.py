"""The clock on the wall: steps of it (C4), and one that nobody has set (C5). Neither changes a stage or a count."""

from typing import Final

from controller.core.alarms import Condition
from controller.core.memory import Inputs, Memory
from controller.core.plan import Chamber

BACK_S: Final = 1.0
"""A smaller step back cannot be told from a machine that was busy between two looks at two clocks."""


def step_of_clock(memory: Memory, inputs: Inputs, dt_s: float, chamber: Chamber) -> float:
    """Return by how much the clock on the wall was stepped since the last tick, in seconds; 0 where it was not."""
    stepped_s = inputs.wall_s - memory.wall_s - dt_s
    if -BACK_S <= stepped_s <= chamber.thresholds.clock_event_s or memory.last_s <= memory.started_s:
        return 0.0
    return stepped_s


def watch_clock(memory: Memory, inputs: Inputs, stepped_s: float, chamber: Chamber) -> list[Condition]:
    """Raise C4 after a step of more than a minute or back, C5 while the clock of an open batch has not been set.

    The step with which a clock that could not be believed is set raises none: that is what C5 waits for.
    """
    found = []
    if stepped_s and memory.wall_trusted and (stepped_s < 0.0 or stepped_s > chamber.thresholds.clock_alarm_s):
        found.append(Condition("C4", f"The clock on the wall was stepped by {stepped_s:+.0f} s."))
    if not inputs.wall_trusted and memory.batches:
        text = "Nobody has set the clock since the computer started: no network time, and no clock battery."
        found.append(Condition("C5", text))
    return found
