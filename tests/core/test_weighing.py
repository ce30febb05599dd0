"""Weighing: the tare, the pieces that leave, slips of the hand, and what a loss tells of the drying."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.people.pieces import weighed
from controller.core.plan import Stage, Until
from controller.core.requests import Hang, Weigh
from controller.core.sheet import Sheet
from controller.food.bowl.cure import Strength
from controller.food.bowl.formulation import Formula, Ingredient, Meat
from tests.helpers.bench_chamber import PROFILE, WALL_S, Bench
from tests.helpers.pieces_bench import DAY_S, DRY, REST, alarms_of, bench_in, refused, told, weigh


def test_hook_and_string_are_taken_off_and_remembered() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(Weigh(id="w0", at_wall_s=WALL_S, pieces_g={"A": 430.0, "B": 421.0}, tare_g=18.0))
    assert bench.outcome is not None
    rows = [(entry.piece, entry.value, entry.note) for entry in bench.outcome.entries]
    assert rows == [("A", "412", "430 g gross, tare 18 g"), ("B", "403", "421 g gross, tare 18 g")]
    said = told(bench, weigh("w1", 2.0, A=418.0, B=409.0))
    assert bench.batch.now_g == {"A": 400.0, "B": 391.0}
    assert "A 2.9 % (slowest), B 3.0 %" in said


def test_the_tare_said_at_hanging_holds_for_the_weighings() -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0)
    bench.tick(Hang(id="h", pieces_g={"A": 430.0}, tare_g=18.0))
    assert bench.outcome is not None
    assert bench.outcome.entries[0].value == "412"
    assert (bench.batch.green_g, bench.batch.tare_g) == ({"A": 412.0}, 18.0)


def test_a_piece_leaves_on_its_own_day_and_the_slowest_of_the_others_counts() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, E=300.0))
    bench.tick(weigh("w1", 20.0, A=310.0, E=240.0))
    assert bench.batch.weight_loss_pct == pytest.approx(20.0)
    said = told(bench, Weigh(id="out", at_wall_s=WALL_S + 20.5 * DAY_S, pieces_g={}, out=("E",)))
    assert "E: out, and no longer counted" in said
    assert bench.outcome is not None
    (row,) = bench.outcome.entries
    assert (row.kind, row.piece, row.value, row.note) == ("weight", "E", "240", "out")
    assert bench.batch.weight_loss_pct == pytest.approx(22.5)
    assert "is out already" in refused(bench, weigh("w2", 21.0, E=238.0))
    bench.tick(Weigh(id="out2", at_wall_s=WALL_S + 30.0 * DAY_S, pieces_g={}, out=("A",)))
    assert bench.batch.weight_loss_pct == pytest.approx(20.0)  # When all have left, the slowest of all.


def test_a_piece_that_left_by_mistake_comes_back_when_that_entry_is_corrected() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, E=300.0)).tick(weigh("w1", 10.0, A=350.0, E=270.0))
    bench.tick(Weigh(id="out", at_wall_s=WALL_S + 11.0 * DAY_S, pieces_g={}, out=("E",)))
    told(bench, weigh("w2", 11.0, E=268.0, replaces="out"))
    assert bench.batch.pieces_out == ()
    assert bench.batch.now_g["E"] == 268.0


@pytest.mark.fault_row("H5")
@pytest.mark.parametrize(
    ("pieces", "tare_g", "says"),
    [
        ({"A": 416.0}, None, "416 g is more than 400 g"),
        ({"A": 416.0}, None, "Are hook and string in it? Say what they weigh: --tare 18"),
        ({"A": 880.0}, None, "Lb typed as kg?"),
        ({"A": 170.0}, None, "Kg typed as lb?"),
        ({"A": 39.0}, None, "A decimal point slipped?"),
        ({"A": 300.0}, None, "25 % of the green weight lost in 48 h, from 400 g; 55 mm lose 19 % at most"),
        ({"a": 395.0}, None, "a: has never been weighed, known are A, B; did you mean A?"),
        ({"Zoe": 395.0}, None, "Zoe: has never been weighed, known are A, B; is it a new one?"),
        ({"A": 9000.0}, None, "9.00 kg together, but the batch has 5 kg of meat: lb for kg"),
        ({"A": 15.0}, 18.0, "without hook and string (18 g) nothing is left"),
        ({"A": 0.0}, None, "more than 0 g"),
        ({"A": 395.0}, -1.0, "hook and string weigh 0 g or more"),
    ],
)
def test_a_slip_is_asked_back_and_nothing_is_overwritten(
    pieces: dict[str, float], tare_g: float | None, says: str
) -> None:  # fmt: skip
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, B=420.0))
    slip = Weigh(id="slip", at_wall_s=WALL_S + 2.0 * DAY_S, pieces_g=pieces, tare_g=tare_g)
    assert says in refused(bench, slip)


def test_a_forgotten_tare_and_one_taken_off_twice_are_told_apart() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(Weigh(id="w0", at_wall_s=WALL_S, pieces_g={"A": 440.0}, tare_g=40.0))
    forgotten = Weigh(id="w1", at_wall_s=WALL_S + DAY_S, pieces_g={"A": 436.0}, tare_g=0.0)
    assert "Hook and string forgotten? Last time: --tare 40" in refused(bench, forgotten)
    twice = Weigh(id="w2", at_wall_s=WALL_S + 0.1 * DAY_S, pieces_g={"A": 398.0})
    assert "Were hook and string (40 g) off already? Then --tare 0" in refused(bench, twice)


def test_what_was_not_taken_stands_in_the_events_for_one_who_typed_it_while_nobody_answered() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    refused(bench, weigh("w1", 2.0, A=416.0))
    assert bench.events[-1].startswith("refused: Not taken: A: 416 g is more than 400 g, as it was 48 h before.")


def test_what_the_maker_is_sure_of_is_taken() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    told(bench, weigh("w1", 2.0, A=300.0, sure=True))
    said = told(bench, weigh("w2", 2.1, C=350.0, sure=True))
    assert "C: new; the loss counts from today's weight" in said


def test_a_kitchen_scale_may_show_two_grams_more() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    assert "A has lost 0.0 %" in told(bench, weigh("w1", 0.1, A=402.0))


def test_a_corrected_weight_is_judged_as_of_its_own_day() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 10.0, A=350.0)).tick(weigh("w2", 20.0, A=320.0))
    told(bench, weigh("w3", 20.0, A=360.0, replaces="w1"))  # More than the 320 g that came after: it was before.
    assert bench.batch.now_g == {"A": 320.0}
    assert [grams for _, _, grams in bench.batch.weighings if grams] == [{"A": 400.0}, {"A": 360.0}, {"A": 320.0}]


def test_the_rate_is_that_of_the_last_two_to_three_days_against_what_is_usual() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 5.0, A=376.0)).tick(weigh("w2", 7.0, A=370.0))
    said = told(bench, weigh("w3", 8.0, A=367.2))
    # 376 to 367.2 g in 3 days is 0.73 % a day; the weighing of yesterday is too near.
    assert "0.73 % a day since the weighing 3.0 days ago; usual at 55 mm: 1.0 to 1.5." in said
    assert "Estimated by 25 % fat and the loss: aw 0.95 ±0.02, moisture to protein 3.2; not measured." in said
    assert alarms_of(bench) == []


@pytest.mark.fault_row("P8")
def test_drying_too_fast_calls_and_says_what_would_help_and_a_calmer_weighing_ends_it() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, B=400.0))
    said = told(bench, weigh("w1", 2.0, A=376.0, B=384.0))
    assert "Too fast: A loses 3.0 % of its green weight a day; above 2.5 % at 55 mm the rim may harden." in said
    assert 'hangroom set --rh 81 --because "dries too fast"' in said
    assert [(alarm.row, alarm.priority, alarm.level) for alarm in bench.memory.alarms] == [("P8", "2", 1)]
    assert bench.memory.alarms[0].first.endswith('hangroom set --rh 81 --because "too fast"')
    bench.tick(weigh("w2", 4.0, A=340.0, B=380.0))
    assert [(alarm.row, alarm.level) for alarm in bench.memory.alarms] == [("P8", 2)]
    assert "above 4.0 % at 55 mm the rim hardens" in bench.memory.alarms[0].text
    bench.tick(weigh("w3", 6.0, A=338.0, B=378.0))
    assert alarms_of(bench) == []
    assert bench.batch.stage.rh_pct == 78.0  # Nothing was changed by itself.


def test_a_thin_sausage_may_dry_at_a_rate_that_is_too_fast_for_a_thick_one() -> None:
    rows = {}
    for diameter_mm in (32.0, 80.0):
        bench = bench_in(DRY, REST, diameter_mm=diameter_mm)
        bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 2.0, A=380.0))
        rows[diameter_mm] = alarms_of(bench)
    assert rows == {32.0: [], 80.0: ["P8"]}


def test_air_that_asks_too_much_of_the_surface_is_warned_of_before_an_alarm() -> None:
    bench = bench_in(replace(DRY, rh_pct=75.0), REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    said = told(bench, weigh("w1", 2.0, A=384.8))  # 1.9 % a day: of 55 mm at 13 °C and 75 %RH, by the drying table.
    assert "Surface at risk: faster than usual, and the air is 19 % RH drier than the surface" in said
    assert "estimated aw 0.94" in said
    assert 'hangroom set --rh 78 --because "dries too fast"' in said
    assert alarms_of(bench) == []


@pytest.mark.fault_row("P13")
def test_drying_that_stands_still_is_told_with_its_cure() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 15.0, A=330.0))
    said = told(bench, weigh("w2", 18.5, A=329.0))
    assert "Stands still: The slowest piece has lost 0.07 % a day over 3.5 days." in said
    assert "seal it cold some days to even out" in said
    assert alarms_of(bench) == ["P13"]
    told(bench, weigh("w3", 20.5, A=325.0))
    assert alarms_of(bench) == []


def test_a_loss_that_the_air_forbids_is_told_with_the_air_that_would_do() -> None:
    damp = replace(DRY, rh_pct=90.0)
    bench = bench_in(damp, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    said = told(bench, weigh("w1", 10.0, A=360.0))
    assert "35 % is not reached at 90 % RH: by the estimate drying ends near 33 % there" in said
    assert "it takes 87 % RH or less" in said
    assert 'hangroom set --rh 87 --because "35 % is not reached"' in said


def test_what_counts_is_the_air_the_meat_gets_not_the_wanted_one() -> None:
    bench = bench_in(replace(DRY, rh_pct=80.0), REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    bench.says["rh"] = 91.0
    bench.now_s += 13.0 * 3600.0  # As if the program had ticked through: one long step of damp air.
    bench.wall_s += 13.0 * 3600.0
    bench.tick()
    said = told(bench, weigh("w1", 10.0, A=360.0))
    assert "The air had 91 % RH on the mean of about a day, 80 is wanted." in said
    assert "35 % is not reached at 91 % RH" in said
    assert "What is wanted would do; the air does not come to it" in said
    bench.says["rh"] = 80.0
    bench.run(minutes=10)
    assert bench.batch.rh_mean_pct == pytest.approx(91.0, abs=0.2)  # Ten minutes are little of a day.


def test_a_lean_recipe_keeps_a_higher_water_activity_at_the_same_loss() -> None:
    formula = Formula(
        meats=(Meat("shoulder", "pork", 5.0, fat_pct=10.0),),
        meat_kg=5.0, mix_kg=5.2,
        ingredients=(Ingredient("dextrose", 15.0, 0.3), Ingredient("water", 45.0, 0.9)),
        cure="2", strength=Strength(6.25),
        nitrite_ppm_us=156.0, nitrite_ppm_ca=150.0, nitrite_ppm_eu_ion=100.0, nitrate_ppm=0.0, limits=(),
        salt_pct=2.8, end_ph=(4.9, 5.1, 5.3), fat_pct=10.0,
    )  # fmt: skip
    bench = bench_in(DRY, REST)
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, sheet=Sheet(formula=formula)),))
    bench.tick(weigh("w0", 0.0, A=400.0))
    assert "Estimated by the recipe and the loss: aw 0.94" in told(bench, weigh("w1", 20.0, A=280.0))


@pytest.mark.parametrize("kind", ["equalise", "rest", "smoke"])
def test_only_drying_is_judged_by_its_rate(kind: str) -> None:
    stage = Stage(name="other", kind=kind, where="elsewhere", until=Until(confirm=True))  # type: ignore[arg-type]
    bench = bench_in(stage, REST)
    bench.tick(weigh("w0", 0.0, A=400.0))
    said = told(bench, weigh("w1", 2.0, A=360.0))
    assert "% a day" not in said
    assert alarms_of(bench) == []


def test_what_was_lost_before_the_drying_is_no_drying() -> None:
    ferment = PROFILE.stages[1]
    bench = bench_in(ferment, DRY, REST, at=1)
    bench.tick(weigh("green", -2.0, A=400.0))
    said = told(bench, weigh("w1", 0.5, A=368.0, sure=True))
    assert "No rate yet" in said
    assert alarms_of(bench) == []
    assert "% a day since the weighing 2.0 days ago" in told(bench, weigh("w2", 2.5, A=356.0))


def test_pieces_even_out_sealed_and_cold_and_dry_on() -> None:
    even = Stage(name="even-out", kind="equalise", where="elsewhere", air_temp_c=3.0, until=Until(hours=72.0))
    first = replace(DRY, name="dry-1", until=Until(weight_loss_pct=20.0))
    bench = bench_in(first, even, DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0)).tick(weigh("w1", 4.0, A=345.0)).tick(weigh("w2", 6.0, A=318.0))
    assert bench.batch.stage.name == "even-out"
    assert not bench.batch.in_chamber
    assert alarms_of(bench) == []  # What was too fast is over with its stage.
    assert any("Seal the pieces airtight and keep them at 3 °C for 3 days" in event for event in bench.events)
    said = told(bench, weigh("w3", 7.5, A=317.5))
    assert "a small loss is as it should be here" in said
    assert bench.outcome is not None
    assert bench.outcome.wanted.air_temp_c is None  # The chamber is free meanwhile.
    bench.wall_s = WALL_S + 7.6 * DAY_S
    bench.now_s += 71.9 * 3600.0
    bench.wall_s += 71.9 * 3600.0
    bench.tick()
    assert bench.batch.stage.name == "even-out"
    bench.now_s += 0.2 * 3600.0
    bench.wall_s += 0.2 * 3600.0
    bench.tick()
    assert bench.batch.stage.name == "dry"
    back = bench.batch.stage_began_wall_s
    said = told(bench, Weigh(id="w4", at_wall_s=back + 600.0, pieces_g={"A": 317.0}))
    assert "No rate yet" in said


@given(
    st.lists(st.tuples(st.sampled_from("ABC"), st.floats(0.01, 1e6), st.floats(0.0, 1e7)), min_size=1, max_size=12),
    st.sets(st.sampled_from("ABC")),
)
@settings(max_examples=200)
def test_a_loss_lies_between_0_and_100_whatever_was_typed(
    taken: list[tuple[str, float, float]], out: set[str]
) -> None:  # fmt: skip
    batch = bench_in(DRY, REST).batch
    for number, (piece, grams, at_s) in enumerate(taken):
        batch = weighed(batch, f"w{number}", at_s, {piece: grams})
    batch = replace(batch, pieces_out=tuple(sorted(out & set(batch.green_g))))
    losses = batch.losses_pct
    assert all(0.0 <= loss <= 100.0 for loss in losses.values())
    if losses:
        counted = [loss for piece, loss in losses.items() if piece not in out] or list(losses.values())
        assert batch.known_loss_pct == min(counted)
    else:
        assert batch.known_loss_pct is None
    open_still = set(batch.green_g) - set(batch.now_g) - out
    assert set(batch.unweighed) == open_still
    assert batch.weight_loss_pct == (None if open_still else batch.known_loss_pct)


def test_a_piece_that_was_never_weighed_again_keeps_the_drying_open_and_the_answer_says_so() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, B=420.0))
    for days, grams in ((6.0, 350.0), (14.0, 305.0), (26.0, 258.0)):
        said = told(bench, weigh(f"w{days:g}", days, A=grams))
        assert "B has not been weighed since 5 Jan, and the stage waits for it;" in said
        assert "weigh it, or take it out: B=out" in said
    assert bench.batch.losses_pct["A"] == pytest.approx(35.5)
    assert bench.batch.weight_loss_pct is None
    assert bench.batch.stage.name == "dry"
    said = told(bench, weigh("wb", 26.1, B=294.0))  # 30 %: the slowest of both counts now.
    assert "not been weighed" not in said
    assert bench.batch.stage.name == "dry"
    bench.tick(weigh("wb2", 28.0, B=270.0))
    bench.tick()
    assert bench.batch.stage.name == "rest"


def test_a_piece_that_fell_down_is_taken_out_without_a_weight_and_the_others_end_the_drying() -> None:
    bench = bench_in(DRY, REST)
    bench.tick(weigh("w0", 0.0, A=400.0, B=420.0))
    bench.wall_s = WALL_S + 26.0 * DAY_S
    bench.tick(weigh("w1", 26.0, A=258.0, sure=True))
    assert bench.batch.stage.name == "dry"
    said = told(bench, Weigh(id="out", at_wall_s=bench.wall_s, pieces_g={}, out=("B",)))
    assert "B: out, and no longer counted." in said
    bench.tick()
    assert bench.batch.stage.name == "rest"
    assert bench.batch.ended[-1].by == "until"
