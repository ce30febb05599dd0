"""Words and alarms: a note, an alarm that was seen, one that is released."""

from msgspec.structs import replace

from controller.core import alarms
from controller.core.memory import Inputs, Memory
from controller.core.people.desk import Done, Refused, batch_of, do
from controller.core.plan import Chamber
from controller.core.requests import Clear, Note, Seen
from controller.core.values import Event


@do.register
def _note(request: Note, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    opened = [batch for batch in memory.batches if batch.open]
    name = batch_of(memory, request.batch).id if request.batch or len(opened) == 1 else ""
    return Done(memory, "Noted.", (Event("note", request.text, id=request.topic, actor=request.actor, batch=name),))


@do.register
def _seen(request: Seen, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    after, event = alarms.acknowledge(memory.alarms, request.alarm, request.actor)
    if event is None:
        raise Refused(f"{request.alarm}: there is no such alarm now; hangroom alarms lists them")
    return Done(replace(memory, alarms=after), f"{request.alarm}: seen.", (event,))


@do.register
def _clear(request: Clear, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    after, event, why_not = alarms.clear(memory.alarms, request.alarm, request.actor)
    if event is None:
        raise Refused(why_not)
    row = request.alarm.split("-", maxsplit=1)[0]
    crashes = () if row == "C2" else memory.crashes_wall_s
    return Done(replace(memory, alarms=after, crashes_wall_s=crashes), f"{request.alarm}: cleared.", (event,))
