"""What the computer says of itself: how much room its disk has."""

import os
from pathlib import Path

from controller.core.values import Health


class KernelMachine:
    """Ask the kernel. Never raises: what cannot be asked is None."""

    def __init__(self, state_dir: Path) -> None:
        """Ask about the disk that holds this folder."""
        self._state_dir = state_dir

    def health(self) -> Health:
        """Return what it says of its disk."""
        try:
            disk = os.statvfs(self._state_dir)
        except OSError:
            return Health()
        return Health(
            disk_free_mb=disk.f_bavail * disk.f_frsize / 1e6,
            disk_free_share=disk.f_bavail / disk.f_blocks if disk.f_blocks else None,
            disk_read_only=bool(disk.f_flag & os.ST_RDONLY),
        )
