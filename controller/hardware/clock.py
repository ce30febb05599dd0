"""The clocks of this machine, and a sleep that a signal ends at once."""

import contextlib
import os
import select
import time
from pathlib import Path
from typing import Final

TIME_IS_SET: Final = Path("/run/systemd/timesync/synchronized")
"""systemd-timesyncd makes this file when the network has told it the time (systemd-time-wait-sync(8))."""
CLOCK_BATTERY: Final = Path("/dev/rtc0")
BATTERY_TIME: Final = Path("/sys/class/rtc/rtc0/since_epoch")
"""What the battery clock says (kernel: ABI/testing/sysfs-class-rtc). Reading it fails where its oscillator has stopped,
as with an empty battery (rtc-ds1307; from memory)."""
AGREES_S: Final = 120.0
"""The kernel sets its clock by it while it boots; then both agree. Common practice, no source."""
BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")


class SystemClock:
    """Tell this machine's time. `clock_battery` says that its clock runs on while power is out (chamber file)."""

    def __init__(
        self,
        *,
        clock_battery: bool = False,
        time_is_set: Path = TIME_IS_SET,
        battery_clock: Path = CLOCK_BATTERY,
        battery_time: Path = BATTERY_TIME,
        boot_id: Path = BOOT_ID,
    ) -> None:
        """Open the pipe that ends a sleep."""
        self._clock_battery = clock_battery and battery_runs(battery_time)
        self._time_is_set = time_is_set
        self._battery_clock = battery_clock
        self._boot_id = boot_id.read_text(encoding="ascii").strip()
        self._ended = False
        # A pipe, not threading.Event: an Event takes a lock, and a signal handler that comes while the main thread
        # holds that same lock would wait for itself for ever.
        self._read_end, self._write_end = os.pipe()
        os.set_blocking(self._write_end, False)

    def monotonic_s(self) -> float:
        """Return seconds that never jump and never go back."""
        return time.monotonic()

    def wall_s(self) -> float:
        """Return seconds since 1970 UTC, as far as this machine knows."""
        return time.time()

    def wall_trusted(self) -> bool:
        """Say whether the wall clock has been set by network time, or by a clock with a battery that is there and runs.

        Whether it runs is asked once, at the start: the promise of the chamber file keeps no time.
        """
        return self._time_is_set.exists() or (self._clock_battery and self._battery_clock.exists())

    def boot_id(self) -> str:
        """Return the kernel's name of this boot."""
        return self._boot_id

    def sleep_until(self, monotonic_s: float) -> bool:
        """Wait until this instant; return False as soon as the daemon is asked to end."""
        while not self._ended:
            left_s = monotonic_s - time.monotonic()
            if left_s <= 0:
                return True
            select.select([self._read_end], [], [], left_s)
        return False

    def end(self) -> None:
        """Ask the daemon to end. May be called from a signal handler, any number of times."""
        self._ended = True
        with contextlib.suppress(BlockingIOError):  # The pipe is full of the same news.
            os.write(self._write_end, b"x")

    def close(self) -> None:
        """Close the pipe."""
        os.close(self._read_end)
        os.close(self._write_end)


def battery_runs(battery_time: Path) -> bool:
    """Say whether the battery clock gives a time, and one that the machine goes by."""
    try:
        said_s = float(battery_time.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return False
    return abs(said_s - time.time()) <= AGREES_S
