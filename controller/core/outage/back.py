"""Find out, once the thermometers speak again, how long the program can have been away where no clock has told.

The first three good readings after a start are told beside those of before. Where the length of the cut is not known,
the cooling bounds it (`bound`), and what it means is judged by the bound (`rules`). Where the cooling tells nothing, or
no more than that it was long, the batch goes on waiting: for a clock, which may come with the network minutes later, or
for a person, who is called when that has not come.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.batch.blind import bound_gap, close_gap, leave_gap, leaves_untold, lose_gap, waits_untold
from controller.core.batch.counting import waits_for_gap
from controller.core.batch.margin import guard_k
from controller.core.memory import Batch, Inputs, Loops, Memory
from controller.core.outage.away import Back
from controller.core.outage.bound import Load, Now, longest_s
from controller.core.outage.rules import LONG_S, answered, concerns, given_up, judged, spoken, with_cut, without_bounded
from controller.core.plan import Chamber
from controller.core.values import Event, Known
from controller.core.watch.sensors import told_return

UNKNOWN: Final = "unknown"
BOUNDED: Final = "bounded"
KNOWN: Final = "known"
NEVER: Final = "never"
"""Ids of the events of a gap: its length may be told later; the cooling bounds it, to so many seconds after a colon; a
clock has told it; nothing ever can."""
IN_DOUBT: Final = frozenset(
    {"A1", "A2", "A3", "A4", "A10", "H9", *(f"S{number}" for number in (1, 2, 3, 4, 5, 6, 7, 8, 9))}
)
"""Rows with which lamp, relay or thermometer may not be what they seem."""
CLOCK_PATIENCE_S: Final = 300.0
"""The network tells the time within minutes of a boot, or it will not soon: then a person is called."""
READINGS_PATIENCE_S: Final = 120.0
LEAST_S: Final = 1.0
"""No cut is shorter."""

Found = tuple[Memory, tuple[Event, ...], tuple[Condition, ...]]


def look_back(memory: Memory, known: Known, inputs: Inputs, chamber: Chamber) -> Found:
    """Return the memory after one tick of finding out what the time without the program was, events and alarms."""
    back = memory.back
    if back is None:
        return memory, (), ()
    since_s = inputs.now_s - memory.started_s
    if not back.looked:
        speaks = known.air_temp_c is not None and known.good_in_a_row >= chamber.limits.settle_readings
        if not speaks and since_s < READINGS_PATIENCE_S:
            return memory, (), ()
        return _looked(memory, back, known, inputs, chamber)
    if memory.gap_open_wall_s is not None and since_s < CLOCK_PATIENCE_S:
        return memory, (), ()
    waiting = {batch.id for batch in memory.batches if waits_untold(batch)}
    return _call(replace(memory, back=None), waiting - set(back.called), inputs, chamber)


def _looked(memory: Memory, back: Back, known: Known, inputs: Inputs, chamber: Chamber) -> Found:
    """Tell what the thermometers show after the return, and bound the cut where nobody knows how long it was."""
    told = tuple(Event("back", _beside(back, known), batch=batch.id) for batch in memory.batches)
    if not back.unknown:
        return replace(memory, back=None), told, ()
    bound_s = _bound_s(memory, back, known, inputs, chamber)
    waits_for_clock = memory.gap_open_wall_s is not None
    if bound_s is None or (bound_s > LONG_S and waits_for_clock):
        less = (
            "" if bound_s is None else f" By the cooling it was up to {spoken(bound_s)}; only a clock may count that."
        )
        events = told + tuple(Event("gap", less.strip(), batch=batch.id) for batch in memory.batches if less)
        if waits_for_clock:
            return replace(memory, back=replace(back, looked=True)), events, ()
        text = "Neither a clock nor the cooling can tell how long the gap was; the degree-hours lack it for good."
        memory, lost, conditions = _lost(memory, text, back.called, inputs, chamber)
        return memory, events + lost, conditions
    memory, events, conditions = _bounded(memory, back, bound_s, known, inputs, chamber)
    return memory, told + events, conditions


def _beside(back: Back, known: Known) -> str:
    """Return what the thermometers show now beside what they showed before."""
    parts = []
    for name, now_c, before_c in (
        ("air", known.air_temp_c, back.warmth.air_c),
        ("core", known.core_temp_c, back.warmth.core_c),
        ("room", known.ambient_temp_c, back.warmth.room_c),
    ):
        if now_c is not None or before_c is not None:
            parts.append(f"{name} {_degrees(now_c)}, before {_degrees(before_c)}")
    if known.rh_pct is not None:
        parts.append(f"{known.rh_pct:.0f} % RH")
    return f"After the return: {'; '.join(parts)}." if parts else "After the return: no thermometer gives a good value."


def _degrees(temp_c: float | None) -> str:
    return "unknown" if temp_c is None else f"{temp_c:.1f} °C"


def _bound_s(memory: Memory, back: Back, known: Known, inputs: Inputs, chamber: Chamber) -> float | None:
    """Return how long the program can have been away at most by the cooling; None where that tells nothing.

    While the disk makes trouble nobody knows how old the checkpoint was when the power failed; while lamp, relay or
    thermometer are in doubt nobody knows what the chamber was given, or how warm it was. Meat of which nobody has said
    yet that it hangs may hang all the same.
    """
    if known.air_temp_c is None or inputs.trouble or memory.found_at_start or _is_doubtful(memory):
        return None
    here = [batch for batch in memory.batches if batch.in_chamber]
    load = Load(sum(batch.meat_kg for batch in here), min((batch.diameter_mm for batch in here), default=55.0))
    now = Now(known.air_temp_c, known.core_temp_c, known.ambient_temp_c)
    since_s = longest_s(back.warmth, load, chamber, now)
    if since_s is None:
        return None
    return max(since_s + back.older_s - back.known_s - (inputs.now_s - memory.started_s), LEAST_S)


def _is_doubtful(memory: Memory) -> bool:
    """Say whether an alarm puts in doubt what the cooling tells."""
    return any(alarm.row in IN_DOUBT and (alarm.active or alarm.latched) and not alarm.warns for alarm in memory.alarms)


def _bounded(memory: Memory, back: Back, bound_s: float, known: Known, inputs: Inputs, chamber: Chamber) -> Found:
    """Count the gap as long as it can have been, and judge it by that."""
    for_good = memory.gap_open_wall_s is None
    warmest_c = max(
        (c for c in (known.highest_c, known.air_temp_c, known.ambient_temp_c) if c is not None), default=None
    )
    ends = "no clock can tell it better" if for_good else "a clock may tell it better"
    events: list[Event] = []
    conditions: list[Condition] = []
    batches = []
    waiting, called = False, []
    for batch in memory.batches:
        was_open = batch.gap_at_s is not None
        after = bound_gap(batch, bound_s, warmest_c, guard_k(batch, chamber), for_good=for_good)
        if was_open:
            text = f"By the cooling the gap was of up to {spoken(bound_s)}; {ends}."
            events.append(Event("gap", text, id=f"{BOUNDED}:{bound_s:.0f}", batch=batch.id))
            after = with_cut(after, bound_s, power=True, bounded=not for_good)
            is_lost = for_good and leaves_untold(batch)
            after, more, found = judged(after, None if is_lost else bound_s, chamber, inputs.wall_s, clock=False)
            after = given_up(after) if is_lost else after
            events += more
            conditions += found
            # An older gap may be open that only a clock can tell: if none does, a person is called.
            waiting |= not found and concerns(after) and waits_untold(after)
            called += [after.id] if found else []
        batches.append(after)
    memory = _told(memory, bound_s)
    goes_on = replace(back, looked=True, called=(*back.called, *called)) if waiting else None
    # The cold that a waiting batch asked for in these seconds must not keep the lamp off for minutes.
    return replace(memory, batches=tuple(batches), back=goes_on, loops=Loops()), tuple(events), tuple(conditions)


def _told(memory: Memory, gap_s: float) -> Memory:
    """Let the watch over a thermometer that was silent before the gap know how long that was."""
    return replace(memory, watch=replace(memory.watch, back=told_return(memory.watch.back, gap_s)))


def _lost(memory: Memory, text: str, called: tuple[str, ...], inputs: Inputs, chamber: Chamber) -> Found:
    """Give up on the open gaps, which nothing can tell any more, and call for the batches that wait because of them."""
    waiting = {batch.id for batch in memory.batches if waits_untold(batch)} - set(called)
    events = tuple(Event("gap", text, id=NEVER, batch=batch.id) for batch in memory.batches if batch.away.holes)
    lost = (lose_gap(batch) if batch.gap_at_s is not None else batch for batch in memory.batches)
    batches = tuple(batch if batch.id in waiting else given_up(batch) for batch in lost)
    memory, more, conditions = _call(replace(memory, batches=batches, back=None), waiting, inputs, chamber)
    return memory, events + more, conditions


def _call(memory: Memory, waiting: set[str], inputs: Inputs, chamber: Chamber) -> Found:
    """Call a person for these batches, which wait because nobody knows how long the program was away."""
    events: list[Event] = []
    conditions: list[Condition] = []
    batches = []
    for batch in memory.batches:
        if batch.id not in waiting or not concerns(batch):
            batches.append(batch if concerns(batch) else leave_gap(batch))
            continue
        after, more, found = judged(batch, None, chamber, inputs.wall_s, clock=False)
        events += more
        conditions += found
        batches.append(after if memory.gap_open_wall_s is not None else given_up(after))
    return replace(memory, batches=tuple(batches)), tuple(events), tuple(conditions)


def gap_becomes_known(memory: Memory, inputs: Inputs, chamber: Chamber) -> Found:
    """Close a gap whose length nobody knew, now that the wall clock has been set.

    On a computer without a clock battery this is the ordinary case: the network tells the time a minute after power is
    back. A batch that only waited for this goes on by itself where the gap was not long; one that the cooling has let
    go on waits after all where it was: two clocks that can be believed are better than any bound.
    """
    began_s = memory.gap_open_wall_s
    if began_s is None:
        return memory, (), ()
    gap_s = inputs.wall_s - (inputs.now_s - memory.started_s) - began_s
    memory = replace(memory, gap_open_wall_s=None)
    if gap_s < 0.0:
        return _before_itself(memory, inputs, chamber)
    called = {batch.id for batch in memory.batches} if memory.back is None else set(memory.back.called)
    memory = _told(replace(memory, back=None), gap_s)
    events: list[Event] = []
    conditions: list[Condition] = []
    batches = []
    for batch in memory.batches:
        after = close_gap(without_bounded(batch), gap_s, guard_k(batch, chamber))
        if batch.gap_at_s is not None:
            if batch.hung_s is None or waits_for_gap(batch):
                events.append(_told_by_clock(batch, gap_s))
            is_called = batch.id in called
            after, more, found = _judged_by_clock(batch, after, gap_s, inputs, chamber, called=is_called)
            events += more
            conditions += found or _in_new_words(memory, batch, gap_s)
        batches.append(after)
    return replace(memory, batches=tuple(batches)), tuple(events), tuple(conditions)


def _before_itself(memory: Memory, inputs: Inputs, chamber: Chamber) -> Found:
    """Give up on a clock that lies before the gap; where the cooling has not been asked yet, it may still tell."""
    text = "The clock that is known now lies before the gap: no clock can tell how long that was."
    back = memory.back
    if back is not None and not back.looked:
        return memory, (), ()
    called = tuple(batch.id for batch in memory.batches) if back is None else back.called
    return _lost(memory, text, called, inputs, chamber)


def _told_by_clock(batch: Batch, gap_s: float) -> Event:
    text = f"The clock is known again: the gap was of up to {spoken(gap_s)}."
    bound_s = batch.away.bound_s
    if bound_s and not batch.away.holes and gap_s > bound_s:
        text += f" By the cooling it was {spoken(bound_s)} at most: the model figures of the chamber file are wrong."
    return Event("gap", text, id=KNOWN, batch=batch.id)


def _judged_by_clock(
    before: Batch, after: Batch, gap_s: float, inputs: Inputs, chamber: Chamber, *, called: bool
) -> tuple[Batch, tuple[Event, ...], tuple[Condition, ...]]:
    """Judge a cut by what a clock tells of it; what a person has decided meanwhile, or was called for, stands."""
    was_bounded = len(after.away.cuts) < len(before.away.cuts)
    after = with_cut(after, gap_s, power=True)
    if was_bounded and len(after.away.cuts) == 1:
        after = replace(after, away=replace(after.away, unseen=False, ph_after_s=None))
    waits = before.state == "held" and before.held_by_gap and not before.held_by_person
    if not waits and not before.away.gave:
        is_answered = before.away.decided > 0 and not waits_untold(before)
        if is_answered or called:
            return answered(after) if is_answered else after, (), ()
    after = replace(after, away=replace(after.away, gave=False))
    return judged(after, gap_s, chamber, inputs.wall_s, clock=True)


def _in_new_words(memory: Memory, batch: Batch, gap_s: float) -> list[Condition]:
    """Put what the clock tells into the words of an alarm that nobody has seen yet."""
    text = f"The program was not running for up to {spoken(gap_s)}, as the clock tells since it is known again."
    return [
        Condition("C16", text, batch.id, alarm.priority)
        for alarm in memory.alarms
        if alarm.row == "C16" and alarm.batch == batch.id and alarm.active and not alarm.seen
    ]
