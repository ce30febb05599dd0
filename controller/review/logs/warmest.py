"""Bound how warm meat that hung in warm air can still be, hour by hour, from the rows of a climate log.

In a gap nobody knows how warm the air was. The air on either side of it is no bound where it had been cooled a while
before: the meat gives its warmth back. The daemon counts by the same (`core.outage.warmth`).
"""

from typing import Final

import numpy as np
import polars as pl

from controller.core.outage.warmth import SLOWEST_MEAT_S

HOUR_S: Final = 3600.0
SLOW: Final = HOUR_S / (SLOWEST_MEAT_S + HOUR_S)
"""How much nearer the slowest meat comes to the air in an hour."""


class Warmest:
    """Follow the warmest that the meat can be; no row of an hour was warmer than its bound."""

    def __init__(self) -> None:
        """Begin before the first row."""
        self._hour = 0
        self._bounds_c: list[float] = []  # Of the hours since the first row.

    def feed(self, points: pl.DataFrame) -> None:
        """Take the next rows with a good temperature, by time that only grows: `grown_s` and `air_temp_c`."""
        hours = (points["grown_s"].to_numpy() // HOUR_S).astype(np.int64)
        begins = np.flatnonzero(np.diff(hours, prepend=hours[0] - 1))
        highest_c = np.maximum.reduceat(points["air_temp_c"].to_numpy(), begins)
        for hour, air_c in zip(hours[begins].tolist(), highest_c.tolist(), strict=True):
            self._take(hour, air_c)

    def _take(self, hour: int, air_c: float) -> None:
        if not self._bounds_c:
            self._hour = hour
            self._bounds_c.append(air_c)
            return
        last_c = self._bounds_c[-1]
        place = hour - self._hour
        if place < len(self._bounds_c):
            self._bounds_c[place] = max(last_c, air_c)
            return
        self._bounds_c += [last_c] * (place - len(self._bounds_c))  # Nobody knows that it cooled in a gap.
        self._bounds_c.append(max(air_c, last_c - (last_c - air_c) * SLOW))

    def along(self, grown_s: pl.Series) -> pl.Series:
        """Return the bound in the hour of each of these instants; before the first hour, that of the first."""
        places = (grown_s.to_numpy() // HOUR_S).astype(np.int64) - self._hour
        return pl.Series("meat_c", np.array(self._bounds_c)[places.clip(0, len(self._bounds_c) - 1)])
