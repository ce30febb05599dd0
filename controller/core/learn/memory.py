"""What is remembered of a step test while it runs: plain data. Nothing of it outlives the program's run."""

from msgspec import Struct


class Learning(Struct, frozen=True, kw_only=True, gc=False):
    """Hold where a step test stands. Instants are of the monotonic clock."""

    name: str  # Of the folder that its rows go to.
    began_s: float
    began_wall_s: float
    phase: str = "rest"  # One of `course.PHASES`, or `ENDED`.
    phase_began_s: float
    loaded_kg: float = 0.0  # What hangs or stands in the chamber meanwhile, by the word of whoever began.
    first_c: float | None = None  # The leading thermometer at the begin,
    rested_c: float | None = None  # and at the end of the rest.
    marks: tuple[tuple[float, float, float], ...] = ()  # (instant, leading thermometer, the quicker one) of late.
    pulse_s: float = 0.0  # How long each pulse of mist is.
    notes: tuple[str, ...] = ()  # What was left out, and why.
    because: str = ""  # Why it was broken off; empty where it was not.

    @property
    def ended(self) -> bool:
        """Say whether it is over: then nothing is switched on, and the next tick forgets it."""
        return self.phase == ENDED


ENDED = "end"
