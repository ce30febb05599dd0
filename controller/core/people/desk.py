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
AHEAD_S: Final = 120.0
"""Two clocks may differ by so much; common practice, no source."""
LATEST_WALL_S: Final = 4_102_444_800.0  # 2100-01-01: a clock that shows more is broken.
CLOCK_NOT_SET: Final = "clock not set"
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
        _check_time(request, inputs)
        done = _done(request, memory, inputs, chamber)
        answer = Answer(request.id, done=True, text=done.text)
    except Refused as refused:
        kept = replace(memory, refused=(*memory.refused[-REMEMBERED:], request.id))
        done = Done(kept, refused.text, refused.events)
        answer = Answer(request.id, done=False, text=refused.text)
    answered = (*done.memory.answered[-REMEMBERED:], request.id)
    return replace(done, memory=replace(done.memory, answered=answered)), answer


def _done(request: Request, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    """Do one request; figures that no check foresaw are refused, and told of.

    Caught is what arithmetic raises on odd figures and nothing else: a report lies in the box until it is answered, so
    without this it would bring the program down again after each start.
    """
    try:
        return do(request, memory, inputs, chamber)
    except (ValueError, ArithmeticError) as error:
        text = f"this cannot be reckoned with ({type(error).__name__}: {error}); look at the figures and type it again"
        raise Refused(text, Event("refused", f"Not taken: {text}", id=request.id, actor=request.actor)) from error


def _check_time(request: Request, inputs: Inputs) -> None:
    """Refuse a report of what is still to come, where the clock on the wall can be believed, and what is no time."""
    at_wall_s = getattr(request, "at_wall_s", None)
    if at_wall_s is None:
        return
    text = ""
    if not 0.0 <= at_wall_s <= LATEST_WALL_S:
        text = "this is no time; say when it was measured"
    elif inputs.wall_trusted and at_wall_s - inputs.wall_s > AHEAD_S:
        text = f"its time lies {(at_wall_s - inputs.wall_s) / 60.0:.0f} min ahead; say when it was measured"
    if text:
        raise Refused(text, Event("refused", f"Not taken: {text}.", id=request.id, actor=request.actor))


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


def noted(note: str, inputs: Inputs) -> str:
    """Return the note of what is entered now; it says where nobody has set the clock."""
    if inputs.wall_trusted:
        return note
    return f"{note}; {CLOCK_NOT_SET}" if note else CLOCK_NOT_SET


def entry_of(
    name: str, batch: Batch, at_wall_s: float, kind: EntryKind, value: str, unit: str, actor: str, inputs: Inputs,
    *, piece: str = "", instrument: str = "", sample_temp_c: float | None = None, replaces: str = "", note: str = "",
) -> Entry:  # fmt: skip
    """Return the row of one reading; `name` is the id of the request. Its note says where nobody has set the clock."""
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
        noted(note, inputs),
    )
