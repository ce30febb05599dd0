"""The modelled maker at work: a whole short batch, with the real daemon deciding."""

from itertools import pairwise

import pytest

from controller import daemon
from controller.core.memory import Batch, Memory, Outcome
from controller.core.plan import Profile, Stage, Until
from controller.core.requests import Seen
from controller.core.restart import first_memory
from controller.core.values import Answer, Entry, Event, Trouble
from controller.simulator.faults import parse_faults
from controller.simulator.maker import Maker
from controller.simulator.world import World
from tests.helpers.bench_chamber import CHAMBER, PROFILE
from tests.helpers.simulated_chambers import BEGIN_WALL_S, SteadyMeat, chamber_of

DAYS = 2.75
"""The meat has dried for two days then, and is weighed for the second time."""

SHORT = Profile(
    **{
        **{field: getattr(PROFILE, field) for field in PROFILE.__struct_fields__},
        "stages": (
            Stage(name="warm", kind="warm-up", until=Until(hours=0.25, confirm=True), air_temp_c=30.0, rh_pct=85.0),
            Stage(name="ferment", kind="ferment", until=Until(ph_at_most=5.0), air_temp_c=30.0, ph_due_h=(2.0, 4.0)),
            Stage(name="smoke", kind="smoke", where="elsewhere", until=Until(confirm=True), air_temp_c=40.0),
            Stage(
                name="cook",
                kind="cook",
                where="elsewhere",
                air_temp_c=75.0,
                until=Until(core_temp_c=66.0, confirm=True),
            ),
            Stage(name="chill", kind="chill", where="elsewhere", until=Until(confirm=True), air_temp_c=2.0),
            Stage(
                name="dry", kind="dry", until=Until(weight_loss_pct=11.0), air_temp_c=20.0, rh_pct=75.0, at_least_h=12.0
            ),
        ),
    }
)


class SouringMeat(SteadyMeat):
    """Be meat that sours by a tenth an hour while it is warm."""

    def advance(self, dt_s: float, temp_c: float, evaporated_kg: float) -> None:
        super().advance(dt_s, temp_c, evaporated_kg)
        if temp_c > 15.0:
            self.ph = max(4.7, self.ph - 0.1 * dt_s / 3600.0)


class Notebook:
    """Keep what the daemon hands over, in memory."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []
        self.answers: list[Answer] = []
        self.events: list[Event] = []

    def keep(self, memory: Memory, outcome: Outcome) -> None:  # noqa: ARG002 - the port's
        self.entries += outcome.entries
        self.answers += outcome.answers
        self.events += outcome.events

    def trouble(self) -> tuple[Trouble, ...]:
        return ()

    def close(self) -> None:
        pass


def batch_of(days: float, *faults: str) -> tuple[World, Memory, Notebook, Maker]:
    """Let the daemon and the maker run a batch of the short profile for so long."""
    chamber = chamber_of("old-fridge", master=True)
    world = World(
        chamber, begin_wall_s=BEGIN_WALL_S, seed=5, faults=parse_faults(faults), ends_s=days * 86_400.0, ambient_c=18.0
    )
    maker, notebook = Maker(world, lambda batch: SouringMeat(batch.meat_kg, temp_c=4.0)), Notebook()
    memory = first_memory(CHAMBER, world.clock.monotonic_s(), BEGIN_WALL_S, world.clock.boot_id())
    batch = Batch(id="b", profile=SHORT, began_wall_s=BEGIN_WALL_S, stage_began_wall_s=BEGIN_WALL_S, meat_kg=4.0)
    memory = Memory(**{**{f: getattr(memory, f) for f in memory.__struct_fields__}, "batches": (batch,)})
    ports = daemon.Ports(
        world.clock, world.sensors, world.relays, notebook, maker, world.chores, world.supervisor, world.machine
    )

    def watch(memory: Memory, outcome: Outcome) -> None:
        maker.look(memory, outcome.now_s)

    return world, daemon.run(memory, CHAMBER, ports, watch=watch), notebook, maker


@pytest.fixture(scope="module")
def whole() -> tuple[World, Memory, Notebook, Maker]:
    return batch_of(DAYS)


def test_a_short_batch_goes_through_all_its_stages_by_the_makers_hands(
    whole: tuple[World, Memory, Notebook, Maker],
) -> None:
    world, memory, notebook, _ = whole
    batch = memory.batches[0]
    assert batch.state == "complete"
    assert [(end.name, end.by) for end in batch.ended] == [
        ("warm", "hang"), ("ferment", "until"), ("smoke", "until"),
        ("cook", "until"), ("chill", "until"), ("dry", "until"),
    ]  # fmt: skip
    assert all(answer.done for answer in notebook.answers)
    assert world.supervisor.alives == round(DAYS * 17_280)


def test_his_requests_are_numbered_and_each_is_answered_once(whole: tuple[World, Memory, Notebook, Maker]) -> None:
    _, _, notebook, _ = whole
    names = [answer.request_id for answer in notebook.answers]
    assert names == [f"maker-{n + 1}" for n in range(len(names))]


def test_he_hangs_only_when_the_box_is_warm_and_weighs_the_pieces_first(
    whole: tuple[World, Memory, Notebook, Maker],
) -> None:
    _, memory, notebook, _ = whole
    batch = memory.batches[0]
    assert batch.hung_s is not None
    assert batch.hung_s >= 900.0  # The profile's quarter of an hour.
    green = [entry for entry in notebook.entries if entry.kind == "weight" and entry.at_wall_s == batch.hung_wall_s]
    assert {entry.piece for entry in green} == {"A", "B", "C"}
    assert all(300.0 < float(entry.value) < 500.0 for entry in green)


def test_he_measures_the_ph_when_asked_and_at_least_every_two_hours_near_the_end(
    whole: tuple[World, Memory, Notebook, Maker],
) -> None:
    _, memory, _, _ = whole
    batch = memory.batches[0]
    assert batch.hung_wall_s is not None
    hours = [(at_s - batch.hung_wall_s) / 3600.0 for at_s, _ in batch.ph]
    assert hours[:2] == pytest.approx([2.0, 4.0], abs=0.05)
    of_mince = [reading for reading in batch.ph_readings if not reading.from_sausage]
    near = [(reading.at_wall_s - batch.hung_wall_s) / 3600.0 for reading in of_mince if reading.value <= 5.3]
    assert all(later - earlier < 2.1 for earlier, later in pairwise(near))  # The program may ask earlier.
    assert hours[-1] - hours[-2] < 0.05  # The wrapped sample had reached it, so he was asked for a real sausage.
    assert batch.ph_readings[-1].from_sausage
    assert all(value + 0.05 <= 5.0 for _, value in batch.ph[-2:])  # The meter's error stands on his side of it.
    assert all(earlier - later > -0.1 for (_, earlier), (_, later) in pairwise(batch.ph))


def test_he_cooks_to_the_core_temperature_and_weighs_every_other_day(
    whole: tuple[World, Memory, Notebook, Maker],
) -> None:
    world, _, notebook, _ = whole
    cores = [float(entry.value) for entry in notebook.entries if entry.kind == "core_temp"]
    assert max(cores) >= 66.0
    assert world.meat_is_in
    assert world.meat is not None
    weights = [entry for entry in notebook.entries if entry.kind == "weight"]
    hung_s, *weighed = sorted({entry.at_wall_s for entry in weights})
    assert len(weighed) == 2  # At the beginning of the drying and two days later.
    assert weighed[1] - weighed[0] == pytest.approx(2 * 86_400.0, abs=120.0)
    last = {e.piece: float(e.value) for e in weights if e.at_wall_s == weighed[-1]}
    green = {e.piece: float(e.value) for e in weights if e.at_wall_s == hung_s}
    losses = {piece: 100.0 * (1.0 - last[piece] / green[piece]) for piece in green}
    assert losses["A"] < losses["C"]  # The slow piece.
    assert losses["A"] / losses["B"] == pytest.approx(0.97, abs=0.09)  # Each was weighed to about a gram of fifty.
    assert 11.0 < losses["B"] < world.meat.weight_loss_pct


def test_he_sees_an_alarm_after_ten_minutes() -> None:
    _, memory, notebook, maker = batch_of(0.1, "missing@1h/40m")
    seen = [event for event in notebook.events if "seen" in event.kind or "acknowledge" in event.kind]
    assert seen or any(alarm.seen for alarm in memory.alarms)
    assert not any(isinstance(request, Seen) for request in maker.take())
