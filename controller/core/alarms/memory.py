"""What is remembered of alarms. Instants in `_s` are of the monotonic clock, those in `_wall_s` are for people."""

from msgspec import Struct

NEVER_S = float("-inf")


class Alarm(Struct, frozen=True, gc=False):
    """Hold one occurrence of an alarm. `id` is its row and a count, as `A3-2`."""

    id: str
    row: str
    priority: str
    text: str  # The whole message.
    since_wall_s: float
    batch: str = ""
    active: bool = True
    latched: bool = False
    locks: bool = False  # While it is latched, no heat.
    about: str = ""  # The sensor or output it concerns, where several can fail by the same row.
    level: int = 0  # How far it has gone; a higher one calls again.
    seen: bool = False
    what: str = ""  # What is wrong, the value against its limit,
    did: str = ""  # what the program did,
    first: str = ""  # what a person does first,
    by_wall_s: float | None = None  # and until when.
    warns: bool = False
    off_delay_s: float = 0.0  # So long its cause must have been gone before it is over.
    since_s: float = NEVER_S
    called_s: float = NEVER_S  # When it called last.
    gone_s: float | None = None  # Since when its cause is gone; it may be active still, or over.
    times_back: int = 0  # How often its cause came back within minutes.
    quiet_until_s: float | None = None  # A person has quieted it until then.
    follows: str = ""  # The alarm that it is a mere consequence of: it does not call.
    hides: tuple[str, ...] = ()  # Rows that are there only because of it, and are no alarms of their own.
    unproved: bool = False  # It was active at a restart, and its rule has not been able to look again yet.
    unsure: bool = False  # Nothing can tell now whether its cause is over; a person who has looked may clear it.

    @property
    def key(self) -> tuple[str, str, str]:
        """Return what tells one cause from another."""
        return self.row, self.batch, self.about

    @property
    def needed(self) -> bool:
        """Say whether somebody still has to do with it."""
        return self.active or self.latched or not self.seen


class Pending(Struct, frozen=True, gc=False):
    """Hold a condition that is no alarm yet: since when it is there, and how long it has to be."""

    row: str
    batch: str
    about: str
    since_s: float
    wait_s: float


class Over(Struct, frozen=True, gc=False):
    """Hold an alarm that has left the list lately: what comes back within minutes is the same occurrence."""

    alarm: Alarm
    over_s: float


class Calling(Struct, frozen=True, gc=False):
    """Hold what hangs on the monotonic clock and is begun afresh after a restart."""

    pending: tuple[Pending, ...] = ()
    lately: tuple[Over, ...] = ()
    raised: tuple[tuple[float, str], ...] = ()  # The alarms of the last ten minutes, oldest first.
    flood: str = ""  # The first of too many alarms at once, while there are too many.
    test_until_s: float = NEVER_S  # The sounder is being tested until then.

    @property
    def idle(self) -> bool:
        """Say whether nothing has to be looked after."""
        return not (self.pending or self.lately or self.raised)


class Heard(Struct, frozen=True, gc=False):
    """Hold when the sounder was last tried, by whom, and whether it was heard."""

    at_wall_s: float
    by: str
    heard: bool = True
