"""The machine's clocks, and a sleep that a signal ends."""

import os
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.hardware.clock import SystemClock


@pytest.fixture
def clock() -> Iterator[SystemClock]:
    clock = SystemClock()
    yield clock
    clock.close()


def test_the_boot_has_the_name_the_kernel_gives_it(clock: SystemClock) -> None:
    assert clock.boot_id() == Path("/proc/sys/kernel/random/boot_id").read_text().strip()


def test_an_instant_that_is_past_costs_no_sleep(clock: SystemClock) -> None:
    assert clock.sleep_until(clock.monotonic_s() - 1.0)


def test_a_sleep_lasts_until_its_instant(clock: SystemClock) -> None:
    until_s = clock.monotonic_s() + 0.02
    assert clock.sleep_until(until_s)
    assert clock.monotonic_s() >= until_s


def test_a_signal_ends_the_sleep_and_every_later_one(clock: SystemClock) -> None:
    before = signal.signal(signal.SIGTERM, lambda *_: clock.end())
    threading.Timer(0.02, os.kill, (os.getpid(), signal.SIGTERM)).start()
    began_s = time.monotonic()
    try:
        assert not clock.sleep_until(began_s + 60.0)
        assert time.monotonic() - began_s < 5.0
        assert not clock.sleep_until(began_s - 1.0)
    finally:
        signal.signal(signal.SIGTERM, before)


def test_to_end_a_hundred_thousand_times_is_to_end_once(clock: SystemClock) -> None:
    for _ in range(100_000):  # More than a pipe holds.
        clock.end()
    assert not clock.sleep_until(clock.monotonic_s() + 60.0)


@pytest.mark.parametrize(
    ("is_set", "has_battery_clock", "file_says_battery", "trusted"),
    [
        (False, False, False, False),
        (True, False, False, True),
        (False, True, False, False),
        (False, False, True, False),
        (False, True, True, True),
    ],
)
def test_the_wall_clock_is_trusted_when_something_that_knows_has_set_it(
    tmp_path: Path,
    *,
    is_set: bool,
    has_battery_clock: bool,
    file_says_battery: bool,
    trusted: bool,
) -> None:
    for name, there in (("synchronized", is_set), ("rtc0", has_battery_clock)):
        if there:
            (tmp_path / name).write_text(f"{int(time.time())}\n", encoding="ascii")
    clock = SystemClock(
        clock_battery=file_says_battery,
        time_is_set=tmp_path / "synchronized",
        battery_clock=tmp_path / "rtc0",
        battery_time=tmp_path / "rtc0",
    )
    assert clock.wall_trusted() is trusted
    clock.close()


@pytest.mark.parametrize("said", [None, "", "946684800\n", "no number", "three days ago"])
def test_a_battery_clock_that_has_stopped_or_says_another_time_is_no_clock(tmp_path: Path, said: str | None) -> None:
    (tmp_path / "rtc0").touch()
    if said == "three days ago":
        said = f"{int(time.time()) - 3 * 86_400}\n"
    if said is not None:
        (tmp_path / "since_epoch").write_text(said, encoding="ascii")
    clock = SystemClock(
        clock_battery=True,
        time_is_set=tmp_path / "synchronized",
        battery_clock=tmp_path / "rtc0",
        battery_time=tmp_path / "since_epoch",
    )
    assert not clock.wall_trusted()
    (tmp_path / "synchronized").touch()
    assert clock.wall_trusted()
    clock.close()
