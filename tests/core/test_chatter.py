"""A value that flutters about its limit is one alarm: it calls no more often than one that lasts."""

import random
from copy import deepcopy
from functools import cache

import pytest
from msgspec.structs import replace

from controller.core.requests import Hang
from tests.helpers.bench_chamber import CHAMBER, Bench

TWO = replace(
    CHAMBER,
    channels=(*CHAMBER.channels, "door"),
    outputs=tuple(output for output in CHAMBER.outputs if output.role != "cooler"),
)
"""Without cold: told values do not fall when it is given, which would be an alarm of its own."""


@cache
def fermenting() -> Bench:
    """Return the hour and a half that these stories have in common; each goes on with a copy."""
    bench = Bench(TWO).run(minutes=20, air_temp=36.0, rh_temp=36.0, door=0.0).tick(Hang(id="hang"))
    return bench.run(minutes=61)


def flutter(bench: Bench, minutes: float, noise: float, seed: int = 1, **at: float) -> dict[str, int]:
    """Let values flutter; return how often each occurrence has called, the calls that are due by time left out."""
    rng = random.Random(seed)
    seen: dict[str, int] = {}
    ramp = 20.0 * 12
    for count in range(round(minutes * 12)):
        left = 1.0 - min(
            count / ramp, 1.0
        )  # What falls does so slowly; what rises slowly would be heat without a lamp.
        says = {name: c + left * max(36.0 - c, 0.0) + rng.uniform(-noise, noise) for name, c in at.items()}
        bench.tick(rh=85.0 + rng.uniform(-1.0, 1.0), **says)
        assert bench.outcome is not None
        for event in bench.outcome.events:
            if event.kind in {"alarm", "alarm again"}:
                seen[event.id] = seen.get(event.id, 0) + 1
    return seen


@pytest.mark.parametrize(
    ("names", "noise", "at"),
    [
        ({"S9-1"}, 0.12, {"air_temp": 36.0, "rh_temp": 32.8}),
        ({"A2-1", "H9-1"}, 0.12, {"air_temp": 36.0, "rh_temp": 39.2}),
        ({"S9-1"}, 0.12, {"air_temp": 36.0, "rh_temp": 37.8}),
        ({"A2-1"}, 0.1, {"air_temp": 44.0, "rh_temp": 45.0}),
    ],
)
@pytest.mark.parametrize("seed", [1, *(pytest.param(seed, marks=pytest.mark.long) for seed in (2, 3))])
def test_about_its_limit_it_is_one_occurrence(
    names: set[str], noise: float, at: dict[str, float], seed: int
) -> None:  # fmt: skip
    calls = flutter(deepcopy(fermenting()), 180.0, noise, seed, **at)
    assert set(calls) == names
    lasting = 180 // 15 + 1  # So often calls one that is urgent, and that nobody has seen.
    assert sum(calls.values()) <= lasting + 2
