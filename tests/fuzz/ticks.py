"""Run ticks of the deciding part on what a reader accepted: an accepted file must also be one that can be run."""

import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from controller.core.memory import Batch, Inputs, Memory, Outcome
from controller.core.plan import Chamber, Profile
from controller.core.requests import Hang, Note, Ph, Request, Start, Weigh
from controller.core.restart import first_memory
from controller.core.step import step
from controller.core.values import Channel, Fault, FaultKind, Reading
from controller.records.checkpoint import decode_memory, encode_memory
from controller.records.keeper import Keeper
from controller.records.status import status_of
from controller.settings.chamber_file import ChamberFile, plan_of

WALL_S: Final = 1_767_600_000.0  # 2026-01-05T08:00:00Z, an invented morning.
NAME: Final = "2026-01-05-fuzz-1"
SAYS: Final[dict[Channel, float]] = {
    "air_temp": 24.0, "air_temp_2": 24.3, "rh": 82.0, "rh_temp": 24.1, "core_temp": 20.0, "ambient_temp": 19.0,
    "door": 0.0,
}  # fmt: skip
FAULTS: Final[tuple[FaultKind, ...]] = ("missing", "hung", "checksum", "power_on_value")


class Run:
    """Be the daemon without its loop: memory, a clock, and a chamber file."""

    def __init__(self, file: ChamberFile, memory: Memory | None = None, now_s: float = 1000.0) -> None:
        """Begin with this memory, or with none."""
        self.file = file
        self.chamber: Chamber = plan_of(file)
        self.now_s = now_s
        self.wall_s = WALL_S
        self.memory = memory or first_memory(self.chamber, now_s, WALL_S, "boot-1")
        self.outcome: Outcome | None = None

    def tick(self, rng: random.Random, *requests: Request, summary: bool = False) -> Outcome:
        """Let one tick pass, and require of its outcome what holds for every tick."""
        self.now_s += self.chamber.tick_s
        self.wall_s += self.chamber.tick_s
        readings: dict[Channel, Reading | Fault] = {}
        for channel in self.chamber.channels:
            value = SAYS.get(channel, 20.0) + rng.uniform(-0.05, 0.05)
            readings[channel] = (
                Fault(rng.choice(FAULTS)) if rng.random() < 0.03 else Reading(value, self.now_s - rng.uniform(0.0, 2.0))
            )
        inputs = Inputs(self.now_s, self.wall_s, True, readings, requests, summary)
        self.memory, self.outcome = step(self.memory, inputs, self.chamber)
        longest_s = self.now_s + 2.0 * self.chamber.tick_s
        for role, until_s in self.outcome.commands.on_until_s.items():
            if not until_s <= longest_s:
                raise AssertionError(f"{role} is commanded until {until_s}, and it is {self.now_s}")
        if len(self.outcome.answers) != len(requests):
            raise AssertionError(f"{len(requests)} requests, {len(self.outcome.answers)} answers")
        return self.outcome

    def look(self) -> None:
        """Do with the newest outcome what the record keeper does: the checkpoint there and back, and the status."""
        if self.outcome is not None:
            decode_memory(encode_memory(self.memory))
            status_of(self.memory, self.outcome, chamber=self.file)


def run_batch(file: ChamberFile, profile: Profile, rng: random.Random, state_dir: Path | None = None) -> Run:
    """Begin a batch of this profile, hang, measure and weigh; return the run. With a folder all of it is recorded."""
    run = Run(file)
    keeper = None if state_dir is None else Keeper(state_dir, file, force=False, threaded=False, status_every_s=0.0)
    story: Sequence[tuple[Any, ...]] = (
        (),
        (Start(id="r1", batch=NAME, profile=profile, meat_kg=5.0),),
        (Hang(id="r2", pieces_g={"A": 412.0, "B": 398.0}, sure=True),),
        (
            Ph(id="r3", at_wall_s=None, value=5.6, instrument="meter", sure=True),
            Note(id="r4", at_wall_s=WALL_S, text="x"),
        ),
        (Weigh(id="r5", at_wall_s=WALL_S, pieces_g={"A": 400.0}, sure=True),),
        *((),) * 10,
    )
    for requests in story:
        outcome = run.tick(rng, *requests, summary=rng.random() < 0.1)
        if keeper is not None:
            keeper.keep(run.memory, outcome)
        run.now_s += rng.choice((0.0, 0.0, 60.0, 3600.0))
    run.look()
    if keeper is not None:
        keeper.close()
    return run


def grown_memory(file: ChamberFile, profile: Profile, rng: random.Random) -> Memory:
    """Return the memory of a batch that is under way, with readings, weights and an alarm or two."""
    run = run_batch(file, profile, rng)
    for number in range(5):
        at_s = run.wall_s - 60.0
        run.tick(rng, Ph(id=f"p{number}", at_wall_s=at_s, value=5.7 - 0.1 * number, instrument="meter", sure=True))
        run.now_s += 3600.0
        run.wall_s += 3600.0
    return run.memory


def open_batch(run: Run) -> Batch | None:
    """Return the first batch of a run."""
    return next(iter(run.memory.batches), None)
