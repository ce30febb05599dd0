"""Lethality: how many powers of ten of Salmonella a cook has killed, by the printed table and nothing else.

At each moment the rate is that of the highest printed row which is not above the temperature; below the first row
nothing counts. So a constant temperature needs exactly the printed time. Between two readings the lower one counts,
and with several probes each piece is reckoned by itself and the lowest result holds, never a mean.

The table is for moist cooking, of meat that was not dried before. The names of the processes that kill E. coli in a
fermented sausage by acid and mild heat together stand in `kill_steps`, and can be had from here too.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf
from typing import Final

from controller.food.germs.kill_steps import KILL_STEPS, KillStep, judge_kill_step, kill_step_of
from controller.food.germs.measured import HOUR_S, Condition, Log, fahrenheit, lower_pieces, readings_of, time_words

__all__ = [
    "KILL_STEPS", "NOTES", "ROWS", "SOURCE", "TARGETS", "ComeUp", "KillStep", "Progress", "Row", "come_up",
    "continuous_log", "judge_kill_step", "kill_step_of", "lowest", "progress", "rate_per_min", "row_for",
]  # fmt: skip

TARGETS: Final = (6.5, 7.0)
"""Powers of ten of Salmonella: 6.5 for cooked meat, 7 where any poultry is in it."""

SOURCE: Final = (
    "USDA FSIS, Appendix A (1999), Compliance Guidelines for Meeting Lethality Performance Standards; same table in "
    "FSIS Cooking Guideline (Revised Appendix A), FSIS-GD-2021-14, Table 2"
)


@dataclass(frozen=True, slots=True)
class Row:
    """Hold one printed row: so long at this temperature for 6.5 and for 7 powers of ten. 0 s: at once."""

    temp_f: float
    for_6_5_s: float
    for_7_s: float

    def dwell_s(self, target: float) -> float:
        """Return the seconds for this target, 6.5 or 7. Raises ValueError for any other: none is printed."""
        if target not in TARGETS:
            raise ValueError(f"{target:g} log: the table is printed for 6.5 and for 7 only")
        return self.for_6_5_s if target == TARGETS[0] else self.for_7_s


_MINUTES: Final = {
    130: (112, 121), 131: (89, 97), 132: (71, 77), 133: (56, 62), 134: (45, 47), 135: (36, 37), 136: (28, 32),
    137: (23, 24), 138: (18, 19), 139: (15, 15), 140: (12, 12), 141: (9, 10), 142: (8, 8), 143: (6, 6), 144: (5, 5),
    145: (4, 4),
}  # fmt: skip
_SECONDS: Final = {
    146: (169, 182), 147: (134, 144), 148: (107, 115), 149: (85, 91), 150: (67, 72), 151: (54, 58), 152: (43, 46),
    153: (34, 37), 154: (27, 29), 155: (22, 23), 156: (17, 19), 157: (14, 15), 158: (0, 0), 159: (0, 0), 160: (0, 0),
}  # fmt: skip
ROWS: Final = (
    *(Row(float(temp_f), 60.0 * first, 60.0 * second) for temp_f, (first, second) in _MINUTES.items()),
    *(Row(float(temp_f), float(first), float(second)) for temp_f, (first, second) in _SECONDS.items()),
)

NOTES: Final = (
    "With several probes the lowest counts, never their mean (FSIS Cooking Guideline 2021).",
    (
        "The table is for a moist cook. At 145 °F and over the air is to be humid: steam, or a sealed oven, for half "
        "of the cook or 1 h, or 90 % RH for a quarter of it or 1 h; at any temperature 90 % RH throughout will do. "
        "None is needed in natural or moisture-holding casings, in water, or in sealed bags (FSIS Cooking Guideline "
        "2021)."
    ),
    "The table does not hold where drying came before the cook (FSIS Cooking Guideline 2021).",
    (
        "A study found the times to hold at 60 to 71.1 °C, but at 54.4 °C (130 °F) the 6.5 log was not reached in the "
        "printed time (McMinn et al., Meat and Muscle Biology): stay well above the first row."
    ),
)
COME_UP_H: Final = 6.0
COME_UP_F: Final = (50.0, 130.0)


def row_for(temp_f: float, target: float = 6.5) -> Row | None:
    """Return the highest printed row that is not above this temperature; None below 130 °F, where nothing counts.

    Raises ValueError for a target that is not printed.
    """
    found = None
    for row in ROWS:
        if row.temp_f > temp_f:
            break
        found = row
    if found is not None:
        found.dwell_s(target)
    return found


def rate_per_min(temp_f: float, target: float = 6.5) -> float:
    """Return the powers of ten per minute at this temperature; 0 below 130 °F, infinite where the row says at once."""
    row = row_for(temp_f, target)
    if row is None:
        return 0.0
    dwell_s = row.dwell_s(target)
    return inf if dwell_s == 0.0 else target / (dwell_s / 60.0)


@dataclass(frozen=True, slots=True)
class Progress:
    """Hold how far a cook has come.

    Attributes:
        log: powers of ten so far; never more than the target, for the table proves no more.
        target: 6.5 or 7.
        minutes_left: at the last reading's temperature; infinite where nothing counts there, 0 when it is reached.
        hottest_c: the hottest reading; None without one.
        minutes_counted: how long the log was at 130 °F or above.
    """

    log: float
    target: float
    minutes_left: float
    hottest_c: float | None
    minutes_counted: float

    @property
    def reached(self) -> bool:
        """Say whether the target is reached."""
        return self.log >= self.target


def progress(log: Log, target: float = 6.5) -> Progress:
    """Return the powers of ten that the readings of one piece's core prove, (seconds, °C) by rising time.

    A single reading at a temperature where the table says "at once" is enough. Raises ValueError for a target that is
    not printed.
    """
    done = minutes = 0.0
    for at_s, to_s, temp_c in lower_pieces(log):
        rate = rate_per_min(fahrenheit(temp_c), target)
        if rate > 0.0:
            minutes += (to_s - at_s) / 60.0
            done = target if rate == inf else done + rate * (to_s - at_s) / 60.0
    known = readings_of(log)
    if any(rate_per_min(fahrenheit(temp_c), target) == inf for _, temp_c in known):
        done = target
    done = done if done < target - 1e-9 else target
    rate_now = rate_per_min(fahrenheit(known[-1][1]), target) if known else 0.0
    left = 0.0 if done >= target else (target - done) / rate_now if rate_now > 0.0 else inf
    return Progress(done, target, left, max((temp_c for _, temp_c in known), default=None), minutes)


def lowest(logs: Mapping[str, Log], target: float = 6.5) -> tuple[str, Progress] | None:
    """Return the piece that has come least far, with its progress; None where no core was measured."""
    reckoned = [(piece, progress(log, target)) for piece, log in logs.items() if readings_of(log)]
    return min(reckoned, key=lambda item: item[1].log, default=None)


def continuous_log(log: Log, d60_min: float, z_k: float) -> float:
    """Return the powers of ten by the ideal thermal death line, for display only: never a limit.

    Integral of 10^((T - 60)/z) dt / D60, by the trapezoid rule between the readings.

    Args:
        log: (seconds, °C) by rising time, as the rows of a core probe once a minute.
        d60_min: minutes for one power of ten at 60 °C; the printed 6.5-log column implies 1.77.
        z_k: kelvins for ten times the rate; the column implies 5.6.
    """
    total_min = 0.0
    for (at_s, temp_c), (next_s, next_c) in pairwise(log):
        rate = 0.5 * (10.0 ** ((temp_c - 60.0) / z_k) + 10.0 ** ((next_c - 60.0) / z_k))
        total_min += rate * (next_s - at_s) / 60.0
    return total_min / d60_min


@dataclass(frozen=True, slots=True)
class ComeUp:
    """Hold how long the core took from 50 to 130 °F: the longest that the readings leave open; None where unknown."""

    hours: float | None
    condition: Condition


def come_up(log: Log, *, degree_hours_met: bool = False) -> ComeUp:
    """Judge the come-up of a cook: from 50 to 130 °F in 6 h or less, or not needed where the degree-hours were met.

    It counts from the last reading at or below 50 °F before the first one at or above 130 °F. A core that is still
    below that after 6 h has not made it.
    """
    log = readings_of(log)
    cold_f, hot_f = COME_UP_F
    wanted = "50 to 130 °F (10 to 54.4 °C) in 6 h or less; not needed where the ferment met the degree-hours"
    source = "FSIS Cooking Guideline (Revised Appendix A), FSIS-GD-2021-14, Come-Up-Time"
    hot_s = next((at_s for at_s, temp_c in log if fahrenheit(temp_c) >= hot_f), None)
    cold = [at_s for at_s, temp_c in log if fahrenheit(temp_c) <= cold_f and (hot_s is None or at_s < hot_s)]
    hours = (hot_s - cold[-1]) / HOUR_S if hot_s is not None and cold else None
    if degree_hours_met:
        found = "the degree-hours of the ferment were met" + ("" if hours is None else f"; it took {time_words(hours)}")
        return ComeUp(hours, Condition("come-up", wanted, found, "met", source))
    if hours is None:
        return _not_yet_up(log, Condition("come-up", wanted, "", "not measured", source))
    return ComeUp(
        hours,
        Condition(
            "come-up", wanted, f"at most {time_words(hours)}", "met" if hours <= COME_UP_H else "not met", source
        ),
    )


def _not_yet_up(log: Log, unknown: Condition) -> ComeUp:
    """Return what is known of a come-up without an end, or without a beginning."""
    hottest_s = max(log, key=lambda reading: reading[1])[0] if log else 0.0
    cold = [at_s for at_s, temp_c in log if fahrenheit(temp_c) <= COME_UP_F[0] and at_s <= hottest_s]
    up = any(fahrenheit(temp_c) >= COME_UP_F[1] for _, temp_c in log)
    hours = (log[-1][0] - cold[-1]) / HOUR_S if cold and not up else 0.0
    if hours <= COME_UP_H:
        return ComeUp(None, unknown)
    return ComeUp(hours, replace(unknown, found=f"{time_words(hours)} so far, and still below", verdict="not met"))
