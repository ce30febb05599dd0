"""The clock on the wall: steps of it (C4), and one that nobody has set (C5). Neither changes a stage or a count."""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.clock import by_new_clock as alarms_by_new_clock
from controller.core.batch.clock import by_new_clock
from controller.core.batch.margin import clock_utc
from controller.core.memory import Inputs, Memory
from controller.core.plan import Chamber
from controller.core.values import Event

BACK_S: Final = 1.0
"""A smaller step back cannot be told from a machine that was busy between two looks at two clocks."""
WALL_STEP_S: Final = 2.0
"""Times on the wall that lie so near the begin or the end of a run belong to it."""


def step_of_clock(memory: Memory, inputs: Inputs, dt_s: float, chamber: Chamber) -> float:
    """Return by how much the clock on the wall was stepped since the last tick, in seconds; 0 where it was not."""
    return 0.0 if memory.last_s <= memory.started_s else step_since(memory, inputs.wall_s, dt_s, chamber)


def step_since(memory: Memory, wall_s: float, gone_s: float, chamber: Chamber) -> float:
    """Return by how much the clock on the wall was stepped in the last so many seconds of the one that only counts."""
    stepped_s = wall_s - memory.wall_s - gone_s
    return 0.0 if -BACK_S <= stepped_s <= chamber.thresholds.clock_event_s else stepped_s


def over_step(memory: Memory, stepped_s: float, wall_s: float) -> tuple[Memory, Event]:
    """Return the memory of before a step with its times on the wall moved by it, and the event that tells of it.

    What people measured keeps its distance from the hanging: a pH typed in after the step must not lie before it. Of a
    clock that could not be believed only the times of that run of the program are moved: it may have been right before.
    Where it could be believed for a while of that run, the times noted until then were true, and stay.
    """
    was = clock_utc(wall_s - stepped_s, 0.0)
    text = f"The clock on the wall was stepped by {stepped_s:+.0f} s, from {was} to {clock_utc(wall_s, 0.0)}; "
    event = Event("clock", f"{text}stages and counts go on by their own clock.", id="C4", priority="E")
    ran_s = memory.last_s - memory.started_s
    began_s = float("-inf") if memory.wall_trusted else memory.wall_s - ran_s - WALL_STEP_S
    if memory.lost_wall_s is not None:
        began_s = max(began_s, memory.lost_wall_s)
        memory = replace(memory, lost_stepped_s=memory.lost_stepped_s + stepped_s)
    until_s = float("inf") if memory.wall_trusted else memory.wall_s + WALL_STEP_S
    batches = tuple(by_new_clock(batch, stepped_s, began_s, until_s) for batch in memory.batches)
    alarms = alarms_by_new_clock(memory.alarms, stepped_s, began_s, until_s) if memory.alarms else ()
    return replace(memory, batches=batches, alarms=alarms), event


def lost_or_back(
    memory: Memory, inputs: Inputs, chamber: Chamber, now_stepped_s: float
) -> tuple[Memory, tuple[Event, ...], tuple[Condition, ...]]:
    """Remember since when a clock that could be believed cannot be; tell when it can be again, and of its steps since.

    What was typed in meanwhile may have a wrong time: a step of more than a minute, or back, is C4 then. The step of
    this very tick, with which the clock is set, is none of them.
    """
    if memory.wall_trusted and not inputs.wall_trusted:
        return replace(memory, lost_wall_s=inputs.wall_s, lost_stepped_s=0.0), (), ()
    if memory.lost_wall_s is None or not inputs.wall_trusted:
        return memory, (), ()
    stepped_s, since = memory.lost_stepped_s - now_stepped_s, clock_utc(memory.lost_wall_s, 0.0)
    text = f"The clock on the wall can be believed again, which it could not since {since}."
    if stepped_s:
        was = clock_utc(inputs.wall_s - stepped_s, 0.0)
        text += f" Meanwhile it was stepped by {stepped_s:+.0f} s: without that it would be {was} now, and it is "
        text += f"{clock_utc(inputs.wall_s, 0.0)}."
    found = stepped_s and not 0.0 < stepped_s <= chamber.thresholds.clock_alarm_s
    memory = replace(memory, lost_wall_s=None, lost_stepped_s=0.0)
    event = Event("clock", text, id="C4" if stepped_s else "C5", priority="E")
    return memory, (event,), (Condition("C4", text),) if found else ()


def watch_clock(memory: Memory, inputs: Inputs, stepped_s: float, chamber: Chamber) -> list[Condition]:
    """Raise C4 after a step of more than a minute or back, C5 while the clock of an open batch has not been set.

    The step with which a clock that could not be believed is set raises none: that is what C5 waits for.
    """
    found = watch_step(memory, stepped_s, chamber)
    if not inputs.wall_trusted and memory.batches:
        text = "Nobody has set the clock since the computer started: no network time, and no clock battery."
        if memory.lost_wall_s is not None or memory.wall_trusted:
            text = "The clock cannot be believed any more: no network time, and no clock battery."
        found.append(Condition("C5", text))
    return found


def watch_step(memory: Memory, stepped_s: float, chamber: Chamber) -> list[Condition]:
    """Raise C4 after a step of more than a minute or back of a clock that could be believed before it."""
    if not stepped_s or not memory.wall_trusted or 0.0 < stepped_s <= chamber.thresholds.clock_alarm_s:
        return []
    return [Condition("C4", f"The clock on the wall was stepped by {stepped_s:+.0f} s.")]
