"""What a power cut may leave of a disk: states made from the log of all that was written to it.

A cut comes between two records of the log. What was written before the last flush is on the platter. Of what was
written since, all, none or some has arrived, and of what has arrived each sector of 512 bytes may be missing: that is
all that a disk with a cache promises (SCSI and ATA flush; the Linux kernel's writeback_cache_control.rst).
"""

import struct
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from random import Random
from typing import Final, Literal, NamedTuple

import msgspec
from msgspec import Struct

from tests.rig.disk.witness import Noted

HEAD: Final = struct.Struct("<BIQ")
FLUSH: Final = 2
"""As `logging_plugin` writes them."""
SECTOR: Final = 512
Manner = Literal["all", "none", "some", "torn"]
MANNERS: Final[tuple[Manner, ...]] = ("all", "none", "some", "torn")


class Write(NamedTuple):
    """Hold one record of the log: where it ends in the log, and the bytes and their place; no bytes for a flush."""

    ends: int
    offset: int
    data: bytes | None


class Recording(Struct):
    """Hold a day on a logging disk: the image it began with, the log, and what was noted when the log was how long."""

    base: bytes
    writes: list[Write]
    noted: list[tuple[int, Noted]]

    def noted_before(self, place: int) -> list[Noted]:
        """Return what had been noted when the log was so long."""
        return [one for at, one in self.noted if at <= place]


class Kept(Struct):
    """Hold a recording as it is kept where one of its states was wrong, with what is needed to make that state again.

    What the kernel wrote at which instant is not the seed's, so the day told again would not be the same log.
    """

    options: str
    seed: int
    count: int
    recording: Recording


def keep(path: Path, kept: Kept) -> None:
    """Write a recording down."""
    path.write_bytes(zlib.compress(msgspec.msgpack.encode(kept), 1))


def kept_in(path: Path) -> Kept:
    """Read a recording again."""
    return msgspec.msgpack.decode(zlib.decompress(path.read_bytes()), type=Kept)


class Crash(NamedTuple):
    """Hold one state: after how many records of the log, and what of the unflushed ones has arrived."""

    number: int
    records: int
    manner: Manner

    def place(self, recording: Recording) -> int:
        """Return how long the log was."""
        return recording.writes[self.records - 1].ends if self.records else 0


def read_log(path: Path) -> list[Write]:
    """Return the records of a log."""
    data, at, found = path.read_bytes(), 0, []
    while at < len(data):
        kind, length, offset = HEAD.unpack_from(data, at)
        at += HEAD.size
        found.append(Write(at + length, offset, None if kind == FLUSH else data[at : at + length]))
        at += length
    return found


def crashes(recording: Recording, count: int, seed: int) -> list[Crash]:
    """Draw so many states, in the order of the log; half of the cuts come just after something was promised."""
    random = Random(f"crash:{seed}")
    ends = [write.ends for write in recording.writes]
    promised = sorted({at for at, one in recording.noted if one.what in {"row", "whole", "posted"}})
    chosen = []
    for number in range(count):
        if random.random() < 0.5:
            records = random.randint(0, len(ends))
        else:
            place = random.choice(promised)
            records = min(sum(1 for end in ends if end <= place) + random.choice((0, 0, 1, 2)), len(ends))
        chosen.append(Crash(number, records, random.choice(MANNERS)))
    return sorted(chosen, key=lambda crash: (crash.records, crash.number))


def images(recording: Recording, chosen: Sequence[Crash], seed: int) -> Iterator[tuple[Crash, bytearray]]:
    """Yield each of these states (in the order of the log) with its image."""
    platter, flushed = bytearray(recording.base), 0
    for crash in chosen:
        until = flushed_before(recording.writes, crash.records, flushed)
        for write in recording.writes[flushed:until]:
            _put(platter, write)
        flushed = until
        image = bytearray(platter)
        random = Random(f"crash:{seed}:{crash.number}:{crash.records}")
        for write in recording.writes[flushed : crash.records]:
            _arrive(image, write, crash.manner, random)
        yield crash, image


def flushed_before(writes: Sequence[Write], records: int, begin: int) -> int:
    """Return how many records lie before the end of the last flush of these; at least `begin`."""
    for number in range(records, begin, -1):
        if writes[number - 1].data is None:
            return number
    return begin


def _arrive(image: bytearray, write: Write, manner: Manner, random: Random) -> None:
    if write.data is None or manner == "none" or (manner != "all" and random.random() < 0.5):
        return
    if manner != "torn":
        _put(image, write)
        return
    for at in range(0, len(write.data), SECTOR):
        if random.random() < 0.5:
            _put(image, Write(0, write.offset + at, write.data[at : at + SECTOR]))


def _put(image: bytearray, write: Write) -> None:
    if write.data is not None:
        image[write.offset : write.offset + len(write.data)] = write.data
