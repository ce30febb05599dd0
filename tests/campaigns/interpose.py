"""Stand between the program and its machine: what it writes goes to the model disk, its clocks are the simulated ones.

The program is not told. While a run lasts, the functions of `os` and `io.open` that change a file are ours, and those
modules of `controller.records` that look at a clock or start a thread of their own look at ours.
"""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

import io
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any, Final

from controller.records import durable
from tests.campaigns.disk import ModelDisk, real_close, real_open, real_write

real_io_open = io.open
REAL: Final = {
    name: getattr(os, name)
    for name in (
        "open", "write", "close", "fsync", "fdatasync", "ftruncate", "rename", "replace", "unlink", "remove", "mkdir",
        "link", "symlink", "truncate", "rmdir",
    )
}  # fmt: skip


class ModelFile(io.FileIO):
    """Be a file that was opened with `Path.open`; its descriptor is known to the disk."""

    def __init__(self, fd: int, mode: str, disk: ModelDisk) -> None:
        super().__init__(fd, mode)
        self._disk = disk

    def write(self, data: Any) -> int:
        return self._disk.written(self.fileno(), bytes(data))

    def truncate(self, size: int | None = None, /) -> int:
        length = self.tell() if size is None else size
        self._disk.truncated(self.fileno(), length)
        return length

    def close(self) -> None:
        if not self.closed:
            self._disk.closed(self.fileno())
        super().close()


def _hooks(disk: ModelDisk) -> dict[str, Callable[..., Any]]:
    """Return the functions that take the places of those of `os` for this disk."""
    holds, fds, folder_fds = disk.holds, disk.fds, disk.folder_fds

    def path_of(path: Any) -> str:
        return os.fspath(path) if not isinstance(path, int) else ""

    def opened(path: Any, flags: int, mode: int = 0o777, *, dir_fd: int | None = None) -> int:
        name = path_of(path)
        return disk.opened(name, flags, mode) if holds(name) else real_open(path, flags, mode, dir_fd=dir_fd)

    def written(fd: int, data: Any) -> int:
        return disk.written(fd, bytes(data)) if fd in fds else real_write(fd, data)

    def closed(fd: int) -> None:
        disk.closed(fd)
        real_close(fd)

    def forced(fd: Any) -> None:
        number = fd if isinstance(fd, int) else fd.fileno()
        if number in fds or number in folder_fds:
            disk.forced_now(number)
        else:
            REAL["fsync"](fd)

    def truncated(fd: int, size: int) -> None:
        if fd in fds:
            disk.truncated(fd, size)
        else:
            REAL["ftruncate"](fd, size)

    def renamed(source: Any, target: Any, **other: Any) -> None:
        if holds(path_of(source)):
            disk.renamed(path_of(source), path_of(target))
        else:
            REAL["rename"](source, target, **other)

    def unlinked(path: Any, **other: Any) -> None:
        if holds(path_of(path)):
            disk.unlinked(path_of(path))
        else:
            REAL["unlink"](path, **other)

    def made(path: Any, mode: int = 0o777, **other: Any) -> None:
        if holds(path_of(path)):
            disk.made(path_of(path), mode)
        else:
            REAL["mkdir"](path, mode, **other)

    def unknown(name: str) -> Callable[..., Any]:
        def refuse(*args: Any, **other: Any) -> Any:
            if any(holds(path_of(arg)) for arg in args if isinstance(arg, str | os.PathLike)):
                raise NotImplementedError(f"os.{name}: the model disk knows no such thing")
            return REAL[name](*args, **other)

        return refuse

    return {
        "open": opened, "write": written, "close": closed, "fsync": forced, "fdatasync": forced,
        "ftruncate": truncated, "rename": renamed, "replace": renamed, "unlink": unlinked, "remove": unlinked,
        "mkdir": made, **{name: unknown(name) for name in ("link", "symlink", "truncate", "rmdir")},
    }  # fmt: skip


def _io_open(disk: ModelDisk) -> Callable[..., Any]:
    flags_of = {
        "r+": os.O_RDWR,
        "w": os.O_WRONLY | os.O_CREAT | os.O_TRUNC,
        "a": os.O_WRONLY | os.O_CREAT | os.O_APPEND,
    }

    def opened(file: Any, mode: str = "r", buffering: int = -1, *rest: Any, **other: Any) -> Any:
        name = "" if isinstance(file, int) else os.fspath(file)
        plain = mode.replace("b", "").replace("t", "")
        if disk.holds(name) and plain == "r" and not disk.by_person:
            disk.reads()
        if not disk.holds(name) or plain == "r":
            return real_io_open(file, mode, buffering, *rest, **other)
        if plain not in flags_of:
            raise NotImplementedError(f"open {name} {mode}: the model disk knows no such mode")
        raw = ModelFile(disk.opened(name, flags_of[plain] | os.O_CLOEXEC, 0o666), plain, disk)
        buffer = io.BufferedRandom(raw) if plain == "r+" else io.BufferedWriter(raw)
        return buffer if "b" in mode else io.TextIOWrapper(buffer, encoding=other.get("encoding") or "utf-8")

    return opened


class Idle(BaseException):
    """Say that a thread of the program would wait now; it goes on from the start of its loop at its next turn."""

    def __init__(self, timeout_s: float | None) -> None:
        super().__init__(timeout_s)
        self.timeout_s = timeout_s


class TurnThread:
    """Be a thread that runs only when it is its turn, until it would wait: so every run is the same run."""

    started: list["TurnThread"]
    """The threads that run now; each run of the program has a list of its own."""

    def __init__(self, *, target: Callable[[], None], name: str = "", daemon: bool = True) -> None:
        del daemon
        self._target, self.name = target, name
        self.over = False

    def start(self) -> None:
        TurnThread.started.append(self)

    def turn(self) -> float | None:
        """Let it run until it waits; return after how many seconds it looks again by itself, None where never."""
        if self.over:
            return None
        try:
            self._target()
        except Idle as idle:
            return idle.timeout_s
        self.over = True
        return None

    def join(self, timeout: float | None = None) -> None:
        del timeout
        self.turn()

    def is_alive(self) -> bool:
        return not self.over


class TurnCondition:
    """Be a condition in a program of which only one thread runs at a time."""

    notified = False
    """Somebody has been called: it is the turn of the threads."""

    def __enter__(self) -> bool:
        return True

    def __exit__(self, *error: object) -> None:
        pass

    def wait(self, timeout: float | None = None) -> bool:
        raise Idle(timeout)

    def notify(self, n: int = 1) -> None:
        del n
        TurnCondition.notified = True

    notify_all = notify


class _Threading(ModuleType):
    """Be the module `threading` for those modules of the program whose threads take turns."""

    Thread, Condition = TurnThread, TurnCondition

    def __getattr__(self, name: str) -> Any:
        return getattr(threading, name)


class Clocks(ModuleType):
    """Be the module `time` for the modules of `controller.records`: it tells the simulated time."""

    def __init__(self, monotonic_s: Callable[[], float], wall_s: Callable[[], float]) -> None:
        super().__init__("time")
        self.monotonic = self.perf_counter = monotonic_s
        self.time = wall_s
        self._monotonic_s = monotonic_s

    def time_ns(self) -> int:
        return int(self.time() * 1e9)

    def monotonic_ns(self) -> int:
        return int(self._monotonic_s() * 1e9)

    def clock_gettime(self, clock: int) -> float:
        return self.time() if clock == time.CLOCK_REALTIME else self._monotonic_s()

    def __getattr__(self, name: str) -> Any:
        return getattr(time, name)


@contextmanager
def interposed(disk: ModelDisk, clocks: Clocks) -> Iterator[None]:
    """Let the program write to this disk and look at these clocks while the block lasts."""
    hooks = _hooks(disk)
    defaults = durable.AppendFile.__init__.__kwdefaults__ or {}
    turned: list[tuple[ModuleType, str, Any]] = []
    for name, module in list(sys.modules.items()):
        if name.startswith("controller.records"):
            if getattr(module, "time", None) is time:
                turned.append((module, "time", clocks))
            if getattr(module, "threading", None) is threading and name.endswith(".writer"):
                turned.append((module, "threading", _Threading("threading")))
    TurnThread.started = []
    TurnCondition.notified = False
    real_sync = defaults.get("sync")
    try:
        for name, hook in hooks.items():
            setattr(os, name, hook)
        io.open = _io_open(disk)
        if real_sync is not None:
            defaults["sync"] = hooks["fdatasync"]
        for module, attribute, value in turned:
            setattr(module, attribute, value)
        yield
    finally:
        for name in hooks:
            setattr(os, name, REAL[name])
        io.open = real_io_open
        if real_sync is not None:
            defaults["sync"] = real_sync
        for module, attribute, _ in turned:
            setattr(module, attribute, time if attribute == "time" else threading)
