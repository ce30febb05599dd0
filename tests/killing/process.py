"""The command as a process of its own, and the ways in which it is killed: from outside, or inside a system call.

strace(1) kills inside: it stops the process where it enters the chosen system call and gives it SIGKILL there, so
that the call before it has been done and this one has not. A `kill -9` that hits while a small write is under way
looks the same to the file: the kernel does such a write as a whole or not at all.
"""

import contextlib
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.killing.chamber import ChamberOnDisk

ROOT: Final = Path(__file__).parents[2]
WRITING: Final = ("write", "fdatasync", "fsync", "rename", "unlink", "ftruncate")
PATIENCE_S: Final = 30.0
_CALL: Final = re.compile(r"(?:\[pid +\d+\] |^\d+ +)?(\w+)\((.*)")


@dataclass(frozen=True, slots=True)
class InCall:
    """Kill at the n-th of this system call that one thread makes; with a path only calls on this file count."""

    call: str
    number: int
    path: Path | None = None


def can_trace() -> bool:
    """Say whether strace is here and may stop a process of ours."""
    if shutil.which("strace") is None:
        return False
    tried = subprocess.run(["strace", "-qq", "-o", "/dev/null", "-e", "trace=none", "true"], check=False)
    return tried.returncode == 0


class Daemon:
    """Be one life of the command, from its start to its end."""

    def __init__(self, chamber: ChamberOnDisk, kill: InCall | None = None) -> None:
        """Start it; with `kill` under strace from the first instant."""
        self._chamber = chamber
        self._trace = chamber.root / "trace"
        self._trace.unlink(missing_ok=True)
        self._ready = False
        address = chamber.root / "notify"
        address.unlink(missing_ok=True)
        self._heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._heard.bind(str(address))
        told = {"RUNTIME_DIRECTORY": str(chamber.run_dir), "NOTIFY_SOCKET": str(address)}
        words = [sys.executable, "-m", "tests.killing.launcher", str(chamber.file), str(chamber.tree)]
        self.said = chamber.root / "said"
        with self.said.open("ab") as said:
            self._process = subprocess.Popen(
                [*(self._traced(kill) if kill else ()), *words], cwd=ROOT, env=os.environ | told, stderr=said
            )
        self._tracer: subprocess.Popen[bytes] | None = None

    def _traced(self, kill: InCall) -> list[str]:
        paths = ["-P", str(kill.path)] if kill.path else []
        inject = f"inject={kill.call}:signal=KILL:when={kill.number}"
        return ["strace", "-f", "-qq", "-y", "-o", str(self._trace), *paths, "-e", f"trace={kill.call}", "-e", inject]

    def attach(self, kill: InCall) -> None:
        """Have strace kill the running process."""
        self._tracer = subprocess.Popen([*self._traced(kill), "-p", str(self._process.pid)], stderr=subprocess.DEVNULL)

    @property
    def pid(self) -> int:
        """Return its number."""
        return self._process.pid

    @property
    def running(self) -> bool:
        """Say whether it runs."""
        return self._process.poll() is None

    def wait_ready(self) -> bool:
        """Wait until its first tick is done; False where it ended before."""
        ends_s = time.monotonic() + PATIENCE_S
        self._heard.settimeout(0.05)
        while not self._ready and self.running:
            with contextlib.suppress(TimeoutError):
                self._ready = b"READY=1" in self._heard.recv(4096)
            if time.monotonic() > ends_s:
                self.kill()
                raise AssertionError(f"the command was not ready within {PATIENCE_S:g} s")
        return self._ready

    def wait_end(self, timeout_s: float) -> bool:
        """Wait until it has ended; False where it still runs."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(timeout_s)
        return not self.running

    def kill(self) -> None:
        """Kill it from outside, as `kill -9` does, with strace around it or not."""
        if self._tracer is None and self._process.poll() is None:
            children = Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children").read_text().split()
            for child in children:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(int(child), signal.SIGKILL)
        self._process.kill()
        self.close()

    def stop(self) -> int:
        """End it as the service manager does; return its exit code."""
        self._process.terminate()
        code = self._process.wait(PATIENCE_S)
        self.close()
        return code

    def close(self) -> None:
        """Wait for the end and give everything back."""
        self._process.wait(PATIENCE_S)
        if self._tracer is not None:
            self._tracer.wait(PATIENCE_S)
        self._heard.close()

    def killed_in(self) -> tuple[str, str] | None:
        """Return the system call in which strace killed it, and the name of the file; None where it did not."""
        if not self._trace.is_file():
            return None
        lines = self._trace.read_text("utf-8", "replace").splitlines()
        for line in reversed(lines):
            found = _CALL.match(line)
            if found and ("= ?" in line or "unfinished" in line):
                return found[1], _file_in(found[2], self._chamber)
        return None


def _file_in(words: str, chamber: ChamberOnDisk) -> str:
    """Return the kind of file that a call was about: its name, or the folder where names are random."""
    found = re.search(rf"{re.escape(str(chamber.root))}/([^>\"]*)", words)
    if found is None:
        return "other"
    path = Path(found[1])
    if path.parent.name in {"new", "tmp", "answers", "damaged"}:
        return f"{path.parent.name}/ID.json{'.new' if path.suffix == '.new' else ''}"
    if path.name.startswith("climate-"):
        return "climate-DAY.csv"
    return "a batch's folder" if path.parent.name == "batches" else path.name
