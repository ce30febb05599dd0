"""One fault of every kind, one after another, each in a chamber of its own: what a maker is told of it.

`python -m tests.bench.one_alarm_each` prints a table of the kinds with the alarms that come of them, as a maker in
UTC reads them first. What came up minutes before its cause was found, and follows from it, stands in brackets.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from msgspec.structs import replace

from controller.core.values import Event
from controller.settings.chamber_file import OutputEntry, SensorEntry, find_chamber, read_chamber
from controller.simulator.faults import KINDS
from tests.helpers.chamber_story import ChamberStory
from tests.stories.test_bad_computer import OnDisk

FAULT_MIN = 60.0


class Case(NamedTuple):
    """Hold one fault: how it is ordered, which row it has to be told by, and how long that may take."""

    fault: str
    row: str
    minutes: float
    chamber: str = "insulated-box"
    profile: str = "tangy"
    hang_min: float = 30.0  # Fresh meat wets the air by itself.


CASES = {
    "missing": Case("missing@60m", "S1", 2),
    "frozen": Case("frozen@60m", "S6", 45),
    "nan": Case("nan@60m", "S8", 2),
    "checksum": Case("checksum@60m", "S2", 2),
    "jump": Case("jump@60m", "S9", 15),
    "empty": Case("empty@60m", "S2", 2),
    "power-on-value": Case("power-on-value@60m", "S5", 2),
    "low-supply": Case("low-supply@60m", "S5", 2),
    "no-reply": Case("no-reply@60m", "S8", 2),
    "stale": Case("stale@60m", "S3", 3),
    "hung": Case("hung@60m", "S4", 3),
    "flaky": Case("flaky@60m", "S2", 20),
    "drift": Case("drift@60m", "S9", 130),
    "probe-out": Case("probe-out@60m", "H9", 5),
    "stranger": Case("stranger@60m", "S13", 4),
    "relay-welded": Case("relay-welded@60m", "A1", 60, profile="mild"),
    "lamp-burnt": Case("lamp-burnt@60m", "A3", 75),
    "humidifier-empty": Case("humidifier-empty@0s", "A5", 0, "plywood-cabinet", "mild", 45.0),
    "door-open": Case("door-open@60m", "P1", 20),
    "power-cut": Case("power-cut@60m/1h", "C16", 65),
    "clock-step": Case("clock-step:-2d@60m", "C4", 2),
    "clock-lost": Case("clock-lost@0s", "C5", 2),
    "low-voltage": Case("low-voltage@60m", "C9", 2),
    "processor-hot": Case("processor-hot@60m", "C10", 4),
    "loop-late": Case("loop-late@60m/25s", "C1", 5),
    "computer-hangs": Case("computer-hangs@60m/2m", "C3", 5),
    "disk-filling": Case("disk-filling@60m", "C6", 4),
    "disk-full": Case("disk-full@60m", "C6", 4),
    "disk-slow": Case("disk-slow@60m", "C8", 4),
    "disk-read-only": Case("disk-read-only@60m", "C7", 4),
}


HEALTHY = Case("", "", 60.0)


def story_of(kind: str, folder: Path) -> ChamberStory:
    """Return the chamber when the fault has been there for as long as it may take to be told; without one as long."""
    case = CASES.get(kind, HEALTHY)
    file = read_chamber(find_chamber(case.chamber))
    door = SensorEntry(channel="door", kind="contact", pin=24)
    file = replace(file, sensor=(*file.sensor, door), output=(*file.output, OutputEntry(role="sounder", pin=25)))
    story = ChamberStory(profile=case.profile, changed=file, faults=(case.fault,) if case.fault else ())
    story.book = OnDisk(story, folder)
    return story.start().run_for(minutes=case.hang_min).hang().run_for(minutes=FAULT_MIN - case.hang_min + case.minutes)


def told(story: ChamberStory) -> list[Event]:
    """Return the alarms as they were called first."""
    return [event for _, event in story.book.events if event.kind == "alarm"]


def speaking(story: ChamberStory) -> list[Event]:
    """Return those of them that speak for themselves: what was found to follow from another one does not."""
    following = {event.id for _, event in story.book.events if event.kind == "follows"}
    return [event for event in told(story) if event.id not in following]


def main(kinds: Sequence[str]) -> None:
    """Print a table of what is told of each kind of fault."""
    print("| fault | what it does | alarm | what the maker reads |\n|---|---|---|---|")
    for kind in kinds or KINDS:
        with tempfile.TemporaryDirectory() as folder:
            story = story_of(kind, Path(folder))
        speak = speaking(story)
        said = "<br>".join(event.text for event in speak) or "nothing"
        names = ", ".join(event.id if event in speak else f"({event.id})" for event in told(story))
        print(f"| `{CASES[kind].fault}` | {KINDS[kind]} | {names} | {said} |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
