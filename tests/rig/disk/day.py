"""A short day of a batch, told to the production daemon, its records and its request box over the modelled chamber.

It is begun late in the evening, so that a new day's file begins in it, and three runs of the program share it: the
first is stopped as the service manager does, the second killed. In it lie a stage that ends, readings, a check of an
instrument, an alarm that somebody sees, commands and notes, and the batch's end. The disk is whatever the folder lies
on; the clocks are the simulated ones, and the writer's thread has its turn after each tick, so every telling is alike.
"""

import re
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, ExitStack, nullcontext, suppress
from pathlib import Path
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.app.beginning import begin
from controller.core.memory import Memory, Outcome
from controller.core.requests import (
    Adjust,
    Calibrate,
    Clear,
    CoreTemp,
    End,
    Hang,
    Hold,
    Learn,
    Look,
    Note,
    Ph,
    Request,
    Resume,
    Seen,
    Start,
    StopLearning,
    Weigh,
)
from controller.core.values import Answer, InstrumentCheck
from controller.daemon import Ports
from controller.daemon import run as run_daemon
from controller.errors import StorageError, TryAgainError, UnavailableError
from controller.records.asking import post, wait_for_answer
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.keeper import Keeper
from controller.records.request_box import RequestBox
from controller.settings.chamber_file import ChamberFile, LimitsTable, plan_of
from controller.settings.learned_file import use_learned
from controller.settings.profile_file import adapt, find_profile, read_profile
from controller.simulator.faults import parse_faults
from controller.simulator.sausage import Sausage
from controller.simulator.world import World
from tests.campaigns.disk import Gone, ModelDisk
from tests.campaigns.interpose import Clocks, TurnThread, interposed
from tests.helpers.shipped_chambers import shipped_chamber
from tests.rig.disk.witness import Noted, witnessed

BEGIN_WALL_S: Final = 1_767_655_800.0  # 2026-01-05T23:30:00Z, an invented evening.
BATCH: Final = "2026-01-05-tangy-1"
TICK_S: Final = 8.0
ROW_S: Final = 120.0
RESTART_S: Final = 5.0
"""RestartSec of the service."""
TYPED_AGAIN_S: Final = 16.0
ENDS_S: Final = 60 * 60.0
LAST_S: Final = 1200.0
STOP_S, KILL_S = 33 * 60.0, 43 * 60.0
MINUTE: Final = 60.0

_CLEAR: Final = re.compile(r"hangroom clear ([A-Z]+\d+-\d+)")

Typing = Callable[[str, float], Request]


def script() -> list[tuple[float, Typing]]:
    """Return what is typed, and how many minutes after the begin."""
    profile, _ = adapt(read_profile(find_profile("tangy")), plan_of(chamber_file()))
    ice = InstrumentCheck(instrument="probe 1", method="ice", points=(("ice", 0.0, 0.1),), unit="Cel")
    told: list[tuple[float, Typing]] = [
        (1.2, lambda id, _now: Learn(id=id, test="2026-01-05-1")),
        (1.7, lambda id, _now: StopLearning(id=id)),
        (2.5, lambda id, _now: Start(id=id, batch=BATCH, profile=profile, meat_kg=4.5)),
        (3.5, lambda id, now: Note(id=id, at_wall_s=now, text=f"typed as {id}!")),
        (6.0, lambda id, _now: Hang(id=id, pieces_g={"A": 400.0, "B": 420.0})),
        (9.0, lambda id, now: Ph(id=id, at_wall_s=now, value=5.8, instrument="meter", sure=True)),
        (11.0, lambda id, now: Look(id=id, at_wall_s=now, piece="B", looks={"look": "tacky"})),
        (20.0, lambda id, now: Weigh(id=id, at_wall_s=now, pieces_g={"A": 398.0, "B": 419.0}, sure=True)),
        (22.0, lambda id, _now: Hold(id=id, because=f"typed as {id}!")),
        (24.0, lambda id, _now: Resume(id=id, because=f"typed as {id}!")),
        (28.0, lambda id, now: Ph(id=id, at_wall_s=now, value=5.7, instrument="meter", sure=True)),
        (33.05, lambda id, now: Ph(id=id, at_wall_s=now, value=5.65, instrument="meter", sure=True)),  # Nobody runs.
        (36.0, lambda id, now: Calibrate(id=id, at_wall_s=now, check=ice, sure=True)),
        (39.0, lambda id, now: CoreTemp(id=id, at_wall_s=now, value_c=21.5, piece="A", sure=True)),
        (42.9, lambda id, now: Note(id=id, at_wall_s=now, text=f"typed as {id}!")),  # Just before it is killed.
        (47.0, lambda id, _now: Adjust(id=id, rh_pct=85.0, because=f"typed as {id}!", sure=True)),
        (50.0, lambda id, now: Note(id=id, at_wall_s=now, text=f"typed as {id}!")),
        (54.0, lambda id, _now: End(id=id, because=f"typed as {id}!", aborted=True, sure=True)),
    ]
    return [(minutes * MINUTE, typing) for minutes, typing in told]


def chamber_file() -> ChamberFile:
    """Return the shipped insulated box, deciding seldom, so that a day is told quickly."""
    return replace(shipped_chamber("insulated-box"), tick_s=TICK_S, limits=LimitsTable(log_every_s=ROW_S))


class Typed(Struct):
    """Hold one request that was posted, and the answers that were fetched."""

    request: Request
    typing: Typing
    at_s: float
    answers: list[tuple[bool, str]]


class Day:
    """Tell the day once; what came of it can be looked at afterwards."""

    def __init__(
        self,
        state_dir: Path,
        disk: ModelDisk,
        *,
        seed: int = 1,
        lines: Sequence[tuple[float, Typing]] = (),
        note: Callable[[Noted], None] | None = None,
        after_tick: Callable[["Day"], None] | None = None,
        around: Callable[[], AbstractContextManager[None]] = nullcontext,
        begin_wall_s: float = BEGIN_WALL_S,
        status_every_s: float = 300.0,
    ) -> None:
        """Make chamber and world.

        Args:
            state_dir: the folder of the records.
            disk: where it lies; a model disk somewhere else where it lies on a real one.
            seed: of the world.
            lines: what is typed and when; the script of this module where there is none.
            note: is told what the records begin, promise and are refused.
            after_tick: called after each tick, before people type.
            around: what else holds while it is told.
            begin_wall_s: the wall clock at its begin.
            status_every_s: how often the status is written, which is never forced.
        """
        self.state_dir, self.disk = state_dir, disk
        self.file = chamber_file()
        self.chamber = plan_of(self.file)
        faults = parse_faults(("missing:rh@14m/4m",))
        self.world = World(self.file, begin_wall_s=begin_wall_s, seed=seed, faults=faults, ends_s=ENDS_S)
        self.clocks = Clocks(self.world.clock.monotonic_s, self.world.clock.wall_s)
        self._around, self._status_every_s = around, status_every_s
        self._lines = sorted(lines or script(), key=lambda line: line[0])
        self._note, self._after_tick = note or (lambda _noted: None), after_tick
        self._stops = [STOP_S, KILL_S]
        self._numbered = 0
        self._saw: set[str] = set()
        self.typed: dict[str, Typed] = {}
        self.not_typed: list[str] = []  # Ids of requests that the disk did not take, and their typist was told.
        self.said_again = 0
        self.paused_s = 0.0  # So long a start waited for a disk to give the program's memory.
        self.perhaps_typed: set[str] = set()  # Those of them that may lie in the box all the same, and it was said.
        self.begun_with: list[tuple[Memory, frozenset[str]]] = []  # With the requests that had been answered before.
        self.ticks: list[float] = []
        self.lost: list[str] = []  # What a stop said is lost.
        self.starts_refused: list[str] = []
        self.wrong: list[str] = []
        self.memory: Memory | None = None

    def tell(self) -> "Day":
        """Tell it to its end."""
        world = self.world
        with interposed(self.disk, self.clocks), witnessed(self.state_dir, self._note), self._around():
            while world.elapsed_s < ENDS_S:
                try:
                    self._live()
                except Gone:
                    self.disk.end_program()
                    if self._keeper is not None and not self.disk.holds(str(self.state_dir)):
                        self._keeper.forget()  # On a real disk its files would stay open.
                except OSError as error:  # The command says so and ends with an exit code; systemd starts it again.
                    self.starts_refused.append(f"{type(error).__name__}: {error}")
                TurnThread.started.clear()
                self._pass_time(min(world.elapsed_s + RESTART_S, ENDS_S))
            self._last_life()
        return self

    def begin_after_a_cut(self, lasts_s: float = 80.0) -> "Day":
        """Run the program once for so long on what a power cut has left, and stop it; nobody types."""
        self._lines, self._stops = [], []
        self.world.ends_s = lasts_s
        with interposed(self.disk, self.clocks), witnessed(self.state_dir, self._note), self._around():
            self._live()
        return self

    def _last_life(self) -> None:
        """Start once more, let all that waits be answered, and stop."""
        world = self.world
        ends_s = world.elapsed_s + LAST_S
        while world.elapsed_s < ends_s:
            world.ends_s = world.elapsed_s + 120.0
            try:
                self._live()
            except OSError as error:
                self.starts_refused.append(f"{type(error).__name__}: {error}")
                self._pass_time(world.elapsed_s + RESTART_S)
            else:
                return
        self.wrong.append(f"it could not be started in the end: {self.starts_refused[-1]}")

    def _live(self) -> None:
        """Run the program once, as `controller.app.real.run` does."""
        file, state_dir, clock = self.file, self.state_dir, self.world.clock
        use = use_learned(state_dir, file)
        with ExitStack() as stack:
            keeper = Keeper(
                state_dir, file, force=True, threaded=True, status_every_s=self._status_every_s, learned=use.learned
            )
            self._keeper = keeper
            stack.callback(self._close, keeper)
            memory, told = begin(state_dir / CHECKPOINT, self.chamber, clock, pause=self._pause)
            done = frozenset(id for id, typed in self.typed.items() if typed.answers and typed.answers[0][0])
            self.begun_with.append((memory, done))
            keeper.begin(memory)
            self._turn()
            box = RequestBox(state_dir, boot_id=clock.boot_id(), answered=memory.answered, boottime_s=clock.monotonic_s)
            stack.callback(box.close)
            world = self.world
            ports = Ports(
                _Clock(self), world.sensors, world.relays, keeper, box, world.chores, world.supervisor, world.machine
            )
            memory = run_daemon(memory, self.chamber, ports, told, self._see)
            keeper.save(memory)

    def _close(self, keeper: Keeper) -> None:
        if self.disk.dead or self._killed:
            return  # Who is killed closes nothing.
        try:
            keeper.close()
        except StorageError as error:
            self.lost.append(str(error))  # With it the command ends with exit code 74.

    _killed = _typing = False
    _keeper: Keeper | None = None

    def _see(self, memory: Memory, _outcome: Outcome) -> None:
        self.memory = memory
        self.ticks.append(self.world.elapsed_s)

    # What happens between two ticks.

    def sleep(self, monotonic_s: float) -> bool:
        """Let threads and people have their turn, then the world go on; say whether the program does too."""
        self._killed = False
        self._turn()
        if self._after_tick is not None:
            self._after_tick(self)
        until_s = monotonic_s - self.world.monotonic_less_elapsed_s
        self._people()
        if self._stops and until_s > self._stops[0]:
            self._killed = self._stops.pop(0) == KILL_S
            if self._killed:
                raise Gone("kill")
            return False
        return self.world.run_to(until_s)

    def _pause(self, pause_s: float) -> None:
        self.paused_s += pause_s
        self.world.run_to(self.world.elapsed_s + pause_s)

    def _turn(self) -> None:
        for thread in TurnThread.started:
            thread.turn()

    def _pass_time(self, until_s: float) -> None:
        self._killed = False
        self.world.run_to(until_s)
        self._people()

    def _people(self) -> None:
        """Fetch what was answered, and type what is due."""
        self.disk.by_person = True
        try:
            self._fetch()
            now_s = self.world.elapsed_s
            while self._lines and self._lines[0][0] <= now_s:
                _, typing = self._lines.pop(0)
                self._type(typing)
            self._mark_seen()
        finally:
            self.disk.by_person = False

    def interrupt(self) -> None:
        """Let somebody type a note at this very instant, whatever the program is about."""
        if not self._typing:
            self._type(lambda id, now: Note(id=id, at_wall_s=now, text=f"typed as {id}!"))

    def _mark_seen(self) -> None:
        """Say of each new alarm that it was seen."""
        for alarm in self.memory.alarms if self.memory else ():
            if alarm.id not in self._saw and not alarm.seen:
                self._saw.add(alarm.id)
                self._type(lambda id, _now, name=alarm.id: Seen(id=id, alarm=name))  # type: ignore[misc]

    def _type(self, typing: Typing) -> None:
        clock = self.world.clock
        self._numbered += 1
        request = typing(f"r{self._numbered}", clock.wall_s())
        self._typing = True
        try:
            post(
                self.state_dir,
                request,
                boot_id=clock.boot_id(),
                boottime_s=clock.monotonic_s(),
                typed_wall_s=clock.wall_s(),
            )
        except StorageError as error:
            self.not_typed.append(request.id)
            if "may lie there" in str(error):
                self.perhaps_typed.add(request.id)
            self._lines.insert(0, (self.world.elapsed_s + TYPED_AGAIN_S, typing))  # The others wait behind it.
            return
        finally:
            self._typing = False
        self.typed[request.id] = Typed(request, typing, self.world.elapsed_s, [])
        self._note(Noted("posted", request.id, type(request).__name__.encode()))
        if isinstance(request, Hang):
            self._hang()

    def _hang(self) -> None:
        if self.world.meat is None:
            culture, sugar_pct = "thermotolerant", 0.5
            meat = Sausage(diameter_mm=55.0, mass_kg=4.5, dextrose_pct=sugar_pct, culture=culture)
            self.world.open_door(60.0)
            self.world.hang(meat)

    def _fetch(self) -> None:
        for id, typed in list(self.typed.items()):
            if typed.answers:
                continue
            with suppress(TryAgainError, UnavailableError):
                answer = self._answer(id)
                if answer is not None:
                    typed.answers.append((answer.done, answer.text))
                    self._note(Noted("fetched", id, answer.text.encode()))
                    self._say_again(typed, answer)

    def _say_again(self, typed: Typed, answer: Answer) -> None:
        """Do as the answer says: clear the alarm that stands in the way, and say it again."""
        asked = _CLEAR.search(answer.text)
        if answer.done or (asked is None and "say it again" not in answer.text):
            return
        now_s = self.world.elapsed_s
        self.said_again += 1
        self._lines.insert(0, (now_s + TYPED_AGAIN_S, typed.typing))
        if asked is not None:
            self._lines.insert(0, (now_s, lambda id, _now: Clear(id=id, alarm=asked[1], sure=True)))

    def _answer(self, id: str) -> Answer | None:
        try:
            return wait_for_answer(self.state_dir, id, 0.0, sleep=_never, clock=_no_time)
        except (TryAgainError, UnavailableError):
            return None
        except OSError:
            return None  # The command says so, and its typist looks again.


class _Clock:
    """Be the daemon's clock; everything else happens while it sleeps."""

    def __init__(self, day: Day) -> None:
        clock = day.world.clock
        self.monotonic_s, self.wall_s = clock.monotonic_s, clock.wall_s
        self.wall_trusted, self.boot_id = clock.wall_trusted, clock.boot_id
        self.sleep_until = day.sleep


def _never(_seconds: float) -> None:
    """Do not wait."""


def _no_time() -> float:
    return 0.0
