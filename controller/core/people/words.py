"""Words and alarms: a note, an alarm that was seen, one that is released."""

from msgspec.structs import replace

from controller.core.alarms import asked
from controller.core.alarms.calling import TEST_S
from controller.core.alarms.memory import Heard as SounderTest
from controller.core.memory import Inputs, Memory
from controller.core.outage.rules import answered
from controller.core.people.desk import Done, Refused, batch_of, do
from controller.core.plan import Chamber
from controller.core.requests import Clear, Heard, Note, Quiet, Seen, Sound
from controller.core.values import Event
from controller.core.watch.memory import IdleWatch


@do.register
def _note(request: Note, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    opened = [batch for batch in memory.batches if batch.open]
    name = batch_of(memory, request.batch).id if request.batch or len(opened) == 1 else ""
    return Done(memory, "Noted.", (Event("note", request.text, id=request.topic, actor=request.actor, batch=name),))


@do.register
def _seen(request: Seen, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    try:
        after, event = asked.see(memory, request.alarm, request.actor, inputs.now_s)
    except asked.Cannot as cannot:
        raise Refused(cannot.text) from cannot
    seen = next(alarm for alarm in memory.alarms if alarm.id == request.alarm)
    if seen.row == "C16":  # Where the batch waits for more than that, letting it go on is the answer.
        batches = tuple(
            answered(batch) if batch.id == seen.batch and not batch.away.asks else batch for batch in after.batches
        )
        after = replace(after, batches=batches)
    return Done(after, f"{request.alarm}: seen.{_left(after, request.alarm)}", (event,))


def _left(memory: Memory, name: str) -> str:
    """Say what stays of an alarm that was seen: nobody shall take it for done."""
    alarm = next((alarm for alarm in memory.alarms if alarm.id == name), None)
    if alarm is None:
        return ""
    return f" {alarm.first}" if alarm.active else f" It stays locked until: hangroom clear {name}"


@do.register
def _quiet(request: Quiet, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    try:
        after, event = asked.quiet(
            memory, request.alarm, request.for_s, request.actor, inputs.now_s, inputs.wall_s
        )  # fmt: skip
    except asked.Cannot as cannot:
        raise Refused(cannot.text) from cannot
    return Done(after, f"{request.alarm}: {event.text}", (event,))


@do.register
def _clear(request: Clear, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    try:
        after, event = asked.clear(memory, request.alarm, request.actor, sure=request.sure)
    except asked.Cannot as cannot:
        raise Refused(cannot.text) from cannot
    row = request.alarm.split("-", maxsplit=1)[0]
    if row == "C2":
        after = replace(after, starts=replace(memory.starts, crashes_s=()))
    elif row == "A1":  # Somebody has looked at the lamp; what is found from now on is news.
        after = replace(after, watch=replace(memory.watch, idle=IdleWatch()))
    return Done(after, f"{request.alarm}: cleared.", (event,))


@do.register
def _sound(request: Sound, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    if chamber.output("sounder") is None:
        raise Refused("this chamber has no sounder, so nothing calls you: fit one, or stay within earshot of the room")
    calling = replace(memory.calling, test_until_s=inputs.now_s + TEST_S)
    text = f"The sounder sounds for {TEST_S:g} s."
    event = Event("sounder", "The sounder is being tried.", id="tried", actor=request.actor)
    return Done(replace(memory, calling=calling), text, (event,))


@do.register
def _heard(request: Heard, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    said = "heard" if request.heard else "NOT heard"
    event = Event("sounder", f"The sounder was {said} in a test.", id=said.lower(), actor=request.actor)
    newest = memory.heard is None or request.at_wall_s >= memory.heard.at_wall_s
    heard = SounderTest(request.at_wall_s, request.actor, request.heard) if newest else memory.heard
    wrong = "" if request.heard else " Look at its wires and its pin; until it is heard, stay within earshot."
    return Done(replace(memory, heard=heard), f"Noted: the sounder was {said}.{wrong}", (event,))
