"""Whatever sensors and people say, a tick ends with an outcome: `step` never raises, and its commands stay short."""

import random
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.plan import Chamber, Profile, Recipe, Stage, StageKind, Until
from controller.core.requests import (
    Adjust,
    Calibrate,
    Clear,
    Confirm,
    Cool,
    CoreTemp,
    End,
    Hang,
    Heard,
    Hold,
    Look,
    Next,
    Note,
    Ph,
    Quiet,
    Request,
    Resume,
    Seen,
    Smoker,
    Sound,
    Start,
    WaterActivity,
    Weigh,
)
from controller.core.restart import after_restart
from controller.core.soundness import why_unsound
from controller.core.values import Channel, CheckMethod, FaultKind, InstrumentCheck
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench

EVERY_CHANNEL: Chamber = replace(CHAMBER, channels=get_args(Channel), response_s={"air_temp": 400.0, "rh_temp": 4.0})
NUMBERS = (0.0, -0.0, 1e308, -1e308, float("nan"), float("inf"), float("-inf"), 85.0, 127.9375, 1e-300, 99.99, 100.5)
NAMES = ("", "b", "b2", "nobody", "A2-1", "S1-1", "S3-1", "S8-1", "Z", "ä" * 300)


def said(rng: random.Random) -> float | FaultKind:
    """Return anything that a sensor can say."""
    if rng.random() < 0.2:
        return rng.choice(get_args(FaultKind))
    return rng.choice(NUMBERS) if rng.random() < 0.3 else rng.uniform(-20.0, 110.0)


def odd(rng: random.Random, *usual: float | None) -> float:
    """Return one of the usual values, or anything."""
    return rng.choice((*usual, *usual, *NUMBERS, rng.uniform(-20.0, 130.0)))  # type: ignore[return-value]


def profiled(rng: random.Random) -> Profile:
    """Return the bench's profile, or one whose figures nobody has checked."""
    if rng.random() < 0.3:
        return PROFILE
    stages = tuple(
        Stage(
            name=f"s{place}", kind=rng.choice(get_args(StageKind)), where=rng.choice(("chamber", "elsewhere")),
            until=Until(
                ph_at_most=odd(rng, None, 4.8), hours=odd(rng, None, 1.0), core_temp_c=odd(rng, None, 68.0),
                weight_loss_pct=odd(rng, None, 35.0), confirm=rng.random() < 0.3,
            ),
            air_temp_c=odd(rng, None, 13.0, 36.0), rh_pct=odd(rng, None, 80.0), ramp_h=odd(rng, 0.0, 6.0),
            fan_min_per_h=odd(rng, 0.0), fresh_air_min_per_day=odd(rng, 0.0), at_least_h=odd(rng, 0.0),
            at_most_h=odd(rng, None, 48.0), ph_due_h=rng.choice(((), (12.0, 24.0), (odd(rng, 1.0), odd(rng, 2.0)))),
        )
        for place in range(rng.choice((0, 1, 2, 3)))
    )  # fmt: skip
    one_figure = rng.random() < 0.5  # Else most are refused at the first of many odd ones.
    if one_figure:
        stages = tuple(replace(stage, **changed(rng)) for stage in PROFILE.stages)
    recipe = Recipe(salt_pct=odd(rng, 2.6), cure_pct=odd(rng, 0.25), dextrose_pct=odd(rng, 0.3))
    return replace(PROFILE, stages=stages, per_kg=recipe if rng.random() < 0.3 else PROFILE.per_kg)


def changed(rng: random.Random) -> dict[str, Any]:
    """Return one field of a stage with anything in it, or none."""
    name = rng.choice(("air_temp_c", "rh_pct", "ramp_h", "fan_min_per_h", "at_least_h", "at_most_h", "where", ""))
    return {"": {}, "where": {"where": "elsewhere"}}.get(name, {name: odd(rng, 13.0)})


def checked(rng: random.Random) -> InstrumentCheck:
    """Return a check of anything by anything."""
    names = ("4.01", "7.00", "ice", "NaCl", "x (own table)", "")
    points = tuple((rng.choice(names), odd(rng, 0.0), odd(rng, 4.0, 7.0)) for _ in range(rng.choice((0, 1, 1, 2))))
    return InstrumentCheck(
        instrument=rng.choice(("meter", "meter 1", "air_temp", "rh", "rh_temp", "probe 1", "")),
        method=rng.choice(get_args(CheckMethod)), points=points, unit=rng.choice(("Cel", "%RH", "pH", "mV", "")),
        temp_c=odd(rng, None, 25.0),
    )  # fmt: skip


def asked(rng: random.Random, name: str) -> Request:
    """Return anything that a person can ask, by every verb."""
    batch, text = rng.choice((*NAMES, "b", "")), rng.choice(("", "x", "5.2 and flat"))
    number = rng.choice((*NUMBERS, rng.uniform(3.5, 7.0)))
    at_s = rng.choice((WALL_S, number, WALL_S + rng.uniform(-1e6, 1e6)))
    who: dict[str, Any] = {"id": name, "batch": batch}
    sure = rng.random() < 0.7
    replaces = rng.choice(("", "", f"r{rng.randrange(60)}-0"))
    grams = {"A": odd(rng, 400.0), rng.choice(("B", "", batch)): 390.0}
    requests: tuple[Request, ...] = (
        Start(id=name, batch=rng.choice((batch, "new")), profile=profiled(rng), meat_kg=rng.choice((5.0, number))),
        Start(id=name, batch="new", profile=PROFILE, meat_kg=5.0, diameter_mm=odd(rng, 55.0)),
        Hang(**who, pieces_g=grams, tare_g=odd(rng, 0.0, 10.0), sure=sure),
        Confirm(**who),
        Next(**who, because=text),
        Hold(**who, because=text),
        Resume(**who, because=text),
        End(**who, aborted=rng.random() < 0.5),
        Ph(**who, at_wall_s=at_s, value=number, instrument=text, replaces=replaces),
        Ph(
            id=name, batch="", at_wall_s=rng.choice((None, at_s)), value=rng.uniform(4.3, 6.0),
            instrument=rng.choice(("meter", "meter 1", "strips")), sample=rng.choice((None, "mince", "sausage")),
            sample_temp_c=number, sure=sure, replaces=replaces,
        ),
        Cool(**who, from_wall_s=rng.choice((None, at_s))),
        Adjust(**who, air_temp_c=odd(rng, None, 20.0), rh_pct=odd(rng, None, 80.0), because=text, sure=sure),
        Weigh(
            **who, at_wall_s=at_s, pieces_g=grams, tare_g=odd(rng, None, 10.0), out=rng.choice(((), ("A",))),
            sure=sure, replaces=replaces,
        ),
        CoreTemp(
            **who, at_wall_s=at_s, value_c=odd(rng, 60.0), piece=rng.choice(("", "A")), sure=sure, replaces=replaces
        ),
        Smoker(**who, at_wall_s=at_s, value_c=odd(rng, 60.0), sure=sure, replaces=replaces),
        WaterActivity(**who, at_wall_s=at_s, value=odd(rng, 0.9), instrument="meter", replaces=replaces),
        Look(**who, at_wall_s=at_s, piece=rng.choice(("", "A")), looks={"look": "tacky"}),
        Calibrate(id=name, at_wall_s=at_s, check=checked(rng), sure=sure),
        Note(**who, at_wall_s=at_s, text=text),
        Seen(id=name, alarm=rng.choice(NAMES)),
        Quiet(id=name, alarm=rng.choice(NAMES), for_s=odd(rng, 0.0, 1800.0)),
        Sound(id=name),
        Heard(id=name, at_wall_s=at_s, heard=sure),
        Clear(id=name, alarm=rng.choice(NAMES)),
    )  # fmt: skip
    return rng.choice(requests)


@settings(max_examples=60, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_a_tick_never_raises_and_never_commands_beyond_two_ticks(seed: int) -> None:
    live_through_anything(seed)


@pytest.mark.long
@settings(max_examples=600)
@given(st.integers(0, 2**32 - 1))
def test_nor_with_other_draws(seed: int) -> None:
    live_through_anything(seed)


def live_through_anything(seed: int) -> None:
    rng = random.Random(seed)
    bench = Bench(EVERY_CHANNEL if seed % 2 else CHAMBER)
    bench.leaves_days_out = False
    if rng.random() < 0.5:
        bench.memory = replace(bench.memory, batches=())
        for number in range(5):  # One of them may be taken.
            bench.tick(Start(id=f"s{number}", batch="b", profile=profiled(rng), meat_kg=5.0))
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
    assert why_unsound(bench.memory) == "", f"what a run leaves is never taken for damaged; replay: seed {seed}"


def test_a_report_that_nobody_foresaw_is_refused_once_and_for_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """A report lies in the box until it is answered: without an answer it would stop the program after each start."""
    monkeypatch.setattr("controller.core.people.ph.impossible", lambda _: f"{1.0 / 0.0}")
    bench = Bench()
    bench.tick(Ph(id="p", at_wall_s=None, value=5.2, instrument="meter"))
    assert bench.outcome is not None
    (answer,) = bench.outcome.answers
    assert not answer.done
    assert "cannot be reckoned with (ZeroDivisionError" in answer.text
    assert any(event.startswith("refused: Not taken") for event in bench.events)
    bench.tick(Ph(id="p", at_wall_s=None, value=5.2, instrument="meter"))
    assert bench.outcome.answers[0].text == "This has been refused already."


@pytest.mark.parametrize(
    ("stage", "says"),
    [
        (replace(PROFILE.stages[1], where="elsewhere", air_temp_c=None), "a ferment needs air_temp_c wherever"),
        (replace(PROFILE.stages[1], where="elsewhere", air_temp_c=1e308), "air_temp_c = 1e+308; take -5 to 120"),
        (replace(PROFILE.stages[1], ph_due_h=(float("inf"),)), "ph_due_h = inf; take 0 to 10000"),
        (replace(PROFILE.stages[2], until=Until(hours=float("nan"))), "hours = nan; take 0 to 10000"),
        (replace(PROFILE.stages[2], ramp_h=-1.0), "ramp_h = -1; take 0 to 10000"),
        (replace(PROFILE.stages[2], until=Until(core_temp_c=1e9)), "core_temp_c = 1e+09; take 0 to 100"),
    ],
)
def test_a_start_with_figures_that_no_checked_profile_has_is_refused(stage: Stage, says: str) -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    bench.tick(Start(id="s", batch="n", profile=replace(PROFILE, stages=(stage,)), meat_kg=5.0))
    assert bench.outcome is not None
    assert says in bench.outcome.answers[0].text
    assert bench.memory.batches == ()


@pytest.mark.parametrize("rh_temp_c", [-400.0, -273.15, 1e9, float("nan"), float("inf")])
def test_a_temperature_below_absolute_zero_or_of_no_number_at_the_humidity_sensor_opens_no_door(
    rh_temp_c: float,
) -> None:
    bench = Bench().run(minutes=3, air_temp=36.0, rh_temp=36.0, rh=85.0)
    for _ in range(24):
        bench.tick(rh_temp=rh_temp_c)
        assert bench.outcome is not None
        assert not bench.outcome.known.door_open
