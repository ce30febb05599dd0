"""Reads the guest kernel's own trace: every change of a GPIO line, and the marks that say when a cause was set.

A relay sees a level, whoever makes it: an output that is driven, or a pull when nobody drives. `events/gpio` tells of
outputs; gpio-sim says nothing when it lets a line go back to its pull, so two probes stand there (`rig:let_go` and
`rig:pull`). All stamps are of the kernel's trace clock "mono", which is CLOCK_MONOTONIC.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from tests.rig.guest import Guest

TRACE: Final = "/sys/kernel/tracing/trace"
LINE: Final = re.compile(r"^\s*(?P<who>.{1,16})-\d+\s+\[\d+\]\s+\S+\s+(?P<at>\d+\.\d+): (?P<event>\w+): (?P<rest>.*)$")


@dataclass(frozen=True, slots=True)
class Change:
    """Be one change of a line's level, and by which program (as the kernel names it, at most 15 letters)."""

    at_s: float
    level: int
    who: str


@dataclass(frozen=True, slots=True)
class Mark:
    """Be one mark that was written into the trace."""

    at_s: float
    text: str


@dataclass(slots=True)
class _Line:
    """Follow one line through the events."""

    level: int = 0
    pull: int = 0
    driven: bool = False
    changes: list[Change] = field(default_factory=list)
    driven_at: list[tuple[float, int, str]] = field(default_factory=list)

    def take(self, at_s: float, level: int, who: str) -> None:
        if level != self.level:
            self.level = level
            self.changes.append(Change(at_s, level, who))


@dataclass(frozen=True, slots=True)
class Trace:
    """Hold what the trace told: `changes` of each GPIO, the levels it was `driven` to, and all marks."""

    changes: dict[int, list[Change]]
    driven: dict[int, list[tuple[float, int, str]]]
    marks: list[Mark]

    def at(self, text: str) -> float:
        """Return when this was marked last."""
        return max(mark.at_s for mark in self.marks if mark.text == text)


def read_trace(guest: Guest, base: int, lines: Iterable[int]) -> Trace:
    """Read the whole trace; `base` is the kernel's number of the header's first line."""
    return parse(str(guest.do(["read", TRACE])[0]), base, lines)


def base_of(guest: Guest, label: str = "pinctrl-bcm2711") -> int:
    """Return the kernel's number of the first line of the chip with this label."""
    found = re.search(rf"GPIOs (\d+)-\d+.*\b{label}\b", guest.sh("cat /sys/kernel/debug/gpio"))
    if found is None:
        raise ValueError(f"no chip {label} in /sys/kernel/debug/gpio")
    return int(found[1])


def parse(text: str, base: int, lines: Iterable[int]) -> Trace:
    """Understand the trace's text. A trace that lost events is refused: an edge may be among them."""
    if "LOST" in text:
        raise ValueError("the trace has lost events: make its buffer larger")
    header = {gpio: _Line() for gpio in lines}
    marks = []
    for raw in text.splitlines():
        if (found := LINE.match(raw)) is None:
            continue
        at_s, event, rest, who = float(found["at"]), found["event"], found["rest"], found["who"].strip()
        if event == "tracing_mark_write":
            marks.append(Mark(at_s, rest.strip()))
        elif event in {"gpio_value", "gpio_direction"}:
            number, word, value, *_ = rest.split()
            if (line := header.get(int(number) - base)) is not None:
                _gpio_event(line, event, word, value, at_s, who)
        elif event in {"let_go", "pull"}:
            fields = dict(part.split("=") for part in rest.split() if "=" in part)
            if (line := header.get(int(fields["line"], 16))) is not None:
                _chip_event(line, event, fields, at_s, who)
    return Trace(
        {gpio: line.changes for gpio, line in header.items()},
        {gpio: line.driven_at for gpio, line in header.items()},
        marks,
    )


def _gpio_event(line: _Line, event: str, word: str, value: str, at_s: float, who: str) -> None:
    if event == "gpio_direction":
        line.driven = word == "out"
    elif word == "set":
        line.driven_at.append((at_s, int(value), who))
        line.take(at_s, int(value), who)


def _chip_event(line: _Line, event: str, fields: dict[str, str], at_s: float, who: str) -> None:
    if event == "let_go":
        line.driven = False
        line.take(at_s, line.pull, who)
        return
    line.pull = int(int(fields["level"]) != 0)
    if not line.driven:
        line.take(at_s, line.pull, who)


def level_at(changes: list[Change], at_s: float, first: int) -> int:
    """Return the level at an instant; `first` is the one before all changes."""
    return next((change.level for change in reversed(changes) if change.at_s <= at_s), first)
