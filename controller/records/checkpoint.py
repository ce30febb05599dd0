"""Save what the deciding part remembers, and load it again, the very same numbers.

The file is one line of JSON that names version and check sum, and after it the memory as MessagePack: that knows the
infinite numbers of which the memory is full (instants that lie "for ever ago"), and JSON does not. The version before
stays as `NAME.previous` and is taken where the newest one is damaged.
"""

import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec

from controller.core.memory import Memory
from controller.core.soundness import why_unsound
from controller.records.csv_text import printable
from controller.records.durable import previous_of, replace_whole
from controller.records.untrusted import why_not

VERSION: Final = 1
FILE: Final = "checkpoint.msgpack"
NONE_IS_WHOLE: Final = "No copy of it is whole: open batches are not known any more; their folders are."
PAUSES_S: Final = (0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2)
"""After these pauses a copy is read again before it counts as unreadable; common practice, no source."""


def at_once(pause_s: float) -> None:
    """Let no time pass."""


class _Head(msgspec.Struct, frozen=True):
    """Hold the first line: the version of what follows, and its check sum."""

    version: int
    crc32: int


class Loaded(msgspec.Struct, frozen=True):
    """Hold what was found. `memory` is None where nothing usable is there; `warnings` say what was damaged."""

    memory: Memory | None
    warnings: tuple[str, ...] = ()
    damaged: tuple[Path, ...] = ()  # Copies that are there and hold nothing that can be used,
    unread: tuple[Path, ...] = ()  # and those of them that the disk did not give.


def save_checkpoint(path: Path, memory: Memory, *, force: bool) -> None:
    """Put the memory on disk in the place of the last one, which stays as the previous copy.

    Raises:
        StorageError: it is not on disk; the last one still is.
    """
    replace_whole(path, encode_memory(memory), force=force)


def load_checkpoint(path: Path, pause: Callable[[float], None] = at_once) -> Loaded:
    """Return the newest memory that is whole. Where there has never been one, it is None without a warning.

    Where the newest is not there at all, a program or the power ended between two renames: nothing is damaged then.

    Args:
        path: the newest copy; the one before it lies beside it.
        pause: lets seconds pass between two tries to read what a disk does not give.
    """
    warnings: list[str] = []
    damaged: list[Path] = []
    unread: list[Path] = []
    memory: Memory | None = None
    for candidate in (path, previous_of(path)):
        try:
            memory = _sound(decode_memory(_read(candidate, pause)))
        except FileNotFoundError:
            if candidate == path and previous_of(path).exists():
                warnings.append(f"{path} is missing; the copy before it is taken.")
        except OSError as error:
            damaged.append(candidate)
            unread.append(candidate)
            warnings.append(f"{candidate} cannot be read: {error.strerror or error}.")
        except (ValueError, RecursionError) as error:
            damaged.append(candidate)
            warnings.append(f"{candidate} is damaged: {why_not(error)}.")
        else:
            break
    if path in unread and (newest := _back_again(path)) is not None:
        return Loaded(newest)
    if warnings:
        warnings.append(NONE_IS_WHOLE if memory is None else "Up to a minute before the end is forgotten.")
    return Loaded(memory, tuple(warnings), tuple(damaged), tuple(unread))


def _back_again(path: Path) -> Memory | None:
    """Return the newest memory where the disk gives it now; else None.

    It did not a moment ago, and has been asked for the one before since. What was answered last stands in the newest
    alone, and the one before may not be there at all.
    """
    try:
        return _sound(decode_memory(path.read_bytes()))
    except (OSError, ValueError, RecursionError):
        return None


def _read(path: Path, pause: Callable[[float], None]) -> bytes:
    """Return what a copy holds. A card that has failed once may give it at the next try, and older is not as good."""
    for pause_s in PAUSES_S:
        try:
            return path.read_bytes()
        except FileNotFoundError:
            raise
        except OSError:
            pause(pause_s)
    return path.read_bytes()


def _sound(memory: Memory) -> Memory:
    """Return a memory that can be gone on with; ValueError where it cannot be, whatever its check sum says."""
    unsound = why_unsound(memory)
    if unsound:
        raise ValueError(f"its check sum is right, but {printable(unsound)}")
    return memory


def encode_memory(memory: Memory) -> bytes:
    """Return what the file holds."""
    body = msgspec.msgpack.encode(memory)
    return b"%b\n%b" % (msgspec.json.encode(_Head(VERSION, zlib.crc32(body))), body)


def decode_memory(data: bytes) -> Memory:
    """Return the memory that was encoded.

    Raises:
        ValueError: it is damaged, or of another version.
    """
    first, _, body = data.partition(b"\n")
    head = msgspec.json.decode(first, type=_Head)
    if head.version != VERSION:
        raise ValueError(f"its version is {head.version}, this program reads {VERSION}")
    if zlib.crc32(body) != head.crc32:
        raise ValueError("its check sum is wrong")
    return msgspec.msgpack.decode(body, type=Memory)
