"""Whatever sensors and people say, a tick ends with an outcome: `step` never raises, and its commands stay short."""

import random
from typing import get_args

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.plan import Chamber
from controller.core.requests import (
    Clear,
    Confirm,
    Cool,
    CoreTemp,
    End,
    Hang,
    Hold,
    Next,
    Note,
    Ph,
    Request,
    Resume,
    Seen,
    Start,
    Weigh,
)
from controller.core.restart import after_restart
from controller.core.values import Channel, FaultKind
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench

EVERY_CHANNEL: Chamber = replace(CHAMBER, channels=get_args(Channel), response_s={"air_temp": 400.0, "rh_temp": 4.0})
NUMBERS = (0.0, -0.0, 1e308, -1e308, float("nan"), float("inf"), float("-inf"), 85.0, 127.9375, 1e-300, 99.99, 100.5)
NAMES = ("", "b", "b2", "nobody", "A2-1", "S1-1", "Z", "ä" * 300)


def said(rng: random.Random) -> float | FaultKind:
    """Return anything that a sensor can say."""
    if rng.random() < 0.2:
        return rng.choice(get_args(FaultKind))
    return rng.choice(NUMBERS) if rng.random() < 0.3 else rng.uniform(-20.0, 110.0)


def asked(rng: random.Random, name: str) -> Request:
    """Return anything that a person can ask."""
    batch, text = rng.choice(NAMES), rng.choice(("", "x", "5.2 and flat"))
    number, at_s = rng.choice((*NUMBERS, rng.uniform(3.5, 7.0))), WALL_S + rng.uniform(-1e6, 1e6)
    requests: tuple[Request, ...] = (
        Start(id=name, batch=batch, profile=PROFILE, meat_kg=number, heard_wall_s=number),
        Hang(id=name, batch=batch, pieces_g={"A": number, batch: 400.0}),
        Confirm(id=name, batch=batch),
        Next(id=name, batch=batch, because=text),
        Hold(id=name, batch=batch, because=text),
        Resume(id=name, batch=batch, because=text),
        End(id=name, batch=batch, aborted=rng.random() < 0.5),
        Ph(id=name, batch=batch, at_wall_s=at_s, value=number, instrument=text, replaces=rng.choice(NAMES)),
        Ph(
            id=name, batch="", at_wall_s=rng.choice((None, at_s, number)), value=rng.uniform(4.3, 6.0),
            instrument=rng.choice(("meter", "strips")), sample=rng.choice((None, "mince", "sausage")),
            sample_temp_c=number, sure=rng.random() < 0.8, replaces=rng.choice(("", f"r{rng.randrange(60)}-0")),
        ),
        Cool(id=name, batch=batch, from_wall_s=rng.choice((None, at_s, number))),
        Weigh(id=name, batch=batch, at_wall_s=at_s, pieces_g={"A": number, "B": rng.uniform(1.0, 500.0)}),
        CoreTemp(id=name, batch=batch, at_wall_s=at_s, value_c=number),
        Note(id=name, batch=batch, at_wall_s=at_s, text=text),
        Seen(id=name, alarm=batch),
        Clear(id=name, alarm=rng.choice(NAMES)),
    )  # fmt: skip
    return rng.choice(requests)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_a_tick_never_raises_and_never_commands_beyond_two_ticks(seed: int) -> None:
    rng = random.Random(seed)
    bench = Bench(EVERY_CHANNEL if seed % 2 else CHAMBER)
    for number in range(60):
        bench.now_s += rng.choice((0.0, 0.0, -5.0, 30.0, 3600.0))
        bench.wall_s += rng.choice((0.0, 0.0, 0.0, -1e6, 1e9))
        says = {channel: said(rng) for channel in bench.chamber.channels}
        requests = [asked(rng, f"r{number}-{n}") for n in range(rng.choice((0, 0, 1, 3)))]
        bench.tick(*requests, **says)
        outcome = bench.outcome
        assert outcome is not None
        assert len(outcome.answers) == len(requests)
        longest_s = bench.now_s + 2 * bench.chamber.tick_s
        assert all(until_s <= longest_s for until_s in outcome.commands.on_until_s.values()), f"replay: seed {seed}"
        if rng.random() < 0.05:
            trusted, boot = rng.random() < 0.5, rng.choice(("boot-1", "boot-2", ""))
            memory, _ = after_restart(bench.memory, bench.chamber, 50.0, bench.wall_s, boot, wall_trusted=trusted)
            bench.memory, bench.now_s = memory, 50.0
