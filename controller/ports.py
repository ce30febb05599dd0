"""What the daemon needs of the world, as Protocols only; `hardware` and `simulator` are siblings behind them."""

from typing import Protocol

from controller.core.memory import Memory, Outcome
from controller.core.requests import Request
from controller.core.values import Commands, Health, Readings, Role, Trouble


class Clock(Protocol):
    """Tell time. Only adapters read clocks; everything else is told."""

    def monotonic_s(self) -> float:
        """Return seconds that never jump and never go back."""
        ...

    def wall_s(self) -> float:
        """Return seconds since 1970 UTC, as far as this machine knows."""
        ...

    def wall_trusted(self) -> bool:
        """Say whether the wall clock has been set by something that knows (network time, clock battery)."""
        ...

    def boot_id(self) -> str:
        """Return the name of this boot of the machine."""
        ...

    def sleep_until(self, monotonic_s: float) -> bool:
        """Wait until this instant; return False as soon as the daemon is asked to end."""
        ...


class Sensors(Protocol):
    """Hand over what every sensor said last. Never raises, never blocks, never gives an old value a new time."""

    def newest(self) -> Readings:
        """Return for every configured channel its newest `Reading` or the named `Fault`."""
        ...

    def strangers(self) -> tuple[str, ...]:
        """Return the numbers of sensors on the bus that nobody has configured."""
        ...


class Relays(Protocol):
    """Drive the outputs. Every output ends by the adapter's own timer at the instant it was given."""

    def apply(self, commands: Commands) -> None:
        """Take over all outputs in one call; what is not named, or whose instant is past, is off at once."""
        ...

    def all_off(self) -> None:
        """Drive every output off now."""
        ...

    def disobedient(self) -> tuple[Role, ...]:
        """Return the outputs whose pin, read back, is not at the level that was set last; set those anew, off."""
        ...


class Machine(Protocol):
    """Say how the computer itself is. Never raises, never blocks."""

    def health(self) -> Health:
        """Return what it says of its supply, its processor and its disk."""
        ...


class RecordKeeper(Protocol):
    """Put what was decided on disk. `keep` only hands over: a slow or full disk never delays a tick."""

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        """Take one tick's outcome: rows, events, entries, checkpoint and answers, in this order."""
        ...

    def trouble(self) -> tuple[Trouble, ...]:
        """Return what cannot be written at present, row and words; empty while all is well."""
        ...

    def close(self) -> None:
        """Write out what is waiting."""
        ...


class RequestBox(Protocol):
    """Hand over what people ask, each request once."""

    def take(self) -> tuple[Request, ...]:
        """Return the requests that have come since the last call, oldest first."""
        ...

    def trouble(self) -> tuple[Trouble, ...]:
        """Return why nothing can be asked at present; empty while all is well."""
        ...


class Chores(Protocol):
    """Say what is due by the clock on the wall; it is decided in `core` what to do about it."""

    def summary_due(self) -> bool:
        """Say whether the daily summary is due; true once a day."""
        ...

    def close(self) -> None:
        """Stop."""
        ...


class Supervisor(Protocol):
    """Stand for whoever restarts the daemon when it hangs."""

    def ready(self) -> None:
        """Say that the first tick is done."""
        ...

    def alive(self, status: str) -> None:
        """Say that a whole tick is done; never called otherwise."""
        ...

    def stopping(self) -> None:
        """Say that the daemon ends on purpose."""
        ...
