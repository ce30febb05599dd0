"""What the deciding part remembers from one tick to the next: plain data that goes to disk and comes back.

`Memory.batches`, `.alarms`, `.latched` and the counters of the outputs outlive the program. What hangs on the
monotonic clock (`judge`, `outputs`, `loops`, `watch`) means nothing after a restart and is begun afresh.

None of these values can be part of a cycle, so the garbage collector need not look at them (`gc=False`).
"""

from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm, Calling, Heard
from controller.core.learn.memory import Learning
from controller.core.outage.away import Away, Back, Starts
from controller.core.outage.warmth import Warmth
from controller.core.plan import Profile, Stage
from controller.core.requests import Request
from controller.core.sheet import Sheet
from controller.core.values import (
    Answer,
    Channel,
    CheckEntry,
    Commands,
    Entry,
    Event,
    FaultKind,
    Health,
    Known,
    Reading,
    Readings,
    Role,
    Trouble,
    Wanted,
)
from controller.core.watch.memory import Watch
from controller.food.degree_hours import has_reached

PH_ERROR: Final = 0.05
"""Of a pH meter of which nothing else is known; common practice, no source."""

State = Literal["idle", "running", "suspended", "held", "stopped", "aborted", "complete"]


class StageEnd(Struct, frozen=True, gc=False):
    """Record how a stage ended, for the review and for a stage that goes back to it."""

    name: str
    began_wall_s: float
    ended_wall_s: float
    by: str  # "until", "person" or "hang"


class Suspicion(Struct, frozen=True, gc=False):
    """Count the sensor faults of a batch, so that the third in 24 h, or one of 15 min, waits for a person."""

    cause: str = ""  # The row of the fault table that suspends now, else empty.
    since_s: float = 0.0  # In elapsed seconds of the batch.
    starts_s: tuple[float, ...] = ()


class Sums(Struct, frozen=True, gc=False):
    """Hold the degree-hours as they stood when a pH was typed in: where that pH ends the counting, they count."""

    degree_hours_f: float = 0.0
    degree_hours_c: float = 0.0
    guarded_f: float = 0.0
    guarded_c: float = 0.0
    highest_air_c: float | None = None
    gap_pending: bool = False  # A gap of unknown length before it is not in it yet,
    gap_lost: bool = False  # or one that no clock can ever tell.
    blind_s: float = 0.0  # So much of the batch's `blind_s` is in it,
    gap_bound_s: float = 0.0  # and so much of an open gap, for the time being.


class PhReading(Struct, frozen=True, gc=False):
    """Hold one pH since hanging, with what its instrument may be wrong by, and where it was taken."""

    at_wall_s: float
    value: float
    error: float
    from_sausage: bool
    sums: Sums | None
    id: str = ""

    def has_reached(self, at_most: float) -> bool:
        """Say whether this pH is at or below a limit even when its instrument shows too little."""
        return has_reached(self.value, at_most, self.error)

    @property
    def has_passed_5_3(self) -> bool:
        """Say whether this pH ends the counting of degree-hours, by the same token."""
        return has_reached(self.value, error=self.error)


class Batch(Struct, frozen=True, kw_only=True, gc=False):
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
    ph_errors: tuple[float, ...] = ()  # What the instrument of each may be wrong by,
    ph_sums: tuple[Sums, ...] = ()  # the degree-hours when each was typed in,
    sausage_ids: tuple[str, ...] = ()  # and which of them come from a real sausage.
    strips: tuple[tuple[str, float], ...] = ()  # (id, wall seconds) of the newest strips: they count for nothing.
    weigh_called_s: float | None = None  # Elapsed seconds at which a weighing was called for since the last one.
    ph_next_s: float | None = None  # Elapsed seconds at which the last readings ask for the next one.
    sausage_prompted: bool = False  # A pH of a real sausage has been asked for since the last reading.
    ph_demanded: int = 0  # How many of the stage's pH times have been called out.
    last_ph_s: float | None = None  # Elapsed seconds of the newest entry.
    weighings: tuple[tuple[str, float, dict[str, float]], ...] = ()  # (id, wall seconds, grams of each piece).
    green_g: dict[str, float] = {}
    now_g: dict[str, float] = {}
    core_temp_c: float | None = None
    degree_hours_f: float = 0.0
    degree_hours_c: float = 0.0
    highest_air_c: float | None = None
    passed_5_3: bool = False  # A reading at or below 5.3 ended the counting.
    spare_f: float = 0.0  # What has been counted since that reading: it comes back if the reading is corrected.
    spare_c: float = 0.0
    spare_highest_c: float | None = None
    suspicion: Suspicion = Suspicion()
    held_because: str = ""
    held_by_person: bool = False
    held_by_gap: bool = False  # Only because nobody knows yet how long the program was away.
    blind_s: float = 0.0  # Newest time without an air temperature, gaps too, until there is one again. All of it is
    blind_at_c: float | None = None  # counted at the highest known before and in it; None: it is not counted yet.
    gap_at_s: float | None = None  # Elapsed second of a gap whose length no clock could tell yet,
    gap_at_c: float | None = None  # the highest temperature on either side of it (elsewhere the wanted one),
    gap_here: bool = True  # and whether the meat hung in this chamber then.
    gap_lost: bool = False  # A gap after hanging is in no count, and no clock can ever tell its length.
    away: Away = Away()  # What the times without the program still ask for.
    overdue: bool = False  # A pH that was asked for has not come,
    ph_due_since_s: float | None = None  # since then, in elapsed seconds of the batch.
    guarded_f: float = 0.0  # Degree-hours with the thermometer's error added: what warnings and the limit go by,
    guarded_c: float = 0.0
    spare_guarded_f: float = 0.0  # and what has been counted of them since 5.3.
    spare_guarded_c: float = 0.0
    over_accepted: bool = False  # A person said go on although the degree-hours are over.
    found_error_k: float = 0.0  # What a check found the air thermometer to be off by, if more than the file allows.
    cool_from_s: float | None = None  # From this elapsed second on the ferment is let cool.
    sausage_ph: tuple[float, float] | None = None  # (wall seconds, pH) of the newest one from a real sausage.
    core_temps: tuple[tuple[float, float], ...] = ()  # (wall seconds, °C) of this stage, oldest first.
    core_ids: tuple[str, ...] = ()
    core_of: tuple[str, ...] = ()  # Which piece or probe each of them is of.
    core_sensed_s: float | None = None  # Elapsed second of the newest one of the fixed probe.
    core_past: tuple[str, ...] = ()  # Ids of the newest readings of stages that are over.
    smoker: tuple[tuple[str, float, float], ...] = ()  # (id, wall seconds, °C) of smoker or oven in this stage.
    surface_dry_wall_s: float | None = None  # When the casing was last felt to be dry or tacky.
    aw: float | None = None  # The newest measured water activity.
    aw_taken: tuple[tuple[str, float, float], ...] = ()  # (id, wall seconds, water activity), oldest first.
    tare_g: float = 0.0  # Hook and string of each piece.
    pieces_out: tuple[str, ...] = ()  # Pieces that have left on their own day.
    too_fast: str = ""  # What the newest weighing told of drying too fast, in words,
    too_fast_level: int = 0  # and how bad it is: 1 or 2.
    stalled: str = ""  # What it told of drying that does not go on.
    rh_mean_pct: float | None = None  # Of the air in a drying in this chamber, over about a day,
    rh_mean_s: float = 0.0  # and how long it has been taken.
    set_air_temp_c: float | None = None  # What a person wants in this stage instead of what stands on the card.
    set_rh_pct: float | None = None
    sheet: Sheet | None = None
    closed: bool = False  # A person has taken the meat out; a complete batch stays open until then.

    @property
    def stage(self) -> Stage:
        """Return the stage the batch is in, with the climate a person has set; the last one when it is complete."""
        stages, index = self.profile.stages, self.stage_index
        stage = stages[index] if index < len(stages) else stages[-1]
        if self.set_air_temp_c is None and self.set_rh_pct is None:
            return stage
        temp_c = stage.air_temp_c if self.set_air_temp_c is None else self.set_air_temp_c
        return replace(stage, air_temp_c=temp_c, rh_pct=stage.rh_pct if self.set_rh_pct is None else self.set_rh_pct)

    @property
    def open(self) -> bool:
        """Say whether a person still has to do with this batch."""
        return not self.closed

    @property
    def waits_for_meat(self) -> bool:
        """Say whether its ferment has not begun: no stage time passes before the meat hangs."""
        return self.stage.kind == "ferment" and self.hung_s is None

    @property
    def in_chamber(self) -> bool:
        """Say whether the meat (or the warming) of this batch is in the chamber now."""
        stages = self.profile.stages  # Not by `stage`: nobody sets where it is, and this is asked often in each tick.
        return not self.closed and stages[min(self.stage_index, len(stages) - 1)].where == "chamber"

    @property
    def ferment_ph(self) -> list[float]:
        """Return the pH readings since hanging, oldest first; the pH of the fresh mix tells nothing of the ferment."""
        hung_s = self.hung_wall_s
        return [] if hung_s is None else [value for at_s, value in self.ph if at_s >= hung_s]

    @property
    def ph_readings(self) -> list[PhReading]:
        """Return the pH readings since hanging with all that is known of each, oldest first."""
        hung_s = self.hung_wall_s
        if hung_s is None:
            return []
        found = []
        for place, (at_s, value) in enumerate(self.ph):
            if at_s < hung_s:
                continue
            error = self.ph_errors[place] if place < len(self.ph_errors) else PH_ERROR
            sums = self.ph_sums[place] if place < len(self.ph_sums) else None
            name = self.ph_ids[place] if place < len(self.ph_ids) else ""
            found.append(PhReading(at_s, value, error, name in self.sausage_ids, sums, name))
        return found

    @property
    def ends_but_ph(self) -> bool:
        """Say whether all that ends the stage holds, its pH left out."""
        stage, until, loss = self.stage, self.stage.until, self.weight_loss_pct
        return (
            self.stage_elapsed_s >= stage.at_least_h * 3600.0
            and (until.hours is None or self.stage_at_conditions_s >= until.hours * 3600.0)
            and (until.weight_loss_pct is None or (loss is not None and loss >= until.weight_loss_pct))
            and (until.core_temp_c is None or (self.core_temp_c is not None and self.core_temp_c >= until.core_temp_c))
            and (not until.confirm or self.confirmed)
        )

    @property
    def asks_sausage(self) -> bool:
        """Say whether the stage would end if the last pH were one from the middle of a real sausage.

        The wrapped sample of the mince is thinner or lies elsewhere; the meat itself has the last word.
        """
        at_most = self.stage.until.ph_at_most
        if at_most is None or self.state == "complete":
            return False
        readings = self.ph_readings
        return (
            bool(readings) and not readings[-1].from_sausage and readings[-1].has_reached(at_most) and self.ends_but_ph
        )

    @property
    def weight_loss_pct(self) -> float | None:
        """Return the loss of the slowest piece in % of its green weight, 0 to 100.

        None while a piece that has not left was weighed green alone: nobody knows then which one is the slowest.
        """
        return None if self.unweighed else self.known_loss_pct

    @property
    def unweighed(self) -> tuple[str, ...]:
        """Return the pieces with a green weight that have neither left nor been weighed since."""
        return tuple(piece for piece in self.green_g if piece not in self.now_g and piece not in self.pieces_out)

    @property
    def known_loss_pct(self) -> float | None:
        """Return the loss of the slowest of the pieces that were weighed twice; None where none was.

        Pieces that have left do not count, unless all have.
        """
        losses = self.losses_pct
        left = [loss for piece, loss in losses.items() if piece not in self.pieces_out]
        return min(left or losses.values(), default=None)

    @property
    def losses_pct(self) -> dict[str, float]:
        """Return the loss of each piece that was weighed twice, in per cent of its green weight, 0 to 100."""
        return {
            piece: min(max(100.0 * (1.0 - grams / self.green_g[piece]), 0.0), 100.0)
            for piece, grams in self.now_g.items()
        }


class ChannelMemory(Struct, frozen=True, gc=False):
    """Remember of one sensor what judging its next reading needs."""

    good: Reading | None = None  # The newest good one.
    newest_s: float = float("-inf")  # When the newest one was taken that has been judged, good or not.
    fault: FaultKind | None = "unread"
    in_a_row: int = 0  # Good readings in a row.
    odd: tuple[float, ...] = ()  # Values after a jump that agree among themselves.
    slowed_c: float | None = None  # A witness, slowed to the slowest probe.
    minute_s: float = float("-inf")  # A slowed value from about a minute ago, for the rate.
    minute_c: float = 0.0
    rate_k_per_min: float = 0.0
    same_value: float | None = None  # The very same number has been coming
    same_since_s: float = 0.0  # since then,
    same_reference: float | None = None  # when another sensor showed this.
    damaged: tuple[int, ...] = ()  # The numbers of those of the last 100 looks that were damaged,
    looks: int = 0  # and the number of the next one, while there are any.
    same_moved: bool = False  # The other sensor has moved since.


class JudgeMemory(Struct, frozen=True, gc=False):
    """Remember all channels, and since when a door that no contact reports seems to be open."""

    channels: dict[Channel, ChannelMemory] = {}
    seen: dict[Channel, Reading] = {}  # The newest temperature of each witness that can be one at all,
    firm: dict[Channel, Reading] = {}  # and the newest that was no jump.
    door_seen_s: float = float("-inf")
    rh_minute_s: float = float("-inf")
    rh_minute_pct: float = 0.0
    fast_minute_c: float = 0.0
    door_open_s: float = float("-inf")  # When its contact last said that the door was open.
    mist_minute_s: float = 0.0  # For how long the humidifier had been on in all at the last look of a minute,
    mist_before_s: float = 0.0  # and at the one before;
    vapour_minute_pa: float = 0.0  # the vapour at the last one,
    vapour_before_pa: float = 0.0  # and at the one before, with the temperature then.
    fast_before_c: float = 0.0
    lamp_minute_s: float = 0.0  # For how long the lamp had been on in all at the last look.
    rose_s: float = float("-inf")  # When the air last warmed as fast as by a door to a warmer room,
    rose_from_c: float = 0.0  # and from where.


class OutputMemory(Struct, frozen=True, gc=False):
    """Remember of one output its window, the carried remainder, and its counts (these outlive the program)."""

    window_ends_s: float = float("-inf")
    on_ends_s: float = float("-inf")  # When its present on-phase is planned to end.
    carry_s: float = 0.0
    on_until_s: float = float("-inf")  # What was commanded last.
    off_since_s: float = float("-inf")
    on_total_s: float = 0.0
    spare: float = 2.0  # Closings that may come before their window: it has one for each window, and saves two.
    closings: int = 0  # Of the relay that was fitted
    fitted_on: str = ""  # on this day, as far as the chamber file says.


class Loops(Struct, frozen=True, gc=False):
    """Remember the integrals (each a duty) and what the loops last wanted."""

    heat_integral: float = 0.0  # Beside what the walls are reckoned to take, so it may be negative.
    cool_integral: float = 0.0
    mist_integral: float = 0.0
    dry_integral: float = 0.0
    heat_duty: float = 0.0
    cool_duty: float = 0.0
    mist_duty: float = 0.0
    dry_duty: float = 0.0
    damp_pct: float = 0.0  # How much too damp the air is, in %RH, as a slow mean.
    wanted_c: float | None = None
    last_heat_s: float = float("-inf")
    last_cool_s: float = float("-inf")
    last_mist_s: float = float("-inf")
    last_dry_s: float = float("-inf")
    wall_c: float | None = None  # What the inner wall is reckoned to have; None: as the air.
    heat_holds: float = 0.0  # The duty that would hold the air where it is wanted.
    ripple_k: float = 0.0  # How far the lamp's pulses lift the air above that.
    came: bool = False  # The air has been where it is wanted, or as near as it gets.
    near_s: float = 0.0  # For how long it has been near.
    warm_k: float = 0.0  # The same mean of how much too warm the air is.


class LastCheck(Struct, frozen=True, gc=False):
    """Hold what the newest check of an instrument found: how far it may be off, how far it was off, the verdict."""

    at_wall_s: float
    error: float
    off: float
    verdict: str


class Memory(Struct, frozen=True, gc=False):
    """Hold everything that `step` carries from one tick to the next."""

    started_s: float  # When this run of the program began, on the monotonic clock.
    last_s: float  # The instant of the last tick.
    boot_id: str = ""
    wall_s: float = 0.0  # The wall clock at the last tick,
    wall_trusted: bool = False  # and whether it could be believed.
    lost_wall_s: float | None = None  # Since when, in this boot, it cannot be believed that could be before,
    lost_stepped_s: float = 0.0  # and by how much it was stepped since.
    ended_cleanly: bool = False
    starts: Starts = Starts()  # The boots and starts of late that followed no stop.
    air_temp_c: float | None = None  # The last good air temperature,
    highest_c: float | None = None  # and the highest witness.
    warmth: Warmth = Warmth()  # How warm the chamber has been lately: it bounds how long a cut can have been.
    back: Back | None = None  # What is still to be found out after the last time without the program.
    gap_s: float = 0.0  # Only in what an older program left: a gap that it had not reckoned yet,
    gap_highest_c: float | None = None  # and the highest temperature known before it. Batches have their own now.
    gap_open_wall_s: float | None = None  # When a gap began whose end no clock could tell yet.
    leader: str = ""  # The batch that leads the chamber's climate.
    batches: tuple[Batch, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    calling: Calling = Calling()
    counts: dict[str, int] = {}  # How often each row of the fault table has occurred.
    heard: Heard | None = None  # When the sounder was last tried, and whether it was heard.
    checked_wall_s: dict[str, float] = {}  # When each instrument was last checked, and found good.
    last_checks: dict[str, LastCheck] = {}  # The newest check of each, good or bad.
    rh_wet_s: float = 0.0  # For so long the humidity sensor has been in wet air since its last check.
    answered: tuple[str, ...] = ()  # Ids of the newest requests that have been dealt with,
    refused: tuple[str, ...] = ()  # and those of them that were refused.
    judge: JudgeMemory = JudgeMemory()
    outputs: dict[Role, OutputMemory] = {}
    loops: Loops = Loops()
    watch: Watch = Watch()
    saved_s: float = float("-inf")  # The instant of the last checkpoint.
    found_at_start: tuple[Trouble, ...] = ()  # What was wrong with the records at the start; told in the first tick.
    learning: Learning | None = None  # A step test, while one runs; its last tick is the one in which it has ended.
    untold: tuple[Event, ...] = ()  # What happened up to the start; recorded with the first tick.


class Inputs(Struct, frozen=True, gc=False):
    """Hold all that one tick is told: the clocks, every sensor's newest word, and what people ask."""

    now_s: float
    wall_s: float
    wall_trusted: bool
    readings: Readings
    requests: tuple[Request, ...] = ()
    summary_due: bool = False
    trouble: tuple[Trouble, ...] = ()  # What the record keeper cannot do at present.
    missed_ticks: int = 0
    health: Health = Health()
    disobedient: tuple[Role, ...] = ()  # Outputs whose pin, read back, is not at the level that was set.
    strangers: tuple[str, ...] = ()  # Numbers on the bus that the chamber file does not name.


class Outcome(Struct, frozen=True, gc=False):
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
    checks: tuple[CheckEntry, ...] = ()  # Checks of instruments that people reported.
