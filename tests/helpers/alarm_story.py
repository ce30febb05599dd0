"""Conditions told to the book of alarms one tick after another, and what people ask of it."""

from typing import Self

from msgspec.structs import replace

from controller.core.alarms import Condition, asked
from controller.core.alarms.book import settle
from controller.core.alarms.calling import sounds
from controller.core.alarms.memory import Alarm, Calling
from controller.core.alarms.restart import over_restart
from controller.core.memory import Memory
from controller.core.restart import first_memory
from controller.core.values import Event
from tests.helpers.bench_chamber import CHAMBER, WALL_S

TICK_S = 5.0


class AlarmStory:
    """Tell what is wrong, let time pass, and look at the alarms and at what was told of them."""

    def __init__(self) -> None:
        self.now_s, self.wall_s = 1000.0, WALL_S
        self.memory: Memory = first_memory(CHAMBER, self.now_s, WALL_S, "boot-1")
        self.wrong: tuple[Condition, ...] = ()
        self.events: list[Event] = []
        self.tones: list[float] = []  # The instants at which the sounder was on.

    def found(self, *conditions: Condition | str) -> Self:
        """Say all that is wrong from the next tick on: conditions, or the ids of rows."""
        self.wrong = tuple(Condition(one, f"{one} is wrong.") if isinstance(one, str) else one for one in conditions)
        return self.tick()

    def tick(self, dt_s: float = TICK_S) -> Self:
        """Let one tick pass."""
        self.now_s += dt_s
        self.wall_s += dt_s
        if sounds(self.memory.alarms, self.memory.calling, self.now_s, TICK_S):
            self.tones.append(self.now_s)
        self.memory, events = settle(self.memory, self.wrong, self.now_s, self.wall_s)
        self.events += events
        return self

    def run(self, *, hours: float = 0.0, minutes: float = 0.0, seconds: float = 0.0, dt_s: float = TICK_S) -> Self:
        """Let time pass while the same is wrong."""
        for _ in range(round((hours * 3600.0 + minutes * 60.0 + seconds) / dt_s)):
            self.tick(dt_s)
        return self

    def see(self, name: str) -> Self:
        """Say that an alarm is known."""
        self.memory, event = asked.see(self.memory, name, "ann", self.now_s)
        self.events.append(event)
        return self

    def quiet(self, name: str, *, hours: float = 0.0, minutes: float = 0.0) -> Self:
        """Quiet an alarm for a while; for no time at all: end its quiet."""
        for_s = hours * 3600.0 + minutes * 60.0
        self.memory, event = asked.quiet(self.memory, name, for_s, "ann", self.now_s, self.wall_s)
        self.events.append(event)
        return self

    def clear(self, name: str) -> Self:
        """Release what an alarm has locked."""
        self.memory, event = asked.clear(self.memory, name, "ann")
        self.events.append(event)
        return self

    def restart(self, gap_s: float | None = 60.0, *, same_boot: bool = True) -> Self:
        """End the program and begin it anew; after a boot the monotonic clock begins anew too."""
        last_s = self.now_s
        self.now_s = self.now_s + (gap_s or 0.0) if same_boot else 50.0
        self.wall_s += gap_s or 0.0
        alarms, events = over_restart(self.memory.alarms, last_s, self.now_s, gap_s, same_boot=same_boot)
        self.memory = replace(self.memory, alarms=alarms, calling=Calling(), started_s=self.now_s, last_s=self.now_s)
        self.events += events
        return self

    @property
    def alarms(self) -> tuple[Alarm, ...]:
        """Return all alarms that are remembered."""
        return self.memory.alarms

    def alarm(self, name: str) -> Alarm:
        """Return one alarm."""
        return next(alarm for alarm in self.alarms if alarm.id == name)

    @property
    def names(self) -> list[str]:
        """Return the ids of all alarms that are remembered."""
        return [alarm.id for alarm in self.alarms]

    def told(self, *kinds: str) -> list[tuple[str, str]]:
        """Return (kind, id) of the events of these kinds; of all where none is named."""
        return [(event.kind, event.id) for event in self.events if not kinds or event.kind in kinds]

    def called_at(self, name: str) -> int:
        """Return how often an alarm has called."""
        return sum(event.id == name and event.kind in {"alarm", "alarm again"} for event in self.events)
