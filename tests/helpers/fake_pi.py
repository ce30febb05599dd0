"""Be `hangroom WORDS` on a machine without GPIO and sensors: `python -m tests.helpers.fake_pi FOLDER WORDS...`.

Handed over are only the two things that a computer without a 40-pin header lacks: the chip behind the pins, here lines
that write down every level with its instant, and the folders in which the kernel shows its sensors. Everything else is
the program: command, questions, signals, the project's own pins, clicks and sensor readers.
"""

import os
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any, Final

from gpiod import LineSettings
from gpiod.line import Direction, Value

from controller import app
from controller.cli import main
from controller.cli.setting_up import sensors
from controller.hardware.clicking import Pace
from controller.hardware.pins import HeaderFactory
from controller.hardware.sensors import Roots

TRACE: Final = "edges"
QUICK: Final = Pace(0.02, 0.05, 0.02)
SLOW: Final = Pace(0.02, 2.0, 0.02)
"""Long enough to be interrupted in."""


class Edges:
    """Write down what becomes of each line: `seconds GPIO out|in level`, forced so that a kill loses none."""

    def __init__(self, file: Path) -> None:
        """Begin a new file."""
        self._fd = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def note(self, pin: int, settings: LineSettings) -> None:
        """Write down direction and level."""
        way = "out" if settings.direction is Direction.OUTPUT else "in"
        level = int(settings.output_value is Value.ACTIVE) if way == "out" else "-"
        os.write(self._fd, f"{time.monotonic():.4f} {pin} {way} {level}\n".encode())


class TracedLine:
    """Be a claimed line that remembers its level and has every change written down."""

    def __init__(self, pin: int, settings: LineSettings, edges: Edges) -> None:
        """Begin with these settings."""
        self._pin, self._settings, self._edges = pin, settings, edges
        edges.note(pin, settings)

    def reconfigure_lines(self, config: dict[int, LineSettings]) -> None:
        """Take new settings."""
        self._settings = next(iter(config.values()))
        self._edges.note(self._pin, self._settings)

    def set_value(self, line: int, value: Value) -> None:
        """Drive it."""
        del line
        self._settings.output_value = value
        self._edges.note(self._pin, self._settings)

    def get_value(self, line: int) -> Value:
        """Read it."""
        del line
        return self._settings.output_value

    def release(self) -> None:
        """Give it back."""


class TracedChip:
    """Be a chip that grants every line but those that somebody else holds."""

    def __init__(self, edges: Edges, busy: frozenset[int] = frozenset()) -> None:
        """Take where edges go."""
        self._edges, self._busy = edges, busy

    def request_lines(self, config: Any, consumer: str | None = None) -> TracedLine:  # noqa: ANN401 gpiod's own
        """Claim a line."""
        del consumer
        ((pin, settings),) = config.items()
        if pin in self._busy:
            raise OSError(16, "Device or resource busy")
        return TracedLine(pin, settings, self._edges)


def crc8(data: bytes) -> int:
    """Return the check byte of a DS18B20: x^8 + x^5 + x^4 + 1 (its data sheet)."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0x8C if crc & 1 else 0)
    return crc


class Tree:
    """Lay out sensors below a folder as the kernel does, and move their values."""

    def __init__(self, root: Path) -> None:
        """Make the folders; empty where they are new."""
        self.root = root
        self.roots = Roots(root / "w1", root / "hwmon", root / "iio")
        for folder in (self.roots.w1, self.roots.hwmon, self.roots.iio):
            folder.mkdir(parents=True, exist_ok=True)

    def probe(self, id: str, temp_c: float) -> None:
        """Let a DS18B20 show this temperature."""
        folder = self.roots.w1 / id
        folder.mkdir(exist_ok=True)
        sixteenths = round(temp_c * 16)
        scratch = (sixteenths & 0xFFFF).to_bytes(2, "little") + bytes.fromhex("4b467fff0c10")
        crc = crc8(scratch)
        words = " ".join(f"{byte:02x}" for byte in (*scratch, crc))
        text = f"{words} : crc={crc:02x} YES\n{words} t={sixteenths * 1000 // 16}\n"
        aside = folder / "new"
        aside.write_text(text)
        aside.rename(folder / "w1_slave")

    def sht4x(self, address: str, temp_c: float, rh_pct: float) -> None:
        """Let an SHT4x show these."""
        folder = self.roots.hwmon / f"hwmon-{address}"
        folder.mkdir(exist_ok=True)
        device = self.root / "devices" / address
        device.mkdir(parents=True, exist_ok=True)
        if not (folder / "device").exists():
            (folder / "device").symlink_to(device)
        (folder / "name").write_text("sht4x\n")
        for name, value in (("temp1_input", temp_c), ("humidity1_input", rh_pct)):
            aside = folder / "new"
            aside.write_text(f"{round(value * 1000)}\n")
            aside.rename(folder / name)


def start(folder: Path, words: list[str], pace: Pace = QUICK) -> int:
    """Run the command with these pins and sensors; return its exit code."""
    tree, edges = Tree(folder), Edges(folder / TRACE)
    app.at_the_machine = partial(
        app.at_the_machine,
        pins=lambda _label: HeaderFactory(TracedChip(edges)),
        roots=tree.roots,
        pace=pace,
        every_s=0.05,
    )
    sensors.LOOK_S = 0.05
    return main(words)


if __name__ == "__main__":
    paces = {"real": Pace(), "slow": SLOW}
    sys.exit(start(Path(sys.argv[1]), sys.argv[2:], paces.get(os.environ.get("PACE", ""), QUICK)))
