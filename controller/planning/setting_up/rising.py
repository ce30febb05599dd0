"""Which of several sensors a person holds in the hand or breathes on: the one that rises clearly more than the rest."""

from collections.abc import Mapping
from typing import Final

from msgspec import Struct


class Clear(Struct, frozen=True):
    """Hold what a clear rise is: so much above its own start, and so much more than any other has risen."""

    least: float
    ahead: float
    unit: str


RISE: Final[dict[str, Clear]] = {"temp": Clear(1.5, 1.0, "K"), "rh": Clear(6.0, 4.0, "%")}
"""A hand is near 33 °C and a probe in a steel sleeve shows two thirds of a change in about two minutes, so a room of
22 °C gives 1.5 K in some 20 s; breath is saturated. Common practice, no source."""
TIMES: Final = 2
"""So often in a row it must be the same one, so that no single odd value decides."""


def risen(before: Mapping[str, float], now: Mapping[str, float], what: str) -> str:
    """Return the name of the one that rises clearly; empty where none does, or two do.

    Args:
        before: what each showed at the start; who showed nothing then is left out.
        now: what each shows.
        what: "temp" or "rh".
    """
    clear = RISE[what]
    rises = sorted(((now[name] - before[name], name) for name in before if name in now), reverse=True)
    if not rises or rises[0][0] < clear.least:
        return ""
    ahead = len(rises) == 1 or rises[0][0] - rises[1][0] >= clear.ahead
    return rises[0][1] if ahead else ""
