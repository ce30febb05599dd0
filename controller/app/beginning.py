"""How a run begins, on hardware and on the model alike: with what the last checkpoint holds, or with nothing."""

from pathlib import Path

from controller.core.memory import Memory
from controller.core.plan import Chamber
from controller.core.restart import after_restart, first_memory
from controller.core.values import Event
from controller.ports import Clock
from controller.records.checkpoint import load_checkpoint


def begin(checkpoint: Path, chamber: Chamber, clock: Clock) -> tuple[Memory, tuple[Event, ...]]:
    """Return the memory to begin with: a first one, or what the last checkpoint holds, brought over the break."""
    now_s, wall_s, boot_id = clock.monotonic_s(), clock.wall_s(), clock.boot_id()
    loaded = load_checkpoint(checkpoint)
    told = tuple(Event("records", warning) for warning in loaded.warnings)
    if loaded.memory is None:
        return first_memory(chamber, now_s, wall_s, boot_id), told
    memory, events = after_restart(loaded.memory, chamber, now_s, wall_s, boot_id, wall_trusted=clock.wall_trusted())
    return memory, (*told, *events)
