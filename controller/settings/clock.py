"""The time of day as a person types it: 14:30, 2:30pm, 8am. Every verb that takes one reads it here."""

import re
from typing import Final, NamedTuple

NOON: Final = 12
_CLOCK: Final = re.compile(r"([01]?\d|2[0-4])(?::([0-5]\d))?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE)


class Clock(NamedTuple):
    """Hold a time of day: hours from 0 to 24, and whether it says by itself that it is one."""

    hour: float
    is_half: bool  # It has am or pm,
    is_plain: bool  # or minutes; a bare 7 could be anything.

    @property
    def minutes(self) -> int:
        """Return the whole minutes since midnight."""
        return round(60.0 * self.hour)


def parse_clock(text: str) -> Clock | None:
    """Return the time of day that was typed; None where it is none, as 13pm or 25:00.

    Args:
        text: 14:30, 7:00, 2:30pm, 8 am; a bare 7 is an hour too, with `is_plain` false.
    """
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        return None
    hour, half = int(found[1]), (found[3] or "").lower()
    if half:
        if not 1 <= hour <= NOON:
            return None
        hour = hour % NOON + (NOON if half == "p" else 0)
    hours = hour + int(found[2] or 0) / 60.0
    return Clock(hours, bool(half), bool(half) or found[2] is not None) if hours <= 24.0 else None  # noqa: PLR2004


def time_of_day(text: str) -> Clock | None:
    """Return a time before midnight that says by itself that it is one; None for a bare 7, and for 24:00."""
    clock = parse_clock(text)
    return clock if clock is not None and clock.is_plain and clock.hour < 24.0 else None  # noqa: PLR2004
