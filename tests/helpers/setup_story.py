"""Somebody who sits down to `hangroom setup` at a pretended Pi, and warms, breathes and looks."""

from pathlib import Path

from tests.helpers.fake_pi import TRACE, Tree
from tests.helpers.terminal import Terminal

FIRST, SECOND, HUMID = "28-00000a1b2c3d", "28-00000e4f5a6b", "1-0044"
OF_THE_BOX = ("Old fridge", "C", "Europe/Vienna", "14C", "22C", "no", "1", "330l", "12kg")


class Sitter:
    """Hold a pretended Pi with two thermometers and a humidity sensor, and the files of an interview at it."""

    def __init__(self, folder: Path) -> None:
        """Lay out the sensors."""
        self.tree = Tree(folder / "pi")
        self.run_dir, self.out = folder / "run", folder / "etc" / "chamber.toml"
        self.run_dir.mkdir()
        self.out.parent.mkdir()
        self.tree.probe(FIRST, 21.4)
        self.tree.probe(SECOND, 21.1)
        self.tree.sht4x(HUMID, 21.6, 48.0)

    @property
    def answers(self) -> Path:
        """Return the file in which answers are kept."""
        return self.out.with_name("chamber.toml.answers.json")

    def sit_down(self, *options: str, columns: int = 80, pace: str = "") -> Terminal:
        """Start the interview."""
        return Terminal(
            "tests.helpers.fake_pi",
            str(self.tree.root),
            "setup",
            *(options or ("--out", str(self.out))),
            columns=columns,
            environment={"RUNTIME_DIRECTORY": str(self.run_dir), "PACE": pace, "LC_ALL": "C.UTF-8"},
        )

    def answer_to_the_relays(self, at: Terminal) -> None:
        """Answer all up to the first relay: the second thermometer is the main one, the first hangs in the room."""
        for words in OF_THE_BOX:
            at.answer(words)
        at.answer("")
        at.wait_for("Now.")
        self.tree.probe(SECOND, 24.2)
        for words in ("", "", "ambient_temp", ""):
            at.answer(words)
        at.wait_for("Now.")
        self.tree.sht4x(HUMID, 21.6, 63.0)
        at.answer("")

    def edges(self, pin: int) -> list[str]:
        """Return what became of a GPIO, in order, as `out 0`, `out 1`, `in -`."""
        file = self.tree.root / TRACE
        rows = [row.split() for row in file.read_text().splitlines()] if file.exists() else []
        return [f"{way} {level}" for _, number, way, level in rows if int(number) == pin]

    def pins(self) -> set[int]:
        """Return every GPIO that was ever touched."""
        file = self.tree.root / TRACE
        return {int(row.split()[1]) for row in file.read_text().splitlines()} if file.exists() else set()
