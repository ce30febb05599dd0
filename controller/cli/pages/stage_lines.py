"""What a stage asks and waits for, in lines for the status page: its note, the weights, a person's word."""

from collections.abc import Iterator
from typing import Final

from controller.cli.local import in_units
from controller.cli.say import fold, show_time
from controller.records.status import BatchStatus
from controller.settings.units import Units

INDENT: Final = "    "
FIRST: Final = "  "


def tell_weights(batch: BatchStatus, timezone: str) -> Iterator[str]:
    """Yield what the slowest piece has lost, when a piece was weighed last, and whether it is time again."""
    parts = []
    if batch.weight_loss_pct is not None:
        parts.append(f"the slowest piece has lost {batch.weight_loss_pct:.1f} %")
    if batch.weighed_wall_s is not None:
        parts.append(f"weighed {show_time(batch.weighed_wall_s, timezone)}")
    if batch.weigh_now:
        parts.append("weigh now" if batch.weighed_wall_s is not None else "no piece was weighed; weigh now")
    if parts:
        yield from fold("; ".join(parts), INDENT, FIRST)


def tell_waits(batch: BatchStatus, units: Units) -> Iterator[str]:
    """Yield what the stage waits for, whether a person has confirmed it, and what the profile says of it."""
    waits = "" if batch.kind == "warm-up" else in_units(", ".join(batch.still_wanted), units)
    if batch.confirmed:
        yield from fold(f"confirmed{f'; still wanted: {waits}' if waits else ''}", INDENT, FIRST)
    elif waits:
        yield from fold(f"still wanted: {waits}", INDENT, FIRST)
    if batch.asks_confirm and batch.kind != "warm-up":
        yield "  waits for you: say `hangroom confirm` when it is done"
    if batch.note:
        yield from fold(in_units(batch.note, units), INDENT, FIRST)
