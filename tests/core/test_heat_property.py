"""Heat never burns without its conditions, whatever the sensors say: random readings, seeded faults, one seed each.

The checker below is no copy of the gate: it sees the raw readings and the lamp (each on-span as the adapter's own
timer ends it), keeps its own account of the newest good reading, and knows only the published conditions.
"""

import random
from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.core.memory import Memory
from controller.core.values import FaultKind
from tests.helpers.bench_chamber import Bench

FAULTS: tuple[FaultKind, ...] = ("missing", "checksum", "empty", "half_read", "bus_error", "hung")
ODD = (float("nan"), float("inf"), 85.0, 127.9375, -127.0, 70.0, -30.0)


@dataclass
class Checker:
    """Watch the lamp from outside."""

    started_s: float
    good_s: float = float("-inf")
    value_c: float | None = None
    seed: int = 0
    odd: list[float] = field(default_factory=list)

    def see(self, bench: Bench) -> None:
        air, fast = bench.says["air_temp"], bench.says["rh_temp"]
        taken_s = bench.now_s - 1.0
        if isinstance(air, float) and -10.0 <= air <= 60.0:
            sudden = self.value_c is not None and abs(air - self.value_c) > 5.0 and taken_s - self.good_s <= 60.0
            agrees = all(abs(air - other) <= 1.0 for other in self.odd)
            self.odd = ([*self.odd, air] if agrees else [air]) if sudden else []
            if not sudden or len(self.odd) >= 3:
                self.good_s, self.value_c, self.odd = taken_s, air, []
        heat_until_s = bench.outcome.commands.on_until_s.get("heater") if bench.outcome else None
        if heat_until_s is None:
            return
        replay = f"replay: seed {self.seed}, at {bench.now_s - self.started_s:.0f} s, says {bench.says}"
        assert heat_until_s <= bench.now_s + 10.0, replay
        assert bench.now_s - self.started_s >= 30.0, replay
        assert heat_until_s <= self.good_s + 12.0, replay
        for value in (air, fast):
            assert not (isinstance(value, float) and 45.0 <= value <= 120.0 and value != 85.0), replay
        assert bench.batch.state == "running", replay


def live(seed: int, ticks: int = 240) -> tuple[int, int, int]:
    """Let a box warm, hold and suffer for a while; return ticks, ticks that asked for heat, ticks that had it."""
    rng = random.Random(seed)
    bench = Bench()
    checker = Checker(bench.now_s, seed=seed)
    air_c, slow_c, trouble_left = rng.uniform(15.0, 36.0), 0.0, 0
    slow_c = air_c
    trouble: dict[str, float | FaultKind] = {}
    asked = had = 0
    for _ in range(ticks):
        air_c += (0.06 if bench.heat_on else -0.02) + rng.gauss(0.0, 0.01)
        slow_c += (air_c - slow_c) * 5.0 / 120.0
        if trouble_left == 0 and rng.random() < 0.02:
            trouble_left = rng.randint(1, 12)
            channel = rng.choice(("air_temp", "air_temp", "rh_temp"))
            kind = rng.choice((rng.choice(FAULTS), rng.choice(ODD), rng.uniform(-15.0, 65.0)))
            trouble = {channel: kind}
        says: dict[str, float | FaultKind] = {"air_temp": slow_c, "rh_temp": air_c, "rh": 85.0 + rng.random()}
        if trouble_left:
            says |= trouble
            trouble_left -= 1
        bench.tick(**says)
        checker.see(bench)
        asked += _asks(bench.memory)
        had += bench.heat_on
    return ticks, asked, had


def _asks(memory: Memory) -> bool:
    return memory.loops.heat_duty > 0.0


@settings(max_examples=30, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_heat_never_burns_without_its_conditions(seed: int) -> None:
    live(seed)


def test_the_examples_asked_for_heat_often_and_got_it_often() -> None:
    runs = [live(seed) for seed in range(20)]
    assert sum(asked > 0 for _, asked, _ in runs) >= len(runs) / 2
    assert sum(had > 0 for _, _, had in runs) >= len(runs) / 5
    ticks, asked, had = (sum(column) for column in zip(*runs, strict=True))
    assert asked >= ticks / 2, "in at least half of all ticks heat has to be asked for, else the property says little"
    assert had >= ticks / 5
