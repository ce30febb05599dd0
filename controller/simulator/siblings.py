"""The small ports of the simulated world: clock, relays, supervisor, chores; siblings of the hardware's."""

import datetime as dt
from collections import deque
from collections.abc import Callable
from math import inf
from typing import Final, Protocol
from zoneinfo import ZoneInfo

from controller.core.values import Commands, Role

BOOT_TAKES_S: Final = 30.0
"""The monotonic clock when the daemon starts after a boot."""
LEASE_TICKS: Final = 2.0
LAMP_EDGES_KEPT: Final = 200_000
SUMMARY_AT: Final = dt.time(8)


class Flow(Protocol):
    """Stand for the world as far as its clock and relays need it."""

    elapsed_s: float
    monotonic_less_elapsed_s: float
    wall_less_elapsed_s: float
    wall_trusted: bool
    boots: int

    def run_to(self, elapsed_s: float) -> bool:
        """Let the world go on to this instant; say whether the daemon may go on too."""
        ...

    def drive(self) -> None:
        """Take over what the coils are now."""
        ...


class SimulatedClock:
    """Tell the world's time, and let the world go on while the daemon sleeps."""

    def __init__(self, flow: Flow, seed: int) -> None:
        """Take the world; the seed only names its boots."""
        self._flow, self._seed = flow, seed

    def monotonic_s(self) -> float:
        """Return seconds since this boot."""
        flow = self._flow
        return flow.elapsed_s + flow.monotonic_less_elapsed_s

    def wall_s(self) -> float:
        """Return seconds since 1970 as the machine believes, with every step that a fault has made."""
        return self._flow.elapsed_s + self._flow.wall_less_elapsed_s

    def wall_trusted(self) -> bool:
        """Say whether the wall clock can be believed; True unless a fault says otherwise."""
        return self._flow.wall_trusted

    def boot_id(self) -> str:
        """Return the name of this boot."""
        return f"simulated-{self._seed}-{self._flow.boots}"

    def sleep_until(self, monotonic_s: float) -> bool:
        """Let the world go on to this instant; return False when the run ends. Raises PowerCut when it is cut."""
        return self._flow.run_to(monotonic_s - self._flow.monotonic_less_elapsed_s)


class SimulatedRelays:
    """Be the coils. Each ends at the instant it was given, to the fraction of a second, whatever the daemon does."""

    def __init__(self, flow: Flow, roles: tuple[Role, ...], tick_s: float) -> None:
        """Begin with every coil off."""
        self._flow = flow
        self._lease_s = LEASE_TICKS * tick_s
        self.roles = roles
        self.ends_s: dict[Role, float] = {}  # The coils that are on, and until when after the begin.
        self.next_end_s = inf
        self.stuck: tuple[Role, ...] = ()  # Pins that a fault keeps at ON.
        self.closings: dict[Role, int] = dict.fromkeys(roles, 0)
        self.openings: dict[Role, int] = dict.fromkeys(roles, 0)

    def apply(self, commands: Commands) -> None:
        """Take over all outputs in one call; what is not named, or whose instant is past, is off at once."""
        flow = self._flow
        now_s, shift_s = flow.elapsed_s, flow.monotonic_less_elapsed_s
        longest_s = now_s + self._lease_s
        before, after = self.ends_s, {}
        for role, until_s in commands.on_until_s.items():
            end_s = min(until_s - shift_s, longest_s)
            if end_s > now_s and role in self.closings:
                after[role] = end_s
        self.ends_s = after
        self.next_end_s = min(after.values(), default=inf)
        if before.keys() != after.keys():
            self._count(before, after)
            flow.drive()

    def all_off(self) -> None:
        """Drive every output off now."""
        self.apply(Commands())

    def hold_until(self, end_s: float) -> None:
        """Leave every coil that is on as it is until then, whatever its own end was: nobody ends it any more."""
        if end_s > self._flow.elapsed_s:
            self.ends_s = dict.fromkeys(self.ends_s, end_s)
        else:
            self.ends_s = {}
        self.next_end_s = min(self.ends_s.values(), default=inf)

    def disobedient(self) -> tuple[Role, ...]:
        """Return the outputs whose modelled pin is stuck at ON although it was set OFF."""
        return tuple(role for role in self.stuck if role not in self.ends_s) if self.stuck else ()

    def end_due(self, now_s: float) -> None:
        """End what is due; the world calls this at the instant itself."""
        before = self.ends_s
        self.ends_s = {role: end_s for role, end_s in before.items() if end_s > now_s}
        self.next_end_s = min(self.ends_s.values(), default=inf)
        self._count(before, self.ends_s)
        self._flow.drive()

    def _count(self, before: dict[Role, float], after: dict[Role, float]) -> None:
        for role in after.keys() - before.keys():
            self.closings[role] += 1
        for role in before.keys() - after.keys():
            self.openings[role] += 1


class LampLog:
    """Remember when the lamp really began and ceased to burn: (seconds after the begin, on)."""

    def __init__(self) -> None:
        """Begin dark."""
        self.edges: deque[tuple[float, bool]] = deque(maxlen=LAMP_EDGES_KEPT)
        self._on = False

    def note(self, at_s: float, *, on: bool) -> None:
        """Note the lamp's state; only a change is kept."""
        if on != self._on:
            self._on = on
            self.edges.append((at_s, on))


class SimulatedSupervisor:
    """Count what the daemon says of itself."""

    def __init__(self) -> None:
        """Begin with nothing said."""
        self.readies = self.alives = self.stops = 0
        self.status = ""

    def ready(self) -> None:
        """Count that the first tick is done."""
        self.readies += 1

    def alive(self, status: str) -> None:
        """Count a whole tick."""
        self.alives += 1
        self.status = status

    def stopping(self) -> None:
        """Count an end on purpose."""
        self.stops += 1


class SimulatedChores:
    """Call the daily summary due once a day at 08:00 of the chamber's local time, by the machine's wall clock."""

    def __init__(self, wall_s: Callable[[], float], timezone: str) -> None:
        """Take the wall clock and the chamber's zone; a summary of the day before the begin is not due."""
        self._wall_s, self._zone = wall_s, ZoneInfo(timezone)
        self._due_s = self._next_s(wall_s())

    def summary_due(self) -> bool:
        """Say whether the daily summary is due; true once a day, also over a step back of the clock."""
        wall_s = self._wall_s()
        if wall_s < self._due_s:
            return False
        self._due_s = self._next_s(wall_s)
        return True

    def close(self) -> None:
        """Stop; there is nothing to stop."""

    def _next_s(self, after_s: float) -> float:
        """Return the first 08:00 after this wall second."""
        day = dt.datetime.fromtimestamp(after_s, self._zone).date()
        due_s = self._on(day)
        return due_s if due_s > after_s else self._on(day + dt.timedelta(days=1))

    def _on(self, day: dt.date) -> float:
        return dt.datetime.combine(day, SUMMARY_AT, tzinfo=self._zone).timestamp()
