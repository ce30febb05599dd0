"""One run at a time: a second copy finds the lock taken, says who has it, and touches nothing.

The daemon takes it for the machine, in its run directory; a simulation for the folder it runs in.
"""

import contextlib
import fcntl
import os
from pathlib import Path
from typing import Final, Self

from controller.errors import AccessError, StorageError, UnavailableError

LOCK: Final = "daemon.lock"
TAKEN: Final = (
    "Hangroom already runs on this machine ({holder}); this copy has touched nothing.\n"
    "`hangroom status` shows what it does, `sudo systemctl stop hangroom` ends it."
)
DENIED: Final = (
    "this user may not write it.\n`sudo systemctl start hangroom` starts the daemon as the user it has for itself."
)


class OnlyCopy:
    """Hold the lock in the run directory as long as this object is open; the kernel drops it when the process ends.

    Take it before anything else: before the chamber's pins, the record and the request box.
    Raises UnavailableError where another copy runs, AccessError or StorageError where the directory is not to be had.
    """

    def __init__(self, run_dir: Path, *, taken: str = TAKEN, denied: str = DENIED) -> None:
        """Take the lock, or raise at once.

        Args:
            run_dir: the directory that only one may use at a time; it is made where it is not there.
            taken: what is said where another has it; `{holder}` stands for who.
            denied: what is said where this user may not write there.
        """
        self.path = path = run_dir / LOCK
        try:
            run_dir.mkdir(parents=True, exist_ok=True)
            self._file = path.open("a+", encoding="utf-8")
        except PermissionError as error:
            raise AccessError(f"{path}: {denied}") from error
        except OSError as error:
            raise StorageError(f"{path}: {error.strerror}. It must be a directory the daemon can write.") from error
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            holder = self._read_holder()
            self._file.close()
            raise UnavailableError(f"{path}: {taken.format(holder=holder)}") from error
        with contextlib.suppress(OSError):  # A full disk has no room for the name; the lock itself needs none.
            os.ftruncate(self._file.fileno(), 0)
            os.write(self._file.fileno(), f"process {os.getpid()}\n".encode())

    def _read_holder(self) -> str:
        self._file.seek(0)
        return self._file.read().strip() or "process unknown"

    def close(self) -> None:
        """Give the lock back."""
        self._file.close()

    def __enter__(self) -> Self:
        """Hold the lock for the block."""
        return self

    def __exit__(self, *_: object) -> None:
        """Give the lock back."""
        self.close()
