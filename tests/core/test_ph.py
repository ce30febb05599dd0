"""What a person types as a pH: asked back where it cannot be so, answered in one line, and never overwritten."""

import pytest
from msgspec import msgpack
from msgspec.structs import replace

from controller.core.memory import Memory
from controller.core.people.looks import CHOICES, WHAT_TO_DO
from controller.core.people.ph_checks import BUFFERS
from controller.core.plan import Profile, Until
from controller.core.requests import Cool, Next, Ph
from controller.core.restart import after_restart
from controller.food.acid import BUFFER, CULTURES, MIX_AW, begin, fastest_drop_per_h, ferment_on, sugar_at_start
from tests.helpers.bench_chamber import CHAMBER, PROFILE
from tests.helpers.published_rows import rows_of
from tests.helpers.readings import answer, fermenting, later, refused


def test_each_reading_is_answered_with_where_it_stands_what_is_used_and_what_comes_next() -> None:
    bench = fermenting()
    later(bench, 10.0).tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.52, instrument="meter 1"))
    said = answer(bench)
    assert said.startswith("b: pH 5.52. With 0.05 for the instrument it counts as 5.57: not at 5.3 yet.")
    used = 10.0 * (36.5 * 1.8 + 32.0 - 60.0)  # 36 °C and 0.5 K for the thermometer, by hand.
    assert f"{used:.0f} of 1000 degree-hours (°F) used, 0.5 K for the thermometer counted in." in said
    assert "Measure again in 2.0 h (2026-01-05 20:2" in said  # The profile's 12 h after hanging.
    left_h = (1000.0 - used) / (36.5 * 1.8 + 32.0 - 60.0)
    assert f"If nobody measures, the ferment goes on, and in {left_h:.1f} h" in said
    assert "heat and mist go off and the batch waits for you" in said
    assert said.endswith("meter 1: no good check yet; check it in two buffers on each day of use (calibrate).")


def test_past_5_3_the_count_has_ended_and_cooling_is_offered() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    assert "5.3 is passed, the stage ends at 4.8" in answer(bench)
    assert "the count has ended" in answer(bench)
    assert "hangroom cool" in answer(bench)


def test_the_wrapped_sample_ends_nothing_but_asks_for_a_real_sausage() -> None:
    bench = later(fermenting(), 24.0)
    bench.tick(Ph(id="mince", at_wall_s=bench.wall_s, value=4.7, instrument="meter"))
    assert "measure the middle of a real sausage: hangroom ph VALUE --by meter --sample sausage" in answer(bench)
    assert bench.batch.asks_sausage
    assert bench.batch.overdue  # What is asked for and does not come is called out as any pH (H2).
    assert [event for event in bench.events if "Now measure the middle of a real sausage" in event]
    bench.tick(Ph(id="core", at_wall_s=bench.wall_s, value=4.85, instrument="meter", sample="sausage"))
    assert bench.outcome is not None
    assert bench.outcome.entries[0].note == "sample: sausage"
    assert not bench.batch.asks_sausage
    assert bench.batch.stage.name == "ferment"
    later(bench, 2.0).tick(Ph(id="core 2", at_wall_s=bench.wall_s, value=4.75, instrument="meter", sample="sausage"))
    assert bench.batch.stage.name == "dry"
    assert bench.batch.sausage_ph == (bench.wall_s - 5.0, 4.75)


def test_a_sausage_is_not_asked_for_before_the_stage_could_end() -> None:
    ferment = replace(PROFILE.stages[1], at_least_h=34.0)
    bench = later(fermenting(replace(PROFILE, stages=(PROFILE.stages[0], ferment, PROFILE.stages[2]))), 24.0)
    bench.tick(Ph(id="mince", at_wall_s=bench.wall_s, value=4.7, instrument="meter"))
    assert not bench.batch.asks_sausage
    assert later(bench, 10.1).tick().batch.asks_sausage


def test_a_ferment_is_left_early_only_with_a_flat_ph_of_a_real_sausage() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.18, instrument="meter"))
    later(bench, 5.0).tick(Ph(id="b", at_wall_s=bench.wall_s, value=5.17, instrument="meter"))
    assert "--sample sausage" in refused(bench, Next(id="n1", because="flat"))
    bench.tick(Ph(id="c", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sample="sausage"))
    bench.tick(Next(id="n2", because="flat at 5.2 for five hours"))
    assert bench.batch.stage.name == "dry"
    assert any("flat at 5.2 for five hours" in event for event in bench.events)


def test_two_readings_at_once_do_not_show_that_the_ph_is_flat() -> None:
    bench = later(fermenting(), 20.0)
    for name, value in (("a", 5.18), ("b", 5.17)):
        bench.tick(Ph(id=name, at_wall_s=bench.wall_s, value=value, instrument="meter", sample="sausage"))
    assert "2 h apart" in refused(bench, Next(id="n", because="flat"))


def test_strips_are_recorded_and_count_for_nothing() -> None:
    bench = later(fermenting(), 24.0)
    bench.tick(Ph(id="s", at_wall_s=bench.wall_s, value=4.6, instrument="strips", sample="sausage"))
    assert (bench.batch.ph, bench.batch.passed_5_3, bench.batch.stage.name) == ((), False, "ferment")
    assert "strips alone end no stage" in answer(bench)
    assert bench.outcome is not None
    assert (bench.outcome.entries[0].value, bench.outcome.entries[0].instrument) == ("4.6", "strips")
    assert "a ferment ends on its pH; there is no reading" in refused(bench, Next(id="n", because="strips say so"))


def test_what_was_typed_as_a_meters_and_was_strips_counts_no_more() -> None:
    bench = later(fermenting(), 24.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    assert bench.batch.passed_5_3
    bench.tick(Ph(id="b", at_wall_s=None, value=5.2, instrument="strips", replaces="a"))
    assert (bench.batch.ph, bench.batch.passed_5_3) == ((), False)
    bench.tick(Ph(id="c", at_wall_s=None, value=5.2, instrument="meter", replaces="b"))  # It was the meter after all.
    assert bench.batch.passed_5_3


@pytest.mark.parametrize(
    ("value", "says"),
    [(53.0, "did you mean 5.30?"), (521.0, "did you mean 5.21?"), (9.0, "meat has 3 to 8"), (2.9, "meat has 3 to 8")],
)
def test_what_no_meat_has_is_refused_whoever_is_sure(value: float, says: str) -> None:
    bench = later(fermenting(), 20.0)
    assert says in refused(bench, Ph(id="a", at_wall_s=bench.wall_s, value=value, instrument="meter", sure=True))
    assert bench.batch.ph == ()
    assert any(event.startswith(f"refused: Not taken: pH {value:g}") for event in bench.events)


@pytest.mark.fault_row("H4")
@pytest.mark.parametrize(
    ("hours", "value", "says"),
    [
        (20.0, 4.1, "sausage lies between 4.2 and 6.5"),
        (20.0, 6.6, "sausage lies between 4.2 and 6.5"),
        (2.0, 4.5, "no culture makes it fall to that in 2.0 h at 36 °C"),
        (2.0, 4.4, "Did you mean 5.40?"),
        (1.0, 5.07, "Did you mean 5.70?"),
        *((20.0, buffer, "is what a meter shows in a buffer") for buffer in (4.01, 6.86, 7.0)),
    ],
)
def test_a_doubtful_value_is_asked_back_and_taken_when_the_person_is_sure(
    hours: float, value: float, says: str
) -> None:
    bench = later(fermenting(), hours)
    reading = Ph(id="a", at_wall_s=bench.wall_s, value=value, instrument="meter")
    assert says in refused(bench, reading)
    assert not bench.batch.ph
    bench.tick(replace(reading, id="b", sure=True))
    assert bench.batch.ph[0][1] == value
    assert bench.outcome is not None
    assert bench.outcome.entries[0].note == "asked back, and sure"


@pytest.mark.parametrize(
    ("value", "after_h", "says"),
    [
        (5.44, 1.0, ""),
        (5.66, 4.0, ""),
        (5.67, 4.0, "0.16 above the last one (5.51), and a ferment does not rise"),
        (5.67, 4.0, "If 5.51 was the slip: hangroom ph 5.67 --by meter --replaces a"),
        (4.51, 4.0, "Did you mean 5.51?"),
        (5.1, -1.0, "its time lies 1.0 h before the last reading (5.51)"),
        (5.51, 0.05, "the same value was typed a few minutes ago"),
    ],
)
def test_a_reading_is_held_against_the_one_before(value: float, after_h: float, says: str) -> None:
    bench = later(fermenting(), 12.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.51, instrument="meter"))
    at_wall_s = bench.wall_s + after_h * 3600.0
    later(bench, max(after_h, 0.0))
    reading = Ph(id="b", at_wall_s=at_wall_s, value=value, instrument="meter")
    if says:
        assert says in refused(bench, reading)
        assert len(bench.batch.ph) == 1
    else:
        assert len(bench.tick(reading).batch.ph) == 2


def test_a_jump_that_a_warm_ferment_can_make_is_none_in_a_cool_one() -> None:
    cool = replace(PROFILE.stages[1], air_temp_c=20.0)
    cases: tuple[tuple[Profile, float, int], ...] = (
        (PROFILE, 36.0, 2),
        (replace(PROFILE, stages=(cool, PROFILE.stages[2])), 20.0, 1),
    )
    for profile, air_c, taken in cases:
        bench = later(fermenting(profile, air_c), 20.0)
        bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.5, instrument="meter"))
        later(bench, 3.0).tick(Ph(id="b", at_wall_s=bench.wall_s, value=5.1, instrument="meter"))
        assert bench.batch.ph_ids == ("a", "b")[:taken]


@pytest.mark.parametrize("temp_c", [20.0, 24.0, 30.0, 36.0, 38.0])
def test_no_modelled_ferment_is_faster_than_what_is_believed(temp_c: float) -> None:
    """The steepest hour of either culture with sugar in plenty stays below the bound, whatever the lag was."""
    for culture in CULTURES.values():
        now, steepest, hours = begin(culture, sugar_at_start(0.7)), 0.0, 0.02
        for _ in range(4000):
            after = ferment_on(culture, now, hours, temp_c, MIX_AW, 5.75, BUFFER)
            steepest = max(steepest, (now.ph - after.ph) / hours)
            now = after
        assert 0.0 < steepest <= fastest_drop_per_h(temp_c)


@pytest.mark.parametrize("buffer", BUFFERS)
def test_the_buffers_that_are_asked_back_are_those_that_meters_are_checked_in(buffer: float) -> None:
    """JIS Z 8802 and the technical set, the rows of `ph_buffers.csv`; NIST and technical values at 25 °C."""
    table = rows_of("ph_buffers.csv")
    values = {round(float(row["ph"]), 2) for row in table if 10.0 <= float(row["temp_c"]) <= 30.0}
    assert buffer in values


# Corrections, on both sides of 5.3.


def test_a_wrong_reading_past_5_3_gives_back_all_that_was_not_counted() -> None:
    bench = later(fermenting(_long()), 10.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    used_f, used_c = bench.batch.guarded_f, bench.batch.guarded_c
    later(bench, 5.0)
    assert bench.batch.guarded_f == used_f
    bench.tick(Ph(id="b", at_wall_s=None, value=5.6, instrument="meter", replaces="a"))
    assert bench.batch.ph[0] == pytest.approx(
        (bench.wall_s - 5.0 * 3600.0 - 5.0, 5.6), abs=10.0
    )  # When it was measured.
    assert bench.batch.guarded_f == pytest.approx(used_f * 1.5, rel=1e-3)
    assert bench.batch.guarded_c == pytest.approx(used_c * 1.5, rel=1e-3)
    assert (bench.batch.passed_5_3, bench.batch.spare_guarded_f) == (False, 0.0)


def test_a_right_reading_typed_wrong_ends_the_count_when_it_was_typed_first() -> None:
    bench = later(fermenting(_long()), 10.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.6, instrument="meter"))
    used_c = bench.batch.degree_hours_c
    later(bench, 5.0).tick(Ph(id="b", at_wall_s=None, value=5.2, instrument="meter", replaces="a"))
    assert bench.batch.passed_5_3
    assert bench.batch.degree_hours_c == pytest.approx(used_c, abs=0.05)
    assert bench.batch.spare_c == pytest.approx(used_c / 2.0, rel=1e-3)


def test_of_two_readings_past_5_3_the_second_stands_when_the_first_is_corrected() -> None:
    bench = later(fermenting(_long()), 10.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    later(bench, 4.0).tick(Ph(id="b", at_wall_s=bench.wall_s, value=5.15, instrument="meter"))
    later(bench, 4.0).tick(Ph(id="c", at_wall_s=None, value=5.6, instrument="meter", replaces="a"))
    assert bench.batch.passed_5_3
    assert bench.batch.degree_hours_c == pytest.approx(14.0 * (36.0 - 15.6), rel=1e-3)


def test_a_correction_keeps_what_was_measured_and_may_be_corrected_itself_but_no_entry_twice() -> None:
    bench = later(fermenting(_long()), 10.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter", sample="sausage"))
    bench.tick(Ph(id="b", at_wall_s=None, value=5.3, instrument="meter", replaces="a"))
    assert bench.batch.sausage_ids == ("b",)
    assert "no such entry" in refused(bench, Ph(id="c", at_wall_s=None, value=5.4, instrument="meter", replaces="a"))
    bench.tick(Ph(id="d", at_wall_s=None, value=5.4, instrument="meter", replaces="b", sample="mince"))
    assert (bench.batch.ph_ids, bench.batch.sausage_ids) == (("d",), ())


def _long() -> Profile:
    """Return a profile whose ferment goes on below 5.0, so that it does not end under the test."""
    ferment = replace(PROFILE.stages[1], until=Until(ph_at_most=4.5))
    return replace(PROFILE, stages=(PROFILE.stages[0], ferment, PROFILE.stages[2]))


# Looks.


def test_what_is_seen_and_smelled_becomes_rows_of_its_own_and_says_what_to_do() -> None:
    bench = later(fermenting(), 12.0)
    looks = {"look": "green-mould", "smell": "putrid", "firmness": "soft"}
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.5, instrument="meter", looks=looks))  # type: ignore[arg-type]
    assert bench.outcome is not None
    rows = [(entry.kind, entry.value) for entry in bench.outcome.entries]
    assert rows == [("ph", "5.5"), ("look", "green-mould"), ("smell", "putrid"), ("firmness", "soft")]
    assert "brush the mould off" in answer(bench)
    assert "do not taste; throw the piece away" in answer(bench)


def test_a_word_that_is_no_choice_is_refused_with_the_choices() -> None:
    bench = later(fermenting(), 12.0)
    reading = Ph(id="a", at_wall_s=bench.wall_s, value=5.5, instrument="meter", looks={"smell": "nice"})
    assert "--smell nice: choose one of fresh, sour" in refused(bench, reading)


def test_there_is_something_to_do_for_every_coloured_mould_for_slime_and_for_what_is_putrid() -> None:
    bad = [("look", word) for word in CHOICES["look"] if word.endswith("-mould")] + [("look", "slime")]
    assert {*bad, ("smell", "putrid")} <= WHAT_TO_DO.keys()
    assert all(word in CHOICES[kind] for kind, word in WHAT_TO_DO)


# Cooling while the maker sleeps.


def test_a_ferment_is_let_cool_from_the_hour_that_was_asked_and_stays_a_ferment() -> None:
    bench = later(fermenting(), 20.0)
    assert "there is no reading" in refused(bench, Cool(id="c0", from_wall_s=bench.wall_s))
    bench.tick(Ph(id="x", at_wall_s=bench.wall_s, value=5.28, instrument="meter"))
    assert "may it cool" in refused(bench, Cool(id="c1", from_wall_s=bench.wall_s))
    later(bench, 2.0).tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    bench.tick(Cool(id="c2", from_wall_s=bench.wall_s + 3600.0))
    assert "wanted 13 °C" in answer(bench)
    later(bench, 0.9).run(minutes=3, air_temp=35.0)
    assert bench.outcome is not None
    assert (bench.outcome.wanted.air_temp_c, bench.heat_on) == (36.0, True)
    later(bench, 0.1)
    assert (bench.tick().outcome.wanted.air_temp_c, bench.heat_on) == (13.0, False)  # type: ignore[union-attr]
    assert (bench.batch.stage.name, bench.batch.state) == ("ferment", "running")
    bench.tick(Cool(id="c3"))
    assert bench.tick().outcome.wanted.air_temp_c == 36.0  # type: ignore[union-attr]
    assert "nothing is set" in refused(bench, Cool(id="c4"))


def test_a_step_of_the_wall_clock_does_not_move_the_hour_of_cooling() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    bench.tick(Cool(id="c", from_wall_s=bench.wall_s + 3600.0))
    bench.wall_s += 7200.0
    assert bench.tick().outcome.wanted.air_temp_c == 36.0  # type: ignore[union-attr]
    bench.wall_s -= 20_000.0
    assert later(bench, 1.1).tick().outcome.wanted.air_temp_c == 13.0  # type: ignore[union-attr]


def test_cooling_that_was_asked_for_outlives_the_program() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    bench.tick(Cool(id="c", from_wall_s=bench.wall_s + 3600.0))
    kept = msgpack.decode(msgpack.encode(replace(bench.memory, wall_trusted=True)), type=Memory)
    away_s = 1800.0
    bench.memory, _ = after_restart(kept, CHAMBER, 50.0, bench.wall_s + away_s, "boot-2", wall_trusted=True)
    bench.now_s, bench.wall_s = 50.0, bench.wall_s + away_s
    bench.run(minutes=2)
    assert bench.outcome is not None
    assert bench.outcome.wanted.air_temp_c == 36.0
    assert later(bench, 0.55).run(minutes=2).outcome.wanted.air_temp_c == 13.0  # type: ignore[union-attr]


def test_cooling_ends_when_the_reading_that_allowed_it_is_corrected_away() -> None:
    bench = later(fermenting(), 20.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.2, instrument="meter"))
    bench.tick(Cool(id="c", from_wall_s=bench.wall_s))
    bench.tick(Ph(id="b", at_wall_s=None, value=5.5, instrument="meter", replaces="a"))
    assert "not let cool any more" in answer(bench)
    assert bench.tick().outcome.wanted.air_temp_c == 36.0  # type: ignore[union-attr]


# Reminders.


def test_the_next_reading_is_due_at_half_the_way_to_5_3_and_later_to_the_end() -> None:
    bench = later(fermenting(), 13.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.65, instrument="meter"))
    later(bench, 2.0).tick(Ph(id="b", at_wall_s=bench.wall_s, value=5.45, instrument="meter"))
    assert "Measure again in 1.0 h" in answer(bench)  # 0.20 to go to 5.25 at 0.10 an hour: 2 h, and half of that.
    later(bench, 4.0).tick(Ph(id="c", at_wall_s=bench.wall_s, value=5.15, instrument="meter"))
    # 0.40 to go to 4.75 at 0.075 an hour: 5.33 h, half of it 2.7 h; the profile asks in 5 h.
    assert "Measure again in 2.7 h" in answer(bench)
    before = sum("Measure the pH now" in event for event in bench.events)
    later(bench, 2.8)
    assert sum("Measure the pH now" in event for event in bench.events) == before + 1


def test_a_slow_or_rising_ph_leaves_it_to_the_profile() -> None:
    bench = later(fermenting(), 13.0)
    bench.tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.65, instrument="meter"))
    later(bench, 2.0).tick(Ph(id="b", at_wall_s=bench.wall_s, value=5.7, instrument="meter"))
    assert "Measure again in 9.0 h" in answer(bench)  # 24 h after hanging.


def test_a_cold_ferment_is_told_that_the_rule_protects_nothing() -> None:
    cold = replace(PROFILE.stages[1], air_temp_c=15.0, at_most_h=240.0)
    bench = fermenting(replace(PROFILE, stages=(PROFILE.stages[0], cold, PROFILE.stages[2])), 15.0)
    assert "this rule protects nothing here; at most 10.0 days in this stage" in answer(bench)
    later(bench, 20.0).tick(Ph(id="a", at_wall_s=bench.wall_s, value=5.7, instrument="meter"))
    assert "this rule protects nothing here" in answer(bench)
