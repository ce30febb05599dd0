"""What a rule found in this tick."""

from msgspec import Struct


class Condition(Struct, frozen=True):
    """Hold what is wrong in this tick: the row, the batch it concerns, what was measured against which limit."""

    row: str
    text: str
    batch: str = ""
    priority: str = ""  # Empty: as the table says.
    about: str = ""  # Which sensor or output, where several can fail by the same row.
    level: int = 0  # How far it has gone; when it rises, the alarm calls again with the new words.
    locks: bool = True  # False: no heat depends on what failed, whatever the table says.
    warns: bool = False  # A mere warning: it takes nothing away and does not latch, whatever the table says.
    latches: bool = False  # It stays, and locks the heat, until a person clears it, though its row does not.
    holds: bool = False  # The leading batch waits for a person, though its row does not make it.
    did: str = ""  # What the program did, where the table's words do not fit.
    first: str = ""  # What a person does first, where the table's words do not fit.
    off_delay_s: float | None = None  # So long it must have been gone before it is over; None: as the table says.
    by_wall_s: float | None = None  # Until when somebody has to act; None: as its priority says.
    unsure: bool = False  # It was there, and nothing can tell whether it is over: a person who has looked may clear it.

    @property
    def key(self) -> tuple[str, str, str]:
        """Return what tells one cause from another."""
        return self.row, self.batch, self.about
