"""What the checkers know: the plant's truth, the relays' edges, what was put in, and when the program ran."""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

from collections import Counter
from math import inf
from typing import Any, Final

from msgspec import Struct

from controller.settings.chamber_file import ChamberFile
from controller.simulator.chamber_model import ChamberModel
from controller.simulator.faults import SimulatedFault
from controller.simulator.world import World
from tests.campaigns.disk import ModelDisk
from tests.campaigns.draw import Case
from tests.campaigns.kinds import Planned

BEGIN_WALL_S: Final = 1_767_592_800.0  # 2026-01-05T06:00:00Z
CANADA_BASE_C: Final = 15.6
US_BASE_C: Final = (60.0 - 32.0) / 1.8
"""Degree-hours are counted above 15.6 °C (Canada) and above 60 °F (United States)."""
SHOWN: Final = 5


class Violation(Struct, frozen=True):
    """Hold what was found to be wrong."""

    rule: str
    at_h: float
    text: str


class TruthPlant(ChamberModel):
    """Be the modelled chamber, and add up what only the model can know."""

    __slots__ = ("hottest_c", "over_canada_ks", "over_us_ks")

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.over_canada_ks = self.over_us_ks = 0.0  # Kelvin-seconds of the air above each rule's base.
        self.hottest_c = -inf

    def advance(self, dt_s: float) -> None:
        """Move on, and count."""
        before_c = self.air_c
        ChamberModel.advance(self, dt_s)
        after_c = self.air_c
        mean_c = 0.5 * (before_c + after_c)
        if mean_c > US_BASE_C:
            self.over_us_ks += (mean_c - US_BASE_C) * dt_s
            if mean_c > CANADA_BASE_C:
                self.over_canada_ks += (mean_c - CANADA_BASE_C) * dt_s
        self.hottest_c = max(self.hottest_c, after_c)


class CampaignWorld(World):
    """Be the simulated world in which the supply can fail at any system call."""

    def cut_power(self, lasts_s: float) -> None:
        """Let the supply fail now, for so long; raises PowerCut as a planned one does."""
        fault = SimulatedFault("power-cut", self.elapsed_s, self.elapsed_s + lasts_s)
        self.faults = (*self.faults, fault)
        self._edges_s = sorted([*self._edges_s, fault.until_s])
        self._look_at_faults()


class Life(Struct):
    """Hold one run of the program: from when to when after the begin, what ended it, and whether it was noted first."""

    began_s: float
    ended_s: float = inf
    how: str = ""
    saved: bool = False


class Facts:
    """Hold what is known of a run, and what was found to be wrong."""

    def __init__(
        self, chamber: ChamberFile, faults: tuple[Planned, ...], world: CampaignWorld, disk: ModelDisk, case: Case
    ) -> None:
        self.chamber, self.faults, self.world, self.disk, self.case = chamber, faults, world, disk, case
        self.plant: TruthPlant = world.model  # type: ignore[assignment]
        self.memory: Any = None  # What the program remembers after its newest tick,
        self.outcome: Any = None  # and what it decided.
        self.tick_s = self.tick_air_c = 0.0  # The truth at that tick: when it was, how warm the air,
        self.tick_canada_ks = self.tick_us_ks = 0.0  # and how many degree-hours there had been.
        self.lives: list[Life] = []
        self.runs = False
        self.resumed_s = -inf  # When a person has last asked to go on, or for a new batch.
        self.detected: set[int] = set()  # The faults that the program has seen, by index.
        self.cleared_s = -inf  # When he has last asked to clear an alarm,
        self.clears_s: list[float] = []  # and each time that he did.
        self.met_s: dict[int, float] = {}  # When the program could first know of a fault that ended it, by index.
        self.violations: list[Violation] = []
        self.rules: Counter[str] = Counter()
        self.notes: list[tuple[float, str]] = []
        self.counts: Counter[str] = Counter()

    @property
    def now_s(self) -> float:
        """Return the true time since the begin."""
        return self.world.elapsed_s

    @property
    def ran_s(self) -> float:
        """Return how long the program has run in all its lives."""
        now_s = self.now_s
        return sum(min(life.ended_s, now_s) - life.began_s for life in self.lives)

    @property
    def leading(self) -> Any:
        """Return the batch whose climate the chamber has: the one that was there first."""
        here = [] if self.memory is None else [batch for batch in self.memory.batches if batch.in_chamber]
        return next((batch for batch in here if batch.id == self.memory.leader), here[0] if here else None)

    def complain(self, rule: str, text: str) -> None:
        """Say that an invariant does not hold; of each rule the first few are kept."""
        self.rules[rule] += 1
        if self.rules[rule] <= SHOWN:
            self.violations.append(Violation(rule, self.now_s / 3600.0, text))

    def note(self, text: str) -> None:
        """Keep something for whoever looks into a run."""
        self.notes.append((self.now_s / 3600.0, text))

    def see(self, memory: Any, outcome: Any) -> None:
        """Take over a tick, and what was true at it."""
        self.outcome = outcome
        self.take(memory)

    def take(self, memory: Any) -> None:
        """Take over what the program remembers at this instant, and what is true at it."""
        self.memory, plant = memory, self.plant
        self.tick_s, self.tick_air_c = self.world.elapsed_s, plant.air_c
        self.tick_canada_ks, self.tick_us_ks = plant.over_canada_ks, plant.over_us_ks

    def program_began(self) -> None:
        """Note that the program runs from now on."""
        self.runs = True
        self.lives.append(Life(self.now_s))

    def program_ended(self, how: str) -> None:
        """Note that it runs no more."""
        self.runs = False
        life = self.lives[-1]
        life.ended_s, life.how = self.now_s, how
        self.counts[f"end:{how}"] += 1
        self.note(f"the program ended: {how}")

    def disk_was_cut(self) -> None:
        """Note that what was not forced may be gone."""
        self.counts["disk cuts"] += 1

    def is_stuck(self, role: str, from_s: float, until_s: float) -> bool:
        """Say whether this output may have been on for reasons of its own between two instants."""
        return any(
            fault.kind in {"relay-welded", "pin-stuck"}
            and fault.what == role
            and fault.at_s < until_s
            and fault.until_s > from_s
            for fault in self.faults
        )

    def is_well(self, what: str, since_s: float) -> bool:
        """Say whether no fault of this sensor or output has been there since then."""
        names = {what, "air_temp"} if what == "air_temp" else {what}
        return not any(
            (fault.what in names or (fault.kind == "probe-out" and what == "air_temp"))
            and fault.at_s <= self.now_s
            and fault.until_s >= since_s
            for fault in self.faults
        )
