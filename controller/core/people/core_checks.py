"""Whether a typed core can be so: the right piece, and no jump that meat of this thickness does not make."""

from collections.abc import Iterator
from difflib import get_close_matches
from math import exp
from typing import Final

from controller.core.memory import Batch
from controller.core.people.scale import stranger
from controller.core.requests import CoreTemp
from controller.food.germs.measured import HOUR_S, time_words

COLDEST_C: Final = -5.0
HOTTEST_C: Final = 100.0
"""The coldest brine and the hottest moist heat that a piece lies in; common practice, no source."""
MEAT_M2_PER_S: Final = 1.3e-7
"""Thermal diffusivity of lean meat; from memory."""
FIRST_ROOT_SQUARED: Final = 5.783
"""Of the Bessel function J0, 2.4048: a long cylinder whose surface has the new temperature at once."""
APART_K: Final = 5.0
"""Two probes, and two places in one piece, may differ so much at once; common practice, no source."""
LIKE: Final = 0.6


def odd_core(request: CoreTemp, batch: Batch, of: str) -> str:
    """Return the question that this reading deserves; empty where it can be so. `of` is the piece or the probe."""
    if request.piece and not request.replaces:
        strange = _strange_piece(request.piece, batch)
        if strange:
            return strange
    return next(_jumps(request, batch, of), "")


def _strange_piece(piece: str, batch: Batch) -> str:
    """Ask about a name that no weighed piece has, and none that was measured before."""
    measured = {name for name in batch.core_of if name and " " not in name and name != "core_temp"}
    if piece in batch.green_g or piece in measured:
        return ""
    if batch.green_g:
        return stranger(piece, batch)
    lower = {name.lower(): name for name in measured}
    near = get_close_matches(piece.lower(), lower, n=1, cutoff=LIKE)
    return f"{piece}: no core of it so far; did you mean {lower[near[0]]}?" if near else ""


def most_change_k(from_c: float, around_c: float, seconds: float, diameter_mm: float) -> float:
    """Return by how many K at most the core of a long sausage comes nearer to what is around it, in so many seconds.

    (around - from) (1 - exp(-t / tau)), tau = R² / (5.783 a): the slowest mode alone, without the lag of a fresh
    change, hence an upper bound.
    """
    radius_m = 0.5 * diameter_mm / 1000.0
    tau_s = radius_m**2 / (FIRST_ROOT_SQUARED * MEAT_M2_PER_S)
    return abs(around_c - from_c) * (1.0 - exp(-max(seconds, 0.0) / tau_s))


def _jumps(request: CoreTemp, batch: Batch, of: str) -> Iterator[str]:
    rows = zip(batch.core_temps, batch.core_ids, batch.core_of, strict=True)
    before = [
        (at_s, value_c)
        for (at_s, value_c), name, who in rows
        if who == of and at_s <= request.at_wall_s and not (name and name == request.replaces)
    ]
    if not before:
        return
    at_s, was_c = before[-1]
    seconds, change_k = request.at_wall_s - at_s, request.value_c - was_c
    around_c = HOTTEST_C if change_k > 0.0 else COLDEST_C
    most_k = APART_K + most_change_k(was_c, around_c, seconds, batch.diameter_mm)
    if abs(change_k) > most_k:
        where = f" in {of}" if of else ""
        yield (
            f"core {request.value_c:.1f} °C{where}: it was {was_c:.1f} °C {time_words(seconds / HOUR_S)} before, and "
            f"{batch.diameter_mm:.0f} mm change by {most_k:.0f} K at most in that time; wrong unit, place or piece?"
        )
