"""What a person measures at the modelled meat, the hands that carry it, and time that stands still."""

import pytest

from controller.food.acid import BUFFER, MIX_PH, ph_of_acid
from controller.simulator.bench import PIECES, TARE_G, Bench
from controller.simulator.sausage import Sausage
from controller.simulator.standing import StandingTime
from controller.simulator.world import World
from tests.helpers.simulated_chambers import BEGIN_WALL_S, SteadyMeat, chamber_of


def bench_in(seed: int = 1) -> tuple[World, Bench]:
    world = World(chamber_of("old-fridge"), begin_wall_s=BEGIN_WALL_S, seed=seed)
    return world, Bench(world)


def test_who_looks_twice_at_once_sees_the_same_and_later_something_else() -> None:
    world, bench = bench_in()
    meat = SteadyMeat(3.0)
    first = (bench.ph(meat), bench.core_temp_c(meat), bench.gross_g("b", meat), bench.water_activity(meat))
    assert first == (bench.ph(meat), bench.core_temp_c(meat), bench.gross_g("b", meat), bench.water_activity(meat))
    assert bench.ph(meat) != bench.ph(meat, "sausage")  # Two samples, two readings.
    world.run_to(3600.0)
    assert first[0] != bench.ph(meat)
    assert abs(first[0] - meat.ph) < 0.15


def test_the_scale_shows_hook_and_string_and_the_slow_piece_loses_least() -> None:
    _, bench = bench_in()
    meat = SteadyMeat(3.0)
    green, true_g = bench.gross_g("b", meat), bench.green_g("b", meat)
    for piece, grams in true_g.items():
        assert green[piece] == pytest.approx(grams + TARE_G, rel=0.01)
    meat.mass_kg *= 0.7
    dried = bench.gross_g("b", meat)
    losses = {piece: 100.0 * (1.0 - (dried[piece] - TARE_G) / (green[piece] - TARE_G)) for piece in PIECES}
    assert losses["A"] == min(losses.values())
    assert losses == {piece: pytest.approx(30.0 * share, abs=1.0) for piece, share in PIECES.items()}


@pytest.mark.parametrize(
    ("aw", "lost", "mould", "looks"),
    [
        (0.97, 0.0, False, ("wet", "soft", "fresh")),
        (0.94, 0.15, False, ("tacky", "springy", "fresh")),
        (0.85, 0.3, False, ("dry", "firm", "fresh")),
        (0.85, 0.3, True, ("white-mould", "firm", "fresh")),
    ],
)
def test_what_is_seen_and_felt_comes_in_the_words_of_the_program(
    aw: float,
    lost: float,
    mould: bool,  # noqa: FBT001
    looks: tuple[str, str, str],
) -> None:
    _, bench = bench_in()
    meat = SteadyMeat(3.0, aw=aw)
    meat.mass_kg *= 1.0 - lost
    assert tuple(bench.looks(meat, mould=mould).values()) == looks


@pytest.mark.parametrize(("ph", "firmness"), [(5.8, "soft"), (5.31, "soft"), (5.3, "springy"), (4.8, "springy")])
def test_once_the_acid_has_set_the_proteins_a_sausage_is_soft_no_more(ph: float, firmness: str) -> None:
    # Common practice, no source; and what the answer to a soft sausage below pH 5.3 says.
    _, bench = bench_in()
    meat = SteadyMeat(3.0)
    meat.ph = ph
    assert bench.looks(meat)["firmness"] == firmness


@pytest.mark.parametrize("ph", [4.8, 5.0, 5.3])
def test_what_was_fermented_elsewhere_holds_the_acid_of_its_ph_and_sours_no_more(ph: float) -> None:
    sausage = Sausage.fermented(diameter_mm=50.0, mass_kg=3.0, ph=ph)
    # The acid goes back through the balance that the ferment itself solves.
    assert ph_of_acid(sausage._ferment.acid, MIX_PH, BUFFER) == pytest.approx(ph, abs=1e-6)
    assert sausage.mean_aw < Sausage(diameter_mm=50.0, mass_kg=3.0, dextrose_pct=0.0).mean_aw
    sausage.advance(48 * 3600.0, 30.0, 0.0)
    assert sausage.ph == ph


class Typist:
    """Be whoever lets time pass: waits are taken one after another, requests when there are some."""

    def __init__(self, *waits: tuple[str, float, bool]) -> None:
        self.waits = [Asked(*wait) for wait in waits]
        self.done: list[tuple[str, float]] = []
        self.requests: frozenset[str] = frozenset()
        self.slept = 0
        self.time = StandingTime(
            take=lambda: self.waits.pop(0) if self.waits else None,
            done=lambda name, passed_s: self.done.append((name, passed_s)),
            requests=lambda: self.requests,
            beat=lambda: None,
            sleep=self._sleep,
        )

    def _sleep(self, seconds: float) -> None:
        self.slept += 1
        assert seconds < 1.0
        assert self.slept < 100, "time stands still for ever"
        if self.slept == 50:
            self.waits.append(Asked("late", 5.0, until_asked=False))


class Asked:
    def __init__(self, name: str, seconds: float, until_asked: bool) -> None:  # noqa: FBT001
        self.id, self.seconds, self.until_asked = name, seconds, until_asked


def test_a_wait_passes_to_the_nearest_tick_and_the_next_begins_then() -> None:
    typist = Typist(("first", 20.0, False), ("second", 11.0, False))
    for _ in range(6):
        typist.time.pace(5.0)
    assert typist.done == [("first", 20.0)]
    assert typist.slept == 1  # One look between the two.
    typist.time.pace(5.0)  # Nothing is left; so time stands until somebody comes.
    assert typist.done == [("first", 20.0), ("second", 10.0)]
    assert typist.slept == 50


def test_a_request_lets_one_tick_pass_while_time_stands() -> None:
    typist = Typist()
    typist.requests = frozenset({"a.json"})
    typist.time.pace(5.0)
    assert (typist.slept, typist.done) == (0, [])


def test_a_request_that_cannot_be_answered_lets_no_hours_pass() -> None:
    typist = Typist()
    typist.requests = frozenset({"a.json"})  # The disk is full: it is still there after its tick.
    typist.time.pace(5.0)
    typist.time.pace(5.0)
    assert typist.slept == 50  # Time stood until somebody let it pass.
    typist.requests |= {"b.json"}
    typist.time.pace(5.0)
    assert typist.slept == 50


def test_only_a_wait_that_asks_for_it_ends_when_the_program_speaks() -> None:
    typist = Typist(("deaf", 10.0, False), ("listening", 100.0, True))
    typist.time.pace(5.0)
    typist.time.program_speaks()
    assert typist.done == []
    typist.time.pace(5.0)
    typist.time.pace(5.0)
    typist.time.program_speaks()
    assert typist.done == [("deaf", 10.0), ("listening", 5.0)]
