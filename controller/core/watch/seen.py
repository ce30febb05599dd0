"""What the slow rules look at in one tick."""

from collections.abc import Mapping
from typing import Final

from msgspec import Struct

from controller.core.memory import OutputMemory
from controller.core.plan import Chamber, StageKind
from controller.core.values import Health, Known, Role, Trouble, Wanted

NO_WISH = Wanted()
FILM_S: Final = 21_600.0
"""So long after a run the film of a cold plate, evaporated again, stays in a tight box that changes its air once in
three hours. Common practice, no source."""


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
        settling: the meat has just been hung.
        opened: the door is told to be open, be that believed or not.
        ajar: the door is open, or was not long ago: what it does to the air is still to be seen.
        arrived: the stage's climate has been reached once, in a ferment since hanging.
        hung_kg: meat in the chamber, of all batches that hang there.
        hung_for_s: seconds since the leading batch was hung; None before it, and while none leads.
        ramp_share: how much of the stage's ramp is over, 1 at its end and more after it; None where it has none.
        batch: the name of the batch that leads; empty while none does.
        complete: it is done, and rests until somebody takes it out.
        heats: heat is given where it is wanted: no batch is paused or let cool, and no alarm that was not cleared
            locks it.
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
    opened: bool
    ajar: bool
    arrived: bool
    hung_kg: float
    hung_for_s: float | None
    ramp_share: float | None
    batch: str
    complete: bool
    heats: bool
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
        """Say whether nothing can be told from how the air changes: a door that is or was open, meat just hung."""
        return self.settling or self.ajar

    @property
    def air_is_away(self) -> bool:
        """Say whether the air temperature is missing for a moment. A leap is none: then the air is not what it was."""
        known = self.known
        if known.air_temp_c is not None or known.faults.get("air_temp") == "jump":
            return False
        return self.now_s - known.good_air_taken_s <= self.chamber.limits.lost_s

    @property
    def air_blinks(self) -> bool:
        """Say whether the air temperature is missing for a moment, or has just come back from that.

        What has been watched for minutes is not begun anew for it: a cable that flickers may be the fault itself.
        """
        known = self.known
        is_new = known.air_temp_c is not None and known.good_in_a_row < self.chamber.limits.settle_readings
        return is_new or self.air_is_away

    @property
    def rh_is_away(self) -> bool:
        """Say whether the humidity is missing for a moment."""
        return self.known.rh_pct is None and self.now_s - self.known.good_rh_taken_s <= self.chamber.limits.lost_s

    @property
    def plate_wets(self) -> bool:
        """Say whether the film on a cold plate may wet the air, as it does when the compressor has stopped."""
        return "cooler" in self.outputs and self.off_for_s("cooler") < FILM_S

    def off_for_s(self, role: Role) -> float:
        """Return for how many seconds an output has been off by command: 0 while it is on, or where there is none."""
        output = self.outputs.get(role)
        return 0.0 if output is None else max(self.now_s - max(output.on_until_s, output.off_since_s), 0.0)

    def is_on(self, role: Role) -> bool:
        """Say whether an output has been on up to now."""
        output = self.outputs.get(role)
        return output is not None and output.on_until_s > self.now_s
