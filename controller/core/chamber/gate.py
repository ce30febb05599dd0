"""The gate: the last word on heat. It can only take away.

Heat burns only while all of this holds: the chamber has a declared and tested thermal cut-out; the program has
settled after its start; the newest good air temperature is at most 12 s old; no witness is at the trip or above;
the witnesses, where there are two, agree within 3 K; no latched alarm locks the heat; no batch in the chamber, leading
or not, is over its degree-hours with nobody having decided; a crash that led to this start could be counted; and the
state of the leading batch allows it.
Each condition stands on a line of its own and is tested by its own removal.
"""

from collections.abc import Iterable

from controller.core.alarms.memory import Alarm
from controller.core.fault_words import ROW_OF_FAULT
from controller.core.plan import Chamber
from controller.core.values import WITNESSES, Known


def heat_blocks(
    known: Known,
    chamber: Chamber,
    alarms: Iterable[Alarm],
    since_start_s: float,
    now_s: float,
    *,
    apart: bool,
    state_allows: bool,
    over: bool,
    uncounted: str,
) -> tuple[str, ...]:
    """Return why heat is not allowed now, as rows of the fault table and plain words; empty when it is allowed.

    Args:
        known: what the judge believes.
        chamber: the limits, and whether heat is refused altogether.
        alarms: all open alarms; those that are latched and lock the heat count.
        since_start_s: seconds since this start of the program.
        now_s: the monotonic clock.
        apart: whether the witnesses have disagreed and not been seen to agree since.
        over: whether a batch in the chamber is over its degree-hours and nobody has said go on.
        state_allows: whether the state of the leading batch lets heat burn.
        uncounted: the row by which this start, after a crash, could not be written down; empty where it was.
    """
    limits = chamber.limits
    blocks = []
    if chamber.heat_refused:
        blocks.append("H11")
    if since_start_s < limits.settle_s or known.good_in_a_row < limits.settle_readings:
        blocks.append("settling")
    if uncounted:
        blocks.append(uncounted)
    if now_s - known.good_air_taken_s > limits.fresh_s:
        blocks.append(ROW_OF_FAULT[known.faults.get("air_temp", "stale")])
    if known.highest_c is None:
        blocks.append("S3")
    elif known.highest_c >= limits.trip_c:
        blocks.append("A2")
    blocks.extend(_standing(known))
    if apart or (known.spread_k is not None and known.spread_k > limits.agree_k):
        blocks.append("S9")
    blocks.extend(alarm.row for alarm in alarms if alarm.latched and alarm.locks)
    if over:
        blocks.append("P9")
    if not state_allows:
        blocks.append("state")
    return tuple(dict.fromkeys(blocks))


def _standing(known: Known) -> tuple[str, ...]:
    """Return the row of a witness that stands still; its alarm, which locks the heat, comes at the end of the tick."""
    if not known.faults:
        return ()
    stands = any(fault == "frozen" and channel in WITNESSES for channel, fault in known.faults.items())
    return ("S6",) if stands else ()
