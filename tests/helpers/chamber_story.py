"""A chamber to tell stories to: the production daemon over the simulated world, without a disk."""

from collections.abc import Callable
from copy import deepcopy
from math import inf
from typing import Any, Self

from msgspec.structs import replace

from controller.core.batch.stages import lead
from controller.core.memory import Batch, Memory, Outcome
from controller.core.plan import Chamber, Profile
from controller.core.requests import Hang, Request, Start
from controller.core.restart import after_restart, first_memory
from controller.core.values import Answer, Event, Trouble
from controller.daemon import Ports, run
from controller.settings.chamber_file import ChamberFile, OutputEntry, plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.faults import edges_s, parse_faults
from controller.simulator.maker import Maker
from controller.simulator.sausage import Sausage
from controller.simulator.truth import Truth
from controller.simulator.weather import Room
from controller.simulator.world import PowerCut, World
from tests.helpers.shipped_chambers import shipped_chamber

BEGIN_WALL_S = 1_767_592_800.0  # 2026-01-05T06:00:00Z
SELDOM_S = 8.0
"""A chamber file may let the program decide so seldom at most, and then a story takes two thirds of the time."""


class Notebook:
    """Be a record keeper without a disk: it keeps the events and the newest memory."""

    def __init__(self) -> None:
        self.events: list[tuple[float, Event]] = []
        self.answers: list[Answer] = []
        self.memory: Memory | None = None

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        self.events += [(outcome.wall_s - BEGIN_WALL_S, event) for event in outcome.events]
        self.answers += outcome.answers
        if outcome.checkpoint:
            self.memory = memory

    def trouble(self) -> tuple[Trouble, ...]:
        return ()

    def close(self) -> None:
        pass


class Asked:
    """Be a request box that a test writes into."""

    def __init__(self) -> None:
        self.waiting: list[Request] = []

    def take(self) -> tuple[Request, ...]:
        taken, self.waiting = tuple(self.waiting), []
        return taken

    def trouble(self) -> tuple[Trouble, ...]:
        return ()


class ChamberStory:
    """Run the daemon in the simulated world, a while at a time, and look at both."""

    def __init__(
        self,
        chamber: str = "insulated-box",
        profile: str = "tangy",
        *,
        faults: tuple[str, ...] = (),
        seed: int = 1,
        changed: ChamberFile | None = None,
        stages: Profile | None = None,
        ambient_c: float | None = None,
        weather: Room | None = None,
        maker: bool = False,
        plant: type[Any] | None = None,
    ) -> None:
        self.file: ChamberFile = changed or replace(shipped_chamber(chamber), tick_s=SELDOM_S)
        self.chamber: Chamber = plan_of(self.file)
        self.profile = stages or adapt(read_profile(find_profile(profile)), self.chamber)[0]
        self.world = World(
            self.file,
            begin_wall_s=BEGIN_WALL_S,
            seed=seed,
            faults=parse_faults(faults),
            ambient_c=ambient_c,
            weather=weather,
            plant=plant or ChamberModel,
        )
        self.maker = Maker(self.world) if maker else None
        self.truth = Truth(self.world, self.chamber)
        self.box, self.book = Asked(), Notebook()
        self.memory = first_memory(
            self.chamber, self.world.clock.monotonic_s(), BEGIN_WALL_S, self.world.clock.boot_id()
        )
        self.outcomes: list[tuple[float, Outcome]] = []
        self.looks: Callable[[], None] | None = None  # Called in each tick.
        self._told: tuple[Event, ...] = ()

    @classmethod
    def with_master(cls, *, faults: tuple[str, ...] = ()) -> Self:
        """Return a story in an insulated box that has a second contactor in series with its heat."""
        file = shipped_chamber("insulated-box")
        master = OutputEntry(role="master", pin=24)
        return cls(faults=faults, changed=replace(file, output=(*file.output, master)))

    def start(self) -> Self:
        """Ask for the batch."""
        self.box.waiting.append(Start(id="start", batch="story", profile=self.profile, meat_kg=self.file.model.meat_kg))
        return self

    def hang(self) -> Self:
        """Open the lid for a minute and hang cold sausage."""
        culture = self.profile.starter
        sausage = Sausage(
            diameter_mm=55.0,
            mass_kg=self.file.model.meat_kg,
            dextrose_pct=self.profile.per_kg.dextrose_pct,
            culture=culture,
        )
        return self.hang_this(sausage)

    def hang_this(self, sausage: Sausage) -> Self:
        """Open the lid for a minute and hang this one."""
        self.world.open_door(60.0)
        self.world.hang(sausage)
        self.box.waiting.append(Hang(id="hang", pieces_g={"A": 400.0, "B": 420.0}))
        return self

    def ask(self, *requests: Request) -> Self:
        """Ask for something at the next tick."""
        self.box.waiting.extend(requests)
        return self

    def run_for(self, *, hours: float = 0.0, minutes: float = 0.0, seconds: float = 0.0) -> Self:
        """Let time pass; over a power cut the program is gone and comes back from its last checkpoint."""
        world = self.world
        until_s = world.elapsed_s + hours * 3600.0 + minutes * 60.0 + seconds
        world.ends_s = until_s
        while world.elapsed_s < until_s:
            ports = Ports(
                world.clock,
                world.sensors,
                world.relays,
                self.book,
                self.box,
                world.chores,
                world.supervisor,
                world.machine,
            )
            try:
                self.memory = run(self.memory, self.chamber, ports, self._told, self._see)
                self._told = ()
            except PowerCut:
                if not world.restore_power():
                    break
                kept = self.book.memory or self.memory
                clock = world.clock
                self.memory, self._told = after_restart(
                    kept,
                    self.chamber,
                    clock.monotonic_s(),
                    clock.wall_s(),
                    clock.boot_id(),
                    wall_trusted=clock.wall_trusted(),
                )
        return self

    def once_more(self) -> Self:
        """Return this story as far as it has come, to be told on in another way; this one is left as it is."""
        fixed = (self.file, self.chamber, self.profile, self.memory, self.book.memory)
        grown = (self.outcomes, self.book.events, self.book.answers)  # What is in these lists never changes either.
        return deepcopy(self, {id(one): one for one in fixed} | {id(one): list(one) for one in grown})

    def befall(self, *faults: str) -> Self:
        """Order faults that are still to come, where none was ordered at the begin: it goes on as if they had been."""
        world = self.world
        assert not world.faults, "others were ordered already"
        world.faults = parse_faults(faults)
        assert all(fault.at_s > world.elapsed_s for fault in world.faults), "one of them has begun already"
        world._check_faults()
        world._edges_s = [*edges_s(world.faults), inf]
        world._late_s = sorted((fault.at_s, fault.until_s) for fault in world.faults if fault.kind == "loop-late")
        world._look_at_faults()
        return self

    def _see(self, memory: Memory, outcome: Outcome) -> None:
        self.truth.see(memory, outcome)
        if self.looks is not None:
            self.looks()
        if self.maker is None:
            self.outcomes.append((self.world.elapsed_s, outcome))
            return
        self.maker.look(memory, outcome.now_s)
        self.box.waiting.extend(self.maker.take())

    @property
    def batch(self) -> Batch:
        """Return the only batch."""
        return self.memory.batches[0]

    @property
    def rows(self) -> list[str]:
        """Return the rows of the fault table that have alarmed so far, oldest first."""
        return [event.id.rsplit("-", 1)[0] for _, event in self.book.events if event.kind == "alarm"]

    @property
    def state(self) -> str:
        """Return the state of the leading batch."""
        batch = lead(self.memory)
        return "idle" if batch is None else batch.state

    def burns_between(self, begin_s: float, end_s: float) -> float:
        """Return for how many seconds the lamp really burned between two instants after the begin."""
        burned_s, on_s = 0.0, None
        for at_s, on in [*self.world.lamp_edges, (self.world.elapsed_s, False)]:
            if on and on_s is None:
                on_s = at_s
            elif not on and on_s is not None:
                burned_s += max(min(at_s, end_s) - max(on_s, begin_s), 0.0)
                on_s = None
        return burned_s

    def dark_from(self, instant_s: float) -> float:
        """Return the instant after which the lamp no longer burned, at or after this one, until it was lit again."""
        on_before = False
        for at_s, on in self.world.lamp_edges:
            if at_s > instant_s and not on and on_before:
                return at_s
            if at_s > instant_s and on:
                return instant_s
            on_before = on
        return instant_s
