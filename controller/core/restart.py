"""Come back after the program was not running: what is kept, what is begun afresh, and what a gap means.

How long the gap was is known only when both ends of it were told by a clock that can be believed. Up to a quarter of
an hour a batch goes on by itself; up to eight hours it goes on with an alarm; beyond that, or when nobody knows, it
waits for a person: warming meat of unknown condition for more hours only adds degree-hours. These limits are common
practice, no source. The record shows a gap, never interpolated rows.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.book import settle
from controller.core.alarms.memory import Calling
from controller.core.alarms.restart import over_restart
from controller.core.batch.blind import close_gap, count_blind, lose_gap, open_gap, tell_uncounted
from controller.core.batch.counting import count, waits_for_gap
from controller.core.batch.margin import guard_k
from controller.core.chamber.timing import begin
from controller.core.memory import Batch, JudgeMemory, Loops, Memory
from controller.core.plan import Chamber
from controller.core.upgrade import caught_up
from controller.core.values import Event
from controller.core.watch.memory import Watch

SHORT_S: Final = 900.0
LONG_S: Final = 8 * 3600.0
CRASHES: Final = 3
CRASH_WINDOW_S: Final = 600.0
UNKNOWN: Final = "unknown"
KNOWN: Final = "known"
NEVER: Final = "never"
"""Ids of the events of a gap: its length may be told later, has been told, or no clock can ever tell it."""


def first_memory(chamber: Chamber, now_s: float, wall_s: float, boot_id: str) -> Memory:
    """Return the memory of a program that has never run here."""
    return Memory(started_s=now_s, last_s=now_s, wall_s=wall_s, boot_id=boot_id, outputs=begin(chamber, {}, now_s))


def after_restart(
    kept: Memory, chamber: Chamber, now_s: float, wall_s: float, boot_id: str, *, wall_trusted: bool
) -> tuple[Memory, tuple[Event, ...]]:
    """Return the memory to go on with, and the events that tell what happened.

    Args:
        kept: what the last checkpoint held.
        chamber: the chamber, for the outputs.
        now_s: the monotonic clock of this boot.
        wall_s: the clock on the wall.
        boot_id: the name of this boot.
        wall_trusted: whether the wall clock can be believed now.
    """
    same_boot = bool(boot_id) and boot_id == kept.boot_id
    gap_s = _gap_s(kept, now_s, wall_s, same_boot=same_boot, wall_trusted=wall_trusted)
    crashes = _crashes(kept, wall_s)
    opened = [caught_up(batch, guard_k(batch, chamber), kept) for batch in kept.batches if batch.open]
    open_wall_s = _open_since_s(kept, gap_s)
    events = [_told(batch, gap_s, open_wall_s) for batch in opened]
    batches = tuple(_over_gap(batch, gap_s, open_wall_s, kept, guard_k(batch, chamber)) for batch in opened)
    events += [
        Event("state", f"Paused, waits for you: {b.held_because}.", batch=b.id)
        for b, old in zip(batches, opened, strict=True)
        if b.state != old.state
    ]
    conditions = _conditions(batches, gap_s, crashes)
    alarms, quieted = over_restart(kept.alarms, kept.last_s, now_s, gap_s, same_boot=same_boot)
    memory = replace(
        kept,
        started_s=now_s,
        last_s=now_s,
        boot_id=boot_id,
        wall_s=wall_s,
        wall_trusted=wall_trusted,
        ended_cleanly=False,
        crashes_wall_s=crashes,
        gap_s=0.0,
        gap_highest_c=None,
        gap_open_wall_s=open_wall_s if any(batch.gap_at_s is not None for batch in batches) else None,
        batches=batches,
        alarms=alarms,
        calling=Calling(),
        judge=JudgeMemory(),
        outputs=begin(chamber, kept.outputs, now_s),
        loops=Loops(),
        watch=Watch(machine=kept.watch.machine) if same_boot else Watch(),
        saved_s=float("-inf"),
    )
    memory, alarm_events = settle(memory, conditions, now_s, wall_s)
    return memory, (*events, *quieted, *alarm_events)


def _gap_s(kept: Memory, now_s: float, wall_s: float, *, same_boot: bool, wall_trusted: bool) -> float | None:
    """Return how long the program was away; None when no clock can tell."""
    if same_boot:
        return max(now_s - kept.last_s, 0.0)
    if wall_trusted and kept.wall_trusted and wall_s >= kept.wall_s:
        return wall_s - kept.wall_s
    return None


def _crashes(kept: Memory, wall_s: float) -> tuple[float, ...]:
    recent = tuple(at_s for at_s in kept.crashes_wall_s if 0.0 <= wall_s - at_s <= CRASH_WINDOW_S)
    return recent if kept.ended_cleanly else (*recent, wall_s)


def _told(batch: Batch, gap_s: float | None, open_wall_s: float | None) -> Event:
    """Return the event of the gap; its id says whether a clock may still tell how long it was, or never can."""
    length = "of unknown length" if gap_s is None else f"of up to {_spoken(gap_s)}"
    name = "" if gap_s is not None else NEVER if open_wall_s is None else UNKNOWN
    more = " No clock can tell it later; the degree-hours lack it for good." if name == NEVER else ""
    return Event("gap", f"The program was not running: a gap {length}.{more}", id=name, batch=batch.id)


def _over_gap(batch: Batch, gap_s: float | None, open_wall_s: float | None, kept: Memory, error_k: float) -> Batch:
    passed_s = gap_s or 0.0
    highest_c = _highest(kept.highest_c, kept.air_temp_c, kept.gap_highest_c)
    after = replace(batch, elapsed_s=batch.elapsed_s + passed_s, stage_elapsed_s=batch.stage_elapsed_s + passed_s)
    if gap_s is None:
        after = lose_gap(after) if open_wall_s is None else open_gap(after, highest_c)
    elif batch.stage.where == "elsewhere":
        after = count(after, batch.stage.air_temp_c, gap_s, error_k)
    elif gap_s + kept.gap_s > 0.0:
        after = count_blind(after, gap_s + kept.gap_s, highest_c, error_k)
    if gap_s is not None and gap_s <= LONG_S:
        return after
    if batch.state not in {"running", "suspended"} or batch.stage.where == "elsewhere":
        return after
    how_long = "a gap of unknown length" if gap_s is None else f"a gap of {_spoken(gap_s)}"
    because = f"{how_long} without the program; look at the meat and measure"
    return replace(after, state="held", held_because=because, held_by_gap=gap_s is None)


def _open_since_s(kept: Memory, gap_s: float | None) -> float | None:
    """Return when the gap of unknown length began by a clock that could be believed then; None where there is none.

    Where an older one is open still, what has been counted since is taken off it: the time the program ran, and a gap
    that is known.
    """
    if kept.gap_open_wall_s is not None:
        return kept.gap_open_wall_s + (kept.last_s - kept.started_s) + (gap_s or 0.0)
    return kept.wall_s if kept.wall_trusted and gap_s is None else None


def _highest(*temps: float | None) -> float | None:
    return max((temp_c for temp_c in temps if temp_c is not None), default=None)


def gap_becomes_known(
    memory: Memory, now_s: float, wall_s: float, chamber: Chamber
) -> tuple[Memory, tuple[Event, ...]]:
    """Close a gap whose length nobody knew, now that the wall clock has been set.

    On a computer without a clock battery this is the ordinary case: the network tells the time a minute after power is
    back. A batch that only waited for this goes on by itself where the gap was not long.
    """
    began_s = memory.gap_open_wall_s
    if began_s is None:
        return memory, ()
    gap_s = wall_s - (now_s - memory.started_s) - began_s
    memory = replace(memory, gap_open_wall_s=None)
    if gap_s < 0.0:
        text = "The clock that is known now lies before the gap: no clock can tell how long that was."
        lost = [batch for batch in memory.batches if batch.gap_at_s is not None]
        batches = [lose_gap(batch) for batch in memory.batches]
        return replace(memory, batches=tuple(batches)), tuple(Event("gap", text, id=NEVER, batch=b.id) for b in lost)
    events = [
        Event("gap", f"The clock is known again: the gap was of up to {_spoken(gap_s)}.", id=KNOWN, batch=batch.id)
        for batch in memory.batches
        if batch.gap_at_s is not None and (batch.hung_s is None or waits_for_gap(batch))
    ]
    batches = []
    for batch in memory.batches:
        after = close_gap(batch, gap_s, guard_k(batch, chamber))
        if batch.state == "held" and batch.held_by_gap and not batch.held_by_person and gap_s <= LONG_S:
            after = replace(after, state="running", held_because="", held_by_gap=False)
            events.append(Event("state", "Goes on: the gap is known, and it was not long.", batch=batch.id))
        batches.append(after)
    return replace(memory, batches=tuple(batches)), tuple(events)


def _conditions(batches: tuple[Batch, ...], gap_s: float | None, crashes: tuple[float, ...]) -> tuple[Condition, ...]:
    found = []
    if len(crashes) >= CRASHES:
        found.append(
            Condition(
                "C2",
                f"{len(crashes)} ends of the program without a stop in {CRASH_WINDOW_S / 60:.0f} min. Heat is locked.",
            )
        )
    if gap_s is None or gap_s > SHORT_S:
        length = "for an unknown time" if gap_s is None else f"for up to {_spoken(gap_s)}"
        found += [
            Condition(
                "C16",
                f"The program was not running {length}; {_counted_words(batch, gap_s)}.",
                batch.id,
            )
            for batch in batches
            if batch.in_chamber or batch.stage.kind == "ferment"
        ]
    return tuple(found)


def _counted_words(batch: Batch, gap_s: float | None) -> str:
    if gap_s is None:
        return tell_uncounted(batch) or "the degree-hours lack it so far"
    where = "highest" if batch.stage.where == "chamber" else "wanted"
    return f"degree-hours count it at the {where} temperature"


def _spoken(seconds: float) -> str:
    if seconds < 120.0:  # noqa: PLR2004 - two minutes are still told in seconds
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 2 * 3600.0 else f"{seconds / 3600.0:.1f} h"
