"""A slip of any verb is told back and changes nothing: the memory is as it was but for the id that was answered."""

from typing import Final, get_args

import pytest
from msgspec.structs import replace

from controller.core.memory import Inputs, Memory
from controller.core.people.desk import serve
from controller.core.plan import Stage, Until
from controller.core.requests import (
    Adjust,
    Calibrate,
    Clear,
    Command,
    Confirm,
    Cool,
    CoreTemp,
    End,
    Hang,
    Heard,
    Hold,
    Learn,
    Look,
    Next,
    Note,
    Ph,
    Quiet,
    Report,
    Request,
    Resume,
    Seen,
    Smoker,
    Sound,
    Start,
    StopLearning,
    WaterActivity,
)
from controller.core.values import InstrumentCheck
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench
from tests.helpers.pieces_bench import DRY, REST, bench_in, core, told, weigh

AT_S: Final = WALL_S + 86_400.0
SMOKE: Final = Stage(name="smoke", kind="smoke", where="elsewhere", until=Until(confirm=True), air_temp_c=45.0)
METER: Final = InstrumentCheck("meter 1", "buffers", (("7.00", 7.0, 4.02), ("4.01", 4.01, 7.01)), "pH", temp_c=20.0)


def drying() -> Bench:
    """Return a batch that dries, weighed and measured once."""
    bench = bench_in(DRY, REST)
    told(bench, weigh("w0", 0.0, A=400.0, B=420.0))
    told(bench, Ph(id="p0", at_wall_s=WALL_S + 60.0, value=4.9, instrument="meter 1"))
    told(bench, core("c0", 2.0, 13.0))
    return bench


def souring() -> Bench:
    """Return a batch that ferments, measured once."""
    bench = bench_in(PROFILE.stages[1], DRY)
    told(bench, Ph(id="p0", at_wall_s=WALL_S + 60.0, value=5.0, instrument="meter 1", sure=True))
    return bench


def fresh() -> Bench:
    """Return a batch whose chamber still warms."""
    return Bench()


def smoked() -> Bench:
    """Return a batch in the smoke, elsewhere."""
    bench = bench_in(SMOKE, DRY)
    told(bench, Smoker(id="s0", at_wall_s=WALL_S, value_c=45.0))
    return bench


def silent() -> Bench:
    """Return a batch in a chamber without a sounder."""
    return Bench(replace(CHAMBER, outputs=tuple(output for output in CHAMBER.outputs if output.role != "sounder")))


SLIPS: Final[tuple[tuple[str, Bench, Request, str], ...]] = (
    ("a name twice", drying(), Start(id="x", batch="b", profile=PROFILE, meat_kg=5.0), "exists already"),
    ("lb for kg by far", fresh(), Start(id="x", batch="c", profile=PROFILE, meat_kg=5000.0), "this cannot be"),
    ("hung twice", drying(), Hang(id="x", pieces_g={"A": 400.0}), "hung already"),
    ("a digit too many", fresh(), Hang(id="x", pieces_g={"A": 40_000.0}), "lb for kg, or a digit too many?"),
    ("nothing to confirm", drying(), Confirm(id="x"), "asks for no confirmation"),
    ("no reason", drying(), Next(id="x", because=" "), "only with a reason"),
    ("no such batch to pause", drying(), Hold(id="x", batch="b2"), "no such open batch"),
    ("not paused", drying(), Resume(id="x"), "nothing to resume"),
    ("no such batch to end", drying(), End(id="x", batch="b2"), "no such open batch"),
    ("no ferment to cool", drying(), Cool(id="x", from_wall_s=AT_S), "is no ferment"),
    ("75 in a °C field", drying(), Adjust(id="x", air_temp_c=55.0, because="°F"), "--air-temp 55 °C"),
    ("a share for a humidity", drying(), Adjust(id="x", rh_pct=0.78, because="drier"), "did you mean 78?"),
    ("no such alarm", drying(), Seen(id="x", alarm="A9-9"), "there is no such alarm"),
    ("no such alarm to quiet", drying(), Quiet(id="x", alarm="A9-9", for_s=60.0), "there is no such alarm"),
    ("no sounder", silent(), Sound(id="x"), "this chamber has no sounder"),
    ("heard tomorrow", drying(), Heard(id="x", at_wall_s=AT_S + 86_400.0), "ahead"),
    ("no such alarm to clear", drying(), Clear(id="x", alarm="A9-9"), "there is no such alarm"),
    ("pH 53", drying(), Ph(id="x", at_wall_s=AT_S, value=53.0, instrument="meter 1"), "pH 53"),
    ("a pH that rises", souring(), Ph(id="x", at_wall_s=AT_S, value=5.9, instrument="meter 1"), "--sure"),
    ("above the last weight", drying(), weigh("x", 1.0, A=440.0), "is more than 400 g"),
    ("a correction of nothing", drying(), weigh("x", 1.0, replaces="w9", A=390.0), "no such entry to replace"),
    ("a stranger", drying(), weigh("x", 1.0, Q=390.0), "has never been weighed"),
    ("75 for a core that dries", drying(), core("x", 9.0, 75.0), "did you mean 75F"),
    ("a core that cannot be", drying(), CoreTemp(id="x", at_wall_s=AT_S, value_c=400.0), "this cannot be"),
    ("°F of a smoker", smoked(), Smoker(id="x", at_wall_s=AT_S, value_c=113.0), "did you mean 113F"),
    ("aw in per cent", drying(), WaterActivity(id="x", at_wall_s=AT_S, value=91.0, instrument="lab"), "aw 91"),
    ("a look at a stranger", drying(), Look(id="x", at_wall_s=AT_S, piece="Q", looks={"look": "dry"}), "Q"),
    ("no such batch to note", drying(), Note(id="x", batch="b2", at_wall_s=AT_S, text="hi"), "no such open batch"),
    ("a step test beside meat", drying(), Learn(id="x", test="t"), "is in the chamber"),
    ("no step test to end", drying(), StopLearning(id="x"), "no step test runs"),
    ("buffers swapped", drying(), Calibrate(id="x", at_wall_s=AT_S, check=METER), "Nothing was recorded"),
)  # fmt: skip


def test_every_verb_has_a_slip_here() -> None:
    assert {type(slip) for _, _, slip, _ in SLIPS} == {*get_args(Command), *get_args(Report)}


def without_the_answer(memory: Memory) -> Memory:
    return replace(memory, answered=(), refused=())


@pytest.mark.parametrize(("bench", "slip", "says"), [row[1:] for row in SLIPS], ids=[row[0] for row in SLIPS])
def test_a_slip_is_told_back_and_nothing_is_overwritten(bench: Bench, slip: Request, says: str) -> None:
    before = bench.memory
    inputs = Inputs(bench.now_s + 5.0, AT_S, wall_trusted=True, readings={}, requests=(slip,))
    done, answer = serve(before, slip, inputs, bench.chamber)
    assert not answer.done
    assert says.lower() in answer.text.lower()
    assert without_the_answer(done.memory) == without_the_answer(before)
    assert (done.memory.answered, done.memory.refused) == ((*before.answered, "x"), (*before.refused, "x"))
    assert (done.entries, done.checks) == ((), ())
    assert {event.kind for event in done.events} <= {"refused"}
