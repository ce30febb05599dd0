"""A model disk of which one chosen call fails, or all of its kind from that one on.

It is the model disk of the campaigns, so that what is forced is known apart from what is only written; after an fsync
that failed, what it was to force is gone for good. What only looks (stat, a list of names, reading) can fail here too.
"""
# ruff: noqa: ANN401 - the hooks take what theirs take

import errno
import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any, Final, NamedTuple

from tests.campaigns.disk import ModelDisk
from tests.rig.disk.day import BEGIN_WALL_S

SHORT: Final = -1
"""Stands beside the numbers of errors: half of the bytes are taken, and no error comes."""
CHANGES: Final = (errno.ENOSPC, errno.EIO, errno.EROFS)
ERRORS: Final[dict[str, tuple[int, ...]]] = {
    "open to write, new": CHANGES,
    "open to write": (errno.EIO, errno.EROFS),
    "open to read": (errno.EIO,),
    "open a folder": (errno.EIO,),
    "write": (*CHANGES, SHORT),
    "fsync": CHANGES,
    "fsync of a folder": CHANGES,
    "truncate": (errno.EIO, errno.EROFS),
    "rename": CHANGES,
    "unlink": (errno.EIO, errno.EROFS),
    "mkdir": CHANGES,
    "read": (errno.EIO,),
    "stat": (errno.EIO,),
    "list": (errno.EIO,),
    "close": (errno.EIO,),
}
"""What each kind of call can come back with: man pages open(2), write(2), fsync(2), rename(2), unlink(2), mkdir(2)."""
LASTS_S: Final = 600.0
LOOKS: Final = 3
"""So many failed calls are looked at the very instant they fail."""


class Call(NamedTuple):
    """Hold one call: its kind, and the file below the state folder."""

    kind: str
    name: str


class Failure(NamedTuple):
    """Hold which call fails, with which error, and for how long all others of its kind do too."""

    number: int
    error: int
    lasts_s: float = 0.0

    @property
    def text(self) -> str:
        """Return it as `--failure` takes it."""
        how = "SHORT" if self.error == SHORT else errno.errorcode[self.error]
        return f"{self.number}:{how}{':lasting' if self.lasts_s else ''}"


class FailingDisk(ModelDisk):
    """Be a model disk of which one call fails, or all from one on."""

    def __init__(self, root: Path, failure: Failure | None) -> None:
        self.now_s: Callable[[], float] = lambda: 0.0
        super().__init__(root, Random(1), lambda: int((BEGIN_WALL_S + self.now_s()) * 1e9))
        self.failure = failure
        self.calls: list[Call] = []
        self.failed: list[tuple[float, Call]] = []
        self.on_failure: Callable[[], None] = _nothing
        self.watches = True

    def meet(self, kind: str, path: str) -> bool:
        """Count a call; raise where it is to fail; say whether it is to take only half."""
        if not self.watches or not self.holds(path):
            return False
        call = Call(kind, path[len(self.root) + 1 :])
        self.calls.append(call)
        failure = self.failure
        if failure is None or len(self.calls) <= failure.number or failure.error not in ERRORS[kind]:
            return False
        first = len(self.calls) == failure.number + 1
        if not first and not (self.failed and self.now_s() < self.failed[0][0] + failure.lasts_s):
            return False
        self.failed.append((self.now_s(), call))
        if len(self.failed) <= LOOKS:
            self.look_aside(self.on_failure)
        if failure.error == SHORT:
            return True
        raise OSError(failure.error, os.strerror(failure.error), path)

    def look_aside(self, look: Callable[[], None]) -> None:
        """Do what is not the program's."""
        watched, self.watches = self.watches, False
        try:
            look()
        finally:
            self.watches = watched

    def _path(self, fd: int) -> str:
        return os.readlink(f"/proc/self/fd/{fd}").removesuffix(" (deleted)")  # noqa: PTH115 - Path's is hooked

    def opened(self, path: str, flags: int, mode: int) -> int:
        if flags & os.O_DIRECTORY:
            self.meet("open a folder", path)
        elif not flags & (os.O_WRONLY | os.O_RDWR):
            self.meet("open to read", path)
        else:
            self.meet("open to write" if path in self.names else "open to write, new", path)
        return super().opened(path, flags, mode)

    def written(self, fd: int, data: bytes) -> int:
        half = self.meet("write", self._path(fd))
        return super().written(fd, data[: len(data) // 2] if half else data)

    def truncated(self, fd: int, size: int) -> None:
        self.meet("truncate", self._path(fd))
        super().truncated(fd, size)

    def forced_now(self, fd: int) -> None:
        inode = self.fds.get(fd)
        try:
            self.meet("fsync of a folder" if inode is None else "fsync", self._path(fd))
        except OSError:
            if inode is not None:
                inode.pending.clear()  # The worst that a kernel does: it keeps the pages and never writes them.
            raise
        super().forced_now(fd)

    def renamed(self, source: str, target: str) -> None:
        self.meet("rename", source)
        super().renamed(source, target)

    def unlinked(self, path: str) -> None:
        if path in self.names:
            self.meet("unlink", path)
        super().unlinked(path)

    def made(self, path: str, mode: int) -> None:
        if path not in self.folders:
            self.meet("mkdir", path)
        super().made(path, mode)


def _nothing() -> None:
    """Look at nothing."""


@contextmanager
def read_through(disk: FailingDisk) -> Iterator[None]:
    """Let the calls that only look meet the disk too, while the block lasts; inside of `interposed`."""
    stat, scandir, listdir, pread, close, opened = os.stat, os.scandir, os.listdir, os.pread, os.close, io.open

    def path_of(path: Any) -> str:
        return os.fspath(path) if isinstance(path, str | os.PathLike) else ""

    def looks(kind: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def look(path: Any = ".", *args: Any, **named: Any) -> Any:
            disk.meet(kind, path_of(path))
            return call(path, *args, **named)

        return look

    def read(fd: int, *args: Any) -> bytes:
        if fd in disk.fds:
            disk.meet("read", disk._path(fd))
        return pread(fd, *args)

    def closed(fd: int) -> None:
        known = fd in disk.fds or fd in disk.folder_fds
        path = disk._path(fd) if known else ""
        close(fd)
        if known:
            disk.meet("close", path)  # Linux has closed it, whatever it says (man 2 close).

    def opens(file: Any, mode: str = "r", *args: Any, **named: Any) -> Any:
        if mode.replace("b", "").replace("t", "") == "r":
            disk.meet("open to read", path_of(file))
        return opened(file, mode, *args, **named)

    try:
        os.stat, os.scandir, os.listdir = looks("stat", stat), looks("list", scandir), looks("list", listdir)
        os.pread, os.close, io.open = read, closed, opens
        yield
    finally:
        os.stat, os.scandir, os.listdir = stat, scandir, listdir
        os.pread, os.close, io.open = pread, close, opened
