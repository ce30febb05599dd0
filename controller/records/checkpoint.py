"""Save what the deciding part remembers, and load it again, the very same numbers.

The file is one line of JSON that names version and check sum, and one line of JSON that is the memory. JSON knows no
infinite numbers, and the memory is full of instants that lie "for ever ago"; such a number is written as an object
with one key. The version before stays as `NAME.previous` and is taken where the newest one is damaged.
"""

import math
import zlib
from pathlib import Path
from typing import Final

import msgspec

from controller.core.memory import Memory
from controller.core.plan import Profile
from controller.records.durable import previous_of, replace_whole

VERSION: Final = 1
FILE: Final = "checkpoint.json"
NOT_FINITE: Final = "$float"


class _Head(msgspec.Struct, frozen=True):
    """Hold the first line: what the second one is, and its check sum."""

    version: int
    crc32: int


class Loaded(msgspec.Struct, frozen=True):
    """Hold what was found. `memory` is None where nothing usable is there; `warnings` say what was damaged."""

    memory: Memory | None
    warnings: tuple[str, ...] = ()


def save_checkpoint(path: Path, memory: Memory, *, force: bool) -> None:
    """Put the memory on disk in the place of the last one, which stays as the previous copy.

    Raises:
        StorageError: it is not on disk; the last one still is.
    """
    replace_whole(path, encode_memory(memory), force=force)


def load_checkpoint(path: Path) -> Loaded:
    """Return the newest memory that is whole. Where there has never been one, it is None without a warning."""
    warnings: list[str] = []
    for candidate in (path, previous_of(path)):
        try:
            memory = decode_memory(candidate.read_bytes())
        except FileNotFoundError:
            if candidate == path and previous_of(path).exists():
                warnings.append(f"{path} is missing; the copy before it is taken.")
        except OSError as error:
            warnings.append(f"{candidate} cannot be read: {error.strerror or error}.")
        except (ValueError, msgspec.DecodeError) as error:
            warnings.append(f"{candidate} is damaged: {error}.")
        else:
            if warnings and candidate != path:
                warnings.append("Up to a minute before the end is forgotten.")
            return Loaded(memory, tuple(warnings))
    if warnings:
        warnings.append("No copy of it is whole: open batches are not known any more; their folders are.")
    return Loaded(None, tuple(warnings))


def encode_memory(memory: Memory) -> bytes:
    """Return the two lines of the file."""
    plain = msgspec.to_builtins(memory)
    for batch, table in zip(memory.batches, plain["batches"], strict=True):
        table["profile"] = _profile_text(batch.profile)
    body = msgspec.json.encode(_finite(plain))
    return b"%b\n%b\n" % (msgspec.json.encode(_Head(VERSION, zlib.crc32(body))), body)


_profile_texts: dict[int, tuple[Profile, msgspec.Raw]] = {}
KEPT_TEXTS: Final = 16


def _profile_text(profile: Profile) -> msgspec.Raw:
    """Return the profile's JSON. It is frozen into the batch and most of the memory's size: it is written out once."""
    known = _profile_texts.get(id(profile))
    if known is None or known[0] is not profile:
        if len(_profile_texts) >= KEPT_TEXTS:
            _profile_texts.clear()
        known = profile, msgspec.Raw(msgspec.json.encode(_finite(msgspec.to_builtins(profile))))
        _profile_texts[id(profile)] = known
    return known[1]


def decode_memory(data: bytes) -> Memory:
    """Return the memory that these two lines hold.

    Raises:
        ValueError: they are damaged, or of another version.
    """
    first, _, rest = data.partition(b"\n")
    head = msgspec.json.decode(first, type=_Head)
    body = rest.removesuffix(b"\n")
    if head.version != VERSION:
        raise ValueError(f"its version is {head.version}, this program reads {VERSION}")
    if zlib.crc32(body) != head.crc32:
        raise ValueError("its check sum is wrong")
    return msgspec.convert(_any_float(msgspec.json.decode(body)), type=Memory)


def _finite(value: object) -> object:
    """Replace the floats that JSON does not know."""
    kind = type(value)
    if kind is float:
        return value if math.isfinite(value) else {NOT_FINITE: repr(value)}  # type: ignore[arg-type]
    if kind is dict:
        return {key: _finite(item) if type(item) in _WALKED else item for key, item in value.items()}  # type: ignore[attr-defined]
    if kind is list or kind is tuple:
        return [_finite(item) if type(item) in _WALKED else item for item in value]  # type: ignore[attr-defined]
    return value


_WALKED: Final = frozenset({float, dict, list, tuple})


def _any_float(value: object) -> object:
    """Put the floats back that JSON does not know."""
    if isinstance(value, dict):
        if len(value) == 1 and NOT_FINITE in value:
            return float(value[NOT_FINITE])
        return {key: _any_float(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_any_float(item) for item in value]
    return value
