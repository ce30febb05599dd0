"""Read a file that anybody may have laid there: no pipe is waited for, no device read, no size believed."""

import errno
import os
import stat
from pathlib import Path
from typing import Final

from controller.core.people.desk import LATEST_WALL_S
from controller.records.csv_text import printable

LARGEST_BYTES: Final = 1_000_000
"""A request with a whole plan has 20 kB."""
LONGEST_REASON: Final = 200
LARGEST_NUMBER: Final = LATEST_WALL_S
"""No instant in seconds is larger, and no other figure of a record is."""


def read_file(path: Path) -> bytes:
    """Return what a file holds.

    Raises:
        OSError: it is no file, or cannot be read; a pipe, a link or a device is not even opened for reading.
        ValueError: it is too large.
    """
    fd = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            raise OSError(errno.EINVAL, "this is no file")
        data = bytearray()
        while part := os.read(fd, LARGEST_BYTES + 1 - len(data)):
            data += part
    finally:
        os.close(fd)
    if len(data) > LARGEST_BYTES:
        raise ValueError(f"it is larger than {LARGEST_BYTES // 1000} kB")
    return bytes(data)


def require_sane(tree: object) -> None:
    """Look through dicts, lists and tuples for a number that no record holds, an instant before 1970 among them.

    Raises:
        ValueError: there is one.
    """
    if isinstance(tree, dict):
        for key, value in tree.items():
            if isinstance(value, (int, float)) and str(key).endswith("_wall_s") and value < 0.0:
                raise ValueError(f"{key} is {value:g}")
            require_sane(value)
    elif isinstance(tree, (list, tuple)):
        for value in tree:
            require_sane(value)
    elif isinstance(tree, (int, float)) and not abs(tree) <= LARGEST_NUMBER:
        raise ValueError(f"a figure in it is {tree:g}")


def clean(tree: object) -> object:
    """Return dicts, lists and texts without the signs that no screen shows; lines stay lines."""
    if isinstance(tree, dict):
        return {key: clean(value) for key, value in tree.items()}
    if isinstance(tree, list):
        return [clean(value) for value in tree]
    return "\n".join(map(printable, tree.split("\n"))) if isinstance(tree, str) else tree


def why_not(error: Exception) -> str:
    """Return in a few printable words what was wrong with a file."""
    match error:
        case RecursionError():
            return "it holds lists too deep in each other"
        case OSError():
            return error.strerror or str(error)
    return printable(str(error)[:LONGEST_REASON])
