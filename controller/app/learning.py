"""A step test on a modelled chamber: the very daemon, with the records of a real one."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from controller.app.beginning import begin
from controller.app.run_folder import take_folder
from controller.core.memory import Memory, Outcome
from controller.core.requests import Learn, Request
from controller.core.restart import first_memory
from controller.core.values import Event, Trouble
from controller.daemon import Ports
from controller.daemon import run as run_daemon
from controller.errors import DataError
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.keeper import Keeper
from controller.records.steps import next_test_name, tests_of
from controller.settings.chamber_file import ChamberFile, plan_of, read_chamber
from controller.settings.shipped import CHAMBER

Tell = Callable[[float, str], None]
"""Is handed an instant of the wall clock, and a sentence."""


def say_nothing(wall_s: float, text: str) -> None:
    """Be told and say nothing."""


SETTLES_S: Final = 60.0
LONGEST_S: Final = 4.0 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelTest:
    """Hold what a step test on a model is made of."""

    chamber: Path
    out: Path
    begin_wall_s: float
    seed: int = 0
    ambient_c: float | None = None
    faults: tuple[str, ...] = ()
    loaded_kg: float = 0.0


def learn_on_model(test: ModelTest, told: Tell = say_nothing) -> Path:
    """Run a step test on the modelled chamber; return the folder that it left.

    Args:
        test: what it is made of.
        told: is handed each sentence that the daemon tells of it, with its instant.

    Raises:
        SettingsError, UsageError: the chamber file or a fault is wrong.
        DataError: the daemon refused the test; its reason.
        UnavailableError: another run has the folder.
    """
    from controller.simulator.cutout import with_tested_cutout

    file = with_tested_cutout(read_chamber(test.chamber), test.begin_wall_s)
    with take_folder(test.out, by_person=False, anew=True):
        (test.out / CHAMBER).write_bytes(test.chamber.read_bytes())
        return learn_with(file, test, told)


def learn_with(file: ChamberFile, test: ModelTest, told: Tell = say_nothing) -> Path:
    """Do the same with a chamber that has been read, in a folder that is this run's own."""
    run = _Run(file, test, told)
    run.go()
    return run.folder


class _Run:
    """Join the world, the daemon and its records for one step test, over power cuts too."""

    def __init__(self, file: ChamberFile, test: ModelTest, told: Tell) -> None:
        from controller.simulator.faults import parse_faults
        from controller.simulator.load import Bottles
        from controller.simulator.world import World

        self._file, self._chamber, self._test, self._told = file, plan_of(file), test, told
        self._world = World(
            file,
            begin_wall_s=test.begin_wall_s,
            seed=test.seed,
            ambient_c=test.ambient_c,
            faults=parse_faults(test.faults),
            ends_s=LONGEST_S,
        )
        if test.loaded_kg > 0.0:
            self._world.hang(Bottles(test.loaded_kg, self._world.room_temp_c))
        day = datetime.fromtimestamp(test.begin_wall_s, UTC).date()
        name = next_test_name(test.out, day)
        self.folder = tests_of(test.out) / name
        self._waiting: tuple[Request, ...] = (Learn(id="learn", actor="maker", test=name, loaded_kg=test.loaded_kg),)
        self._began = self._ended = False
        self._refused = ""

    def take(self) -> tuple[Request, ...]:
        """Be the request box: ask once, when the program has settled."""
        if self._world.elapsed_s < SETTLES_S:
            return ()
        taken, self._waiting = self._waiting, ()
        return taken

    def trouble(self) -> tuple[Trouble, ...]:
        """Return nothing: this box is no file."""
        return ()

    def _keeper(self) -> Keeper:
        disk = self._world.disk
        return Keeper(self._test.out, self._file, force=False, threaded=False, disk=disk.use, now=disk.now_s)

    def go(self) -> None:
        """Run until the test is over. Raises DataError where the daemon refuses it."""
        from controller.simulator.world import PowerCut

        world, clock, keeper = self._world, self._world.clock, self._keeper()
        memory = first_memory(self._chamber, clock.monotonic_s(), clock.wall_s(), clock.boot_id())
        events: tuple[Event, ...] = ()
        while True:
            ports = Ports(
                clock, world.sensors, world.relays, keeper, self, world.chores, world.supervisor, world.machine
            )
            try:
                run_daemon(memory, self._chamber, ports, events, self._see)
                break
            except PowerCut:
                if not world.restore_power():
                    break
                keeper.forget()
                keeper = self._keeper()
                memory, events = begin(self._test.out / CHECKPOINT, self._chamber, clock)
                self._tell(events)
                keeper.begin(memory)
        keeper.close()
        if self._refused:
            raise DataError(self._refused)

    def _see(self, memory: Memory, outcome: Outcome) -> None:
        """Follow what the daemon does, and end the run one tick after the test has ended."""
        self._tell(outcome.events)
        for answer in outcome.answers:
            self._refused = "" if answer.done else answer.text
            self._began = True
        if self._began and memory.learning is None:
            self._world.ends_s = self._world.elapsed_s

    def _tell(self, events: tuple[Event, ...]) -> None:
        for event in events:
            if event.kind == "learn":
                self._told(self._world.clock.wall_s(), event.text)
