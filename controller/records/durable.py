"""Put bytes on a disk so that they are there after the power has failed, or say that they are not.

What a file system promises is little, so the rules are few and strict. A row is one `write` whose count is checked:
a full disk may take a part of it without an error, and that part is cut off again. Then the row is forced. Where
forcing has failed, the kernel may have thrown the pages away and say yes to the next try, so the file is opened anew
and the row written again. A state is written aside, forced, renamed over the old one, and the folder is forced. What
a power cut leaves at the end of a file, zero bytes or a torn line, is set aside at the next start and reported; and
the end of a file is written and forced anew there, for a program that died before may have failed to force it.
"""

import contextlib
import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, Final

from msgspec import Struct

from controller.errors import StorageError

FILE_MODE: Final = 0o664
BLOCK_BYTES: Final = 512
"""The unit of `st_blocks`: stat(2)."""
TAIL_BYTES: Final = 65_536
"""A torn line is looked for in so much of a file's end; no row is nearly as long."""


class Recovered(Struct, frozen=True):
    """Hold what was cut off the end of a file: zero bytes, and a torn line that now stands in `.partial`."""

    path: Path
    zero_bytes: int
    torn: bytes

    @property
    def text(self) -> str:
        """Return what happened, in words."""
        found = []
        if self.zero_bytes:
            found.append(f"{self.zero_bytes} zero bytes")
        if self.torn:
            found.append(f"a torn line of {len(self.torn)} bytes (kept in {partial_of(self.path).name})")
        return f"{self.path.name} ended with {' and '.join(found)}; it was cut off."


class AppendFile:
    """Append whole rows to one file. The header is written first where the file is new or empty."""

    def __init__(
        self, path: Path, *, header: bytes = b"", force: bool, sync: Callable[[int], None] = os.fdatasync
    ) -> None:
        """Remember what to do; the file is opened, and its end put right, when the first row comes.

        Args:
            path: the file.
            header: its first line, with line end.
            force: whether each row is forced to disk before `append` returns.
            sync: what forces an open file.
        """
        self.path = path
        self._header = header
        self._force = force
        self._sync = sync
        self._fd: int | None = None
        self._size = 0
        self._sound: int | None = None  # Up to here the file is known to be right; None before the first opening.
        self._is_named = not force  # Whether its name is known to be on disk.

    def append(self, row: bytes) -> None:
        """Write one row, line end included, and have it on disk.

        Raises:
            StorageError: the row is not on disk, and no part of it is left in the file.
        """
        try:
            if self._fd is None:
                self._open()
            self._write(row)
        except OSError as error:
            self.close()
            raise StorageError(f"{self.path}: the row could not be written: {error.strerror or error}") from error

    def close(self) -> None:
        """Close the file."""
        if self._fd is not None:
            fd, self._fd = self._fd, None
            with contextlib.suppress(OSError):  # Nothing unforced is in it that anybody was promised.
                os.close(fd)

    def _open(self) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        if self._sound is None and self.path.is_file():
            recover_tail(self.path, force=self._force)
        self._fd = os.open(self.path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, FILE_MODE)
        self._size = os.fstat(self._fd).st_size
        if self._sound is not None and self._size > self._sound:
            os.ftruncate(self._fd, self._sound)
            self._size = self._sound
        self._sound = self._size
        if not self._is_named:  # Also of a file that is there: who made it may have failed here, or been killed.
            sync_folder(self.path.parent)
            self._is_named = True
        if self._size == 0 and self._header:
            self._write(self._header)

    def _write(self, row: bytes) -> None:
        fd = self._fd
        if fd is None:
            raise OSError(f"{self.path} is not open")
        try:
            write_all(fd, row)
        except OSError:
            with contextlib.suppress(OSError):  # Else the next opening cuts the part off; the first error is the news.
                os.ftruncate(fd, self._size)
            raise
        if self._force:
            self._sync(fd)
        self._size += len(row)
        self._sound = self._size


class WholeFile:
    """Replace the contents of one file, all or nothing, again and again; the old ones stay as `NAME.previous`."""

    def __init__(self, path: Path, *, force: bool, keep_previous: bool = True) -> None:
        """Remember what to do; nothing is opened."""
        self.path = path
        # Plain strings, and os instead of pathlib: a simulated month writes 43,200 checkpoints.
        self._now = str(path)
        self._aside = f"{path}.new"
        self._previous = str(previous_of(path))
        self._force = force
        self._keep_previous = keep_previous

    def replace(self, data: bytes) -> None:
        """Put these contents in the place of the old ones.

        Raises:
            StorageError: the new contents are not on disk; a whole old version still is.
        """
        try:
            self._write_aside(data)
            if self._keep_previous and os.path.exists(self._now):  # noqa: PTH110
                # Only then: where the newest is gone, the one before it is the only whole one. Deleting first spares
                # the ext4 file system a flush at every replacing rename; the version in `path` is whole until the one
                # before it is out of the way.
                with contextlib.suppress(FileNotFoundError):
                    os.unlink(self._previous)  # noqa: PTH108
                os.rename(self._now, self._previous)  # noqa: PTH104
            os.rename(self._aside, self._now)  # noqa: PTH104
            if self._force:
                sync_folder(self.path.parent)
        except OSError as error:
            raise StorageError(f"{self.path}: could not be written: {error.strerror or error}") from error

    def _write_aside(self, data: bytes) -> None:
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC
        try:
            fd = os.open(self._aside, flags, FILE_MODE)
        except FileNotFoundError:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            fd = os.open(self._aside, flags, FILE_MODE)
        except FileExistsError:  # Left behind by a run that was cut off.
            os.unlink(self._aside)  # noqa: PTH108
            fd = os.open(self._aside, flags, FILE_MODE)
        try:
            write_all(fd, data)
            if self._force:
                os.fsync(fd)
        finally:
            os.close(fd)


def replace_whole(path: Path, data: bytes, *, force: bool, keep_previous: bool = True) -> None:
    """Put new contents in the place of a file's old ones, once; see `WholeFile`."""
    WholeFile(path, force=force, keep_previous=keep_previous).replace(data)


def write_over(path: Path, data: bytes) -> bool:
    """Write new contents over a file's old ones where they lie, and say whether they fit there.

    It needs no room on a full disk, and promises nothing: a power cut may leave half of it. What is shorter than the
    old contents is filled up with blanks.
    """
    try:
        fd = os.open(path, os.O_WRONLY | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        old = os.fstat(fd)
        if len(data) > old.st_blocks * BLOCK_BYTES:
            return False
        write_all(fd, data.ljust(old.st_size))
    except OSError:
        return False
    finally:
        os.close(fd)
    return True


def write_all(fd: int, data: bytes) -> None:
    """Write these bytes in one call, and see that all of them were taken.

    Raises:
        OSError: they were not; a part of them may be there.
    """
    written = os.write(fd, data)
    if written != len(data):
        raise OSError(errno.ENOSPC, f"only {written} of {len(data)} bytes found room on the disk")


def set_aside(path: Path, *, force: bool) -> Path:
    """Give a damaged file a name of its own, `NAME.damaged-N`, so that nothing is written over it; return that.

    Raises:
        StorageError: it could not be renamed.
    """
    number = 1
    try:
        while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
            number += 1
        os.rename(path, aside)  # noqa: PTH104
        if force:
            sync_folder(path.parent)
    except OSError as error:
        raise StorageError(f"{path}: is damaged and could not be set aside: {error.strerror or error}") from error
    return aside


def sync_folder(folder: Path) -> None:
    """Force a folder's list of names to disk, so that a new or renamed file is found again."""
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def recover_tail(path: Path, *, force: bool = True) -> Recovered | None:
    """Cut zero bytes and a torn last line off a file's end; return what was cut, or None where all is whole.

    The torn line is appended to `NAME.partial`, so that nothing a person typed is thrown away. Doing it twice is the
    same as doing it once. What stays is forced (see `_write_anew`).

    Raises:
        StorageError: the end could not be put right.
    """
    try:
        with path.open("rb+") as file:
            size = file.seek(0, os.SEEK_END)
            whole, zero_bytes, torn = _judge_tail(file.fileno(), size)
            if torn:
                _set_aside(partial_of(path), torn, force=force)
            if whole < size:
                file.truncate(whole)
            if force:
                _write_anew(file, whole)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StorageError(f"{path}: its end could not be put right: {error.strerror or error}") from error
    return Recovered(path, zero_bytes, torn) if whole < size else None


def _write_anew(file: BinaryIO, size: int) -> None:
    """Write the end of a file over itself and force it.

    Where forcing fails, Linux keeps the pages, takes them for clean, and never tries them again (man 2 fsync tells of
    the error; that it comes once only is from memory of the kernel's own documents). A program that dies then leaves
    rows that every reader sees and no disk holds, and after a power cut they are a hole. Only writing them again brings
    them there.
    """
    begin = max(size - TAIL_BYTES, 0)
    end = os.pread(file.fileno(), size - begin, begin)
    file.seek(begin)
    if file.write(end) != len(end):
        raise OSError(errno.EIO, os.strerror(errno.EIO))
    file.flush()
    os.fsync(file.fileno())


def _judge_tail(fd: int, size: int) -> tuple[int, int, bytes]:
    """Return up to where the file is whole, how many zero bytes end it, and the torn line before them."""
    end, zero_bytes = size, 0
    while end > 0:
        begin = max(end - TAIL_BYTES, 0)
        block = os.pread(fd, end - begin, begin)
        kept = block.rstrip(b"\0")
        zero_bytes += len(block) - len(kept)
        end = begin + len(kept)
        if kept:
            break
    begin = max(end - TAIL_BYTES, 0)
    block = os.pread(fd, end - begin, begin)
    whole = begin + block.rfind(b"\n") + 1
    return whole, zero_bytes, block[whole - begin :]


def _set_aside(path: Path, torn: bytes, *, force: bool) -> None:
    fd = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, FILE_MODE)
    try:
        write_all(fd, torn + b"\n")
        if force:
            os.fsync(fd)
    finally:
        os.close(fd)
    if force:
        sync_folder(path.parent)


def partial_of(path: Path) -> Path:
    """Return the file that holds torn lines of this one."""
    return path.with_name(f"{path.name}.partial")


def previous_of(path: Path) -> Path:
    """Return the file that holds the version before this one."""
    return path.with_name(f"{path.name}.previous")
