"""What follows the clock on the wall: at present the daily summary. Never the control tick.

APScheduler waits by the wall clock. After a backward step of that clock it does nothing for the whole size of the
step, so the wall clock is compared with the monotonic one whenever somebody asks what is due (each tick), and after a
step the job is laid anew. Only one job is ever in the scheduler, for the next local hour, reckoned in UTC, and each
run lays the next one: so summer time does not shift it, and a step of years gives one summary, not a list of what
was missed.
"""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from controller.errors import SettingsError

STEP_S: Final = 2.0  # A step of the wall clock larger than this lays the job anew. Common practice, no source.
JOB: Final = "daily summary"


class DailyChores:
    """Say once a day, at a full hour of the chamber's local time, that the daily summary is due."""

    def __init__(
        self,
        *,
        timezone: str,
        hour: int,
        wall_s: Callable[[], float] = time.time,
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Start the scheduler. Raises SettingsError for a time zone that this machine does not know."""
        self._zone = find_zone(timezone)
        self._hour = hour
        self._wall_s = wall_s
        self._monotonic_s = monotonic_s
        self._due = threading.Event()
        self._lock = threading.RLock()
        self._offset_s = wall_s() - monotonic_s()
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={"default": ThreadPoolExecutor(1)},
            job_defaults={"coalesce": True, "misfire_grace_time": None, "max_instances": 1},
        )
        self._scheduler.start()
        self._lay(wall_s())

    def summary_due(self) -> bool:
        """Say whether the daily summary is due; true once. Also notices a step of the wall clock."""
        offset_s = self._wall_s() - self._monotonic_s()
        if abs(offset_s - self._offset_s) > STEP_S:
            self._lay_anew()
        self._offset_s = offset_s  # Followed always: a clock that is slewed slowly is no step.
        due = self._due.is_set()
        self._due.clear()
        return due

    def close(self) -> None:
        """Stop."""
        self._scheduler.shutdown(wait=False)

    def _lay(self, after_wall_s: float) -> None:
        """Put the next due instant after this one into the scheduler, in place of what was there."""
        due_wall_s = self._next_wall_s = next_due_wall_s(after_wall_s, self._hour, self._zone)
        self._scheduler.add_job(
            self._fire,
            # By itself every 24 h, though `_fire` lays the next day's anew: the scheduler takes a job that comes only
            # once out of its store after it has run, and dies with a traceback if it is being shut down just then.
            "interval",
            days=1,
            next_run_time=datetime.now(UTC) + timedelta(seconds=due_wall_s - self._wall_s()),
            args=(due_wall_s,),
            id=JOB,
            replace_existing=True,
        )

    def _lay_anew(self) -> None:
        """Follow a step of the wall clock. If it went over the hour that was waited for, that one is due now."""
        with self._lock:
            wall_s = self._wall_s()
            if wall_s >= self._next_wall_s:
                self._due.set()
            self._lay(wall_s)

    def _fire(self, due_wall_s: float) -> None:
        """Say that it is due; called in the scheduler's thread."""
        with self._lock:
            if due_wall_s != self._next_wall_s:
                return  # Laid anew while this run was on its way.
            self._due.set()
            # Not after "now" alone: a scheduler that is a little early would find the same hour again.
            self._lay(max(due_wall_s, self._wall_s()))


def find_zone(name: str) -> tzinfo:
    """Return the time zone of this name. UTC needs no list of zones, which a small system may not have."""
    if name == "UTC":
        return UTC
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise SettingsError(
            f"timezone: this machine knows no {name!r}; right would be for instance Europe/Vienna or UTC.\n"
            "If it knows no zone at all: sudo apt install tzdata.",
        ) from error


def next_due_wall_s(after_wall_s: float, hour: int, zone: tzinfo) -> float:
    """Return the first instant strictly after this one at which it is this full hour (0..23) in this time zone.

    In seconds since 1970 UTC. Where the hour comes twice (end of summer time) the first counts; where it is left out,
    the instant at which it would have been by the old time.
    """
    day = datetime.fromtimestamp(after_wall_s, zone).date()
    while True:
        due_wall_s = datetime(day.year, day.month, day.day, hour, tzinfo=zone).timestamp()
        if due_wall_s > after_wall_s:
            return due_wall_s
        day += timedelta(days=1)
