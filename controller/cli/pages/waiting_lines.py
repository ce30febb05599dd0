"""A batch that the program has paused stands on top as long as it waits, whatever has become of the alarm."""

from collections.abc import Iterable, Iterator
from typing import Final

from controller.cli.local import in_local_words
from controller.cli.pages.alarm_lines import is_urgent
from controller.cli.say import fold
from controller.records.alarm_status import AlarmStatus
from controller.records.status import BatchStatus
from controller.settings.units import Units

SAYS_SO: Final = frozenset({"P9", "P11", "C16"})
"""Alarms whose own words are that a batch waits: beside one of these nothing more is said."""


def tell_waiting(
    batches: Iterable[BatchStatus], alarms: Iterable[AlarmStatus], timezone: str, units: Units
) -> Iterator[str]:
    """Yield an urgent line for each batch that the program has paused and that goes on by a person only."""
    alarms = tuple(alarms)
    told = {alarm.batch for alarm in alarms if alarm.row in SAYS_SO and is_urgent(alarm)}
    locks = [alarm.id for alarm in alarms if alarm.latched and alarm.locks]
    then = f"hangroom clear {locks[0]}, and then hangroom resume" if locks else "hangroom resume"
    for batch in batches:
        if not batch.waits_for_you or batch.id in told:
            continue
        because = in_local_words(batch.held_because, timezone, units)
        meat = "Heat and mist are off"
        if batch.hung_wall_s is not None:
            raw = batch.kind == "ferment" and (batch.counting is None or not batch.counting.ended)
            meat += "; raw meat that has not soured gets as warm as its room" if raw else "; its time goes on"
        text = f"act now: {batch.id} is paused and waits for you ({because}). {meat}. Look at it, then: {then}."
        yield from fold(text, "    ", "! ")
