"""Run one seed: the production daemon over the modelled chamber, through all that its list of faults has in store.

What happens is a list of instants. While the daemon sleeps the world goes from one to the next: an output ends, a
fault begins (the world's own), a person types, the writer's thread has its turn, the program is killed, a disk fills.
Where the program ends, whatever ended it, the machine does what the real one would: the safe-off, the restart by the
supervisor, the boot after a power cut with what the disk has kept.
"""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

import gc
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields
from heapq import heappop, heappush
from math import inf
from pathlib import Path
from random import Random
from traceback import format_exception
from typing import Any, Final

from controller.app.beginning import begin
from controller.daemon import Ports
from controller.daemon import run as run_daemon
from controller.errors import StorageError
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.keeper import Keeper
from controller.records.request_box import RequestBox
from controller.settings.chamber_file import plan_of
from controller.simulator.faults import KINDS as OF_THE_WORLD
from controller.simulator.faults import SimulatedFault
from controller.simulator.world import PowerCut
from tests.campaigns.checkers import Checkers
from tests.campaigns.disk import Gone, ModelDisk
from tests.campaigns.draw import DAY_S, Case, draw_faults, setting_of
from tests.campaigns.facts import BEGIN_WALL_S, CampaignWorld, Facts, TruthPlant
from tests.campaigns.interpose import Clocks, TurnCondition, TurnThread, interposed
from tests.campaigns.kinds import DISK, KINDS, Planned
from tests.campaigns.person import Person

SAFE_OFF_S: Final = 2.0
RESTART_S: Final = 5.0
"""systemd runs the safe-off when the program has ended, and starts it again: RestartSec=5."""
WATCHDOG_S: Final = 30.0
"""WatchdogSec=30: a program that has not said for so long that it is alive is killed."""
STARTS_S: Final = 5.0
"""So long the first tick waits for the disk at most."""
STATUS_EVERY_S: Final = 1800.0
TURN_S: Final = 60.0


class Crash(RuntimeError):  # noqa: N818 - it is what is injected
    """Be an error that nobody foresaw."""


class Machine:
    """Hold the computer, the chamber and the maker of one seed."""

    def __init__(self, case: Case, root: Path) -> None:
        self.case = case
        self.setting = setting_of(case)
        self.faults = draw_faults(case, self.setting.chamber)
        self._random = Random(f"campaign:{case.seed}:machine")
        world_faults = [one for fault in self.faults for one in _of_the_world(fault)]
        self.world = world = CampaignWorld(
            self.setting.plant,
            begin_wall_s=BEGIN_WALL_S,
            seed=case.seed,
            weather=self.setting.room,
            faults=sorted(world_faults, key=lambda fault: fault.at_s),
            vary=True,
            ends_s=case.days * DAY_S,
            plant=TruthPlant,
        )
        self.chamber = plan_of(self.setting.chamber)
        self.disk = ModelDisk(root, Random(f"campaign:{case.seed}:disk"), self._wall_ns)
        self.disk.dying = self._dying
        self.clocks = Clocks(world.clock.monotonic_s, world.clock.wall_s)
        self.facts = Facts(self.setting.chamber, self.faults, world, self.disk, case)
        self.person = Person(
            self.facts, root, Random(f"campaign:{case.seed}:person"), self.setting.profiles, self.chamber
        )
        self.checkers = Checkers(self.facts)
        self.person.on_answer = self.checkers.records.answered
        self.disk.seen = self.checkers.records.names_changed
        self._queue: list[tuple[float, int, Callable[[], None]]] = []
        self._order = 0
        self.next_s = inf
        self._stop = False
        self._why = ""  # What has ended the program.
        self._cut_lasts_s = 0.0
        self._hangs_s, self._hangs_at = 0.0, ""
        self._turn_due_s = inf
        self._crashes = False
        self._clock_off_s = 0.0
        self._keeper: Keeper | None = None
        self._box: RequestBox | None = None
        self._ports = self._make_ports()

    def _make_ports(self) -> dict[str, Any]:
        world = self.world
        mine: dict[str, Any] = {"clock": _Clock(self), "sensors": _Sensors(self)}
        names = [field.name for field in fields(Ports)]
        return {name: mine.get(name) or getattr(world, name) for name in names if name not in {"keeper", "box"}}

    def _wall_ns(self) -> int:
        return max(int(self.world.clock.wall_s() * 1e9), 0)

    # The list of instants.

    def at(self, at_s: float, action: Callable[[], None]) -> None:
        """Let this be done at that instant."""
        self._order += 1
        heappush(self._queue, (at_s, self._order, action))
        self.next_s = self._queue[0][0]

    def serve_until(self, end_s: float) -> bool:
        """Let everything happen that is due until then; say whether the run goes on."""
        queue, world = self._queue, self.world
        while queue and queue[0][0] <= end_s:
            if queue[0][0] > world.elapsed_s and not world.run_to(queue[0][0]):
                return False
            _, _, action = heappop(queue)
            self.next_s = queue[0][0] if queue else inf
            action()
        return True

    def go(self) -> "Machine":
        """Run to the end."""
        world = self.world
        with interposed(self.disk, self.clocks):
            for fault in self.faults:
                self._plan(fault)
            self.at(30.0, self._person_looks)
            self.at(TURN_S, self._minute)
            self.checkers.heat.watch_relays()
            gc.collect()
            was_enabled = gc.isenabled()
            gc.disable()
            try:
                while world.elapsed_s < world.ends_s:
                    self._live_once()
                self._last_look()
            finally:
                if was_enabled:
                    gc.enable()
        return self

    def _last_look(self) -> None:
        """Start the program once more, and look at all files."""
        self.disk.trouble = ""
        self._queue.clear()
        self.next_s = inf
        try:
            self._run_program()
        except (PowerCut, Gone, StorageError, Crash) as error:
            self.facts.complain("files", f"the last start of the program ended with {error!r}")
        self.checkers.at_end()

    # One life of the program.

    def _live_once(self) -> None:
        facts, world = self.facts, self.world
        self._why = ""
        try:
            self._run_program()
            self._why = self._why or "end"
        except PowerCut:
            self._why = "cut"
        except Gone as gone:
            self._why = self._why or ("cut-in-write" if gone.args == ("power",) else "kill")
        except Crash:
            self._why = "exception"
        except StorageError:
            self._why = "no-start"
        except Exception as error:  # noqa: BLE001 - what nobody injected is a finding, and the run goes on
            facts.complain("program", "".join(format_exception(error)[-3:]))
            self._why = "error"
        facts.program_ended(self._why)
        world.relays.__dict__.pop("apply", None)
        TurnThread.started.clear()
        self._turn_due_s = inf
        if self._why in {"cut", "cut-in-write"}:
            self._without_power()
            return
        self.disk.end_program()
        self._note_met({"kill", "kill-in-write", "exception", "restart", "hang", "crash-loop"}, world.elapsed_s)
        if self._why in {"kill", "hang"}:
            now_s = world.elapsed_s
            world.relays.ends_s = dict.fromkeys(world.relays.ends_s, now_s + SAFE_OFF_S)
            world.relays.next_end_s = now_s + SAFE_OFF_S if world.relays.ends_s else inf
        pause_s = 60.0 if self._why == "no-start" else RESTART_S
        self._pass_time(world.elapsed_s + pause_s)

    def _run_program(self) -> None:
        root, clock = self.disk.root, self.world.clock
        state_dir = Path(root)
        self.facts.program_began()
        keeper = self._keeper = Keeper(
            state_dir, self.setting.chamber, force=True, threaded=True, status_every_s=STATUS_EVERY_S
        )
        memory, told = begin(state_dir / CHECKPOINT, self.chamber, clock)
        keeper.begin(memory)
        self.checkers.program_begins(memory)
        self._wait_for_disk()
        self.facts.lives[-1].saved = not keeper._writer.waiting
        box = self._box = RequestBox(
            state_dir, boot_id=clock.boot_id(), answered=memory.answered, boottime_s=clock.monotonic_s
        )
        ports = Ports(keeper=keeper, box=_Box(self, box), **self._ports)
        try:
            memory = run_daemon(memory, self.chamber, ports, told, self.checkers.see)
        except Exception as error:
            if not isinstance(error, PowerCut):
                self._close(keeper)
            raise
        keeper.save(memory)
        self._close(keeper)

    def _wait_for_disk(self) -> None:
        """Let the first tick wait for what it begins with to be written, as the program does at its start."""
        late_s = self._writer_late_s()
        TurnCondition.notified = False
        self._turn_at(self.world.elapsed_s + late_s)
        end_s = self.world.elapsed_s + min(late_s, STARTS_S)
        if self.serve_until(end_s):
            self.world.run_to(end_s)

    def _close(self, keeper: Keeper) -> None:
        try:
            keeper.close()
        except StorageError:
            self.facts.note("the records could not be closed")

    def _without_power(self) -> None:
        facts, world = self.facts, self.world
        began_s = world.elapsed_s
        if self._why == "cut-in-write":
            with suppress(PowerCut):
                world.cut_power(self._cut_lasts_s)
        facts.note(f"power cut; of what was not forced the disk kept: {self.disk.cut_power()}")
        facts.disk_was_cut()
        self.disk.trouble = ""
        while world.elapsed_s < world.ends_s:
            try:
                if not world.restore_power():
                    return
                break
            except PowerCut:
                continue
        self._note_met({"power-cut", "cut-without-clock", "cut-in-write", "computer-hangs"}, began_s)
        lost = next((f for f in self.faults if f.kind == "cut-without-clock" and f.at_s == began_s), None)
        if lost is not None:
            self._clock_resumes(lost, world.elapsed_s - began_s)

    def _note_met(self, kinds: set[str], at_s: float) -> None:
        """Note which fault of the list it was that ended the program at this instant."""
        for fault in reversed(self.faults):
            if fault.kind in kinds and fault.at_s <= at_s and fault.index not in self.facts.met_s:
                self.facts.met_s[fault.index] = self.world.elapsed_s
                return

    def _clock_resumes(self, fault: Planned, off_s: float) -> None:
        """Let the clock go on where it stopped, until the network tells the time (man systemd-timesyncd)."""
        world = self.world
        world.wall_less_elapsed_s -= off_s

        def is_set() -> None:
            world.wall_less_elapsed_s += off_s

        self.at(fault.trusted_s, is_set)

    def _pass_time(self, until_s: float) -> None:
        """Let time pass without the program."""
        try:
            if self.serve_until(until_s):
                self.world.run_to(until_s)
        except PowerCut:
            self._why = "cut"
            self._without_power()
        except Gone:
            self._why = "cut-in-write"
            self._without_power()

    # What the list of faults does to the computer; the world does its own.

    def _plan(self, fault: Planned) -> None:
        place = KINDS[fault.kind].place
        if fault.kind == "crash-loop":
            for at_s in range(4):
                self.at(fault.at_s + at_s * (fault.until_s - fault.at_s) / 3.0, lambda: self._meet(fault))
        elif place == "disk":
            self.at(fault.at_s, lambda: self._set_disk(DISK[fault.kind]))
            self.at(fault.until_s, lambda: self._set_disk(""))
        elif place == "program" or fault.kind == "cut-in-write":
            self.at(fault.at_s, lambda: self._meet(fault))

    def _set_disk(self, trouble: str) -> None:
        self.disk.trouble = trouble

    def _meet(self, fault: Planned) -> None:
        kind, disk, facts = fault.kind, self.disk, self.facts
        if kind == "cut-in-write":
            disk.dies_at_op = disk.ops + fault.count
            self._cut_lasts_s = fault.until_s - fault.at_s
        elif kind == "kill-in-write":
            disk.kills_at_op = disk.daemon_ops + fault.count
        elif not facts.runs:
            return  # There is nothing to kill.
        elif kind == "kill":
            self._dying("kill")
            raise Gone("kill")
        elif kind in {"exception", "crash-loop"}:
            self._crashes = True
        elif kind == "restart":
            self._stop, self._why = True, "restart"
        elif kind in {"overrun", "hang"}:
            self._hangs_s, self._hangs_at = fault.until_s - fault.at_s, "reading" if fault.count % 2 else "asking"

    def _dying(self, how: str) -> None:
        """Let the relays stay as they are: who is dead switches nothing off."""
        self._why = "cut-in-write" if how == "power" else how
        if how != "power":
            self.world.relays.apply = _nothing  # type: ignore[method-assign]

    # What the daemon's ports come to.

    def sleep(self, monotonic_s: float) -> bool:
        """Let the world go on to this instant, or to the end of the program."""
        world = self.world
        if TurnCondition.notified:
            TurnCondition.notified = False
            self._turn_at(world.elapsed_s + self._writer_late_s())
        until_s = monotonic_s - world.monotonic_less_elapsed_s
        if self.next_s <= until_s and not self.serve_until(until_s):
            return False
        if self._stop:
            self._stop = False
            return False
        return world.run_to(until_s)

    def _writer_late_s(self) -> float:
        if self.disk.trouble != "slow":
            return self.setting.writer_late_s
        writer = getattr(self._keeper, "_writer", None)
        if writer is not None and getattr(writer, "_begun_s", 0.0) is None:
            writer._begun_s = self.world.clock.monotonic_s()
        return self._random.uniform(2.0, 150.0)

    def _turn_at(self, at_s: float) -> None:
        """Let the threads have their turn then, unless they have one before that."""
        if at_s < self._turn_due_s:
            self._turn_due_s = at_s
            self.at(at_s, self._turn)

    def _turn(self) -> None:
        if self.world.elapsed_s < self._turn_due_s:
            return  # It was put off, or had before.
        self._turn_due_s = inf
        for thread in TurnThread.started:
            again_s = thread.turn()
            if again_s is not None:
                self._turn_at(self.world.elapsed_s + again_s)

    def disturb(self, where: str) -> None:
        """Let the loop be stopped here, or fail, where it is to be."""
        if self._crashes:
            self._crashes = False
            raise Crash("injected")
        if self._hangs_at == where:
            hangs_s, self._hangs_s, self._hangs_at = self._hangs_s, 0.0, ""
            world = self.world
            world.run_to(min(world.elapsed_s + min(hangs_s, WATCHDOG_S), world.ends_s))
            if hangs_s >= WATCHDOG_S:
                self._dying("hang")
                raise Gone("hang")

    @property
    def is_disturbed(self) -> bool:
        """Say whether the next tick is to go wrong."""
        return self._crashes or self._hangs_s > 0.0

    def _person_looks(self) -> None:
        self.at(self.world.elapsed_s + 60.0, self._person_looks)
        self.disk.by_person = True
        try:
            self.person.look()
        finally:
            self.disk.by_person = False

    def _minute(self) -> None:
        self.at(self.world.elapsed_s + 60.0, self._minute)
        self.checkers.minute()


class _Clock:
    """Be the daemon's clock; everything else happens while it sleeps."""

    def __init__(self, machine: Machine) -> None:
        clock = machine.world.clock
        self.monotonic_s, self.wall_s = clock.monotonic_s, clock.wall_s
        self.wall_trusted, self.boot_id = clock.wall_trusted, clock.boot_id
        self.sleep_until = machine.sleep


class _Sensors:
    """Hand over what the modelled sensors say, and let the checkers see it too."""

    def __init__(self, machine: Machine) -> None:
        self._machine, self._sensors = machine, machine.world.sensors
        self._see = machine.checkers.heat.readings

    def newest(self) -> Any:
        machine = self._machine
        if machine.is_disturbed:
            machine.disturb("reading")
        readings = self._sensors.newest()
        self._see(readings)
        return readings

    def __getattr__(self, name: str) -> Any:
        return getattr(self._sensors, name)


class _Box:
    """Hand over what people ask; here, too, the loop may be stopped: what was read before is old then."""

    def __init__(self, machine: Machine, box: RequestBox) -> None:
        self._machine, self._take = machine, box.take
        self.trouble = box.trouble

    def take(self) -> Any:
        if self._machine.is_disturbed:
            self._machine.disturb("asking")
        return self._take()


def _nothing(commands: object) -> None:
    """Switch nothing."""


def _of_the_world(fault: Planned) -> list[SimulatedFault]:
    """Return what the modelled world makes of a fault by itself."""
    if fault.kind == "clock-step":
        return [SimulatedFault("clock-step", fault.at_s, fault.at_s, "", fault.step_s)]
    if fault.kind == "cut-without-clock":
        return [
            SimulatedFault("power-cut", fault.at_s, fault.until_s),
            SimulatedFault("clock-lost", fault.at_s + 1.0, fault.trusted_s),
        ]
    if fault.kind not in OF_THE_WORLD:
        return []
    what = "" if fault.kind == "probe-out" else fault.what
    return [SimulatedFault(fault.kind, at_s, until_s, what) for at_s, until_s in fault.windows]
