"""The command as a maker starts it, in a control group of its own, and what it takes."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

GROUP = Path("/sys/fs/cgroup/hangroom")
COMMAND = [sys.executable, "-c", "import sys; from controller.cli import main; sys.exit(main())"]


def hangroom(*words: str) -> tuple[int, str]:
    """Run a verb to its end; return what it said."""
    done = subprocess.run([*COMMAND, *words], capture_output=True, text=True, check=False)
    return done.returncode, (done.stdout + done.stderr).strip()


class Daemon:
    """Be `hangroom run`."""

    def __init__(self) -> None:
        """Start it in its control group."""
        GROUP.mkdir(exist_ok=True)
        env = os.environ | {"RUNTIME_DIRECTORY": "/run/hangroom"}
        self.process = subprocess.Popen([*COMMAND, "run"], env=env, preexec_fn=self._join)  # noqa: PLW1509 - it is one thread

    @staticmethod
    def _join() -> None:
        (GROUP / "cgroup.procs").write_text(str(os.getpid()))

    def kill(self) -> float:
        """End it as `kill -9` does; return the instant on the monotonic clock."""
        at_s = time.clock_gettime(time.CLOCK_MONOTONIC)
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        return at_s

    def stop(self) -> int:
        """End it as the service manager does; return its exit code."""
        self.process.terminate()
        return self.process.wait(120)

    def memory_kb(self) -> dict[str, int]:
        """Return RSS and PSS of the process, and what its whole control group takes (pages of its files among it)."""
        told = Path(f"/proc/{self.process.pid}/smaps_rollup").read_text().splitlines()
        figures = {line.split(":")[0]: int(line.split()[1]) for line in told[1:]}
        group = {name: int((GROUP / f"memory.{name}").read_text()) // 1024 for name in ("current", "peak")}
        stat = dict(line.split() for line in (GROUP / "memory.stat").read_text().splitlines())
        return {
            "rss": figures["Rss"],
            "pss": figures["Pss"],
            "group": group["current"],
            "group_peak": group["peak"],
            "group_anon": int(stat["anon"]) // 1024,
            "group_file": int(stat["file"]) // 1024,
        }
