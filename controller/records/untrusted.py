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
DOUBLE_BITS: Final = 1024
"""A whole number that is longer is no double any more (IEEE 754)."""
LONGEST_LINE: Final = 2000
"""No line that the daemon tells is as long."""
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
        known = not isinstance(tree, int) or tree.bit_length() < DOUBLE_BITS
        raise ValueError(f"a figure in it is {tree:g}" if known else "a figure in it is endless")


def clean(tree: object) -> object:
    """Return dicts, lists and texts without the signs that no screen shows; lines stay lines, but none is endless."""
    if isinstance(tree, dict):
        return {key: clean(value) for key, value in tree.items()}
    if isinstance(tree, list):
        return [clean(value) for value in tree]
    if not isinstance(tree, str):
        return tree
    return "\n".join(printable(line[:LONGEST_LINE]) for line in tree.split("\n"))


def why_not(error: Exception) -> str:
    """Return in a few printable words what was wrong with a file."""
    match error:
        case RecursionError():
            return "it holds lists too deep in each other"
        case OSError():
            return error.strerror or str(error)
    return printable(str(error)[:LONGEST_REASON])
