"""The degree-hours and the pH of a batch, in lines for the status page."""

from collections.abc import Iterator
from typing import Final

from controller.cli.local import in_units
from controller.cli.say import fold, show_maybe, show_time
from controller.core.batch.margin import NO_PROTECTION, OVER, Margin
from controller.core.batch.reminders import SAUSAGE
from controller.food.degree_hours import TARGET_PH
from controller.records.counting_status import CountingStatus
from controller.records.status import BatchStatus
from controller.settings.units import Units

A_MINUTE_S: Final = 60.0
INDENT: Final = "    "
FIRST: Final = "  "


def tell_ph(batch: BatchStatus, timezone: str, units: Units = "C") -> Iterator[str]:
    """Yield the newest pH, and when the next is due."""
    if batch.ph is not None:
        overdue = "; another is overdue, measure now" if batch.ph_overdue else ""
        where = " in a real sausage" if batch.ph.from_sausage else ""
        counts = f", counts as {batch.ph.value + batch.ph.error:.2f}" if batch.ph.error else ""
        text = f"pH {batch.ph.value:.2f}{where} at {show_time(batch.ph.wall_s, timezone)}{counts}{overdue}"
        yield from fold(text, INDENT, FIRST)
    elif batch.ph_overdue:
        yield "  pH is overdue: measure it now"
    if batch.asks_sausage:
        yield from fold(f"the wrapped sample has reached the end; {SAUSAGE}", INDENT, FIRST)
    elif batch.ph_next_wall_s is not None and not batch.ph_overdue:
        yield f"  next pH due at {show_time(batch.ph_next_wall_s, timezone)}"
    if batch.cools:
        to = in_units(f", {batch.cools_to}" if batch.cools_to else "", units)
        text = f"let cool since you asked for it: lamp off{to}; it stays a ferment until a pH ends it"
        yield from fold(text, INDENT, FIRST)
    elif batch.cool_from_wall_s is not None:
        to = in_units(f" ({batch.cools_to})" if batch.cools_to else "", units)
        from_ = show_time(batch.cool_from_wall_s, timezone)
        yield from fold(f"is let cool from {from_} on{to}: hangroom cool --off takes it back", INDENT, FIRST)


def tell_counting(batch: BatchStatus, units: Units, timezone: str) -> Iterator[str]:
    """Yield how the degree-hours stand by both rules, when the limit is reached, and what is said when it is."""
    counting = batch.counting
    if counting is None:
        hours = batch.degree_hours_f if units == "F" else batch.degree_hours_c
        if batch.hung_wall_s is not None:
            hottest = show_maybe(batch.highest_air_temp_c, units)
            yield f"  {hours:.0f} degree-hours (°{units}), hottest air {hottest}"
        return
    if batch.hung_wall_s is not None:
        ended = f", ended by pH {TARGET_PH}" if counting.ended else ""
        hottest = show_maybe(batch.highest_air_temp_c, units)
        yield f"  degree-hours{ended}; hottest air {hottest}"
        yield in_units(f"  with {counting.error_k:g} K for the thermometer added, and (as measured):", units)
        for margin in (counting.us, counting.canada):
            yield f"    {_rule(margin, counting)}"
        if counting.uncounted:
            yield from fold(in_units(f"NOT ALL COUNTED: {counting.uncounted}", units), INDENT, FIRST)
        if not counting.ended:
            yield "    (limits partly from memory: confirm with your authority)"
    yield from _tell_time(counting, units, timezone)


def _rule(margin: Margin, counting: CountingStatus) -> str:
    binds = counting.rule in {"both", margin.rule}
    over = " OVER" if margin.over else ""
    name = {"us": "US", "canada": "Canada"}[margin.rule]
    note = "" if binds else " (shown only)"
    return (
        f"{name:<7}{margin.guarded:>5.0f} of {margin.guarded_limit:.0f} °{margin.unit}·h, {100 * margin.share:.0f} %"
        f"  ({margin.used:.0f} of {margin.limit:.0f}){over}{note}"
    )


def _tell_time(counting: CountingStatus, units: Units, timezone: str) -> Iterator[str]:
    if counting.over:
        said = "; a person said go on" if counting.over_accepted else ""
        yield from fold(f"OVER THE LIMIT: {OVER}{said}", INDENT, FIRST)
    if counting.ended:
        return
    if counting.protects_nothing:
        days = "" if counting.at_most_days is None else f"; at most {counting.at_most_days:.1f} days in the ferment"
        text = f"at or below 15.6 °C (60 °F) no degree-hours are counted: {NO_PROTECTION}{days}"
        yield from fold(in_units(text, units), INDENT, FIRST)
    if counting.latest_5_3_h is not None:
        yield from fold(
            f"pH {TARGET_PH} has to be measured within {counting.latest_5_3_h:.1f} h of hanging", INDENT, FIRST
        )
    if counting.over:
        return
    limit_s, latest_s = counting.limit_wall_s, counting.latest_5_3_wall_s
    if limit_s is not None and latest_s is not None and limit_s - latest_s < A_MINUTE_S:
        reached = show_time(limit_s, timezone)
        yield f"  limit reached at {reached} if nothing changes; latest hour for pH {TARGET_PH}"
        return
    if limit_s is not None:
        yield f"  limit reached at {show_time(limit_s, timezone)} if nothing changes"
    if latest_s is not None:
        yield f"  latest hour for pH {TARGET_PH}: {show_time(latest_s, timezone)}"
