"""A small disk of the kernel's own, where a file system may be mounted."""

import errno
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def mounted_disk(place: Path, size_kb: int) -> Iterator[Path]:
    """Mount a disk of so many kB here; the test is skipped, and says so, where nothing may be mounted."""
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size_kb}k", "hangroom-test", str(place)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip(f"NOT SHOWN ON A REAL DISK: nothing may be mounted here ({mounted.stderr.decode().strip()})")
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill(place: Path) -> Path:
    """Leave no room at all; return the file that has taken it."""
    ballast = place / "ballast"
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 1024)
        except OSError as error:
            assert error.errno == errno.ENOSPC  # noqa: PT017 - the loop must end so
    return ballast
