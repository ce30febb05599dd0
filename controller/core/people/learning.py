"""The step test: begin it, and end it early. It never runs beside a batch in the chamber."""

from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.batch.stages import lead
from controller.core.fault_table import ROWS
from controller.core.figures import degrees
from controller.core.learn.course import ROOM_K, highest_c, left_s, with_new_windows
from controller.core.learn.memory import Learning
from controller.core.learn.watch import broken_off
from controller.core.memory import Inputs, Memory
from controller.core.people.desk import HEAVIEST_KG, Done, Refused, do
from controller.core.plan import Chamber
from controller.core.requests import Learn, StopLearning
from controller.core.values import Event


@do.register
def _learn(request: Learn, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    why = _why_not(request, memory, inputs, chamber)
    if why:
        raise Refused(why)
    now_s = inputs.now_s
    learning = Learning(
        name=request.test,
        began_s=now_s,
        began_wall_s=inputs.wall_s,
        phase_began_s=now_s,
        loaded_kg=request.loaded_kg,
    )
    _, minutes = (span_s / 60.0 for span_s in left_s(learning, chamber, now_s))
    load = f"{request.loaded_kg:g} kg in it" if request.loaded_kg else "empty"
    text = (
        f"Step test {request.test} began, the chamber {load}. It takes {minutes:.0f} min at most, the air gets "
        f"no warmer than {degrees(highest_c(chamber))}, and no batch can begin meanwhile. Leave the door shut."
    )
    memory = replace(memory, learning=learning, outputs=with_new_windows(memory.outputs))
    return Done(memory, text, (Event("learn", text, actor=request.actor),))


def _why_not(request: Learn, memory: Memory, inputs: Inputs, chamber: Chamber) -> str:
    """Return why no step test can begin now; empty where it can."""
    leading, learning = lead(memory), memory.learning
    if learning is not None and not learning.ended:
        return f"the step test {learning.name} runs already"
    if leading is not None:
        return f"{leading.id} is in the chamber ({leading.stage.name}); a step test would heat and cool its meat"
    return (
        _why_not_this(request, chamber)
        or _why_not_by_alarm(memory.alarms)
        or _why_not_the_air(memory, inputs.now_s, chamber)
    )


def _why_not_this(request: Learn, chamber: Chamber) -> str:
    """Return why this chamber cannot be tested, or not as it was asked."""
    if chamber.heat_refused:
        return f"no heat, so no step test: {chamber.heat_refused}"
    heater, name = chamber.output("heater"), request.test
    if heater is None or heater.w <= 0.0:
        return "this chamber has no lamp whose power (w) is known; nothing can be learned from it"
    if not 0.0 <= request.loaded_kg < HEAVIEST_KG:  # Also what is no number.
        return f"{request.loaded_kg:g} kg in the chamber: this cannot be"
    if not name.isprintable() or not {"/", "\0"}.isdisjoint(name) or name[:1] in {"", "."}:
        return "the name of the test is no name of a folder"
    return ""


def _why_not_by_alarm(alarms: tuple[Alarm, ...]) -> str:
    """Return the alarm that forbids heat now."""
    for alarm in alarms:
        if (alarm.latched and alarm.locks) or (alarm.active and "heater" in ROWS[alarm.row].off):
            return f"{alarm.id}: {ROWS[alarm.row].title}; no heat is given, see: hangroom alarms"
    return ""


def _why_not_the_air(memory: Memory, now_s: float, chamber: Chamber) -> str:
    """Return why the air allows no step test now."""
    if now_s - memory.started_s < chamber.limits.settle_s:
        return "the program has only just started; say it again in a minute"
    air = memory.judge.channels.get("air_temp")
    if air is None or air.good is None or now_s - air.good.taken_s > chamber.limits.fresh_s:
        return "there is no good air temperature; see: hangroom status"
    room_k = highest_c(chamber) - air.good.value
    if room_k < ROOM_K:
        return (
            f"the air is at {degrees(air.good.value)}, and a step test goes to {degrees(highest_c(chamber))} at most: "
            f"at least {ROOM_K:g} K between them are wanted. Let the chamber and its room cool"
        )
    return ""


@do.register
def _stop_learning(request: StopLearning, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    learning = memory.learning
    if learning is None or learning.ended:
        raise Refused("no step test runs")
    by = f"{request.actor} said so" if request.actor else "a person said so"
    learning = broken_off(learning, by, inputs.now_s)
    memory = replace(memory, learning=learning, outputs=with_new_windows(memory.outputs))
    return Done(memory, f"The step test {learning.name} is broken off; all outputs are off.")
