"""What waited for a pH ends by nothing else: not by weight, core, hours or a person's word, once its 5.3 is gone."""

import pytest
from msgspec.structs import replace

from controller.core.plan import Profile, Stage, Until
from controller.core.requests import Adjust, Confirm, Cool, CoreTemp, Hang, Next, Ph, Weigh
from controller.settings.profile_file import find_profile, read_profile
from tests.helpers.bench_chamber import PROFILE, Bench
from tests.helpers.readings import answer, fermenting, later, refused

REST = Stage(name="rest", kind="rest", until=Until(hours=1.0), air_temp_c=13.0)
HEATED = replace(
    PROFILE,
    stages=(
        *PROFILE.stages[:2],
        Stage(name="smoke", kind="smoke", where="elsewhere", air_temp_c=45.0, until=Until(confirm=True)),
        Stage(name="cook", kind="cook", where="elsewhere", until=Until(core_temp_c=68.0)),
        REST,
    ),
)
RESTED = replace(PROFILE, stages=(*PROFILE.stages[:2], REST))
HOURS = replace(PROFILE.stages[1], until=Until(ph_at_most=5.0, hours=12.0))
KILLED = replace(PROFILE, stages=(PROFILE.stages[0], HOURS, PROFILE.stages[2]))


def soured(profile: Profile = PROFILE) -> Bench:
    """Return a batch whose ferment has just ended on pH 4.7 in a real sausage."""
    bench = later(fermenting(profile), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=4.7, instrument="meter", sample="sausage", sure=True))
    assert bench.tick().batch.stage.kind != "ferment"
    return bench


def corrected_away(bench: Bench) -> Bench:
    """Return it after that pH has turned out to be 5.7."""
    return bench.tick(Ph(id="a2", at_wall_s=None, value=5.7, instrument="meter", replaces="a", sure=True))


def test_weight_ends_no_drying_whose_5_3_was_corrected_away() -> None:
    bench = corrected_away(soured())
    bench.tick(Weigh(id="w", at_wall_s=bench.wall_s, pieces_g={"A": 250.0, "B": 255.0}, sure=True)).run(minutes=1)
    assert bench.batch.stage.name == "dry"
    assert "no pH that stands has been at or below 5.3" in refused(bench, Next(id="n", because="x"))
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=4.8, instrument="meter", sample="sausage", sure=True)).tick()
    assert bench.batch.state == "complete"


def test_neither_a_word_nor_a_core_ends_what_follows() -> None:
    bench = corrected_away(soured(HEATED))
    bench.tick(Confirm(id="c"))
    assert "still wanted: a pH at or below 5.3 in a real sausage: none that stands is" in answer(bench)
    bench.tick()
    assert bench.batch.stage.name == "smoke"
    cooked = soured(HEATED)
    cooked.tick(Confirm(id="c")).tick()
    corrected_away(cooked)
    later(cooked, 1.0)
    cooked.tick(CoreTemp(id="k", at_wall_s=cooked.wall_s, value_c=70.0)).tick()
    assert cooked.batch.stage.name == "cook"


def test_hours_end_nothing_either() -> None:
    bench = corrected_away(soured(RESTED))
    glide(bench, 13.0)
    assert later(bench, 3.0).batch.stage.name == "rest"


def test_a_complete_batch_whose_5_3_is_corrected_away_calls_and_says_hold() -> None:
    bench = soured()
    bench.tick(Next(id="n", because="dry enough")).tick()
    assert bench.batch.state == "complete"
    corrected_away(bench).tick()
    alarm = next(alarm for alarm in bench.memory.alarms if alarm.row == "P9")
    assert alarm.active
    assert alarm.priority == "1"
    assert "No pH that stands is at or below 5.3: hold the batch" in alarm.text


def arrived(*, hung: bool = True) -> Bench:
    """Return the shipped profile for sausage from elsewhere, in its first stage."""
    bench = Bench(profile=read_profile(find_profile("dry-only"))).run(minutes=2, air_temp=13.0, rh_temp=13.0)
    return bench.tick(Hang(id="h", pieces_g={"A": 400.0, "B": 400.0})) if hung else bench


@pytest.mark.parametrize("hung", [True, False])
def test_what_comes_from_elsewhere_is_not_dried_without_a_ph(hung: bool) -> None:  # noqa: FBT001
    bench = arrived(hung=hung)
    assert "arrival waits for a pH" in refused(bench, Next(id="n", because="no meter here"))
    assert bench.batch.stage.name == "arrival"


def test_a_ph_of_mince_does_not_let_it_in_and_one_of_a_sausage_does() -> None:
    bench = arrived()
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.2, instrument="meter")).run(minutes=1)
    assert bench.batch.stage.name == "arrival"
    assert any("measure the middle of a real sausage" in event for event in bench.events)
    bench.tick(Ph(id="q", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sample="sausage", sure=True)).tick()
    assert bench.batch.stage.name == "dry-1"


def test_no_hours_count_while_the_ferment_is_let_cool() -> None:
    bench = later(fermenting(KILLED), 10.0)
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sample="sausage", sure=True))
    bench.tick(Cool(id="c", from_wall_s=bench.wall_s))
    assert "let cool" in answer(bench)
    before_s = bench.batch.stage_at_conditions_s
    glide(bench, 13.0)
    later(bench, 6.0)
    assert bench.batch.stage_at_conditions_s - before_s <= bench.chamber.tick_s
    bench.tick(Ph(id="q", at_wall_s=bench.wall_s, value=4.9, instrument="meter", sample="sausage", sure=True)).tick()
    assert bench.batch.stage.name == "ferment"


def test_hours_of_a_stage_set_lower_are_not_the_hours_of_its_card() -> None:
    bench = later(fermenting(KILLED), 2.0)
    bench.tick(Adjust(id="x", air_temp_c=20.0, because="it sours too fast", sure=True))
    glide(bench, 20.0)
    before_s = bench.batch.stage_at_conditions_s
    assert later(bench, 6.0).batch.stage_at_conditions_s == before_s


def glide(bench: Bench, to_c: float) -> None:
    """Let the air come down by a kelvin a minute, as a chamber does."""
    air_c = float(bench.says["air_temp"])
    while air_c > to_c:
        air_c = max(air_c - 0.9, to_c)
        bench.now_s += 55.0
        bench.wall_s += 55.0
        bench.tick(air_temp=air_c, rh_temp=air_c)
