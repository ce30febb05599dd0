"""A chill: where each piece stands in the windows, and what is unproved while one has not come through them.

The hottest or unmeasured piece decides, never a mean: only a piece that is below the last mark is through.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from controller.core.batch.margin import HOUR_S, clock_utc
from controller.core.memory import Batch
from controller.food.germs.chilling import RAPID, WITH_NITRITE, ChillRule, Window, window_hours
from controller.food.germs.measured import Log, celsius, time_words

CONFIRM: Final = "Confirm the figures with your authority."


def chill_rule(batch: Batch) -> ChillRule:
    """Return the windows that hold: the slow ones only where nitrite is in it."""
    formula = None if batch.sheet is None else batch.sheet.formula
    has_nitrite = batch.profile.cure in {"1", "2"} if formula is None else formula.nitrite_ppm_us > 0.0
    return WITH_NITRITE if has_nitrite else RAPID


def unread(batch: Batch, logs: Mapping[str, Log]) -> list[str]:
    """Return the pieces that were measured by name in the cook, hang still, and were not measured in the chill."""
    cooked = {
        of for (at_s, _), of in zip(batch.core_temps, batch.core_of, strict=True) if at_s <= batch.stage_began_wall_s
    }
    return sorted(of for of in cooked if of and of not in logs and of not in batch.pieces_out)


def chill_words(batch: Batch, logs: Mapping[str, Log], wall_s: float) -> list[str]:
    """Return where the chill stands: the window the worst piece is in, how much of it is used, who is not through.

    Args:
        batch: in a chill.
        logs: of each piece its readings by rising time, the cook's before those of the chill.
        wall_s: now.
    """
    rule = chill_rule(batch)
    open_ = [found for of, log in logs.items() if (found := _open_window(rule, of, log, wall_s)) is not None]
    lines = [min(open_)[1]] if open_ else []
    if open_ and min(open_)[0] < 0.0:
        return lines
    lines += _hot_words(rule, logs) + _unseen_words(rule, logs)
    if lines:
        return lines + _unread_words(unread(batch, logs))
    warm = _warm_words(rule, logs) + _unread_words(unread(batch, logs))
    if warm:
        return warm
    return [f"Chill, {rule.words}: through every window in time, by these readings. Source: {rule.source}."]


def unproved(batch: Batch, logs: Mapping[str, Log]) -> list[str]:
    """Return why this chill is not at its end, a clause each that names the piece; empty where it is."""
    rule = chill_rule(batch)
    measured = any(log and log[-1][0] > batch.stage_began_wall_s for log in logs.values())
    if not measured:
        return ["no core has been measured in this chill"]
    return [words.rstrip(".") for words in _warm_words(rule, logs) + _unread_words(unread(batch, logs))]


def _in(of: str) -> str:
    return f" in {of}" if of else ""


def _open_window(rule: ChillRule, of: str, log: Log, wall_s: float) -> tuple[float, str] | None:
    """Return (hours left, words) of the first window that this piece has not left in time; None where there is none."""
    for window in rule.windows:
        hours, left = window_hours(window, log)
        if hours is not None and not (left and hours <= window.hours):
            return window.hours - hours, _window_words(window, hours, log[-1][0], wall_s, rule, of)
    return None


def _hot_words(rule: ChillRule, logs: Mapping[str, Log]) -> list[str]:
    top_c = celsius(rule.windows[0].from_f)
    hot = [of for of, log in logs.items() if log and log[-1][1] >= top_c]
    if not hot:
        return []
    return [f"Chill: the clock runs from the last reading at or above {top_c:.1f} °C, and this is one{_of(hot)}."]


def _of(pieces: Sequence[str]) -> str:
    named = ", ".join(of for of in pieces if of)
    return f" ({named})" if named else ""


def _unseen_words(rule: ChillRule, logs: Mapping[str, Log]) -> list[str]:
    """Return which pieces were below the first mark at their very first reading: nobody saw how hot they had been."""
    top_c = celsius(rule.windows[0].from_f)
    unseen = [of for of, log in logs.items() if log and log[0][1] == max(c for _, c in log) < top_c]
    if not unseen:
        return []
    return [
        f"Chill{_of(unseen)}: the first reading lies below {top_c:.1f} °C already: nobody saw when the way down began."
    ]


def _warm_words(rule: ChillRule, logs: Mapping[str, Log]) -> list[str]:
    last_c = celsius(rule.windows[-1].to_f)
    return [
        f"The last core{_in(of)} is {log[-1][1]:.1f} °C, and the chill ends at {last_c:.1f} °C or less."
        for of, log in logs.items()
        if log and round(log[-1][1], 1) > round(last_c, 1)
    ]


def _unread_words(pieces: Sequence[str]) -> list[str]:
    if not pieces:
        return []
    have = "has" if len(pieces) == 1 else "have"
    return [f"{', '.join(pieces)} {have} not been measured in this chill: measure, or it is not known."]


def _window_words(window: Window, hours: float, last_s: float, wall_s: float, rule: ChillRule, of: str) -> str:
    from_c, to_c = celsius(window.from_f), celsius(window.to_f)
    span = f"Chill, {rule.words}{_in(of)}: {from_c:.1f} to {to_c:.1f} °C in {time_words(window.hours)}"
    if hours > window.hours:
        return (
            f"{span}: {time_words(hours)} used, too slow. Spores may have grown: do not taste, hold the batch; a "
            f"competent person decides. {CONFIRM}"
        )
    left_h = window.hours - hours - max(wall_s - last_s, 0.0) / HOUR_S
    until = clock_utc(wall_s, left_h) if left_h > 0.0 else "now"
    return f"{span}: {time_words(hours)} used; {to_c:.1f} °C or less at the latest by {until}. {CONFIRM}"
