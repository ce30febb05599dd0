"""Come back after the program was not running: what is kept, what is begun afresh, and what a gap means.

How long the gap was is known only when both ends of it were told by a clock that can be believed. Up to a quarter of
an hour a batch goes on by itself; up to eight hours it goes on with an alarm; beyond that, or when nobody knows, it
waits for a person: warming meat of unknown condition for more hours only adds degree-hours. These limits are common
practice, no source. The record shows a gap, never interpolated rows.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition, settle
from controller.core.chamber.timing import begin
from controller.core.memory import Batch, JudgeMemory, Loops, Memory, Watch
from controller.core.plan import Chamber
from controller.core.values import Event

SHORT_S: Final = 900.0
LONG_S: Final = 8 * 3600.0
CRASHES: Final = 3
CRASH_WINDOW_S: Final = 600.0


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
    opened = [batch for batch in kept.batches if batch.open]
    length = "of unknown length" if gap_s is None else f"of up to {_spoken(gap_s)}"
    events = [Event("gap", f"The program was not running: a gap {length}.", batch=batch.id) for batch in opened]
    batches = tuple(_over_gap(batch, gap_s) for batch in opened)
    events += [
        Event("state", f"Paused, waits for you: {b.held_because}.", batch=b.id)
        for b, old in zip(batches, opened, strict=True)
        if b.state != old.state
    ]
    conditions = _conditions(batches, gap_s, crashes)
    alarms, counts, alarm_events = settle(kept.alarms, kept.counts, (*conditions, *_still(kept)), wall_s)
    memory = replace(
        kept,
        started_s=now_s,
        last_s=now_s,
        boot_id=boot_id,
        wall_s=wall_s,
        wall_trusted=wall_trusted,
        ended_cleanly=False,
        crashes_wall_s=crashes,
        gap_s=kept.gap_s + (gap_s or 0.0),
        gap_open_wall_s=_open_since_s(kept) if gap_s is None else None,
        gap_highest_c=max(
            (t for t in (kept.highest_c, kept.air_temp_c, kept.gap_highest_c) if t is not None), default=None
        ),
        batches=batches,
        alarms=alarms,
        counts=counts,
        judge=JudgeMemory(),
        outputs=begin(chamber, kept.outputs, now_s),
        loops=Loops(),
        watch=Watch(),
        saved_s=float("-inf"),
    )
    return memory, (*events, *alarm_events)


def _still(kept: Memory) -> tuple[Condition, ...]:
    """Keep the alarms that were active: the first tick will tell which of them are over."""
    return tuple(Condition(alarm.row, alarm.text, alarm.batch) for alarm in kept.alarms if alarm.active)


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


def _over_gap(batch: Batch, gap_s: float | None) -> Batch:
    passed_s = gap_s or 0.0
    after = replace(batch, elapsed_s=batch.elapsed_s + passed_s, stage_elapsed_s=batch.stage_elapsed_s + passed_s)
    if gap_s is not None and gap_s <= LONG_S:
        return after
    if batch.state not in {"running", "suspended"} or batch.stage.where == "elsewhere":
        return after
    how_long = "a gap of unknown length" if gap_s is None else f"a gap of {_spoken(gap_s)}"
    because = f"{how_long} without the program; look at the meat and measure"
    return replace(after, state="held", held_because=because, held_by_gap=gap_s is None)


def _open_since_s(kept: Memory) -> float | None:
    """Return when the gap began by a clock that could be believed then; None where there was none."""
    if kept.gap_open_wall_s is not None:
        return kept.gap_open_wall_s
    return kept.wall_s if kept.wall_trusted else None


def gap_becomes_known(memory: Memory, now_s: float, wall_s: float) -> tuple[Memory, tuple[Event, ...]]:
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
        return memory, ()
    events = [
        Event("gap", f"The clock is known again: the gap was of up to {_spoken(gap_s)}.", batch=batch.id)
        for batch in memory.batches
    ]
    batches = []
    for batch in memory.batches:
        after = replace(batch, elapsed_s=batch.elapsed_s + gap_s, stage_elapsed_s=batch.stage_elapsed_s + gap_s)
        if batch.state == "held" and batch.held_by_gap and gap_s <= LONG_S:
            after = replace(after, state="running", held_because="", held_by_gap=False)
            events.append(Event("state", "Goes on: the gap is known, and it was not long.", batch=batch.id))
        batches.append(after)
    return replace(memory, batches=tuple(batches), gap_s=memory.gap_s + gap_s), tuple(events)


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
        counted = "degree-hours count it at the highest temperature"
        if gap_s is None:
            counted = "the degree-hours lack it so far"
        length = "for an unknown time" if gap_s is None else f"for up to {_spoken(gap_s)}"
        found += [
            Condition(
                "C16",
                f"The program was not running {length}; {counted}.",
                batch.id,
            )
            for batch in batches
            if batch.in_chamber
        ]
    return tuple(found)


def _spoken(seconds: float) -> str:
    if seconds < 120.0:  # noqa: PLR2004 - two minutes are still told in seconds
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 2 * 3600.0 else f"{seconds / 3600.0:.1f} h"
