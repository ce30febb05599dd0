"""Turn values and instants into places on a picture, and say where its marks stand."""

import datetime as dt
from collections.abc import Iterator
from math import ceil, floor, log10
from typing import Final
from zoneinfo import ZoneInfo

HOUR_S: Final = 3600.0
DAY_S: Final = 86_400.0
HAIR: Final = 1e-6
ROUND: Final = (1.0, 2.0, 5.0, 10.0)
HOURS: Final = (1, 2, 3, 6, 12)
DAYS: Final = (1, 2, 5, 10, 20, 50, 100, 200, 365)


class Axis:
    """Turn values into places."""

    def __init__(self, low: float, high: float, first: float, last: float) -> None:
        """Lay the values from `low` to `high` over the places from `first` to `last`.

        Two values that are the same get a place between them.
        """
        if high <= low:
            low, high = low - 0.5, low + 0.5
        self.low, self.high, self.first, self.last = low, high, first, last

    def __call__(self, value: float) -> float:
        """Return the place of a value."""
        share = (value - self.low) / (self.high - self.low)
        return self.first + share * (self.last - self.first)

    def within(self, value: float) -> float:
        """Return the place of a value, or that of the nearer end where it lies outside."""
        return self(min(max(value, self.low), self.high))

    def ticks(self, about: int) -> list[float]:
        """Return round values between the ends, about so many of them, by steps of 1, 2 or 5 and a power of ten."""
        raw = (self.high - self.low) / about
        ten = 10.0 ** floor(log10(raw))
        step = next(ten * one for one in ROUND if ten * one >= raw * (1.0 - HAIR))
        first = ceil(self.low / step - HAIR)
        return [step * place for place in range(first, floor(self.high / step + HAIR) + 1)]


class TimeAxis(Axis):
    """Turn instants (seconds since 1970 UTC) into places, with marks at round hours and days of a time zone."""

    def __init__(self, low: float, high: float, first: float, last: float, zone: ZoneInfo) -> None:
        """Lay the time from `low` to `high` over the places from `first` to `last`."""
        super().__init__(low, max(high, low + HOUR_S), first, last)
        self.zone = zone

    def marks(self, about: int) -> list[tuple[float, str]]:
        """Return (instant, words) of at most about so many marks: midnights by their day, hours between them.

        Local hours of a day on which the clock is put forward or back lie where they are shown.
        """
        span_h = (self.high - self.low) / HOUR_S
        hours = next((step for step in HOURS if span_h / step <= about), None)
        if hours is not None:
            return list(self._hours(hours))
        days = next((step for step in DAYS if span_h / (24.0 * step) <= about), DAYS[-1])
        return [(at.timestamp(), _day(at)) for place, at in enumerate(self._midnights()) if place % days == 0]

    def _midnights(self) -> Iterator[dt.datetime]:
        """Yield the local midnights between the ends."""
        day = dt.datetime.fromtimestamp(self.low, self.zone).date()
        while True:
            at = dt.datetime.combine(day, dt.time(), self.zone)
            if at.timestamp() > self.high:
                return
            if at.timestamp() >= self.low:
                yield at
            day += dt.timedelta(days=1)

    def _hours(self, step: int) -> Iterator[tuple[float, str]]:
        day = dt.datetime.fromtimestamp(self.low, self.zone).date()
        while True:
            for hour in range(0, 24, step):
                at = dt.datetime.combine(day, dt.time(hour), self.zone)
                if at.timestamp() > self.high:
                    return
                if at.timestamp() >= self.low:
                    yield at.timestamp(), f"{at:%H:%M}" if hour else _day(at)
            day += dt.timedelta(days=1)


def _day(at: dt.datetime) -> str:
    return f"{at.day} {at:%b}"
