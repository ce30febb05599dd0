"""The modelled computer: what it says of itself, and a disk that is full, slow, read-only or well."""

import errno
import os
from typing import Final, Protocol

from controller.core.values import Health

WELL: Final = Health()
HOT_C: Final = 85.0
ROOM_MB: Final = 20_000.0
SCARCE_MB: Final = 120.0
SLOW_S: Final = 8.0
"""So long takes each write on a slow disk."""
HANGS_S: Final = 14.0
"""So long a computer that hangs stands still until its watchdog resets it: RuntimeWatchdogSec=14."""


class Elapsing(Protocol):
    """Stand for the world as far as its disk needs it."""

    elapsed_s: float


class SimulatedMachine:
    """Be a computer that is well until a fault says otherwise."""

    def __init__(self) -> None:
        """Begin well."""
        self._health = WELL
        self._reset: bool | None = None

    def set_faults(self, kinds: frozenset[str]) -> None:
        """Take over which faults are there now."""
        room = SCARCE_MB if "disk-filling" in kinds else 0.0 if "disk-full" in kinds else ROOM_MB
        unwell = kinds & {"low-voltage", "processor-hot", "disk-filling", "disk-full", "disk-read-only"}
        if not unwell and self._reset is None:
            self._health = WELL
            return
        self._health = Health(
            low_voltage="low-voltage" in kinds,
            processor_c=HOT_C if "processor-hot" in kinds else 50.0,
            disk_free_mb=room,
            disk_free_share=room / (2.0 * ROOM_MB),
            disk_read_only="disk-read-only" in kinds,
            reset_by_watchdog=self._reset,
        )

    def boot(self, *, by_watchdog: bool) -> None:
        """Boot anew, and know why."""
        self._reset = True if by_watchdog else None

    def health(self) -> Health:
        """Return what it says of itself."""
        return self._health


class SimulatedDisk:
    """Be the disk under the records: `use` before each write."""

    def __init__(self, world: Elapsing) -> None:
        """Begin well."""
        self._world = world
        self._kinds: frozenset[str] = frozenset()
        self._spent_s = 0.0

    def set_faults(self, kinds: frozenset[str]) -> None:
        """Take over which faults are there now."""
        self._kinds = kinds

    def use(self) -> None:
        """Let one write begin; raise OSError as the kernel does where it would fail. A slow disk takes its time."""
        if "disk-read-only" in self._kinds:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        if "disk-full" in self._kinds:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        if "disk-slow" in self._kinds:
            self._spent_s += SLOW_S

    def now_s(self) -> float:
        """Return the time by which writes take long; the world's own stands still while the daemon works."""
        return self._world.elapsed_s + self._spent_s
