"""What ends a stage is not waved through: chills, cooks and confirmations, each asked back, answered and recorded."""

import pytest
from msgspec.structs import replace

from controller.core.people.core_checks import most_change_k
from controller.core.plan import Stage, Until
from controller.core.requests import Confirm, Cool, Hang, Next, Ph
from tests.helpers.bench_chamber import CHAMBER, Bench
from tests.helpers.pieces_bench import DRY, REST, bench_in, core, refused, told, weigh
from tests.helpers.readings import answer, fermenting, later

COOK = Stage(
    name="cook", kind="cook", where="elsewhere", air_temp_c=75.0, at_least_h=2.0,
    until=Until(core_temp_c=68.0, confirm=True),
)  # fmt: skip
CHILL = Stage(name="chill", kind="chill", where="elsewhere", air_temp_c=4.0, until=Until(confirm=True))


def hours_pass(bench: Bench, hours: float) -> None:
    """Let both clocks go on by so much."""
    bench.now_s += hours * 3600.0
    bench.wall_s += hours * 3600.0


def chilling(*cooked: str) -> Bench:
    """Return a chill an hour after a cook in which these pieces had 70 °C."""
    bench = bench_in(replace(COOK, at_least_h=0.0, until=Until(core_temp_c=65.0)), CHILL, REST)
    for piece in cooked:
        told(bench, core(f"{piece}1", -40.0, 60.0, piece))
    for piece in cooked:
        told(bench, core(f"{piece}2", 0.0, 70.0, piece))
    bench.tick()
    assert bench.batch.stage.name == "chill"
    hours_pass(bench, 6.0)
    return bench


def test_no_window_is_through_in_time_while_a_piece_is_hot() -> None:
    bench = chilling("A", "B")
    told(bench, core("k1", 60.0, 4.0, "A", sure=True))
    said = told(bench, core("k2", 61.0, 66.0, "B"))
    assert "through every window" not in said
    assert "the clock runs from the last reading at or above 54.4 °C, and this is one (B)." in said


def test_a_piece_that_was_cooked_and_never_read_again_is_not_through() -> None:
    bench = chilling("A", "B")
    said = told(bench, core("k1", 100.0, 20.0, "A"))
    said = told(bench, core("k2", 200.0, 4.0, "A"))
    assert "through every window" not in said
    assert "B has not been measured in this chill" in said
    assert "B has not been measured" in refused(bench, Confirm(id="y"))
    told(bench, core("k3", 201.0, 4.0, "B"))
    bench.tick(Confirm(id="z"))
    assert bench.batch.stage.name == "rest"


def test_a_way_down_that_nobody_saw_begin_is_not_through() -> None:
    bench = bench_in(CHILL, REST)
    hours_pass(bench, 6.0)
    said = told(bench, core("k1", 1.0, 45.0, "A"))
    assert "through every window" not in said
    assert "the first reading lies below 54.4 °C already: nobody saw when the way down began." in said
    assert "(A)" in said
    told(bench, core("k2", 120.0, 4.0, "A"))
    assert "nobody saw" in answer(bench)


def test_a_piece_that_is_warm_again_is_not_through() -> None:
    bench = chilling("A")
    told(bench, core("k1", 100.0, 20.0, "A"))
    assert "through every window" in told(bench, core("k2", 200.0, 4.0, "A"))
    said = told(bench, core("k3", 260.0, 12.0, "A"))
    assert "through every window" not in said
    assert "The last core in A is 12.0 °C, and the chill ends at 4.4 °C or less." in said


def test_a_chill_with_a_hot_core_is_not_confirmed_in_passing() -> None:
    bench = chilling("A")
    told(bench, core("k1", 60.0, 66.7, "A"))  # 152 °F.
    said = refused(bench, Confirm(id="y"))
    assert "The last core in A is 66.7 °C, and the chill ends at 4.4 °C or less" in said
    assert "the chill is unproved if it is over now" in said
    assert "--sure" in said
    assert bench.batch.stage.name == "chill"
    bench.tick(Confirm(id="z", sure=True))
    assert bench.batch.stage.name == "rest"
    assert any("confirmed, unproved: The last core in A is 66.7" in event for event in bench.events)


def test_a_chill_in_which_nothing_was_measured_is_asked_back() -> None:
    bench = chilling("A")
    assert "no core has been measured in this chill" in refused(bench, Confirm(id="y"))


def test_no_meat_falls_from_100_to_35_fahrenheit_in_seconds() -> None:
    bench = chilling("A")
    told(bench, core("k1", 60.0, 37.8, "A"))
    said = refused(bench, core("k2", 60.2, 1.7, "A"))
    assert "core 1.7 °C in A: it was 37.8 °C" in said
    assert "55 mm change by 6 K at most in that time; wrong unit, place or piece?" in said
    told(bench, core("k3", 60.2, 1.7, "A", sure=True))


def test_the_most_a_core_changes_is_the_slowest_mode_of_a_cylinder() -> None:
    # theta = 1.602 exp(-5.783 Fo) on the axis of a long cylinder in well-stirred water, from Fo = 0.2 on: Incropera and
    # DeWitt, Fundamentals of Heat and Mass Transfer, table 5.1, Bi = 100 (C1 1.6015, zeta 2.3809), from memory.
    fo = 0.3
    seconds = fo * 0.0275**2 / 1.3e-7
    exact_k = 60.0 * (1.0 - 1.6015 * 2.718281828 ** (-(2.3809**2) * fo))
    assert exact_k < most_change_k(64.0, 4.0, seconds, 55.0) < 60.0


def test_a_mistyped_piece_is_asked_back_in_core_as_in_weigh() -> None:
    bench = bench_in(COOK, REST)
    bench.tick(weigh("w", 0.0, A=400.0, B=410.0))
    assert "did you mean A?" in refused(bench, core("k", 1.0, 60.0, "a"))
    told(bench, core("k0", 1.0, 60.0, "a", sure=True))
    bench = bench_in(COOK, REST)
    told(bench, core("k1", 1.0, 60.0, "thick"))
    assert "thik: no core of it so far; did you mean thick?" in refused(bench, core("k2", 2.0, 60.0, "thik"))
    told(bench, core("k3", 2.0, 60.0, "thin one"))


def test_an_early_confirmation_is_answered_with_what_is_still_wanted() -> None:
    bench = bench_in(COOK, REST)
    told(bench, core("k1", 1.0, 64.0, "A"))
    said = told(bench, Confirm(id="y", sure=True))
    assert "noted; still wanted: 2 h, core 68.0 °C in A (now 64.0 °C; typed wrong? hangroom core TEMP" in said
    assert "--piece A --replaces k1)" in said
    assert "Then cook ends by itself." in said


def test_a_cook_at_its_mark_for_an_instant_is_not_confirmed_without_its_log() -> None:
    bench = bench_in(replace(COOK, at_least_h=0.0), REST)
    told(bench, core("k1", 30.0, 68.0, "A"))
    said = refused(bench, Confirm(id="n"))
    assert "lethality: Salmonella 0.0 of 6.5 log by the readings" in said
    assert "the cook is unproved if it is over now" in said
    assert bench.batch.stage.name == "cook"
    # 68.0 °C is 154.4 °F; the row of 154 °F asks for 27 s (FSIS Appendix A, 6.5 log).
    told(bench, core("k2", 31.0, 68.0, "A"))
    told(bench, Confirm(id="y"))
    assert bench.batch.stage.name == "rest"


def test_a_confirmation_that_ends_the_stage_says_what_comes_now() -> None:
    rest = replace(REST, note="Lay the pieces into the fridge.")
    bench = bench_in(replace(REST, name="first"), rest)
    said = told(bench, Confirm(id="y"))
    assert "first is over with it. Now rest. Lay the pieces into the fridge." in said
    assert bench.batch.stage.name == "rest"
    assert any("Now rest. Lay the pieces" in event for event in bench.events)


def test_a_cook_is_not_skipped_without_a_word() -> None:
    bench = bench_in(COOK, REST)
    said = refused(bench, Next(id="n1", because="hungry"))
    assert "cook ends before its time, and unproved is then: lethality: Salmonella 0.0 of 6.5 log" in said
    assert "the core has not been measured, 68.0 °C is wanted" in said
    assert "trichinae" in said
    told(bench, core("k1", 1.0, 50.0, "A"))
    said = told(bench, Next(id="n2", because="hungry", sure=True))
    assert "cook is ended, unproved: lethality" in said
    assert "Now rest." in said
    assert any("ended by a person: hungry, unproved: lethality" in event for event in bench.events)


def test_next_says_that_the_batch_is_complete() -> None:
    bench = bench_in(replace(DRY, name="dry-1"), replace(DRY, name="dry-2"), at=1)
    said = told(bench, Next(id="n", because="firm enough"))
    assert "dry-2 is ended. The batch is complete" in said
    assert "Now" not in said


def test_hanging_without_weights_says_what_that_means_and_hanging_twice_says_the_right_way() -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0)
    said = told(bench, Hang(id="h"))
    assert "its loss cannot be judged" in said
    assert "dry cannot end by weight before that" in said
    assert "hangroom weigh A=412 B=398 (the first one" in refused(bench, Hang(id="h2"))
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0)
    assert "cannot be judged" not in told(bench, Hang(id="h", pieces_g={"A": 430.0}))
    assert "hangroom weigh A=430 --replaces h;" in refused(bench, Hang(id="h2"))


def test_ounces_typed_as_grams_are_asked_back_at_hanging() -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0)
    bench.tick(Hang(id="h", pieces_g={"A": 16.0}))
    assert "A: 16 g is less than 4 cm of 55 mm casing weigh (100 g): oz typed as g?" in answer(bench)
    assert bench.batch.hung_s is None
    told(bench, Hang(id="h2", pieces_g={"A": 16.0}, sure=True))


def test_a_box_without_a_cooler_says_what_it_can_come_down_to() -> None:
    bench = later(fermenting(), 20.0)
    bench.chamber = replace(CHAMBER, outputs=tuple(one for one in CHAMBER.outputs if one.role != "cooler"))
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.1, instrument="meter"))
    said = told(bench, Cool(id="c", from_wall_s=bench.wall_s + 3600.0))
    assert "it comes down to the room at most, 15 to 24 °C by the chamber file (it has no cooler)" in said
    assert "wanted" not in said


@pytest.mark.parametrize("later_s", [3600.0 + 1.0 / 3.0, 7200.7, 9000.1])
def test_the_time_that_was_typed_is_the_time_that_is_said(later_s: float) -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.1, instrument="meter"))
    bench.wall_s += later_s  # The clock stands anywhere between two minutes.
    typed_s = (bench.wall_s // 3600.0 + 2.0) * 3600.0
    assert ":00 UTC on (" in told(bench, Cool(id="c", from_wall_s=typed_s))
