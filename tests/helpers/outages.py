"""Let the program of a bench be away, by a clock that tells how long or without one, and come back."""

import copy
from functools import cache
from typing import TypeVar

from msgspec.structs import replace

from controller.core.plan import Profile, Stage, Until
from controller.core.requests import Hang, Request
from controller.core.restart import after_restart
from tests.helpers.bench_chamber import CHAMBER, PROFILE, Bench

AnyBench = TypeVar("AnyBench", bound=Bench)
HOURS_S = 3600.0
NOTHING_TOLD = replace(CHAMBER, room_c=(20.0, 45.0))
"""As warm as its room: its cooling tells nothing of a cut."""
TIMED = replace(
    PROFILE,
    stages=(
        *PROFILE.stages[:2],
        Stage(name="dry", kind="dry", until=Until(hours=2.0), air_temp_c=13.0, rh_pct=78.0),
        Stage(name="rest", kind="rest", until=Until(confirm=True), air_temp_c=12.0),
    ),
)
"""A profile with a stage that ends by time."""


@cache
def _an_hour_after_hanging(profile_id: int, air_c: float) -> Bench:
    bench = Bench(NOTHING_TOLD, PROFILES[profile_id]).run(minutes=20, air_temp=air_c, rh_temp=air_c)
    return bench.tick(Hang(id="hang", pieces_g={"A": 400.0})).run(minutes=60)


PROFILES: dict[int, Profile] = {}
"""The profiles that have been asked for: a profile itself is no key."""


def again(bench: Bench) -> Bench:
    """Return another bench that has come as far as this one: nothing of what follows happens to both."""
    other = copy.copy(bench)
    other.says, other.events, other.heat_spans = dict(bench.says), list(bench.events), list(bench.heat_spans)
    return other


def hung(profile: Profile = TIMED, stage: int = 1, *, passed: bool = False, air_c: float = 36.0) -> Bench:
    """Return a bench in this stage, with meat hung in the ferment and an hour of it over."""
    PROFILES[id(profile)] = profile
    bench = again(_an_hour_after_hanging(id(profile), air_c))
    batch = replace(bench.batch, stage_index=stage, stage_elapsed_s=0.0, stage_at_conditions_s=0.0, passed_5_3=passed)
    bench.memory = replace(bench.memory, batches=(batch,))
    return bench.run(minutes=1)


def waiting(profile: Profile = TIMED) -> Bench:
    """Return a bench that warms up while the meat waits in a fridge."""
    return Bench(NOTHING_TOLD, profile).run(minutes=20, air_temp=36.0, rh_temp=36.0)


def cut(bench: AnyBench, hours: float, *, told: bool = True, clean: bool = False, boot_id: str = "") -> AnyBench:
    """Let the power fail for so long; without a clock the one on the wall stood still meanwhile."""
    number = int(bench.memory.boot_id.rsplit("-", 1)[1])
    boot_id = boot_id or f"boot-{number + 1}"
    kept = replace(bench.memory, wall_trusted=True, ended_cleanly=clean)
    bench.wall_s = kept.wall_s + (hours * HOURS_S if told else 30.0)
    bench.now_s = kept.last_s + hours * HOURS_S if boot_id == kept.boot_id else 50.0
    bench.wall_trusted = told
    bench.memory, events = after_restart(kept, bench.chamber, bench.now_s, bench.wall_s, boot_id, wall_trusted=told)
    bench.events += [f"{event.kind}: {event.text}" for event in events]
    return bench


def crash(bench: Bench, gone_s: float = 5.0) -> Bench:
    """Let the program end without a stop, and begin again on the same boot of the machine."""
    kept = bench.memory
    bench.now_s, bench.wall_s = kept.last_s + gone_s, bench.wall_s + gone_s
    bench.memory, _ = after_restart(
        kept, bench.chamber, bench.now_s, bench.wall_s, kept.boot_id, wall_trusted=bench.wall_trusted
    )
    return bench


def leaking(bench: Bench) -> Bench:
    """Let it stand in a cold room and lose much heat, so that a short cut is bounded shortly."""
    figures = replace(bench.chamber.figures, ua_w_per_k=2.0)
    bench.chamber = replace(bench.chamber, room_c=(10.0, 11.0), figures=figures)
    return bench


def failed_again(bench: Bench) -> Bench:
    """Let the power fail once more for half a minute, which no clock has told yet."""
    kept = bench.memory
    bench.now_s, bench.wall_s = 50.0, kept.wall_s + 30.0
    bench.memory, _ = after_restart(kept, bench.chamber, bench.now_s, bench.wall_s, "boot-3", wall_trusted=False)
    return bench


def clock_set(bench: AnyBench, hours: float) -> AnyBench:
    """Let the network tell the time: so many hours later than the clock had thought."""
    bench.wall_s += hours * HOURS_S - 30.0
    bench.wall_trusted = True
    return bench.tick()


def alarms(bench: Bench) -> list[tuple[str, str]]:
    """Return row and priority of the alarms that are there; that a stage lasts long is another matter."""
    return [(alarm.row, alarm.priority) for alarm in bench.memory.alarms if alarm.row != "P10"]


def answered(bench: Bench, request: Request) -> tuple[bool, str]:
    """Ask for something; return whether it was done, and the answer."""
    bench.tick(request)
    assert bench.outcome is not None
    answer = bench.outcome.answers[-1]
    return answer.done, answer.text
