"""Chambers with more to watch by: contacts, a second thermometer, a room that changes."""

from collections.abc import Callable
from functools import lru_cache

from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.plan import Profile, Stage, Until
from controller.core.values import CONTACTS, Channel
from controller.settings.chamber_file import ChamberFile, OutputEntry, SensorEntry
from controller.simulator.faults import parse_faults
from tests.helpers.bench_chamber import PROFILE
from tests.helpers.chamber_story import BEGIN_WALL_S, SELDOM_S, ChamberStory
from tests.helpers.shipped_chambers import shipped_chamber

BEFORE_S = 60.0
"""So long before the end of the hours that stories have in common each of them goes on for itself."""
PINS = {"heater_live": 5, "heater_current": 6, "cooler_current": 12, "cutout": 13, "fan_turns": 16, "door": 26}


def chamber_with(
    name: str, *channels: Channel, outputs: tuple[OutputEntry, ...] = (), tick_s: float = SELDOM_S
) -> ChamberFile:
    """Return a shipped chamber with these sensors and outputs besides its own."""
    file = shipped_chamber(name)
    more = tuple(
        SensorEntry(channel=channel, kind="contact", pin=PINS[channel])  # type: ignore[arg-type]
        if channel in CONTACTS
        else SensorEntry(channel=channel, kind="ds18b20", id=f"28-0000000000{place:02x}")  # type: ignore[arg-type]
        for place, channel in enumerate(channels, start=32)
    )
    return replace(file, sensor=(*file.sensor, *more), output=(*file.output, *outputs), tick_s=tick_s)


class ChangingRoom:
    """Be a room whose temperature follows a function of the hours since the begin."""

    def __init__(self, temp_c: Callable[[float], float], rh_pct: float = 50.0) -> None:
        self._temp_c, self._rh_pct = temp_c, rh_pct

    def at(self, wall_s: float) -> tuple[float, float]:
        return self._temp_c((wall_s - BEGIN_WALL_S) / 3600.0), self._rh_pct


def fermenting(
    chamber: str | ChamberFile = "insulated-box",
    *faults: str,
    profile: str = "mild",
    hours: float = 3.0,
    ambient_c: float | None = None,
) -> ChamberStory:
    """Return a ferment so many hours after the start, when cold meat has long arrived."""
    until_s = hours * 3600.0
    if all(fault.at_s > until_s - BEFORE_S for fault in parse_faults(faults)):
        story = _healthy(chamber, profile, until_s - BEFORE_S, ambient_c).once_more().befall(*faults)
    else:
        story = _told(chamber, profile, until_s - BEFORE_S, ambient_c, *faults)
    return story.run_for(seconds=until_s - story.world.elapsed_s)


@lru_cache(maxsize=6)
def _healthy(chamber: str | ChamberFile, profile: str, until_s: float, ambient_c: float | None) -> ChamberStory:
    """Return what comes before anything goes wrong, which many stories have in common; nobody tells this one on."""
    return _told(chamber, profile, until_s, ambient_c)


def _told(
    chamber: str | ChamberFile, profile: str, until_s: float, ambient_c: float | None, *faults: str
) -> ChamberStory:
    story = ChamberStory(
        chamber if isinstance(chamber, str) else "insulated-box",
        profile,
        faults=faults,
        ambient_c=ambient_c,
        changed=None if isinstance(chamber, str) else chamber,
    )
    story.start().run_for(minutes=45).hang()
    return story.run_for(seconds=until_s - story.world.elapsed_s)


def resting(
    stage: Stage | None = None, *, wanted_c: float = 13.0, rh_pct: float | None = 80.0, fan_min_per_h: float = 0.0
) -> Profile:
    """Return a profile of one stage that dries, or of the stage that is given."""
    until = Until(weight_loss_pct=60.0)
    dry = Stage(name="dry", kind="dry", until=until, air_temp_c=wanted_c, rh_pct=rh_pct, fan_min_per_h=fan_min_per_h)
    return replace(PROFILE, stages=(stage or dry,))


def drying(
    file: ChamberFile, *faults: str, hours: float = 4.0, ambient_c: float | None = None, stages: Profile | None = None
) -> ChamberStory:
    """Return a batch that dries, so many hours after the meat was hung."""
    story = ChamberStory(changed=file, faults=faults, stages=stages or resting(), ambient_c=ambient_c)
    story.start().run_for(minutes=2).hang()
    return story.run_for(seconds=hours * 3600.0 - story.world.elapsed_s)


def alarms_of(story: ChamberStory, row: str) -> list[Alarm]:
    """Return the alarms of a row that are on the list."""
    return [alarm for alarm in story.memory.alarms if alarm.row == row]


def seconds_to(story: ChamberStory, row: str, since_s: float) -> float:
    """Return after how many seconds a row called for the first time."""
    for at_s, event in story.book.events:
        if event.kind == "alarm" and event.id.startswith(f"{row}-"):
            return at_s - since_s
    raise AssertionError(f"{row} has not called; these have: {story.rows}")
