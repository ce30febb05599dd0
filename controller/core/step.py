"""One tick of deciding: judge, people, stages, climate, timing, gate, alarms. Same memory and inputs, same outcome.

The order is the order of the house: nothing is decided from a reading before it is judged, and the gate comes after
everything that wants heat and can only take away.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.book import settle
from controller.core.alarms.sounder import tell_due_of
from controller.core.batch.blind import beside_gap
from controller.core.batch.care import found_air_error_k, is_wet_for_long, overdue_sentence, wet_words
from controller.core.batch.margin import guard_k, tell_counting
from controller.core.batch.reminders import call_for_ph, call_for_weight
from controller.core.batch.stages import (
    Climate,
    elapse,
    is_over,
    lead,
    next_stage,
    wanted_climate,
)
from controller.core.batch.states import pause_past_limit, settle_state
from controller.core.chamber.door import given
from controller.core.chamber.judge import judge
from controller.core.concerns import batch_concerns, care_concerns, chamber_concerns, sensor_concerns
from controller.core.drive import LONGEST_TICK_S, drive
from controller.core.learn.course import climate_of, went_on, with_new_windows
from controller.core.learn.watch import phase_told, still_on
from controller.core.memory import Batch, Inputs, Memory, Outcome
from controller.core.outage.back import gap_becomes_known, look_back
from controller.core.outage.clocks import lost_or_back, over_step, step_of_clock, watch_clock
from controller.core.outage.look import warmest_unseen_c, warmth_now
from controller.core.outage.rules import may_end, settled_by
from controller.core.people import serve
from controller.core.people.drying import aired
from controller.core.people.heat import sensed
from controller.core.plan import Chamber
from controller.core.values import Answer, CheckEntry, Entry, Event, Known, Wanted
from controller.core.watch.agree import hours_go_by_c
from controller.core.watch.door import door_events
from controller.core.watch.frozen import believed, warmest_c

CHECKPOINT_S: Final = 60.0


class _Diary:
    """Collect what one tick wants to be recorded. It lives for one call of `step`."""

    __slots__ = ("answers", "checkpoint", "checks", "conditions", "entries", "events")

    def __init__(self) -> None:
        self.conditions: list[Condition] = []
        self.events: list[Event] = []
        self.entries: list[Entry] = []
        self.answers: list[Answer] = []
        self.checks: list[CheckEntry] = []
        self.checkpoint = False


def step(memory: Memory, inputs: Inputs, chamber: Chamber) -> tuple[Memory, Outcome]:
    """Decide one tick.

    Args:
        memory: what was carried over from the last tick.
        inputs: the clocks, every sensor's newest word, and what people ask.
        chamber: what is fixed while the daemon runs.

    Returns:
        The memory to carry on, and what is to be commanded and recorded.
    """
    diary = _Diary()
    now_s = inputs.now_s
    dt_s = max(now_s - memory.last_s, 0.0)
    judged, shown = judge(memory.judge, inputs.readings, now_s, chamber, given(memory, now_s))
    known = believed(shown, memory.watch.frozen, memory.alarms)
    memory = replace(memory, judge=judged, batches=_still_open(memory.batches), learning=still_on(memory.learning))
    tested = memory.learning
    memory = _mind_the_clock(memory, inputs, chamber, dt_s, diary)
    if memory.gap_open_wall_s is not None and inputs.wall_trusted:
        memory = _found_out(gap_becomes_known(memory, inputs, chamber), diary)
    if memory.back is not None:
        memory = _found_out(look_back(memory, known, inputs, chamber), diary)
    stages = _stages(memory) if is_wet_for_long(memory, chamber.care) else None
    for request in inputs.requests:
        memory = _serve(memory, request, inputs, chamber, diary)
    memory = _advance(memory, known, inputs, chamber, dt_s, diary)
    batches, paused = pause_past_limit(memory.batches, chamber)  # First: no tick of heat is given over the limit.
    if paused:
        memory = replace(memory, batches=batches)
        diary.events += paused
        diary.checkpoint = True
    leading = lead(memory)
    memory, climate = _wanted(memory, leading, known, chamber, now_s)
    door = memory.watch.door
    memory, commands, blocks, conditions = drive(memory, known, climate, leading, chamber, inputs, dt_s)
    if memory.watch.door is not door:
        diary.events += door_events(door, memory.watch.door, now_s, by_contact="door" in chamber.channels)
    moved = phase_told(tested, memory.learning)
    diary.events += moved
    diary.checkpoint |= bool(moved)
    memory = _raise_alarms(memory, conditions, inputs, shown, chamber, diary)
    if now_s - memory.started_s > chamber.limits.settle_s:
        holds = tuple(condition.row for condition in conditions if condition.holds) if conditions else ()
        memory = _settle_states(memory, leading, blocks, holds, diary)
    if inputs.summary_due:
        late = overdue_sentence(memory, chamber.care, inputs.wall_s) if inputs.wall_trusted else ""
        late = f"{late} {tell_due_of(chamber, memory.heard, inputs.wall_s)}".strip() if inputs.wall_trusted else ""
        told = f" {late}" if late else ""
        diary.events += [
            Event("summary", _summary(batch, known, chamber, inputs.wall_s) + told, batch=batch.id)
            for batch in memory.batches
        ]
    wet = known.rh_pct is not None and known.rh_pct > chamber.thresholds.wet_above_pct
    if stages is not None and stages != _stages(memory):
        diary.events.append(Event("prompt", wet_words(memory), id="S12"))
    diary.checkpoint |= bool(diary.entries or diary.answers) or now_s - memory.saved_s >= CHECKPOINT_S
    memory = replace(
        memory,
        last_s=now_s,
        wall_s=inputs.wall_s,
        wall_trusted=inputs.wall_trusted,
        air_temp_c=known.air_temp_c if known.air_temp_c is not None else memory.air_temp_c,
        highest_c=known.highest_c if known.highest_c is not None else memory.highest_c,
        warmth=warmth_now(memory, known, leading, chamber, now_s),
        rh_wet_s=memory.rh_wet_s + min(dt_s, LONGEST_TICK_S) if wet else memory.rh_wet_s,
        leader="" if leading is None else leading.id,
        found_at_start=(),
        untold=(),
        saved_s=now_s if diary.checkpoint else memory.saved_s,
    )
    return memory, Outcome(
        now_s,
        inputs.wall_s,
        commands,
        known,
        Wanted(climate.air_temp_c, climate.rh_pct) if memory.learning is None else Wanted(),
        tuple(dict.fromkeys(block for block in blocks if block not in {"state", "settling"})) if blocks else (),
        tuple(diary.events),
        tuple(diary.entries),
        tuple(diary.answers),
        diary.checkpoint,
        inputs.wall_trusted,
        tuple(diary.checks),
    )


def _wanted(
    memory: Memory, leading: Batch | None, known: Known, chamber: Chamber, now_s: float
) -> tuple[Memory, Climate]:
    """Return what the leading batch wants, or a step test, which goes on to the phase that is due."""
    learning = memory.learning
    if learning is None:
        return memory, wanted_climate(leading)
    if not learning.ended:
        after = went_on(learning, known, chamber, now_s)
        outputs = memory.outputs if after.phase == learning.phase else with_new_windows(memory.outputs)
        memory, learning = replace(memory, learning=after, outputs=outputs), after
    return memory, climate_of(learning, chamber)


def _stages(memory: Memory) -> tuple[tuple[str, int], ...]:
    return tuple((batch.id, batch.stage_index) for batch in memory.batches)


def _still_open(batches: tuple[Batch, ...]) -> tuple[Batch, ...]:
    return batches if all(batch.open for batch in batches) else tuple(batch for batch in batches if batch.open)


def _found_out(found: tuple[Memory, tuple[Event, ...], tuple[Condition, ...]], diary: _Diary) -> Memory:
    """Take over what was found out of a time in which the program was not running."""
    memory, events, conditions = found
    diary.events += events
    diary.conditions += conditions
    diary.checkpoint |= bool(events or conditions)
    return memory


def _mind_the_clock(memory: Memory, inputs: Inputs, chamber: Chamber, dt_s: float, diary: _Diary) -> Memory:
    """Tell of a step of the wall clock, which changes no stage and no count."""
    if inputs.missed_ticks:
        diary.events.append(Event("late", f"{inputs.missed_ticks} ticks were missed; they are not made up for."))
    stepped_s = step_of_clock(memory, inputs, dt_s, chamber)
    diary.conditions += watch_clock(memory, inputs, stepped_s, chamber)
    if stepped_s:
        memory, event = over_step(memory, stepped_s, inputs.wall_s)
        diary.events.append(event)
    if memory.wall_trusted is not inputs.wall_trusted or memory.lost_wall_s is not None:
        memory = _found_out(lost_or_back(memory, inputs, chamber, stepped_s), diary)
    return memory


def _serve(memory: Memory, request: object, inputs: Inputs, chamber: Chamber, diary: _Diary) -> Memory:
    done, answer = serve(memory, request, inputs, chamber)  # type: ignore[arg-type]
    diary.events += done.events
    diary.entries += done.entries
    diary.checks += done.checks
    diary.answers.append(answer)
    return done.memory


def _advance(memory: Memory, known: Known, inputs: Inputs, chamber: Chamber, dt_s: float, diary: _Diary) -> Memory:
    """Let time pass in every batch, and end the stages that are over."""
    if not memory.batches:
        return memory
    air_c = hours_go_by_c(memory.watch.agree, known)
    counts_by = known if air_c == known.air_temp_c else replace(known, air_temp_c=air_c)
    worst_c = air_c
    if air_c is None:
        room_c, unseen_c = known.ambient_temp_c, warmest_unseen_c(memory)
        worst_c = _highest(memory.air_temp_c, known.highest_firm_c, warmest_c(known, chamber), room_c, unseen_c)
    leading = lead(memory)
    wanted_c = wanted_climate(leading).air_temp_c
    after = []
    found_k = found_air_error_k(memory.last_checks, chamber.air_error_k)
    for batch in memory.batches:
        if found_k > max(chamber.air_error_k, batch.found_error_k) and batch.in_chamber:
            batch = replace(batch, found_error_k=found_k)  # noqa: PLW2901 - from now on
        wanted_here_c = wanted_c if batch is leading else batch.stage.air_temp_c
        grown = elapse(batch, counts_by, wanted_here_c, worst_c, dt_s, guard_k(batch, chamber))
        grown, words = call_for_ph(beside_gap(grown, worst_c))
        if words and not _asks_for_ph(memory, grown):
            diary.events.append(Event("prompt", words, batch=grown.id))
        grown, words = call_for_weight(grown, inputs.wall_s)
        if words:
            diary.events.append(Event("prompt", words, batch=grown.id))
        grown = aired(sensed(grown, known, inputs.wall_s), known, dt_s)
        grown = settled_by(grown, memory.alarms, diary.conditions)
        if grown.state == "running" and is_over(grown, chamber) and may_end(grown):
            grown, event = next_stage(grown, inputs.wall_s, "until")
            diary.events.append(event)
            diary.checkpoint = True
        after.append(grown)
    return replace(memory, batches=tuple(after))


def _asks_for_ph(memory: Memory, batch: Batch) -> bool:
    """Say whether the alarm of a cut asks for the pH already of a batch that is paused: one thing, one call."""
    if batch.state != "held":
        return False
    return any(alarm.row == "C16" and alarm.active and alarm.batch == batch.id for alarm in memory.alarms)


def _highest(*values: float | None) -> float | None:
    return max((value for value in values if value is not None), default=None)


def _raise_alarms(
    memory: Memory, conditions: list[Condition], inputs: Inputs, known: Known, chamber: Chamber, diary: _Diary
) -> Memory:
    conditions += diary.conditions
    conditions += sensor_concerns(memory, known, chamber, inputs.now_s)
    for batch in memory.batches:
        conditions += batch_concerns(batch, chamber, memory.air_temp_c, inputs.wall_s)
    conditions += chamber_concerns(memory)
    if memory.checked_wall_s:
        conditions += care_concerns(memory, chamber.care, inputs)
    if chamber.heat_refused and memory.batches:
        conditions.append(Condition("H11", f"No heat is given: {chamber.heat_refused}."))
    memory, events = settle(memory, conditions, inputs.now_s, inputs.wall_s)
    diary.events += events
    diary.checkpoint |= bool(events)
    return memory


def _settle_states(
    memory: Memory, leading: Batch | None, blocks: tuple[str, ...], holds: tuple[str, ...], diary: _Diary
) -> Memory:
    """Settle the state of the batch that leads; one that only hangs along or is elsewhere waits for no sensor."""
    after = []
    for batch in memory.batches:
        if batch is leading:
            settled, events = settle_state(batch, blocks, memory.alarms, holds)
        else:
            settled, events = settle_state(batch, (), ())
        diary.events += events
        diary.checkpoint |= bool(events)
        after.append(settled)
    if all(settled is batch for settled, batch in zip(after, memory.batches, strict=True)):
        return memory
    return replace(memory, batches=tuple(after))


def _summary(batch: Batch, known: Known, chamber: Chamber, wall_s: float) -> str:
    air = "air temperature unknown" if known.air_temp_c is None else f"air {known.air_temp_c:.1f} °C"
    rh = "" if known.rh_pct is None else f", {known.rh_pct:.0f} % RH"
    ph = f", pH {batch.ph[-1][1]:.2f}" if batch.ph else ""
    loss = batch.weight_loss_pct
    lost = "" if loss is None else f", loss {loss:.1f} %"
    counting = tell_counting(batch, chamber, known.air_temp_c, wall_s)
    counted = f" {counting[0].upper()}{counting[1:]}." if counting else ""
    return f"{batch.stage.name}, {batch.state}, {batch.stage_elapsed_s / 3600:.1f} h: {air}{rh}{ph}{lost}.{counted}"
