"""Bring the alarms over a restart of the program."""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms.entries import event_of, stays
from controller.core.alarms.memory import NEVER_S, Alarm
from controller.core.fault_table import ROWS
from controller.core.values import Event

LONGEST_SHIFT_S: Final = 1e9
"""More seconds than any gap has: 30 years."""


def over_restart(
    alarms: tuple[Alarm, ...], last_s: float, now_s: float, gap_s: float | None, *, same_boot: bool
) -> tuple[tuple[Alarm, ...], tuple[Event, ...]]:
    """Return the alarms as they are at a new start, and the events of what changed.

    What was active stays so until its rule has had the time to look again. How long ago each has called goes on
    counting; where nobody knows how long the program was away, each calls at once. What is quiet stays so for the rest
    of its time; a new boot of the machine ends it, for nobody knows who has been at the chamber meanwhile.

    Args:
        alarms: as they were kept.
        last_s: the monotonic instant at which they were kept.
        now_s: the monotonic clock now; after a boot it began anew.
        gap_s: for how long the program was away; None where nobody knows.
        same_boot: whether the machine has not been restarted since.
    """
    shift_s = now_s - last_s - min(max(gap_s or 0.0, 0.0), LONGEST_SHIFT_S)
    events: list[Event] = []
    after: list[Alarm] = []
    for alarm in alarms:
        if alarm.row not in ROWS:
            text = f"The alarm {alarm.id} is of a rule that this program has not; it is left out."
            events.append(Event("records", text, batch=alarm.batch))
            continue
        kept = replace(
            alarm,
            since_s=alarm.since_s + shift_s,
            called_s=NEVER_S if gap_s is None else alarm.called_s + shift_s,
            gone_s=None if alarm.active or alarm.gone_s is None else alarm.gone_s + shift_s,
            unproved=alarm.active,
        )
        if kept.quiet_until_s is not None:
            kept = replace(kept, quiet_until_s=kept.quiet_until_s + shift_s if same_boot else None)
            if not same_boot:
                kept = replace(kept, seen=kept.seen and not kept.active, called_s=NEVER_S)
                text = f"{ROWS[kept.row].title}: it is quiet no longer, for the machine was restarted."
                events.append(event_of("quiet", kept, text))
        if stays(kept):
            after.append(kept)
    return tuple(after), tuple(events)
