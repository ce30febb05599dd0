"""One fault of every kind, one after another, each in a chamber of its own: what a maker is told of it.

`python -m tests.bench.one_alarm_each` prints a table of the kinds with the alarms that come of them, as a maker in UTC
reads them first. What came up minutes before its cause was found, and follows from it, stands in brackets.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NamedTuple

from msgspec.structs import replace

from controller.core.plan import Stage, Until
from controller.core.values import Channel, Event
from controller.core.watch.agree import DOUBT_FIRST
from controller.settings.chamber_file import OutputEntry
from controller.simulator.faults import KINDS
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.watched import chamber_with, resting
from tests.stories.test_bad_computer import OnDisk


class Case(NamedTuple):
    """Hold one fault: how it is ordered, which row it has to be told by, and how long that may take.

    `at_min` is the minute in which it begins, and stands in the order; `dries` hangs meat at 13 °C that is to dry, and
    not a ferment at 36 °C; `channels` are sensors beside those of the chamber and a door contact. `first` is what is
    said to be done first, where the row's own words do not fit.
    """

    order: str
    row: str
    minutes: float
    at_min: int = 60
    chamber: str = "insulated-box"
    profile: str = "tangy"
    hang_min: float = 30.0
    dries: bool = False
    channels: tuple[Channel, ...] = ()
    rh_pct: float | None = 80.0  # Of what dries.
    room_c: float | None = None  # None: as the weather has it.
    first: str = ""  # What is to be done first, where it is not the row's.


DRY: Final = Stage(
    name="dry", kind="dry", until=Until(weight_loss_pct=60.0), air_temp_c=13.0, rh_pct=80.0, fan_min_per_h=6.0
)

CASES: Final = {
    "missing": Case("missing@{}m", "S1", 2),
    "frozen": Case("frozen@{}m", "S6", 45),
    "nan": Case("nan@{}m", "S8", 2),
    "checksum": Case("checksum@{}m", "S2", 2),
    "jump": Case("jump@{}m", "S9", 15),
    "empty": Case("empty@{}m", "S2", 2),
    "power-on-value": Case("power-on-value@{}m", "S5", 2),
    "low-supply": Case("low-supply@{}m", "S5", 2),
    "no-reply": Case("no-reply@{}m", "S8", 2),
    "stale": Case("stale@{}m", "S3", 3),
    "hung": Case("hung@{}m", "S4", 3),
    "flaky": Case("flaky@{}m", "S2", 20),
    "drift": Case("drift@{}m", "S9", 130, first=DOUBT_FIRST),
    "probe-out": Case("probe-out@{}m", "H9", 5),
    "stranger": Case("stranger@{}m", "S13", 4),
    "relay-welded": Case("relay-welded@{}m", "A1", 60, profile="mild"),
    "relay-open": Case("relay-open@{}m", "A3", 75),
    "pin-stuck": Case("pin-stuck@{}m", "A10", 5, profile="mild"),
    "lamp-burnt": Case("lamp-burnt@{}m", "A3", 75),
    "cutout-open": Case("cutout-open@{}m", "A4", 5, channels=("cutout",)),
    "humidifier-empty": Case("humidifier-empty@0s", "A5", 0, 60, "plywood-cabinet", "mild", 45.0),
    "mist-leaks": Case("mist-leaks@{}m", "A6", 60, 30, "plywood-cabinet", "mild", 200.0),
    "fan-stuck": Case("fan-stuck@{}m", "A9", 65, chamber="old-fridge", dries=True, channels=("fan_turns",)),
    "compressor-dead": Case("compressor-dead@{}m", "A8", 120, 120, "old-fridge", dries=True, room_c=28.0),
    "evaporator-iced": Case(
        "evaporator-iced@{}m",
        "A7",
        260,
        120,
        "old-fridge",
        dries=True,
        channels=("evaporator_temp",),
        rh_pct=None,
        room_c=34.0,
    ),
    "door-open": Case("door-open@{}m", "P1", 20, 100),
    "power-cut": Case("power-cut@{}m/1h", "C16", 65),
    "clock-step": Case("clock-step:-2d@{}m", "C4", 2),
    "clock-lost": Case("clock-lost@0s", "C5", 2),
    "low-voltage": Case("low-voltage@{}m", "C9", 2),
    "processor-hot": Case("processor-hot@{}m", "C10", 4),
    "loop-late": Case("loop-late@{}m/25s", "C1", 5),
    "computer-hangs": Case("computer-hangs@{}m/2m", "C3", 5),
    "disk-filling": Case("disk-filling@{}m", "C6", 4),
    "disk-full": Case("disk-full@{}m", "C6", 4),
    "disk-slow": Case("disk-slow@{}m", "C8", 4),
    "disk-read-only": Case("disk-read-only@{}m", "C7", 4),
}
HEALTHY: Final = Case("", "", 60.0)


def order_of(case: Case) -> str:
    """Return the fault as it is typed."""
    return case.order.format(case.at_min)


def story_of(kind: str, folder: Path) -> ChamberStory:
    """Return the chamber when the fault has been there for as long as it may take to be told; without one as long."""
    case = CASES.get(kind, HEALTHY)
    sounder = OutputEntry(role="sounder", pin=25)
    file = chamber_with(case.chamber, "door", *case.channels, outputs=(sounder,), tick_s=5.0)
    story = ChamberStory(
        profile=case.profile,
        changed=file,
        faults=(order_of(case),) if case.order else (),
        stages=resting(replace(DRY, rh_pct=case.rh_pct)) if case.dries else None,
        ambient_c=case.room_c,
    )
    story.book = OnDisk(story, folder)
    story.start().run_for(minutes=min(case.hang_min, case.at_min + case.minutes))
    if case.hang_min < case.at_min + case.minutes:
        story.hang().run_for(minutes=case.at_min + case.minutes - case.hang_min)
    return story


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
        print(f"| `{order_of(CASES[kind])}` | {KINDS[kind]} | {names} | {said} |", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
