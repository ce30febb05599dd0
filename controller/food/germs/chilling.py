"""Chilling after a cook: through the warm band fast, for spores of Clostridium outlive the cook.

Between two readings the worse one counts: a band is entered at the last reading before it and left at the first one
that is below it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from controller.food.germs.measured import HOUR_S, Condition, Log, celsius, fahrenheit, readings_of, time_words

_SOURCE: Final = (
    "FSIS Appendix B (June 1999), as restated by Ohio State University, Temperature Regulations/Guidelines (12 July "
    "1999); replaced by the FSIS Stabilization Guideline of 2017 and 2021"
)


@dataclass(frozen=True, slots=True)
class Window:
    """Hold one band: from this °F down to that one within so many hours."""

    from_f: float
    to_f: float
    hours: float


@dataclass(frozen=True, slots=True)
class ChillRule:
    """Hold one way of chilling; all its windows must be met, and the whole way within the sum of their hours."""

    id: str
    words: str
    windows: tuple[Window, ...]
    needs_nitrite: bool = False
    source: str = _SOURCE
    confirm: bool = True  # The guideline that replaced it was not read.
    note: str = ""


RAPID: Final = ChillRule("chill-rapid", "rapid", (Window(130.0, 80.0, 1.5), Window(80.0, 40.0, 5.0)))
WITH_NITRITE: Final = ChillRule(
    "chill-nitrite",
    "slow, with nitrite in it",
    (Window(130.0, 80.0, 5.0), Window(80.0, 40.0, 10.0)),
    needs_nitrite=True,
    note="another summary ends it at 45 °F",
)
RULES: Final = (RAPID, WITH_NITRITE)


def ways_down(before: Mapping[str, Log], after: Mapping[str, Log]) -> dict[str, Log]:
    """Return how each piece cooled that was read in the chill, its own readings of the cook before them.

    A piece that was not read in the cook begins at the last reading of any piece there. A piece that was read in the
    cook alone tells nothing of the chill.

    Args:
        before: (seconds, °C) of each piece up to the begin of the chill.
        after: the same from then on.
    """
    ends = [readings_of(log)[-1] for log in before.values() if readings_of(log)]
    last = [max(ends)] if ends else []
    return {piece: [*(before.get(piece) or last), *log] for piece, log in after.items() if log}


def judge_chill(rule: ChillRule, log: Log) -> tuple[Condition, ...]:
    """Judge each window, and the whole way, by readings of one core: (seconds, °C) by rising time, cook included.

    A window that is still open is not met as soon as its hours are over, and not measured before that. Where no reading
    was as hot as a window's upper end, it begins at the hottest one; where that is the first of all, nobody saw how hot
    it had been before, and the window is not measured.
    """
    conditions = [_judge(rule, window, log) for window in rule.windows]
    first, last = rule.windows[0], rule.windows[-1]
    whole = Window(first.from_f, last.to_f, sum(window.hours for window in rule.windows))
    return (*conditions, _judge(rule, whole, log))


def window_hours(window: Window, log: Log) -> tuple[float | None, bool]:
    """Return how long the core was in a window, and whether it has left it; (None, False) where it never began.

    The longest time that the readings leave open; it never began where the very first reading is the hottest and lies
    below the window's upper end already.
    """
    log = readings_of(log)
    if not log:
        return None, False
    hottest = max(temp_c for _, temp_c in log)
    peak = max(place for place, (_, temp_c) in enumerate(log) if temp_c == hottest)
    below = next((i for i in range(peak, len(log)) if fahrenheit(log[i][1]) < window.from_f), None)
    if below is None or (peak == 0 and fahrenheit(hottest) < window.from_f):
        return None, False
    begun_s = log[max(below - 1, peak)][0]
    left_s = next((at_s for at_s, temp_c in log[below:] if fahrenheit(temp_c) <= window.to_f), None)
    return ((log[-1][0] if left_s is None else left_s) - begun_s) / HOUR_S, left_s is not None


def _judge(rule: ChillRule, window: Window, log: Log) -> Condition:
    from_c, to_c = celsius(window.from_f), celsius(window.to_f)
    what = f"chill, {rule.words}"
    wanted = (
        f"{window.from_f:g} to {window.to_f:g} °F ({from_c:.1f} to {to_c:.1f} °C) in {time_words(window.hours)} or less"
    )
    hours, left = window_hours(window, log)
    if hours is None:
        return Condition(what, wanted, "", "not measured", rule.source, rule.confirm)
    if hours > window.hours + 1e-9:
        found = f"at most {time_words(hours)}" if left else f"{time_words(hours)} so far, and not through"
        return Condition(what, wanted, found, "not met", rule.source, rule.confirm)
    if not left:
        found = f"{time_words(hours)} so far, and not through"
        return Condition(what, wanted, found, "not measured", rule.source, rule.confirm)
    return Condition(what, wanted, f"at most {time_words(hours)}", "met", rule.source, rule.confirm)
