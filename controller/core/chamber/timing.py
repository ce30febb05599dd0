"""Turn duties into instants: how long each output is on from now.

Time is cut into windows. At the start of each the wanted duty becomes seconds of being on; what is too short to
switch, or too short a pause, is carried to the next window, so that over hours the mean is exact. Within a window the
output is never commanded further ahead than two ticks: that is the lease which ends a lamp when the loop is blocked,
and the one-second pulse of a humidifier, in one mechanism.
"""

from collections.abc import Container, Mapping
from typing import Final

from controller.core.memory import OutputMemory
from controller.core.plan import Chamber, Output
from controller.core.values import Commands, Role

LEASE_TICKS: Final = 2
NEVER_S: Final = float("-inf")
FOREVER_S: Final = float("inf")
MOST_SPARE: Final = 2.0
COMPRESSORS: Final[frozenset[Role]] = frozenset({"cooler", "dehumidifier"})
SURGE: Final = 0.9
"""So much of the lamp is wanted at once after a door or cold meat. Common practice, no source."""


def begin(chamber: Chamber, kept: Mapping[Role, OutputMemory], now_s: float) -> dict[Role, OutputMemory]:
    """Return the outputs' memories at a start of the program: all off since now, the counts kept.

    The operations of a relay are counted from 0 where the chamber file names another day on which it was fitted.

    A compressor may have stopped a second ago for all we know, so it rests its full time from now.
    """
    fresh = {}
    for output in chamber.outputs:
        old = kept.get(output.role, OutputMemory())
        is_new = output.fitted_on not in {"", old.fitted_on}
        fresh[output.role] = OutputMemory(
            off_since_s=now_s,
            on_total_s=old.on_total_s,
            closings=0 if is_new else old.closings,
            fitted_on=output.fitted_on or old.fitted_on,
        )
    return fresh


def time_outputs(
    memories: Mapping[Role, OutputMemory],
    duty: Mapping[Role, float],
    blocked: Container[Role],
    last_s: float,
    now_s: float,
    chamber: Chamber,
    heat_until_s: float = FOREVER_S,
    forced: Container[Role] = (),
) -> tuple[dict[Role, OutputMemory], Commands]:
    """Say until when each output is on, and remember it.

    Args:
        memories: what was remembered of each output.
        duty: the wanted duty (0..1) of each output; what is missing is 0.
        blocked: outputs that may not be on now; off is always allowed, whatever the shortest on-time says.
        last_s: the instant of the last tick, for adding up the time that was on since.
        now_s: the monotonic clock.
        chamber: the outputs' windows and shortest times.
        forced: outputs that are on whatever their window says, as the fan while nobody knows how warm it is.
        heat_until_s: no heat beyond this instant: the newest good air temperature is too old then.
    """
    after: dict[Role, OutputMemory] = {}
    on_until: dict[Role, float] = {}
    lease_s = now_s + LEASE_TICKS * chamber.tick_s
    for output in chamber.outputs:
        role = output.role
        before = memories.get(role) or OutputMemory(off_since_s=now_s)
        was_on = before.on_until_s > last_s
        on_s = min(before.on_until_s, now_s) - last_s if was_on else 0.0
        still_on = before.on_until_s > now_s
        off_since_s = before.on_until_s if was_on and not still_on else before.off_since_s
        if now_s < before.window_ends_s and not _is_outdated(output, before, duty.get(role, 0.0), now_s, off_since_s):
            window_ends_s, on_ends_s, carry_s = _shortened(output, before, duty.get(role), now_s)
        else:
            window_ends_s, on_ends_s, carry_s = _plan_window(
                output, before, duty.get(role, 0.0), now_s, off_since_s, now_s - last_s
            )
        until_s = lease_s if role in forced else min(on_ends_s, lease_s)
        if now_s - off_since_s < output.min_off_s:
            until_s = NEVER_S  # It was cut in mid-window: a compressor rests its full time all the same.
        if role in {"heater", "master"}:
            until_s = min(until_s, heat_until_s)
        is_on = until_s > now_s and role not in blocked
        closes = is_on and not still_on
        spare = min(before.spare + (now_s - last_s) / output.window_s, MOST_SPARE) - closes
        if is_on:
            on_until[role] = until_s
        elif still_on:
            off_since_s = now_s
            if role in COMPRESSORS:
                window_ends_s = now_s  # Cut by an open door: it runs again when it has rested, not in the next window.
        after[role] = OutputMemory(
            window_ends_s,
            on_ends_s,
            carry_s,
            until_s if is_on else NEVER_S,
            off_since_s,
            before.on_total_s + on_s,
            spare,
            before.closings + closes,
            before.fitted_on,
        )
    return after, Commands(on_until)


def _is_outdated(output: Output, before: OutputMemory, duty: float, now_s: float, off_since_s: float) -> bool:
    """Say whether the lamp is wanted again at once, before its window is over, after an open door or cold meat.

    That costs a closing before its time: only as many as have been saved, so that an hour never has more closings than
    windows, and two.
    """
    if output.role != "heater" or duty < SURGE or before.on_ends_s > now_s or before.spare < 1.0:
        return False
    return now_s - off_since_s >= output.min_off_s


def _shortened(output: Output, before: OutputMemory, duty: float | None, now_s: float) -> tuple[float, float, float]:
    """Return the window with its on-phase ended early where less is wanted by now: that costs no closing.

    Where nobody knows what is wanted, as after a damaged read, the window stands; the gate and the lease end it.
    """
    begun_s = before.window_ends_s - output.window_s
    if before.on_ends_s <= now_s or output.role != "heater" or duty is None:
        return before.window_ends_s, before.on_ends_s, before.carry_s
    if before.on_ends_s == FOREVER_S and output.window_s * (1.0 - duty) < max(output.min_off_s, 1e-9):
        return before.window_ends_s, before.on_ends_s, before.carry_s
    on_s = max(duty * output.window_s, output.min_on_s)
    return before.window_ends_s, max(min(before.on_ends_s, begun_s + on_s), now_s), before.carry_s


def _plan_window(
    output: Output, before: OutputMemory, duty: float, now_s: float, off_since_s: float, dt_s: float
) -> tuple[float, float, float]:
    """Return when this window ends, when its on-phase ends, and the seconds carried over.

    What is too short to switch is gathered tick by tick until it is long enough, so that short pulses come at even
    distances: no other way of switching as seldom swings the air less.
    """
    if duty <= 0.0:
        return now_s, NEVER_S, min(before.carry_s, 0.0)
    if now_s - off_since_s < output.min_off_s:
        return now_s, NEVER_S, before.carry_s
    window_s = output.window_s
    wanted_s = min(duty, output.max_duty) * window_s + before.carry_s
    if wanted_s < output.min_on_s:
        return now_s, NEVER_S, before.carry_s + min(duty, output.max_duty) * min(dt_s, window_s)
    if window_s - wanted_s < max(output.min_off_s, 1e-9) and output.max_duty >= 1.0 and output.role != "humidifier":
        # On to the end and over it, so that the next window can go on without a gap.
        return now_s + window_s, FOREVER_S, max(wanted_s - window_s, -window_s)
    longest_s = min(window_s, output.max_duty * window_s + output.min_on_s)
    on_s = min(wanted_s, longest_s)
    return now_s + window_s, now_s + on_s, min(wanted_s - on_s, window_s)
