"""A bar for what takes more than a second to read; nothing where nobody looks at a terminal."""

import sys
import time
from types import TracebackType
from typing import Any, Final, Self

PATIENCE_S: Final = 1.0


class ReadingBar:
    """Be told of each part that has been read, and show how much is left once a second has passed."""

    def __init__(self, total: float, what: str = "reading", *, unit: str = "MB", scale: float = 1e6) -> None:
        """Say how much there is to read; `scale` parts are one `unit`."""
        self._total, self._what, self._unit, self._scale = total, what, unit, scale
        self._read = 0.0
        self._began_s = time.monotonic()
        self._bar: Any = None  # Rich is loaded when it is needed.
        self._is_seen = sys.stderr.isatty()

    def __enter__(self) -> Self:
        """Begin to count the time."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()

    def __call__(self, read: int) -> None:
        """Take what has been read since the last call."""
        self._read += read
        if self._bar is None and self._is_seen and time.monotonic() - self._began_s > PATIENCE_S:
            self._bar = self._begin()
        if self._bar is not None:
            self._bar.update(self._bar.task_ids[0], completed=self._read / self._scale)

    def _begin(self) -> Any:  # noqa: ANN401 - of a library that is loaded late
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        columns = (
            TextColumn(f"{self._what} {{task.completed:.0f}} of {{task.total:.0f}} {self._unit}"),
            BarColumn(),
            TimeRemainingColumn(),
        )
        bar = Progress(*columns, console=Console(stderr=True), transient=True)
        bar.add_task("", total=max(self._total / self._scale, 0.0))
        bar.start()
        return bar
