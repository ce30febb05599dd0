"""A terminal with somebody at it: a command in a pseudo-terminal of its own, what it prints, and what is typed."""

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
PATIENCE_S: Final = 20.0
PROMPT: Final = "(back, quit) > "


class Terminal:
    """Run a Python module in a terminal of so many columns; Ctrl-C and a lost line reach it as from a real one."""

    def __init__(self, *words: str, columns: int = 80, environment: dict[str, str] | None = None) -> None:
        """Start it."""
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
        inherited = {name: value for name, value in os.environ.items() if name not in {"COLUMNS", "LINES"}}
        self.process = subprocess.Popen(
            [sys.executable, "-m", *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=ROOT,
            env={**inherited, **(environment or {})},
            start_new_session=True,
            preexec_fn=_take_terminal,  # noqa: PLW1509 - one thread only
        )
        os.close(slave)
        self.text = ""
        self._read_to = 0

    def wait_for(self, words: str) -> str:
        """Wait until these words are printed; return what was printed before them since the last time."""
        until_s = time.monotonic() + PATIENCE_S
        while (place := self.text.find(words, self._read_to)) < 0:
            assert self._read(), f"it ended without {words!r}; it said:\n{self.text[self._read_to :]}"
            assert time.monotonic() < until_s, f"no {words!r} in:\n{self.text[self._read_to :]}"
        before = self.text[self._read_to : place]
        self._read_to = place + len(words)
        return before

    def answer(self, words: str) -> str:
        """Wait for the next question and answer it; return what was asked."""
        asked = self.wait_for(PROMPT)
        self.type(f"{words}\n")
        return asked

    def type(self, keys: str) -> None:
        """Press keys."""
        os.write(self._master, keys.encode())

    def end(self) -> int:
        """Wait until it has ended; return its exit code, negative for a signal."""
        while self._read():
            pass
        code = self.process.wait(PATIENCE_S)
        if self._master >= 0:
            self.hang_up()
        return code

    def hang_up(self) -> None:
        """Let the terminal be gone, as when an ssh line breaks."""
        os.close(self._master)
        self._master = -1

    def kill(self) -> None:
        """End it outright, if it still lives."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
        self.process.wait(PATIENCE_S)
        if self._master >= 0:
            self.hang_up()

    def _read(self) -> bool:
        """Read what there is; False when nothing will come any more."""
        if self._master < 0:
            return False
        ready, _, _ = select.select([self._master], [], [], 0.1)
        if not ready:
            return True
        try:
            got = os.read(self._master, 65_536)
        except OSError:  # Linux says EIO when the other end is closed.
            return False
        self.text += got.decode("utf-8", "replace").replace("\r\n", "\n")
        return bool(got)


def _take_terminal() -> None:
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
