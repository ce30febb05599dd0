"""What the slow rules look at in one tick."""

from collections.abc import Mapping

from msgspec import Struct

from controller.core.memory import OutputMemory
from controller.core.plan import Chamber, StageKind
from controller.core.values import Health, Known, Role, Trouble, Wanted

NO_WISH = Wanted()


class Seen(Struct, frozen=True, gc=False, kw_only=True):
    """Hold one tick as the slow rules see it.

    Attributes:
        known: what the judge believes.
        wanted: the set-points.
        kind: the stage's kind; None while no batch leads the climate.
        chamber: limits, thresholds and figures.
        duty: what the loops ask for, 0 to 1 for each output.
        outputs: what was commanded up to now.
        blocks: why heat is not allowed in this tick, as rows; empty when it is.
        settling: the meat has just been hung, or the stage has just begun.
        arrived: the stage's climate has been reached once, in a ferment since hanging.
        hung_kg: meat in the chamber, 0 before hanging.
        health: what the computer says of itself.
        disobedient: outputs whose pin did not follow.
        strangers: sensors on the bus that the chamber file does not name.
        trouble: what goes wrong with the records, and what was found at the start.
        since_start_s: seconds since this start of the program.
        now_s: the monotonic clock.
        dt_s: seconds since the last tick.
    """

    known: Known
    wanted: Wanted
    kind: StageKind | None
    chamber: Chamber
    duty: Mapping[Role, float]
    outputs: Mapping[Role, OutputMemory]
    blocks: tuple[str, ...]
    settling: bool
    arrived: bool
    hung_kg: float
    health: Health
    disobedient: tuple[Role, ...]
    strangers: tuple[str, ...]
    trouble: tuple[Trouble, ...]
    since_start_s: float
    now_s: float
    dt_s: float

    @property
    def in_ferment(self) -> bool:
        """Say whether the meat itself wets the air, and humidity is read as "at least"."""
        return self.kind in {"ferment", "warm-up"}

    @property
    def excused(self) -> bool:
        """Say whether nothing can be told from how the air changes: an open door, or meat that was just hung."""
        return self.settling or self.known.door_open
