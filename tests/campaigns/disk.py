"""A disk that remembers what would be left of it after a power cut.

The files lie in a real folder, so that everything reads them as always; what writes goes through here (`interpose`).
Of each file two things are known: its bytes as every program sees them (the folder itself), and those that have been
forced, with what has been written since. A name is likewise either forced, by an fsync of its folder, or pending.

At a power cut what was forced stays. Of the rest a file system may keep all, nothing, the names in their order and any
part of the bytes, or any part of both; a write may be torn at a border of 512 bytes, and a file may have grown without
its bytes, which are zero then, while bytes that were written over may be the old ones still (ext4(5): delayed
allocation; man fsync(2): a file's fsync does not force its name).
After a failed fsync the pages count as clean: the next fsync does not write them any more (PostgreSQL, "fsyncgate",
2018, from memory).
"""

import errno
import os
import shutil
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Final

from msgspec import Struct

SECTOR: Final = 512

real_open, real_write, real_close = os.open, os.write, os.close
real_rename, real_unlink, real_mkdir, real_rmdir = os.rename, os.unlink, os.mkdir, os.rmdir
real_ftruncate, real_utime, real_fstat, real_lseek = os.ftruncate, os.utime, os.fstat, os.lseek


class Gone(BaseException):
    """Say that the program is gone at this very instant: killed, or without power. Nobody may catch it."""


class Change(Struct, frozen=True, gc=False):
    """Hold one change of a file's bytes: data at an offset, or (without data) a cut to a length."""

    offset: int
    data: bytes | None


class Inode:
    """Be one file: the bytes that were forced, and what has been changed since."""

    __slots__ = ("forced", "pending", "synced")

    def __init__(self, forced: bytes = b"") -> None:
        self.forced = bytearray(forced)
        self.pending: list[Change] = []
        self.synced = len(forced)  # So long the file was when it was forced last without an error.

    def force(self) -> None:
        """Put everything that is pending on the platter."""
        for change in self.pending:
            apply(self.forced, change)
        self.pending.clear()
        self.synced = len(self.forced)


def apply(data: bytearray, change: Change) -> None:
    """Do one change; a write behind the end leaves zeros before it."""
    if change.data is None:
        del data[change.offset :]
        return
    if change.offset > len(data):
        data.extend(bytes(change.offset - len(data)))
    data[change.offset : change.offset + len(change.data)] = change.data


class Naming(Struct, frozen=True):
    """Hold one change of names: what each of them stands for afterwards; None where it is gone, "" for a folder.

    `folders` are those whose fsync forces it.
    """

    names: dict[str, "Inode | str | None"]
    folders: tuple[str, ...]


Manner = str
MANNERS: Final[tuple[Manner, ...]] = ("all", "none", "ordered", "loose")
"""What is left of that which was not forced; see the head of this module."""


class ModelDisk:
    """Hold one folder as a disk: what is on it, what is only in memory, and what fails."""

    def __init__(self, root: Path, random: Random, wall_ns: Callable[[], int]) -> None:
        """Begin with an empty folder.

        Args:
            root: the folder; what lies below is the disk.
            random: decides what a power cut leaves.
            wall_ns: the wall clock of the machine in nanoseconds: the time stamps of the folders.
        """
        root.mkdir(parents=True, exist_ok=True)
        self.root = str(root)
        self._below = f"{root}/"
        self._random = random
        self._wall_ns = wall_ns
        self.names: dict[str, Inode] = {}  # As programs see them,
        self.folders: set[str] = {self.root}
        self.forced: dict[str, Inode | str] = {}  # and as a power cut would leave them.
        self.pending: list[Naming] = []
        self.fds: dict[int, Inode] = {}
        self.folder_fds: dict[int, str] = {}
        self.trouble = ""  # "full", "read-only" or "io-error".
        self.dead = False
        self.by_person = False  # Whoever types is another program: a kill of the daemon does not meet it.
        self.ops = 0
        self.unread = 0  # How often reading has failed.
        self.daemon_ops = 0
        self.dies_at_op: int | None = None
        self.kills_at_op: int | None = None
        self.seen: Callable[[str, str], None] | None = None  # Is told (what, path) of each change of names,
        self.dying: Callable[[str], None] | None = None  # and how the program ends, just before it does.

    def holds(self, path: object) -> bool:
        """Say whether this path lies on the disk."""
        return isinstance(path, str) and (path.startswith(self._below) or path == self.root)

    # What happens at each system call that changes something.

    def step(self, *, writes: bool = True, frees: bool = False) -> None:
        """Count a change that is about to be made; raise Gone or OSError where it is not to be."""
        if self.dead:
            raise Gone
        self.ops += 1
        self.daemon_ops += not self.by_person
        if self.dies_at_op is not None and self.ops >= self.dies_at_op:
            self.dies_at_op = None
            self._die("power")
        if self.kills_at_op is not None and not self.by_person and self.daemon_ops >= self.kills_at_op:
            self.kills_at_op = None
            self._die("kill")
        if self.trouble:
            self._fail(writes=writes, frees=frees)

    def _die(self, how: str) -> None:
        self.dead = True
        if self.dying is not None:
            self.dying(how)
        raise Gone(how)

    def _fail(self, *, writes: bool, frees: bool) -> None:
        if self.trouble == "read-only":
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        if self.trouble == "io-error" and self._random.random() < 0.7:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        if self.trouble == "full" and writes and not frees:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def opened(self, path: str, flags: int, mode: int) -> int:
        """Open a file or folder of the disk."""
        if flags & os.O_DIRECTORY:
            fd = real_open(path, flags, mode)
            self.folder_fds[fd] = path
            return fd
        if not flags & (os.O_WRONLY | os.O_RDWR):
            return real_open(path, flags, mode)
        is_new = path not in self.names
        if self.trouble == "read-only" or is_new or flags & os.O_TRUNC:
            self.step(writes=is_new)
        fd = real_open(path, flags, mode)
        if is_new:
            inode = self.names[path] = Inode()
            self._rename({path: inode})
        else:
            inode = self.names[path]
            if flags & os.O_TRUNC:
                inode.pending.append(Change(0, None))
        self.fds[fd] = inode
        return fd

    def written(self, fd: int, data: bytes) -> int:
        """Write; a full disk may take a part."""
        inode = self.fds[fd]
        at = real_lseek(fd, 0, os.SEEK_END if _appends(fd) else os.SEEK_CUR)
        try:
            self.step(frees=at + len(data) <= real_fstat(fd).st_size)  # What is written over needs no room.
        except OSError as error:
            taken = self._random.randrange(len(data)) if error.errno == errno.ENOSPC and data else 0
            if taken == 0:
                raise
            data = data[:taken]
        count = real_write(fd, data)
        inode.pending.append(Change(at, bytes(data[:count])))
        return count

    def truncated(self, fd: int, size: int) -> None:
        """Cut a file, or make it longer with zeros."""
        self.step(frees=True)
        real_ftruncate(fd, size)
        self.fds[fd].pending.append(Change(size, None))

    def forced_now(self, fd: int) -> None:
        """Force a file, or a folder's names; where that fails, what was pending may be lost for good."""
        inode = self.fds.get(fd)
        try:
            self.step(writes=False)
        except OSError:
            if inode is not None:
                self._forget(inode)
            raise
        if inode is not None:
            inode.force()
            return
        folder = self.folder_fds.get(fd)
        if folder is not None:
            for naming in self.pending:
                if folder in naming.folders:
                    self._force_names(naming)
            self.pending = [naming for naming in self.pending if folder not in naming.folders]

    def _forget(self, inode: Inode) -> None:
        for change in inode.pending:
            if self._random.random() < 0.5:
                apply(inode.forced, change)
        inode.pending.clear()

    def reads(self) -> None:
        """Fail to read where the disk does."""
        if self.trouble == "io-error" and self._random.random() < 0.3:
            self.unread += 1
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    def peek(self, path: str) -> bytes:
        """Return what a file holds now, as whoever judges sees it; a failing disk does not hide it."""
        fd = real_open(path, os.O_RDONLY)
        try:
            return os.pread(fd, real_fstat(fd).st_size, 0)
        finally:
            real_close(fd)

    def closed(self, fd: int) -> None:
        """Forget an open file."""
        self.fds.pop(fd, None)
        self.folder_fds.pop(fd, None)

    def renamed(self, source: str, target: str) -> None:
        """Give a file another name, in the place of what has it."""
        if source in self.folders:
            raise NotImplementedError(f"{source}: a folder was renamed; the model disk knows no such thing")
        if source not in self.names:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), source)
        self.step(writes=False)
        real_rename(source, target)
        inode = self.names[target] = self.names.pop(source)
        self._rename({source: None, target: inode})

    def unlinked(self, path: str) -> None:
        """Take a name away."""
        if path not in self.names:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), path)
        self.step(frees=True)
        real_unlink(path)
        del self.names[path]
        self._rename({path: None})

    def made(self, path: str, mode: int) -> None:
        """Make a folder."""
        if path in self.folders:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), path)
        if os.path.dirname(path) not in self.folders:  # noqa: PTH120
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), path)
        self.step()
        real_mkdir(path, mode)
        self.folders.add(path)
        self._rename({path: ""})

    def _rename(self, names: dict[str, "Inode | str | None"]) -> None:
        folders = tuple(dict.fromkeys(os.path.dirname(name) for name in names))  # noqa: PTH120
        self.pending.append(Naming(names, folders))
        stamp = self._wall_ns()
        for folder in folders:
            real_utime(folder, ns=(stamp, stamp))
        if self.seen is not None:
            for path, what in names.items():
                self.seen("gone" if what is None else "there", path)

    def _force_names(self, naming: Naming) -> None:
        for path, what in naming.names.items():
            if what is None:
                self.forced.pop(path, None)
            else:
                self.forced[path] = what

    # What ends a program, and what ends the machine.

    def end_program(self) -> None:
        """Close what the program had open; what it has written stays, as the kernel has it."""
        for fd in [*self.fds, *self.folder_fds]:
            real_close(fd)
        self.fds.clear()
        self.folder_fds.clear()
        self.dead = False

    def cut_power(self) -> Manner:
        """Leave on the disk what a power cut leaves; return in which manner."""
        self.end_program()
        self.dies_at_op = self.kills_at_op = None
        random = self._random
        manner = random.choice(MANNERS)
        for naming in self._surviving(manner):
            self._force_names(naming)
        self.pending.clear()
        held = {path: what for path, what in self.forced.items() if self._is_reached(path)}
        files = {path: what for path, what in held.items() if isinstance(what, Inode)}
        for inode in {id(inode): inode for inode in files.values()}.values():
            _survive(inode, manner, random)
        self._lay_out(files, {path for path, what in held.items() if what == ""})
        return manner

    def _surviving(self, manner: Manner) -> list[Naming]:
        random, pending = self._random, self.pending
        if manner == "all":
            return pending
        if manner == "none":
            return []
        if manner == "ordered":
            return pending[: random.randint(0, len(pending))]
        return [naming for naming in pending if random.random() < 0.5]

    def _is_reached(self, path: str) -> bool:
        folder = os.path.dirname(path)  # noqa: PTH120
        while folder != self.root:
            if self.forced.get(folder) != "":
                return False
            folder = os.path.dirname(folder)  # noqa: PTH120
        return True

    def _lay_out(self, files: dict[str, Inode], folders: set[str]) -> None:
        """Make the real folder what the disk holds now."""
        for path in self.names.keys() - files.keys():
            real_unlink(path)
        for path in sorted(self.folders - folders - {self.root}, reverse=True):
            real_rmdir(path)
        for path in sorted(folders - self.folders):
            real_mkdir(path)
        for path, inode in files.items():
            _put(path, bytes(inode.forced))
        self.names, self.folders = files, {*folders, self.root}
        self.forced = {**files, **dict.fromkeys(folders, "")}

    def differs(self) -> str:
        """Return what the folder has that the model does not know of, or the other way round; empty where all fits."""
        for path, inode in self.names.items():
            data = bytearray(inode.forced)
            for change in inode.pending:
                apply(data, change)
            if self.peek(path) != data:
                return f"{path}: the model disk does not know its bytes"
        for folder, _, names in os.walk(self.root):
            for name in names:
                if os.path.join(folder, name) not in self.names:  # noqa: PTH118
                    return f"{folder}/{name}: the model disk does not know this file"
        return ""

    def remove(self) -> None:
        """Take the whole folder away."""
        self.end_program()
        shutil.rmtree(self.root, ignore_errors=True)


def _put(path: str, data: bytes) -> None:
    """Write a file past the model."""
    fd = real_open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o664)
    try:
        while data:
            data = data[real_write(fd, data) :]
    finally:
        real_close(fd)


def _appends(fd: int) -> bool:
    import fcntl

    return bool(fcntl.fcntl(fd, fcntl.F_GETFL) & os.O_APPEND)


def _survive(inode: Inode, manner: Manner, random: Random) -> None:
    """Let a file have of its pending changes what the manner leaves."""
    if manner != "none":
        for change in inode.pending:
            if manner != "all" and random.random() < 0.4:
                continue
            is_torn = manner != "all" and random.random() < 0.5
            apply(inode.forced, _torn(change, inode.forced, random) if is_torn else change)
    inode.pending.clear()
    inode.synced = len(inode.forced)


def _torn(change: Change, old: bytearray, random: Random) -> Change:
    """Return a write of which only some sectors have arrived: the others hold what was there, and behind it zeros."""
    if change.data is None or not change.data:
        return change
    first = -change.offset % SECTOR
    borders = [0, *range(first or SECTOR, len(change.data), SECTOR), len(change.data)]
    parts = []
    for begin, end in pairwise(borders):
        part = change.data[begin:end]
        at = change.offset + begin
        parts.append(part if random.random() < 0.6 else bytes(old[at : at + len(part)]).ljust(len(part), b"\0"))
    data = b"".join(parts)
    return Change(change.offset, data[: random.choice([len(data), random.choice(borders)])])
