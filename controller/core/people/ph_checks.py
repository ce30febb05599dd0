"""Whether a typed pH can be so: each doubt is asked back once, and taken when the person is sure.

What cannot be a pH of meat at all is refused whoever insists. Nothing here changes or overwrites an entry.
"""

from collections.abc import Iterator
from typing import Final

from controller.core.figures import degrees
from controller.core.memory import Batch, PhReading
from controller.core.requests import Ph
from controller.food.acid import fastest_drop_per_h

LOWEST_PH: Final = 3.0
HIGHEST_PH: Final = 8.0
"""No meat lies outside."""
LOW_PH: Final = 4.2
HIGH_PH: Final = 6.5
"""Starters stop at about 4.4, and fresh pork and beef lie below 6.5: what is beyond is asked back. Common practice, no
source."""
BUFFERS: Final = (4.00, 4.01, 6.86, 7.00, 9.18, 10.01)
"""What a meter shows in its buffers at 20 to 25 °C: JIS Z 8802 (4.00, 4.01, 6.86, 9.18) and the technical set."""
LOWEST_MIX_PH: Final = 5.4
"""Fresh mixes lie between 5.4 and 6.2; common practice, no source."""
MOST_RISE: Final = 0.15
"""In a ferment the pH does not rise by more than a meter wanders; common practice, no source."""
TWICE_S: Final = 600.0
APART_PH: Final = 0.3
APART_S: Final = 2.0 * 3600.0
"""Sample and sausage that differ by more within so short a time are not alike; common practice, no source."""
HOTTEST_SAMPLE_C: Final = 50.0
HOUR_S: Final = 3600.0


def impossible(value: float) -> str:
    """Return why this is no pH of meat at all, with the one that was probably meant; empty where it can be one."""
    if LOWEST_PH <= value <= HIGHEST_PH:
        return ""
    meant = next((value / ten for ten in (10.0, 100.0, 1000.0) if LOW_PH <= value / ten <= HIGH_PH), None)
    hint = "" if meant is None else f"; did you mean {meant:.2f}?"
    return f"pH {value:g}: meat has {LOWEST_PH:g} to {HIGHEST_PH:g}{hint}"


def doubts(request: Ph, at_wall_s: float, batch: Batch, before: list[PhReading], warmest_c: float | None) -> list[str]:
    """Return what speaks against this pH, a sentence each; empty where nothing does.

    Args:
        request: what was typed.
        at_wall_s: when it was measured.
        batch: the batch it is of.
        before: the readings since hanging that stand, without one that is replaced.
        warmest_c: the warmest the meat can have been.
    """
    said = list(_alone(request))
    hung_s = batch.hung_wall_s
    if hung_s is None or at_wall_s < hung_s:
        return said
    newest = before[-1] if before else None
    if newest is not None and at_wall_s < newest.at_wall_s and not request.replaces:
        hours = (newest.at_wall_s - at_wall_s) / HOUR_S
        said.append(f"its time lies {hours:.1f} h before the last reading ({newest.value:.2f})")
    alike = [one for one in before if one.from_sausage == (request.sample == "sausage") and one.at_wall_s <= at_wall_s]
    if any(abs(one.at_wall_s - at_wall_s) < TWICE_S and one.value == request.value for one in alike):
        said.append("the same value was typed a few minutes ago")
    by_strips = request.instrument.startswith("strips")  # Far too coarse for that.
    if not (said or by_strips):
        said += _beside_the_other(request, at_wall_s, before)
    if batch.stage.kind == "ferment" and not (said or by_strips):
        said += _beside_the_last(request.value, at_wall_s, hung_s, alike[-1] if alike else None, warmest_c)
    return said


def _alone(request: Ph) -> Iterator[str]:
    """Yield what is odd about a value whatever was measured before."""
    value, temp_c = request.value, request.sample_temp_c
    if value in BUFFERS:
        yield f"{value:.2f} is what a meter shows in a buffer"
    elif not LOW_PH <= value <= HIGH_PH:
        yield f"sausage lies between {LOW_PH:g} and {HIGH_PH:g}"
    if temp_c is not None and temp_c > HOTTEST_SAMPLE_C:
        yield f"a sample of {degrees(temp_c)} is hotter than any ferment; did you mean {(temp_c - 32.0) / 1.8:.0f} °C?"


def _beside_the_other(request: Ph, at_wall_s: float, before: list[PhReading]) -> Iterator[str]:
    """Yield that the wrapped sample and the real sausage tell two different things."""
    of_sausage = request.sample == "sausage"
    other = [one for one in before if one.from_sausage != of_sausage and abs(one.at_wall_s - at_wall_s) <= APART_S]
    if not other or round(abs(request.value - other[-1].value), 3) <= APART_PH:
        return
    what = "wrapped sample" if of_sausage else "real sausage"
    yield (
        f"the {what} had {other[-1].value:.2f} within {APART_S / HOUR_S:g} h of it, and they differ by more than "
        f"{APART_PH:g}; rinse, check the meter in a buffer and measure both again"
    )


def _beside_the_last(
    value: float, at_wall_s: float, hung_s: float, last: PhReading | None, warmest_c: float | None
) -> Iterator[str]:
    """Yield what does not fit the reading before: a rise, or a drop faster than any culture makes it.

    The lowest that is believed is last - 2 errors - hours x `food.acid.fastest_drop_per_h(warmest)`; before the first
    reading the mix is taken to have had 5.4 when it was hung.
    """
    temp_c = 40.0 if warmest_c is None else warmest_c  # The best of the fastest culture: nothing is wrongly doubted.
    began, from_s, error = (LOWEST_MIX_PH, hung_s, 0.05) if last is None else (last.value, last.at_wall_s, last.error)
    hours = (at_wall_s - from_s) / HOUR_S
    lowest = began - 2.0 * error - hours * fastest_drop_per_h(temp_c)
    highest = HIGH_PH if last is None else last.value + MOST_RISE
    hint = _slip(value, lowest, highest, began)
    if round(value, 3) < round(lowest, 3):
        yield (
            f"no culture makes it fall to that in {hours:.1f} h at {temp_c:.0f} °C "
            f"({began - value:.2f} lower, {began - lowest:.2f} at most){hint}"
        )
    if last is not None and round(value - last.value, 3) > MOST_RISE:
        yield (
            f"it is {value - last.value:.2f} above the last one ({last.value:.2f}), and a ferment does not rise; "
            "rinse the electrode, check it in a buffer and measure again"
            f"{hint or '.'} {_if_the_last_was_it(value, last)}"
        )


def _if_the_last_was_it(value: float, last: PhReading) -> str:
    """Return how the reading before is put right, where that was the slip: else no true one would be taken any more."""
    what = " --sample sausage" if last.from_sausage else ""
    return f"If {last.value:.2f} was the slip: hangroom ph {value:.2f} --by meter{what} --replaces {last.id}"


def _slip(value: float, lowest: float, highest: float, near: float) -> str:
    """Return the value that was probably meant: a wrong whole, or two digits in the wrong order; empty for neither."""
    digits = f"{value:.2f}"
    swapped = float(f"{digits[0]}.{digits[3]}{digits[2]}")
    crossed = float(f"{digits[2]}.{digits[0]}{digits[3]}")
    likely = [one for one in (swapped, crossed, value + 1.0, value - 1.0) if lowest <= one <= highest]
    return f". Did you mean {min(likely, key=lambda one: abs(one - near)):.2f}?" if likely else ""
