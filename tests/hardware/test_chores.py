"""The daily summary by the clock on the wall: with the real scheduler, and a wall clock that the test steps."""

import threading
import time
import zoneinfo
from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from controller.errors import SettingsError
from controller.hardware.chores import DailyChores, find_zone, next_due_wall_s

VIENNA = ZoneInfo("Europe/Vienna")
EARLIEST, LATEST = datetime(1996, 1, 1, tzinfo=VIENNA), datetime(2056, 1, 1, tzinfo=VIENNA)


def wall_s(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


class Wall:
    """Be a wall clock that goes on with real time from where it was last set."""

    def __init__(self, text: str) -> None:
        self.set(text)

    def set(self, text: str) -> None:
        self._ahead_s = wall_s(text) - time.monotonic()

    def __call__(self) -> float:
        return time.monotonic() + self._ahead_s


@pytest.fixture
def wall() -> Wall:
    return Wall("2026-01-05T03:00:00+01:00")


@pytest.fixture
def chores(wall: Wall) -> Iterator[DailyChores]:
    chores = DailyChores(timezone="Europe/Vienna", hour=7, wall_s=wall)
    yield chores
    chores.close()


def becomes_due(chores: DailyChores, within_s: float = 3.0) -> bool:
    pause = threading.Event()
    end_s = time.monotonic() + within_s
    while time.monotonic() < end_s:
        if chores.summary_due():
            return True
        pause.wait(0.01)
    return False


def test_the_summary_is_due_once_at_its_hour(chores: DailyChores, wall: Wall) -> None:
    assert not chores.summary_due()
    wall.set("2026-01-05T06:59:59.900+01:00")  # A step forward, up to just before.
    assert becomes_due(chores)
    assert not becomes_due(chores, within_s=0.1)


def test_after_a_step_back_the_summary_comes_at_the_new_time(chores: DailyChores, wall: Wall) -> None:
    """The scheduler by itself would do nothing for the whole month."""
    wall.set("2026-02-05T06:00:00+01:00")
    assert chores.summary_due()  # For all the hours that it went over.
    wall.set("2026-01-05T06:59:59.900+01:00")
    assert becomes_due(chores)


def test_a_step_over_the_hour_gives_one_summary_though_it_is_years(chores: DailyChores, wall: Wall) -> None:
    wall.set("2046-01-05T12:00:00+01:00")
    began_s = time.monotonic()
    assert chores.summary_due()
    assert time.monotonic() - began_s < 1.0
    assert not becomes_due(chores, within_s=0.1)


@pytest.mark.parametrize("seed", range(3))
def test_after_any_row_of_steps_it_still_comes_at_its_hour(seed: int, chores: DailyChores, wall: Wall) -> None:
    """Seconds to thirty years, either way, one upon the other; the scheduler is the real one."""
    random = Random(f"steps {seed}")
    at = datetime.fromisoformat("2026-01-05T12:00:00+01:00")
    for _ in range(6):
        size_s = 10.0 ** random.uniform(0.5, 9.0)
        at = min(max(at + timedelta(seconds=random.choice((-1, 1)) * size_s), EARLIEST), LATEST)
        wall.set(at.isoformat())
        began_s = time.monotonic()
        chores.summary_due()
        assert time.monotonic() - began_s < 1.0  # It never works through what was missed.
    wall.set("2031-07-01T06:59:59.900+02:00")
    chores.summary_due()
    assert becomes_due(chores)
    assert not becomes_due(chores, within_s=0.2)


def test_after_a_small_step_that_is_followed_and_not_laid_anew_it_comes_within_that(
    chores: DailyChores, wall: Wall
) -> None:
    wall.set("2026-01-05T06:59:58.500+01:00")
    assert not chores.summary_due()
    wall.set("2026-01-05T06:59:59.900+01:00")  # 1.4 s: below what counts as a step.
    assert not chores.summary_due()
    assert becomes_due(chores, within_s=3.0)


def test_the_day_after_it_is_due_again(chores: DailyChores, wall: Wall) -> None:
    for day in ("05", "06"):
        wall.set(f"2026-01-{day}T06:59:59.900+01:00")
        assert becomes_due(chores)


@pytest.mark.parametrize(
    ("after", "hour", "due"),
    [
        ("2026-01-05T03:00:00+01:00", 7, "2026-01-05T07:00:00+01:00"),
        ("2026-01-05T07:00:00+01:00", 7, "2026-01-06T07:00:00+01:00"),  # Strictly after.
        ("2026-03-28T07:00:00+01:00", 7, "2026-03-29T07:00:00+02:00"),  # 23 h later: summer time begins.
        ("2026-10-24T07:00:00+02:00", 7, "2026-10-25T07:00:00+01:00"),  # 25 h later: it ends.
        ("2026-03-29T00:00:00+01:00", 2, "2026-03-29T02:00:00+01:00"),  # The hour that is left out.
        ("2026-10-25T00:00:00+02:00", 2, "2026-10-25T02:00:00+02:00"),  # The hour that comes twice, the first,
        ("2026-10-25T02:00:00+02:00", 2, "2026-10-26T02:00:00+01:00"),  # and only the first.
    ],
)
def test_the_hour_is_local_and_comes_once_a_day(after: str, hour: int, due: str) -> None:
    """Summer time in the European Union: last Sunday of March to last Sunday of October (directive 2000/84/EC)."""
    assert next_due_wall_s(wall_s(after), hour, VIENNA) == wall_s(due)


@pytest.mark.parametrize("name", ["Europe/Wien", "", "../etc/passwd"])
def test_a_time_zone_that_nobody_knows_is_told_by_name(name: str) -> None:
    with pytest.raises(SettingsError, match=f"timezone: this machine knows no '{name}'"):
        find_zone(name)


def test_utc_needs_no_list_of_zones() -> None:
    """A small Debian has none."""
    zoneinfo.reset_tzpath(to=())
    try:
        utc = find_zone("UTC")
    finally:
        zoneinfo.reset_tzpath()
    assert next_due_wall_s(wall_s("2026-01-05T03:00:00Z"), 7, utc) == wall_s("2026-01-05T07:00:00Z")
