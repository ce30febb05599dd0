"""Come back after the program was not running: what is kept, what is begun afresh, and what a gap means.

How long the gap was is known only when both ends of it were told by a clock that can be believed. Where it is not, the
cooling may bound it seconds later (`outage.back`), or the network tell it minutes later; until then a batch waits.
What the length means stands in `outage.rules`. The record shows a gap, never interpolated rows.
"""

from collections.abc import Iterable
from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.book import settle
from controller.core.alarms.memory import Calling
from controller.core.alarms.message import clock_utc
from controller.core.alarms.restart import over_restart
from controller.core.batch.blind import count_blind, open_gap
from controller.core.batch.counting import count
from controller.core.batch.margin import guard_k
from controller.core.chamber.timing import begin
from controller.core.memory import Batch, JudgeMemory, Loops, Memory
from controller.core.outage.away import Back
from controller.core.outage.back import CLOCK_PATIENCE_S, UNKNOWN
from controller.core.outage.bound import CHECKPOINT_OLD_S
from controller.core.outage.clocks import over_step, step_since, watch_step
from controller.core.outage.look import warmest_unseen_c
from controller.core.outage.rules import SHORT_S, concerns, held_for, judged, spoken, with_cut
from controller.core.outage.starts import starts_now, watch_starts
from controller.core.outage.warmth import carried_over
from controller.core.plan import Chamber
from controller.core.plant.restart import carried_air
from controller.core.upgrade import caught_up
from controller.core.values import Event
from controller.core.watch.restart import carried_on
from controller.core.watch.sensors import carried_return

COPY_OLD_S: Final = CHECKPOINT_OLD_S
"""The copy of the checkpoint before is older than the newest one by so much at most."""


def first_memory(chamber: Chamber, now_s: float, wall_s: float, boot_id: str) -> Memory:
    """Return the memory of a program that has never run here."""
    return Memory(started_s=now_s, last_s=now_s, wall_s=wall_s, boot_id=boot_id, outputs=begin(chamber, {}, now_s))


def after_restart(
    kept: Memory,
    chamber: Chamber,
    now_s: float,
    wall_s: float,
    boot_id: str,
    *,
    wall_trusted: bool,
    from_copy: bool = False,
) -> tuple[Memory, tuple[Event, ...]]:
    """Return the memory to go on with, and the events that tell what happened.

    Args:
        kept: what the last checkpoint held.
        chamber: the chamber, for the outputs and the limits.
        now_s: the monotonic clock of this boot.
        wall_s: the clock on the wall.
        boot_id: the name of this boot.
        wall_trusted: whether the wall clock can be believed now.
        from_copy: the newest checkpoint was damaged, and this is the one before it.
    """
    same_boot = bool(boot_id) and boot_id == kept.boot_id
    caught = tuple(caught_up(batch, guard_k(batch, chamber), kept) for batch in kept.batches if batch.open)
    kept = replace(kept, batches=caught)
    kept, events, conditions = _over_step(kept, chamber, now_s, wall_s) if same_boot else (kept, [], [])
    gap_s = _gap_s(kept, now_s, wall_s, same_boot=same_boot, wall_trusted=wall_trusted)
    open_wall_s = _open_since_s(kept, gap_s)
    why = _why(kept, same_boot=same_boot)
    dates = f" Last known {clock_utc(kept.wall_s)}, now {clock_utc(wall_s)}; "
    dates += "the clock can be believed." if wall_trusted else "nobody has set the clock yet."
    batches: list[Batch] = []
    for batch in kept.batches:
        events.append(_told(batch, gap_s, why, dates))
        after, more, found = _over_gap(batch, gap_s, kept, chamber, wall_s, power=not same_boot)
        events += more
        conditions += found
        batches.append(after)
    alarms, quieted = over_restart(kept.alarms, kept.last_s, now_s, gap_s, same_boot=same_boot)
    memory = replace(
        kept,
        started_s=now_s,
        last_s=now_s,
        boot_id=boot_id,
        wall_s=wall_s,
        wall_trusted=wall_trusted,
        lost_wall_s=kept.lost_wall_s if same_boot else None,  # A new boot has a clock of its own.
        ended_cleanly=False,
        starts=starts_now(kept, now_s, gap_s, same_boot=same_boot),
        gap_s=0.0,
        gap_highest_c=None,
        gap_open_wall_s=open_wall_s if any(batch.gap_at_s is not None for batch in batches) else None,
        back=_back(kept, gap_s, _called(conditions), from_copy=from_copy) if batches else None,
        warmth=carried_over(kept.warmth, chamber.room_c),
        batches=tuple(batches),
        alarms=alarms,
        calling=Calling(),
        judge=JudgeMemory(),
        outputs=begin(chamber, kept.outputs, now_s),
        loops=_loops(kept.loops) if gap_s is not None and gap_s <= SHORT_S else Loops(),
        watch=carried_on(kept.watch, chamber, gap_s or 0.0, now_s - kept.last_s - (gap_s or 0.0), same_boot=same_boot),
        learning=None,
        saved_s=float("-inf"),
    )
    if kept.learning is not None and not kept.learning.ended:
        text = f"Step test {kept.learning.name} broken off: the program was not running. Nothing was changed."
        events.append(Event("learn", text))
    memory = _air_goes_on(memory, kept, gap_s)
    memory, alarm_events = settle(memory, [*conditions, *watch_starts(memory, chamber, now_s)], now_s, wall_s)
    return memory, (*events, *quieted, *alarm_events)


def _over_step(
    kept: Memory, chamber: Chamber, now_s: float, wall_s: float
) -> tuple[Memory, list[Event], list[Condition]]:
    """Return what was kept after a step of the wall clock while the program was away, as a tick would have seen it."""
    stepped_s = step_since(kept, wall_s, now_s - kept.last_s, chamber)
    if not stepped_s:
        return kept, [], []
    conditions = watch_step(kept, stepped_s, chamber)
    kept, event = over_step(kept, stepped_s, wall_s)
    return kept, [event], conditions


def _air_goes_on(memory: Memory, kept: Memory, gap_s: float | None) -> Memory:
    """Return the memory with what the air had reached, and what was found of it.

    While a clock may still tell how long the gap was, the batch waits and wants another climate: that is not looked at.
    """
    shift_s = memory.last_s - kept.last_s - (gap_s or 0.0)
    short = gap_s is not None and gap_s <= SHORT_S
    looked_s = memory.last_s + (CLOCK_PATIENCE_S if gap_s is None else 0.0)
    air = carried_air(kept.watch.plant.air, kept.air_temp_c, looked_s, shift_s, short=short)
    watch = replace(memory.watch, plant=replace(memory.watch.plant, air=air))
    back = carried_return(kept.watch.back, shift_s, told=gap_s is not None)
    return replace(memory, watch=replace(watch, back=back))


def _loops(kept: Loops) -> Loops:
    """Return the loops with the integrals of before a short gap; what hangs on the clock is begun afresh."""
    return Loops(
        heat_integral=kept.heat_integral,
        cool_integral=kept.cool_integral,
        mist_integral=kept.mist_integral,
        dry_integral=kept.dry_integral,
        damp_pct=kept.damp_pct,
        wanted_c=kept.wanted_c,
        wall_c=kept.wall_c,
        heat_holds=kept.heat_holds,
        ripple_k=kept.ripple_k,
        came=kept.came,
        warm_k=kept.warm_k,
    )


def _gap_s(kept: Memory, now_s: float, wall_s: float, *, same_boot: bool, wall_trusted: bool) -> float | None:
    """Return how long the program was away; None when no clock can tell."""
    if same_boot:
        return max(now_s - kept.last_s, 0.0)
    if wall_trusted and kept.wall_trusted and wall_s >= kept.wall_s:
        return wall_s - kept.wall_s
    return None


def _why(kept: Memory, *, same_boot: bool) -> str:
    """Return what the program knows of its own end."""
    if kept.ended_cleanly:
        return "it had been stopped"
    if same_boot:
        return "it had ended without a stop"
    return "the power had failed, or the computer had hung"


def _told(batch: Batch, gap_s: float | None, why: str, dates: str) -> Event:
    """Return the event of the gap; its id says that its length is not known yet."""
    length = "of unknown length" if gap_s is None else f"of up to {spoken(gap_s)}"
    text = f"The program was not running: a gap {length}; {why}.{dates}"
    return Event("gap", text, id=UNKNOWN if gap_s is None else "", batch=batch.id)


def _called(conditions: Iterable[Condition]) -> tuple[str, ...]:
    """Return for which batches a person is called because the program was away."""
    return tuple(condition.batch for condition in conditions if condition.row == "C16")


def _back(kept: Memory, gap_s: float | None, called: tuple[str, ...], *, from_copy: bool) -> Back:
    """Return what is to be found out now; what was still to be found out after the last start goes on with it."""
    older_s = COPY_OLD_S if from_copy else 0.0
    before = kept.back
    if before is None or before.looked or not before.unknown:
        looked = before is not None and before.unknown and before.looked and gap_s is not None
        if before is not None and looked:
            called = (*before.called, *called)
        return Back(kept.warmth, older_s=older_s, unknown=gap_s is None or looked, looked=looked, called=called)
    known_s = before.known_s + max(kept.last_s - kept.started_s, 0.0) + (gap_s or 0.0)
    return replace(before, known_s=known_s, older_s=before.older_s + older_s, called=(*before.called, *called))


def _over_gap(
    batch: Batch, gap_s: float | None, kept: Memory, chamber: Chamber, wall_s: float, *, power: bool
) -> tuple[Batch, tuple[Event, ...], tuple[Condition, ...]]:
    highest_c = _highest(kept.highest_c, kept.air_temp_c, kept.gap_highest_c, warmest_unseen_c(kept))
    error_k = guard_k(batch, chamber)
    if kept.gap_s > 0.0:
        batch = _lived(batch, kept.gap_s, highest_c, error_k)
    if gap_s is None:
        again = kept.back is not None and kept.back.unknown and not kept.back.looked
        shared = kept.gap_open_wall_s is not None and batch.gap_at_s is None
        after, events = held_for(open_gap(batch, highest_c, again=again, shared=shared), None)
        return after, events, ()
    stage_s = batch.stage_elapsed_s + (0.0 if batch.waits_for_meat else gap_s)
    after = replace(batch, elapsed_s=batch.elapsed_s + gap_s, stage_elapsed_s=stage_s)
    after = _lived(after, gap_s, highest_c, error_k)
    if not concerns(batch):
        return after, (), ()
    after = with_cut(after, gap_s, power=power and not kept.ended_cleanly)
    return judged(after, gap_s, chamber, wall_s, clock=True)


def _lived(batch: Batch, gap_s: float, highest_c: float | None, error_k: float) -> Batch:
    """Return the batch with the degree-hours of a gap of known length: elsewhere it had what is wanted there."""
    if batch.stage.where == "elsewhere":
        return count(batch, batch.stage.air_temp_c, gap_s, error_k)
    return count_blind(batch, gap_s, highest_c, error_k) if gap_s > 0.0 else batch


def _open_since_s(kept: Memory, gap_s: float | None) -> float | None:
    """Return when the gap of unknown length began by a clock that could be believed then; None where there is none.

    Where an older one is open still, what has been counted since is taken off it: the time the program ran, and a gap
    that is known.
    """
    if kept.gap_open_wall_s is not None:
        return kept.gap_open_wall_s + (kept.last_s - kept.started_s) + (gap_s or 0.0)
    if any(batch.gap_at_s is not None for batch in kept.batches):
        return None  # No clock will ever tell of the older one, and what it tells of this one is not both.
    return kept.wall_s if kept.wall_trusted and gap_s is None else None


def _highest(*temps: float | None) -> float | None:
    return max((temp_c for temp_c in temps if temp_c is not None), default=None)
