"""Decide the state of the leading batch: what suspends it, what brings it back, what makes it wait for a person.

A sensor fault suspends: the batch goes on by itself after three good readings. The third time within 24 hours, or
after a quarter of an hour, it is held and waits for a person. A latched alarm that locks the heat holds at once.
"""

from collections.abc import Iterable, Sequence
from typing import Final

from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.batch.margin import OVER, binding, is_held_over, is_past_limit
from controller.core.fault_table import ROWS
from controller.core.memory import Batch, Suspicion
from controller.core.plan import Chamber
from controller.core.values import Event

PATIENCE_S: Final = 900.0
PER_DAY: Final = 3
DAY_S: Final = 86_400.0

SUSPENDING: Final = frozenset(row.id for row in ROWS.values() if row.effect == "suspended") | {"S9", "H9"}
"""Thermometers that disagree (S9, H9) let the batch wait by itself until they are latched."""
PATIENT: Final = frozenset({"A3", "A10", "C14"})
"""What suspends for as long as it takes, for it is over by itself or latches by its own rule: no sensor is in doubt."""


def settle_state(
    batch: Batch, blocks: Iterable[str], alarms: Iterable[Alarm], holds: Sequence[str] = ()
) -> tuple[Batch, tuple[Event, ...]]:
    """Return the batch in the state it has to be in, and the event when that changed.

    Args:
        batch: the leading batch.
        blocks: the rows of the fault table that forbid heat or climate in this tick.
        alarms: all open alarms.
        holds: rows found in this tick that hold it, though their alarm locks nothing.
    """
    if batch.state not in {"running", "suspended"}:
        return batch, ()
    held = [f"{alarm.id}: {ROWS[alarm.row].title}" for alarm in alarms if alarm.latched and alarm.locks]
    held += [ROWS[row].title for row in holds]
    if held:
        return _held(batch, held[0])
    blocks = tuple(blocks)
    cause = next((row for row in blocks if row in SUSPENDING), "")
    if batch.state == "suspended":
        if not cause and "settling" in blocks:
            cause = batch.suspicion.cause  # Three good readings in a row are wanted before it goes on.
        if not cause or (cause in PATIENT) == (batch.suspicion.cause in PATIENT):
            return _suspended(batch, cause)
        # A sensor that fails while the lamp is tried has its own quarter of an hour, and the other way round.
    if not cause:
        return batch, ()
    recent = tuple(at_s for at_s in batch.suspicion.starts_s if batch.elapsed_s - at_s < DAY_S)
    starts = recent if cause in PATIENT else (*recent, batch.elapsed_s)
    batch = replace(batch, state="suspended", suspicion=Suspicion(cause, batch.elapsed_s, starts))
    if len(starts) >= PER_DAY and cause not in PATIENT:
        return _held(batch, f"{ROWS[cause].title}, the third time in 24 h")
    return batch, (Event("state", f"Waits by itself: {ROWS[cause].title}. Heat is off.", id=cause, batch=batch.id),)


def _suspended(batch: Batch, cause: str) -> tuple[Batch, tuple[Event, ...]]:
    if not cause:
        text = f"Goes on: {ROWS[batch.suspicion.cause].title} is over."
        back = replace(batch, state="running", suspicion=replace(batch.suspicion, cause=""))
        return back, (Event("state", text, id=batch.suspicion.cause, batch=batch.id),)
    if cause not in PATIENT and batch.elapsed_s - batch.suspicion.since_s >= PATIENCE_S:
        return _held(batch, f"{ROWS[cause].title} for {PATIENCE_S / 60:.0f} min")
    return batch, ()


def _held(batch: Batch, because: str) -> tuple[Batch, tuple[Event, ...]]:
    text = f"Paused, waits for you: {because}. Heat and mist are off; elapsed time and degree-hours go on."
    return replace(batch, state="held", held_because=because, held_by_gap=False), (
        Event("state", text, batch=batch.id),
    )


def pause_past_limit(batches: tuple[Batch, ...], chamber: Chamber) -> tuple[tuple[Batch, ...], tuple[Event, ...]]:
    """Return the batches with each one held that is over its degree-hours, and the events of those newly so.

    Such a batch goes on only when a person resumes it with a reason, and is not paused again for this.
    """
    settled = [_past_limit(batch, chamber) for batch in batches]
    return tuple(batch for batch, _ in settled), tuple(event for _, event in settled if event is not None)


def _past_limit(batch: Batch, chamber: Chamber) -> tuple[Batch, Event | None]:
    if batch.state not in {"running", "suspended", "held"} or not is_past_limit(batch, chamber):
        return batch, None
    if is_held_over(batch):
        return batch, None
    margin = binding(batch, chamber)
    because = f"over the degree-hours ({margin.guarded:.0f} of {margin.guarded_limit:.0f}, °{margin.unit}): {OVER}"
    if batch.state == "held":
        because = f"{because}; paused before: {batch.held_because}"
    effect = "Heat and mist are off in the whole chamber"
    if not batch.in_chamber:
        effect = "It is not in this chamber: cool it yourself, now"
    text = f"Paused, waits for you: {because}. {effect}; elapsed time and degree-hours go on."
    held = replace(batch, state="held", held_because=because, held_by_gap=False, held_by_person=False)
    return held, Event("state", text, id="P9", priority="1", batch=batch.id)
