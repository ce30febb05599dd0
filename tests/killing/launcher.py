"""Be `hangroom run --chamber FILE` on a machine without GPIO and sensors: `python -m tests.killing.launcher FILE TREE`.

Everything is the program that runs on a Pi: command, loop, threads, records, request box, the project's own pins and
sensor readers. Handed over are only the two things that a computer without a 40-pin header lacks: the chip behind the
pins, here lines that remember their level, and the folders in which the kernel shows its sensors, here files with the
kernel's own text.
"""

import sys
from functools import partial
from pathlib import Path
from typing import Any

from gpiod import LineSettings
from gpiod.line import Value

from controller import app
from controller.cli import main
from controller.hardware.pins import HeaderFactory
from controller.hardware.sensors import Roots


class RememberedLine:
    """Be a claimed line that remembers its level."""

    def __init__(self, level: Value) -> None:
        """Begin at this level."""
        self.level = level

    def reconfigure_lines(self, config: dict[int, LineSettings]) -> None:
        """Take the level of the new settings."""
        self.level = next(iter(config.values())).output_value

    def set_value(self, line: int, value: Value) -> None:
        """Drive it."""
        del line
        self.level = value

    def get_value(self, line: int) -> Value:
        """Read it."""
        del line
        return self.level

    def release(self) -> None:
        """Give it back."""


class Chip:
    """Be a chip that grants every line."""

    def request_lines(self, config: Any, consumer: str | None = None) -> RememberedLine:  # noqa: ANN401 gpiod's own
        """Claim a line."""
        del consumer
        return RememberedLine(next(iter(config.values())).output_value)


def start(chamber: str, tree: Path) -> int:
    """Run the command with these pins and sensors; return its exit code."""
    roots = Roots(tree / "w1", tree / "hwmon", tree / "iio")
    app.run = partial(app.run, pins=lambda _label: HeaderFactory(Chip()), roots=roots)
    return main(["run", "--chamber", chamber])


if __name__ == "__main__":
    sys.exit(start(sys.argv[1], Path(sys.argv[2])))
