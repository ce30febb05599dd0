"""The daemon on a modelled chamber: the same loop, the same records, another world."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from msgspec import Struct

from controller.app.beginning import begin
from controller.app.by_hand import ByHand
from controller.app.run_folder import take_folder
from controller.core.memory import Batch, Memory, Outcome
from controller.core.plan import Chamber, Profile
from controller.core.requests import Request, Start
from controller.core.restart import first_memory
from controller.core.values import Event, Trouble
from controller.daemon import Ports
from controller.daemon import run as run_daemon
from controller.errors import SettingsError, StorageError
from controller.ports import RequestBox
from controller.records.batch_folder import batches_of, next_batch_id
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.keeper import Keeper
from controller.records.request_box import RequestBox as DiskBox
from controller.settings.chamber_file import ChamberFile, plan_of, read_chamber
from controller.settings.learned_file import Learned, use_learned
from controller.settings.profile_file import adapt, read_profile
from controller.settings.shipped import CHAMBER

DAY_S: Final = 86_400.0
SHOW_EVERY_S: Final = 900.0
STATUS_EVERY_S: Final = 2.0
MODELLED_CUTOUT: Final = "The modelled cut-out counts as tested; a real chamber gets no heat before yours is."


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """Hold what a simulated run is made of; `speed` is simulated per real seconds, None as fast as it goes."""

    profile: Path | None  # None: by hand, and somebody starts a batch.
    chamber: Path
    out: Path
    begin_wall_s: float
    weather: str | None = None
    ambient_c: float | None = None
    days: float = 60.0
    seed: int = 0
    faults: tuple[str, ...] = ()
    speed: float | None = None
    vary: bool = False
    maker: bool = True
    by_hand: bool = False  # Time stands still until somebody lets it pass; nobody hangs or measures by himself.
    anew: bool = False  # A batch that an earlier run left open in the folder may be dropped.
    meat_kg: float = 0.0
    diameter_mm: float = 55.0


class Progress(Struct, frozen=True):
    """Hold what the progress bar shows."""

    done_s: float
    total_s: float
    stage: str
    state: str
    air_temp_c: float | None
    rh_pct: float | None
    ph: float | None
    weight_loss_pct: float | None


class Summary(Struct, frozen=True):
    """Hold how a simulated run ended."""

    batch: str
    state: str
    folder: str
    ticks: int
    rows: int
    simulated_s: float
    real_s: float
    lines: tuple[str, ...]
    lost: str = ""  # What of the records the disk did not take in the end.


class _Boxes:
    """Be several request boxes in one: what is typed while the run goes on, and the modelled maker."""

    def __init__(self, *boxes: RequestBox) -> None:
        self._boxes = boxes

    def take(self) -> tuple[Request, ...]:
        return tuple(request for box in self._boxes for request in box.take())

    def trouble(self) -> tuple[Trouble, ...]:
        return tuple(trouble for box in self._boxes for trouble in box.trouble())


class _Once:
    """Be a request box that holds one request."""

    def __init__(self, request: Request) -> None:
        self._waiting: tuple[Request, ...] = (request,)

    def take(self) -> tuple[Request, ...]:
        taken, self._waiting = self._waiting, ()
        return taken

    def trouble(self) -> tuple[Trouble, ...]:
        return ()


def simulate(
    simulation: Simulation, progress: Callable[[Progress], None], began: Callable[[], None] = lambda: None
) -> Summary:
    """Run the daemon on a modelled chamber until the batch is complete or the days are over.

    By hand it runs until the batch is taken out, so that what is measured at the end can be typed too.

    Args:
        simulation: what the run is made of.
        progress: called once in every simulated quarter of an hour with what the progress bar shows.
        began: called when nothing stands in the way of the run any more.

    Raises:
        SettingsError: a file is wrong, or the profile cannot be run in this chamber.
        UsageError: a fault or the weather cannot be understood.
        UnavailableError: another run has the folder.
        DataError: an earlier run left a batch open in the folder, and `anew` was not said.
    """
    from controller.simulator.cutout import with_tested_cutout

    read = read_chamber(simulation.chamber)
    file = with_tested_cutout(read, simulation.begin_wall_s)
    use = use_learned(simulation.out, file)
    chamber = plan_of(file, use.learned)
    if chamber.heat_refused:
        raise SettingsError(f"{simulation.chamber}: {chamber.heat_refused}; no heat, no run")
    profile: Profile | None = None
    sentences: tuple[str, ...] = ()
    if simulation.profile is not None:
        profile, sentences = adapt(read_profile(simulation.profile), chamber)
    if use.learned is not None:
        sentences = (*sentences, f"What step test {use.learned.made.test} has shown is used ({simulation.out}).")
    if use.why_not:
        sentences = (*sentences, f"{use.why_not[0].upper()}{use.why_not[1:]}.")
    if file is not read:
        sentences = (*sentences, MODELLED_CUTOUT)
    with take_folder(simulation.out, by_person=simulation.by_hand or not simulation.maker, anew=simulation.anew):
        (simulation.out / CHAMBER).write_bytes(simulation.chamber.read_bytes())
        run = _SimulatedRun(simulation, file, chamber, profile, progress, use.learned)
        began()
        return run.go(sentences)


class _SimulatedRun:
    """Join the simulated world, the records and the daemon, over as many power cuts as there are."""

    def __init__(
        self,
        simulation: Simulation,
        file: ChamberFile,
        chamber: Chamber,
        profile: Profile | None,
        progress: Callable[[Progress], None],
        learned: Learned | None,
    ) -> None:
        from controller.simulator.faults import parse_faults
        from controller.simulator.hands import Hands
        from controller.simulator.maker import Maker
        from controller.simulator.truth import Truth
        from controller.simulator.weather import read_weather
        from controller.simulator.world import World

        self._simulation, self._chamber, self._progress = simulation, chamber, progress
        self._by_hand = ByHand(simulation.out) if simulation.by_hand else None
        self._world = world = World(
            file,
            begin_wall_s=simulation.begin_wall_s,
            seed=simulation.seed,
            weather=read_weather(simulation.weather) if simulation.weather else None,
            ambient_c=simulation.ambient_c,
            faults=parse_faults(simulation.faults),
            vary=simulation.vary,
            ends_s=simulation.days * DAY_S,
            pace=self._pace(),
        )
        self._truth = Truth(world, chamber)
        self._hands, self._maker = Hands(world), Maker(world)
        self._file, self._learned, self._rows = file, learned, 0
        self._keeper = self._new_keeper()
        # Where time stands still the daemon looks itself, so that the same words make the same ticks.
        self._typed = DiskBox(simulation.out, fresh_s=None, force=False, threaded=not simulation.by_hand)
        starts = [] if profile is None else [_Once(self._start(profile, file))]
        self._uses_maker = simulation.maker and not simulation.by_hand
        self._box = _Boxes(*starts, self._typed, *([self._maker] if self._uses_maker else []))
        self._ticks = 0
        self._shown_s = float("-inf")
        self._state, self._name = "idle", ""

    def _pace(self) -> Callable[[float], None] | None:
        if self._by_hand is not None:
            return self._by_hand.time.pace
        return None if self._simulation.speed is None else _Pace(self._simulation.speed).sleep

    def _new_keeper(self) -> Keeper:
        """Return the records of one run of the program, on the disk of the modelled computer."""
        simulation, disk = self._simulation, self._world.disk
        status_every_s = STATUS_EVERY_S if simulation.speed is None else STATUS_EVERY_S / 10.0
        keeper = Keeper(
            simulation.out,
            self._file,
            force=False,
            threaded=False,
            status_every_s=status_every_s,
            disk=disk.use,
            now=disk.now_s,
            learned=self._learned,
        )
        if self._by_hand is not None:
            self._by_hand.attach(self._world, keeper, self._hands)
        return keeper

    def _start(self, profile: Profile, file: ChamberFile) -> Start:
        simulation = self._simulation
        day = datetime.fromtimestamp(self._world.clock.wall_s(), UTC).date()
        return Start(
            id="start",
            actor="maker",
            batch=next_batch_id(simulation.out, profile.name, day),
            profile=profile,
            meat_kg=simulation.meat_kg or file.model.meat_kg,
            diameter_mm=simulation.diameter_mm,
        )

    def go(self, sentences: tuple[str, ...]) -> Summary:
        """Run to the end and sum up."""
        from controller.simulator.world import PowerCut

        began_s = time.monotonic()
        world, clock = self._world, self._world.clock
        memory = first_memory(self._chamber, clock.monotonic_s(), clock.wall_s(), clock.boot_id())
        told: tuple[Event, ...] = ()
        checkpoint = self._simulation.out / CHECKPOINT
        while True:
            try:
                run_daemon(memory, self._chamber, self._ports(), told, self._see)
                break
            except PowerCut:
                if not world.restore_power():
                    break
                self._rows += self._keeper.rows
                self._keeper.forget()  # What waited in memory for the disk is gone with the power.
                self._keeper = self._new_keeper()
                memory, told = begin(checkpoint, self._chamber, clock)
                self._keeper.begin(memory)
        if self._by_hand is not None:
            self._by_hand.time.finish()
        self._typed.close()
        lost = ""
        try:
            self._keeper.close()
        except StorageError as error:
            lost = str(error)
        return Summary(
            batch=self._name,
            state=self._state,
            folder=str(batches_of(self._simulation.out) / self._name),
            ticks=self._ticks,
            rows=self._rows + self._keeper.rows,
            simulated_s=world.elapsed_s,
            real_s=time.monotonic() - began_s,
            lines=(*sentences, *self._truth.lines()),
            lost=lost,
        )

    def _ports(self) -> Ports:
        world = self._world
        keeper = self._by_hand or self._keeper
        return Ports(
            world.clock, world.sensors, world.relays, keeper, self._box, world.chores, world.supervisor, world.machine
        )

    def _see(self, memory: Memory, outcome: Outcome) -> None:
        self._ticks += 1
        world = self._world
        self._truth.see(memory, outcome)
        batch = memory.batches[0] if memory.batches else None
        if self._uses_maker:
            self._maker.look(memory, outcome.now_s)
        elif batch is not None:
            self._hands.follow(batch)
        if batch is not None:
            self._state, self._name = batch.state, batch.id
            if batch.closed or (batch.state == "complete" and not self._simulation.by_hand):
                world.ends_s = world.elapsed_s
        if self._by_hand is not None:
            self._by_hand.see(outcome)
        if world.elapsed_s - self._shown_s >= SHOW_EVERY_S and batch is not None:
            self._shown_s = world.elapsed_s
            self._progress(_progress_of(batch, outcome, world.elapsed_s, self._simulation.days * DAY_S))


def hours_of_weather(spec: str) -> tuple[tuple[tuple[float, float], ...], str]:
    """Return (°C, %RH) of each hour of `FILE[:STATION]`, and in a line what the file holds and lacks.

    Raises:
        NoInputError: there is no such file.
        DataError: a column is missing, or a row cannot be understood.
        UsageError: the file has no such station.
    """
    from controller.simulator.weather import read_weather

    weather = read_weather(spec)
    return weather.hours(), weather.told()


def _progress_of(batch: Batch, outcome: Outcome, done_s: float, total_s: float) -> Progress:
    return Progress(
        done_s=done_s,
        total_s=total_s,
        stage=batch.stage.name,
        state=batch.state,
        air_temp_c=outcome.known.air_temp_c,
        rh_pct=outcome.known.rh_pct,
        ph=batch.ph[-1][1] if batch.ph else None,
        weight_loss_pct=batch.weight_loss_pct,
    )


class _Pace:
    """Make a simulated run slow enough to look at, without drifting."""

    def __init__(self, speed: float) -> None:
        self._speed, self._began_s, self._simulated_s = speed, time.monotonic(), 0.0

    def sleep(self, seconds: float) -> None:
        """Sleep until real time has caught up with so many more simulated seconds."""
        self._simulated_s += seconds
        ahead_s = self._simulated_s / self._speed - (time.monotonic() - self._began_s)
        if ahead_s > 0.0:
            time.sleep(ahead_s)
