"""The desk at which people are served: how one request is answered, and what every verb needs.

A verb is one function, registered with `do`. What cannot be done is `Refused` with the reason in words for the person.
"""

from functools import singledispatch
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.core.memory import Batch, Inputs, Memory
from controller.core.plan import Chamber
from controller.core.requests import Request
from controller.core.values import Answer, CheckEntry, Entry, EntryKind, Event

REMEMBERED: Final = 200
"""Ids of so many requests are remembered, far more than can be under way at once."""
HEAVIEST_KG: Final = 1000.0
"""More does not hang in one chamber, whoever typed it; the verbs ask back much earlier. Common practice, no source."""


class Refused(Exception):  # noqa: N818 - it is an answer, no error
    """Carry the reason why a request cannot be done, in words for the person, and what is to be recorded of it."""

    def __init__(self, text: str, *events: Event) -> None:
        """Refuse with these words. Events are for what was typed and not taken: nobody may have read the answer."""
        super().__init__(text)
        self.text = text
        self.events = events


class Done(Struct, frozen=True):
    """Hold what a request changed, and what is said of it."""

    memory: Memory
    text: str
    events: tuple[Event, ...] = ()
    entries: tuple[Entry, ...] = ()
    checks: tuple[CheckEntry, ...] = ()


def serve(memory: Memory, request: Request, inputs: Inputs, chamber: Chamber) -> tuple[Done, Answer]:
    """Do one request and answer it. What is refused changes nothing but is remembered as answered."""
    if request.id in memory.answered:
        was_done = request.id not in memory.refused
        text = f"This has been {'done' if was_done else 'refused'} already."
        return Done(memory, ""), Answer(request.id, done=was_done, text=text)
    try:
        done = do(request, memory, inputs, chamber)
        answer = Answer(request.id, done=True, text=done.text)
    except Refused as refused:
        kept = replace(memory, refused=(*memory.refused[-REMEMBERED:], request.id))
        done = Done(kept, refused.text, refused.events)
        answer = Answer(request.id, done=False, text=refused.text)
    answered = (*done.memory.answered[-REMEMBERED:], request.id)
    return replace(done, memory=replace(done.memory, answered=answered)), answer


@singledispatch
def do(request: Request, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    """Do what one request asks; each verb registers its own function."""
    msg = f"nobody knows how to do {type(request).__name__}"
    raise Refused(msg)


def batch_of(memory: Memory, name: str) -> Batch:
    """Return the batch a person means: the one named, or the only open one."""
    opened = [batch for batch in memory.batches if batch.open]
    if name:
        found = next((batch for batch in opened if batch.id == name), None)
        if found is None:
            raise Refused(f"{name}: no such open batch; open are: {_names(opened)}")
        return found
    if len(opened) != 1:
        raise Refused(f"which batch? Open are: {_names(opened)}; say --batch NAME" if opened else "no batch is open")
    return opened[0]


def _names(batches: list[Batch]) -> str:
    return ", ".join(batch.id for batch in batches) or "none"


def put(memory: Memory, batch: Batch) -> Memory:
    """Return the memory with this batch in the place of the one it was."""
    return replace(memory, batches=tuple(batch if batch.id == old.id else old for old in memory.batches))


def check_replaced(replaces: str, known: tuple[str, ...]) -> None:
    """Refuse a correction of an entry that nobody made."""
    if replaces and replaces not in known:
        raise Refused(f"{replaces}: no such entry to replace; the newest are {', '.join(known[-3:]) or 'none'}")


def entry_of(
    name: str, batch: Batch, at_wall_s: float, kind: EntryKind, value: str, unit: str, actor: str, inputs: Inputs,
    *, piece: str = "", instrument: str = "", sample_temp_c: float | None = None, replaces: str = "", note: str = "",
) -> Entry:  # fmt: skip
    """Return the row of one reading; `name` is the id of the request."""
    return Entry(
        batch.id,
        name,
        at_wall_s,
        kind,
        value,
        unit,
        piece,
        instrument,
        sample_temp_c,
        actor,
        inputs.wall_s,
        replaces,
        note,
    )
