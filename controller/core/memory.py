"""What the deciding part remembers from one tick to the next: plain data that goes to disk and comes back.

`Memory.batches`, `.alarms`, `.latched` and the counters of the outputs outlive the program. What hangs on the
monotonic clock (`judge`, `outputs`, `loops`, `watch`) means nothing after a restart and is begun afresh.
"""

from typing import Literal

from msgspec import Struct

from controller.core.plan import Profile, Stage
from controller.core.requests import Request
from controller.core.values import (
    Answer,
    Channel,
    Commands,
    Entry,
    Event,
    FaultKind,
    Known,
    Reading,
    Readings,
    Role,
    Wanted,
)

State = Literal["idle", "running", "suspended", "held", "stopped", "aborted", "complete"]
ENDED: tuple[State, ...] = ("stopped", "aborted")
"""States in which a batch is closed; `complete` stays open until a person takes the meat out."""


class StageEnd(Struct, frozen=True):
    """Record how a stage ended, for the review and for a stage that goes back to it."""

    name: str
    began_wall_s: float
    ended_wall_s: float
    by: str  # "until", "person" or "hang"


class Suspicion(Struct, frozen=True):
    """Count the sensor faults of a batch, so that the third in 24 h, or one of 15 min, waits for a person."""

    cause: str = ""  # The row of the fault table that suspends now, else empty.
    since_s: float = 0.0  # In elapsed seconds of the batch.
    starts_s: tuple[float, ...] = ()


class Batch(Struct, frozen=True, kw_only=True):
    """Hold all that is known of one open batch. Times in `_s` are elapsed seconds that only ever grow."""

    id: str
    profile: Profile
    state: State = "running"
    began_wall_s: float
    meat_kg: float = 0.0
    diameter_mm: float = 55.0
    stage_index: int = 0
    stage_began_wall_s: float = 0.0
    elapsed_s: float = 0.0
    stage_elapsed_s: float = 0.0
    stage_at_conditions_s: float = 0.0
    arrived: bool = False  # The stage's climate has been reached once since it began (in a ferment: since hanging).
    stage_start_c: float | None = None  # Where a ramp begins.
    confirmed: bool = False
    hung_s: float | None = None  # Elapsed seconds at which the meat was hung.
    hung_wall_s: float | None = None
    ended: tuple[StageEnd, ...] = ()
    ph: tuple[tuple[float, float], ...] = ()  # (wall seconds, pH), oldest first; what was replaced is left out.
    ph_ids: tuple[str, ...] = ()
    ph_demanded: int = 0  # How many of the stage's pH times have been called out.
    last_ph_s: float | None = None  # Elapsed seconds of the newest entry.
    green_g: dict[str, float] = {}
    now_g: dict[str, float] = {}
    core_temp_c: float | None = None
    degree_hours_f: float = 0.0
    degree_hours_c: float = 0.0
    highest_air_c: float | None = None
    passed_5_3: bool = False  # A reading at or below 5.3 ended the counting.
    suspicion: Suspicion = Suspicion()
    held_because: str = ""

    @property
    def stage(self) -> Stage:
        """Return the stage the batch is in; the last one when it is complete."""
        return self.profile.stages[min(self.stage_index, len(self.profile.stages) - 1)]

    @property
    def open(self) -> bool:
        """Say whether a person still has to do with this batch."""
        return self.state not in ENDED

    @property
    def in_chamber(self) -> bool:
        """Say whether the meat (or the warming) of this batch is in the chamber now."""
        return self.open and (self.state == "complete" or self.stage.where == "chamber")

    @property
    def weight_loss_pct(self) -> float | None:
        """Return the loss of the slowest weighed piece in per cent of its green weight; None before a second weighing."""
        losses = [100.0 * (1.0 - grams / self.green_g[piece]) for piece, grams in self.now_g.items()]
        return min(losses) if losses else None


class ChannelMemory(Struct, frozen=True):
    """Remember of one sensor what judging its next reading needs."""

    good: Reading | None = None  # The newest good one.
    newest: Reading | None = None  # The newest that was handed over, good or not.
    fault: FaultKind | None = "unread"
    in_a_row: int = 0  # Good readings in a row.
    odd: tuple[Reading, ...] = ()  # Readings after a jump that agree among themselves.
    minute: Reading | None = None  # A good one from about a minute ago, for the rate.
    same_since_s: float = 0.0  # Since when the very same number comes.
    same_ref_c: float | None = None  # What another witness showed then.


class JudgeMemory(Struct, frozen=True):
    """Remember all channels, and the witnesses slowed to the slowest probe."""

    channels: dict[Channel, ChannelMemory] = {}
    slowed_c: dict[Channel, float] = {}
    slowed_at_s: float = 0.0
    door_open: bool = False


class OutputMemory(Struct, frozen=True):
    """Remember of one output its window, the carried remainder, and its counts (these outlive the program)."""

    window_ends_s: float = float("-inf")
    on_ends_s: float = float("-inf")  # When its present on-phase is planned to end.
    carry_s: float = 0.0
    on_until_s: float = float("-inf")  # What was commanded last.
    off_since_s: float = float("-inf")
    on_since_s: float = float("-inf")
    on_total_s: float = 0.0
    closings: int = 0


class Loops(Struct, frozen=True):
    """Remember the integrals (each a duty) and what the loops last wanted."""

    heat_integral: float | None = None
    cool_integral: float = 0.0
    mist_integral: float = 0.0
    dry_integral: float = 0.0
    wanted_c: float | None = None
    duty: dict[Role, float] = {}
    last_heat_s: float = float("-inf")
    last_cool_s: float = float("-inf")


class Watch(Struct, frozen=True):
    """Remember what the slow tests of the actuators need: windows over which a rise is expected."""

    heating_since_s: float | None = None
    heating_lowest_c: float = 0.0
    heating_expected_k: float = 0.0
    off_since_s: float | None = None
    off_start_c: float = 0.0
    mist_since_s: float | None = None
    mist_start_pct: float = 0.0
    mist_ml: tuple[float, ...] = ()
    saturated_since_s: float | None = None
    slipped_since_s: float | None = None


class Alarm(Struct, frozen=True):
    """Hold one occurrence of an alarm. `id` is its row and a count, as `A3-2`."""

    id: str
    row: str
    priority: str
    text: str
    since_wall_s: float
    batch: str = ""
    active: bool = True
    latched: bool = False
    seen: bool = False


class Memory(Struct, frozen=True):
    """Hold everything that `step` carries from one tick to the next."""

    started_s: float  # When this run of the program began, on the monotonic clock.
    last_s: float | None = None  # The instant of the last tick.
    boot_id: str = ""
    saved_wall_s: float = 0.0
    wall_trusted: bool = False
    starts_wall_s: tuple[float, ...] = ()  # When the program was started lately, for the crash-loop lock-out.
    last_air_c: float | None = None
    batches: tuple[Batch, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    counts: dict[str, int] = {}  # How often each row of the fault table has occurred.
    answered: tuple[str, ...] = ()  # Ids of the newest requests that have been dealt with.
    judge: JudgeMemory = JudgeMemory()
    outputs: dict[Role, OutputMemory] = {}
    loops: Loops = Loops()
    watch: Watch = Watch()


class Inputs(Struct, frozen=True):
    """Hold all that one tick is told: the clocks, every sensor's newest word, and what people ask."""

    now_s: float
    wall_s: float
    wall_trusted: bool
    readings: Readings
    requests: tuple[Request, ...] = ()
    boot_id: str = ""
    summary_due: bool = False
    trouble: tuple[str, ...] = ()  # What the record keeper cannot do at present.
    missed_ticks: int = 0


class Outcome(Struct, frozen=True):
    """Hold all that one tick decided. `interlocks` are the rows of the fault table that take something away now."""

    now_s: float
    wall_s: float
    commands: Commands
    known: Known
    wanted: Wanted
    interlocks: tuple[str, ...] = ()
    events: tuple[Event, ...] = ()
    entries: tuple[Entry, ...] = ()
    answers: tuple[Answer, ...] = ()
    checkpoint: bool = False
    wall_trusted: bool = True
