"""How a run begins, on hardware and on the model alike: with what the last checkpoint holds, or with nothing."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from controller.core.fault_table import ROWS
from controller.core.memory import Memory
from controller.core.plan import Chamber
from controller.core.restart import after_restart, first_memory
from controller.core.values import Event, Trouble
from controller.errors import StorageError
from controller.ports import Clock
from controller.records.checkpoint import Loaded, at_once, load_checkpoint
from controller.records.durable import set_aside

UNTOLD: Final = 200
"""So many events of programs that all ended in their first tick are kept, the newest."""


def begin(
    checkpoint: Path,
    chamber: Chamber,
    clock: Clock,
    *,
    force: bool = True,
    pause: Callable[[float], None] = at_once,
) -> tuple[Memory, tuple[Event, ...]]:
    """Return the memory to begin with: a first one, or what the last checkpoint holds, brought over the break.

    A copy that is damaged is set aside, so that a person may look at it and no new one is written over it. What is
    returned is to be saved before the first tick, so that a program which ends in that tick is counted; what it could
    not tell any more is told by the next one. `pause` lets seconds pass where a disk does not give a copy at once.

    Raises:
        StorageError: no copy can be used, and one that the disk does not give cannot be set aside either: the first
            save would write over what may be whole. The service starts the program again in a few seconds.
    """
    now_s, wall_s, boot_id = clock.monotonic_s(), clock.wall_s(), clock.boot_id()
    loaded = load_checkpoint(checkpoint, pause)
    told = tuple(Event("records", warning) for warning in (*loaded.warnings, *_aside(loaded, force=force)))
    trouble = _trouble(loaded)
    if loaded.memory is None:
        memory = first_memory(chamber, now_s, wall_s, boot_id)
        return replace(memory, wall_trusted=clock.wall_trusted(), found_at_start=trouble, untold=told), told
    memory, events = after_restart(
        loaded.memory,
        chamber,
        now_s,
        wall_s,
        boot_id,
        wall_trusted=clock.wall_trusted(),
        from_copy=bool(loaded.warnings),
    )
    before = loaded.memory
    untold = (one for one in before.found_at_start if one.row in ROWS)  # Another version may have had other rows.
    trouble = tuple(dict.fromkeys((*untold, *trouble)))
    told = (*before.untold, *told, *events)[-UNTOLD:]
    return replace(memory, found_at_start=trouble, untold=told), told


def _aside(loaded: Loaded, *, force: bool) -> list[str]:
    said = []
    for path in loaded.damaged:
        try:
            said.append(f"{path.name} is kept as {set_aside(path, force=force).name}.")
        except StorageError as error:
            if loaded.memory is None and path in loaded.unread:
                raise StorageError(
                    f"{path}: the disk does not give the program's memory, nor lets it be set aside"
                    f" ({_reason(error)}).\nNothing was begun, so nothing is written over it; it is tried again."
                ) from error
            said.append(str(error))
    return said


def _reason(error: OSError) -> str:
    cause = error.__cause__
    return (cause.strerror if isinstance(cause, OSError) else None) or str(error)


def _trouble(loaded: Loaded) -> tuple[Trouble, ...]:
    """Return the alarm of a damaged memory: batches are forgotten, or only the last minute is."""
    if not loaded.damaged:
        return ()
    if loaded.memory is None:
        text = "Every copy of the program's memory is damaged: open batches are forgotten, their folders are not."
        return (Trouble("C13", text, priority="1", did="The damaged copies are kept; it began anew."),)
    text = "The newest copy of the program's memory was damaged; the one before it was taken: the last minute is lost."
    return (Trouble("C13", text, priority="2"),)
