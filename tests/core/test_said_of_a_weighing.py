"""What the answer to a weighing says: whole grams, the stage that ends with it, and no advice for what is over."""

from msgspec.structs import replace

from controller.core.plan import Until
from controller.core.requests import Weigh
from tests.helpers.bench_chamber import WALL_S, Bench
from tests.helpers.pieces_bench import DAY_S, DRY, REST, alarms_of, bench_in, refused, told, weigh

FIRST = replace(DRY, name="dry-1", until=Until(weight_loss_pct=10.0))
SECOND = replace(DRY, name="dry-2", until=Until(weight_loss_pct=20.0), note="Weigh the marked pieces every few days.")
LAST = replace(DRY, name="dry-3", until=Until(weight_loss_pct=35.0), note="Take out what is firm enough.")


def days_pass(bench: Bench, days: float) -> Bench:
    """Let both clocks go on by so much."""
    bench.now_s += days * DAY_S
    bench.wall_s += days * DAY_S
    return bench.tick()


def test_the_answer_says_what_was_taken_off_and_prints_whole_grams() -> None:
    bench = bench_in(LAST, REST)
    bench.tick(Weigh(id="w0", at_wall_s=WALL_S, pieces_g={"A": 430.0, "B": 421.0}, tare_g=14.0))
    said = told(bench, weigh("w1", 2.0, A=420.4, B=411.6))
    assert said.startswith("b: less 14 g for hook and string: A 406 g, B 398 g.")
    bench = bench_in(LAST, REST)
    bench.tick(weigh("w0", 0.0, A=430.0))
    assert "hook and string" not in told(bench, weigh("w1", 2.0, A=420.0))


def test_a_weighing_that_ends_a_stage_says_which_and_what_comes_now_and_advises_nothing_for_it() -> None:
    bench = bench_in(FIRST, SECOND, REST)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 2.0, A=380.0))
    said = told(bench, weigh("w2", 4.0, A=352.0))  # 3.5 % a day: too fast, were the stage not over.
    assert "dry-1 is over with it. Now dry-2. Weigh the marked pieces every few days." in said
    assert "Typed wrong? hangroom weigh PIECE=GRAMS --replaces w2" in said
    assert "Too fast" not in said
    assert "hangroom set" not in said
    assert "Estimated" not in said
    assert bench.batch.stage.name == "dry-2"


def test_a_weighing_that_ends_several_stages_says_so_and_their_ends_come_one_after_another() -> None:
    bench = bench_in(FIRST, SECOND, LAST, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    said = told(bench, weigh("w1", 20.0, A=310.0))
    assert "dry-1 and dry-2 are over with it. Now dry-3. Take out what is firm enough." in said
    bench.tick()
    assert bench.batch.stage.name == "dry-3"


def test_the_weighing_that_completes_the_batch_says_so_and_a_wrong_one_brings_it_back() -> None:
    bench = bench_in(SECOND, LAST, at=1)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 20.0, A=300.0))
    said = told(bench, weigh("w2", 30.0, A=250.0))
    assert "dry-3 is over with it. The batch is complete: take it out when you want and say hangroom end." in said
    assert "--replaces w2" in said
    assert bench.batch.state == "complete"
    said = told(bench, weigh("w3", 30.0, A=290.0, replaces="w2"))
    assert "By this weight the end is not reached; the batch goes on. Now dry-3." in said
    assert (bench.batch.state, bench.batch.stage.name) == ("running", "dry-3")
    assert bench.batch.stage_began_wall_s == WALL_S
    assert any("Goes on with dry-3: a weight was corrected" in event for event in bench.events)
    said = told(bench, weigh("w4", 40.0, A=255.0))
    assert "The batch is complete" in said
    assert bench.batch.state == "complete"


def test_a_weight_after_the_end_gives_no_advice_and_says_how_to_correct() -> None:
    bench = bench_in(LAST)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 20.0, A=250.0))
    assert bench.batch.state == "complete"
    said = told(bench, weigh("w2", 21.0, A=248.0))
    assert "a wrong weight is put right with --replaces ID" in said
    assert "hangroom set" not in said
    assert bench.batch.state == "complete"


def test_nothing_is_estimated_beyond_what_the_estimate_is_for() -> None:
    bench = bench_in(replace(LAST, until=Until(weight_loss_pct=90.0)), REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    said = told(bench, weigh("w1", 40.0, A=100.0, sure=True))
    assert "No estimate: after 75 % its salt would fall out of solution. Is each weight right?" in said
    assert "aw 0.0" not in said
    assert "moisture to protein" not in said


def test_after_a_wrong_weight_the_refusal_names_the_entry_to_replace() -> None:
    bench = bench_in(LAST, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    told(bench, weigh("w1", 2.0, A=300.0, sure=True))
    said = refused(bench, weigh("w2", 2.1, A=388.0))
    assert "388 g is more than 300 g" in said
    assert "If 300 g was the slip: hangroom weigh A=GRAMS --replaces w1" in said


def test_a_drying_calls_for_a_weighing_every_three_days() -> None:
    bench = bench_in(LAST, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, B=410.0))
    asked = "prompt: Weigh now: dry-3 ends on weight, and no piece was weighed for 3 days. hangroom weigh A=GRAMS"
    days_pass(bench, 2.9)
    assert not [event for event in bench.events if event.startswith("prompt")]
    days_pass(bench, 0.2)
    assert [event for event in bench.events if event.startswith(asked)]
    days_pass(bench, 1.0)
    assert len([event for event in bench.events if event.startswith("prompt")]) == 1
    days_pass(bench, 2.1)
    assert len([event for event in bench.events if event.startswith("prompt")]) == 2
    told(bench, weigh("w1", 6.5, A=390.0, B=400.0))
    days_pass(bench, 2.9)
    assert len([event for event in bench.events if event.startswith("prompt")]) == 2
    days_pass(bench, 0.2)
    assert len([event for event in bench.events if event.startswith("prompt")]) == 3


def test_a_stage_that_does_not_end_on_weight_calls_for_none() -> None:
    bench = days_pass(bench_in(REST), 10.0)
    assert not [event for event in bench.events if event.startswith("prompt")]


def test_too_fast_ends_when_its_two_weighings_are_old() -> None:
    bench = bench_in(LAST, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    told(bench, weigh("w1", 2.0, A=376.0))  # 3 % a day.
    assert "P8" in alarms_of(bench)
    days_pass(bench, 4.9)
    assert "P8" in alarms_of(bench)
    days_pass(bench, 0.2)
    assert "P8" not in alarms_of(bench)
