"""A disk in memory that writes down every write and every flush: a plugin for nbdkit(1), run by the system's Python.

`nbdkit python logging_plugin.py base=IMAGE log=FILE`. A record of the log is its kind, its length, its offset and its
bytes; `controller` and `tests` are not there when this runs, so it stands alone.
"""

import struct
from pathlib import Path
from typing import Any

import nbdkit  # type: ignore[import-not-found]

API_VERSION = 2
HEAD = struct.Struct("<BIQ")
WRITE, FLUSH = 1, 2

_told: dict[str, str] = {}
_disk = bytearray()
_log: Any = None


def config(key: str, value: str) -> None:
    """Take `base` and `log`."""
    _told[key] = value


def thread_model() -> int:
    """Have one request at a time, so that the log is the order of the disk."""
    return int(nbdkit.THREAD_MODEL_SERIALIZE_ALL_REQUESTS)


def get_ready() -> None:
    """Begin with the bytes of the image and an empty log."""
    global _log  # noqa: PLW0603 - a plugin is a module
    _disk[:] = Path(_told["base"]).read_bytes()
    _log = Path(_told["log"]).open("wb", buffering=0)  # noqa: SIM115 - open as long as the disk is


def open(_readonly: bool) -> int:  # noqa: A001, FBT001 - nbdkit's own name
    """Be one disk for everybody."""
    return 1


def get_size(_handle: int) -> int:
    """Return the size in bytes."""
    return len(_disk)


def can_flush(_handle: int) -> bool:
    """Say that a flush is understood."""
    return True


def can_multi_conn(_handle: int) -> bool:
    """Say that all connections see the same disk."""
    return True


def pread(_handle: int, buffer: bytearray, offset: int, _flags: int) -> None:
    """Read."""
    buffer[:] = _disk[offset : offset + len(buffer)]


def pwrite(_handle: int, buffer: bytes, offset: int, _flags: int) -> None:
    """Write, and write it down."""
    data = bytes(buffer)
    _disk[offset : offset + len(data)] = data
    _log.write(HEAD.pack(WRITE, len(data), offset) + data)


def flush(_handle: int, _flags: int) -> None:
    """Write down that all before this is on the platter."""
    _log.write(HEAD.pack(FLUSH, 0, 0))
