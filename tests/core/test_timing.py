"""Outputs are on until an instant, keep their shortest times, and carry what is left over."""

from collections.abc import Container, Mapping
from itertools import pairwise
from random import Random

import pytest
from msgspec.structs import replace

from controller.core.chamber.timing import begin, time_outputs
from controller.core.memory import OutputMemory
from controller.core.plan import Output
from controller.core.values import Commands, Role
from tests.helpers.bench_chamber import CHAMBER

TICK_S = CHAMBER.tick_s


def drive(
    output: Output, duty: float, hours: float, blocked: frozenset[Role] = frozenset()
) -> tuple[OutputMemory, list[tuple[float, float]]]:
    """Run one output for hours; return its memory and its on-spans as the adapter's timer would have them."""
    chamber = replace(CHAMBER, outputs=(output,))
    now_s = 0.0
    memories = begin(chamber, {}, now_s)
    spans: list[tuple[float, float]] = []
    while now_s < hours * 3600.0:
        now_s += TICK_S
        memories, commands = time_outputs(memories, {output.role: duty}, blocked, now_s - TICK_S, now_s, chamber)
        until_s = commands.on_until_s.get(output.role)
        if until_s is None:
            continue
        assert now_s < until_s <= now_s + 2 * TICK_S
        if spans and spans[-1][1] >= now_s:
            spans[-1] = (spans[-1][0], until_s)
        else:
            spans.append((now_s, until_s))
    return memories[output.role], spans


HEATER = CHAMBER.outputs[0]
COOLER = CHAMBER.outputs[2]


@pytest.mark.parametrize("duty", [0.013, 0.07, 0.28, 0.5, 0.83, 0.99])
@pytest.mark.parametrize("output", [HEATER, COOLER, CHAMBER.outputs[3]])
def test_over_hours_the_mean_is_the_duty(output: Output, duty: float) -> None:
    memory, _ = drive(output, duty, hours=200)
    assert memory.on_total_s / (200 * 3600.0) == pytest.approx(duty, abs=0.01)


@pytest.mark.parametrize("duty", [0.02, 0.1, 0.35, 0.7])
def test_a_compressor_runs_at_least_its_shortest_time_and_rests_five_minutes(duty: float) -> None:
    _, spans = drive(COOLER, duty, hours=50)
    assert len(spans) > 5
    assert all(end - begin_s >= 180.0 for begin_s, end in spans[:-1])
    assert all(after[0] - before[1] >= 300.0 for before, after in pairwise(spans))
    assert len(spans) <= 6 * 50


def test_a_compressor_rests_five_minutes_after_every_start_of_the_program() -> None:
    _, spans = drive(COOLER, 1.0, hours=1)
    assert spans[0][0] >= 300.0


def test_closings_count_one_for_each_time_on() -> None:
    memory, spans = drive(HEATER, 0.3, hours=5)
    assert memory.closings == len(spans)
    assert memory.closings <= 60 * 5


def test_full_duty_is_one_closing() -> None:
    memory, spans = drive(HEATER, 1.0, hours=2)
    assert memory.closings == len(spans) == 1


def test_a_blocked_output_is_off_whatever_its_shortest_time_says() -> None:
    memory, spans = drive(COOLER, 1.0, hours=1, blocked=frozenset({"cooler"}))
    assert spans == []
    assert memory.on_total_s == 0.0


def test_a_humidifier_keeps_its_hard_cap_and_gives_pulses_of_a_second() -> None:
    humidifier = replace(CHAMBER.outputs[1], max_duty=0.02)
    _, spans = drive(humidifier, 1.0, hours=3)
    assert sum(end - start for start, end in spans) <= 0.03 * 3 * 3600.0
    _, pulses = drive(CHAMBER.outputs[1], 0.01, hours=3)
    assert min(end - start for start, end in pulses) < 2.5


FAN = CHAMBER.outputs[3]
MASTER = CHAMBER.outputs[5]
PLAIN = Output(role="fan", window_s=10.0, min_on_s=5.0, min_off_s=0.0)
"""An output whose figures are whole numbers, so that a boundary can be met to the last bit."""


def once(
    output: Output,
    before: OutputMemory | None,
    now_s: float,
    duty: float | None = 1.0,
    *,
    since_s: float = TICK_S,
    blocked: Container[Role] = (),
    heat_until_s: float = float("inf"),
    forced: Container[Role] = (),
) -> tuple[OutputMemory, Commands]:
    """Time one output once, the last tick being so long ago."""
    chamber = replace(CHAMBER, outputs=(output,))
    memories: Mapping[Role, OutputMemory] = {} if before is None else {output.role: before}
    wanted: Mapping[Role, float] = {} if duty is None else {output.role: duty}
    after, commands = time_outputs(
        memories, wanted, blocked, now_s - since_s, now_s, chamber, heat_until_s=heat_until_s, forced=forced
    )
    return after[output.role], commands


RESTED = OutputMemory(off_since_s=0.0)


def test_a_start_of_the_program_keeps_the_counts_and_nothing_else() -> None:
    old = OutputMemory(9e9, 9e9, 5.0, 9e9, 3.0, on_total_s=7.0, closings=4)
    fresh = begin(CHAMBER, {"heater": old}, 100.0)
    assert fresh.pop("heater") == OutputMemory(off_since_s=100.0, on_total_s=7.0, closings=4)
    assert set(fresh) == {"humidifier", "cooler", "fan", "sounder", "master"}
    assert set(fresh.values()) == {OutputMemory(off_since_s=100.0)}


@pytest.mark.parametrize(
    ("was", "named", "closings", "kept"),
    [
        ("", "", 4, ""),
        ("2026-01-05", "2026-01-05", 4, "2026-01-05"),
        ("2026-01-05", "", 4, "2026-01-05"),
        ("2026-01-05", "2026-03-01", 0, "2026-03-01"),
        ("", "2026-03-01", 0, "2026-03-01"),
    ],
)
def test_a_relay_of_another_day_begins_its_count_anew_but_not_the_hours_of_what_it_switches(
    was: str, named: str, closings: int, kept: str
) -> None:
    chamber = replace(CHAMBER, outputs=(replace(COOLER, fitted_on=named),))
    old = OutputMemory(on_total_s=7.0, closings=4, fitted_on=was)
    fresh = begin(chamber, {"cooler": old}, 100.0)["cooler"]
    assert fresh == OutputMemory(off_since_s=100.0, on_total_s=7.0, closings=closings, fitted_on=kept)
    on, _ = once(COOLER, replace(fresh, off_since_s=0.0), 1000.0)
    assert (on.fitted_on, on.closings) == (kept, closings + 1)


def test_an_output_is_commanded_two_ticks_ahead_and_no_further() -> None:
    _, commands = once(COOLER, RESTED, 1000.0)
    assert commands.on_until_s == {"cooler": 1010.0}


def test_what_nobody_wants_is_off() -> None:
    _, commands = once(COOLER, RESTED, 1000.0, duty=None)
    assert commands.on_until_s == {}


def test_an_output_of_which_nothing_is_remembered_rests_from_now_on() -> None:
    after, commands = once(COOLER, None, 1000.0)
    assert commands.on_until_s == {}
    assert replace(after, spare=2.0) == OutputMemory(window_ends_s=1000.0, off_since_s=1000.0)


def test_a_compressor_that_was_cut_may_start_at_five_minutes_sharp() -> None:
    on, _ = once(COOLER, RESTED, 1000.0)
    cut, commands = once(COOLER, on, 1005.0, blocked={"cooler"})
    assert commands.on_until_s == {}
    assert cut.off_since_s == 1005.0
    assert once(COOLER, cut, 1304.9)[1].on_until_s == {}
    again, commands = once(COOLER, cut, 1305.0)
    assert commands.on_until_s == {"cooler": 1315.0}
    assert again.closings == 2
    # The same where its rest ends with a window of its own, as after a start.
    began = OutputMemory(off_since_s=1005.0)
    assert once(COOLER, began, 1304.9)[1].on_until_s == {}
    assert once(COOLER, began, 1305.0)[1].on_until_s == {"cooler": 1315.0}


@pytest.mark.parametrize("output", [COOLER, replace(COOLER, role="dehumidifier")])
def test_a_compressor_that_was_cut_in_mid_run_does_not_wait_for_the_next_window(output: Output) -> None:
    """A door that stands open for a minute ends its run; when it has rested the box is still too warm."""
    on, _ = once(output, RESTED, 1000.0, duty=0.2)
    cut, _ = once(output, on, 1005.0, duty=0.2, blocked={output.role})
    assert once(output, cut, 1304.9, duty=0.2)[1].on_until_s == {}
    again, commands = once(output, cut, 1305.0, duty=0.2)
    assert commands.on_until_s == {output.role: 1315.0}
    assert again.window_ends_s == 1305.0 + output.window_s, "a run of its own, in a window of its own"


def test_a_lamp_that_was_cut_goes_on_in_the_window_it_had() -> None:
    """What cuts it may come and go, and its relay shall not follow that."""
    on, _ = once(HEATER, RESTED, 1000.0, duty=0.5)
    cut, _ = once(HEATER, on, 1005.0, duty=0.5, blocked={"heater"})
    assert cut.window_ends_s == on.window_ends_s


def test_after_a_blocked_loop_a_compressor_rests_from_the_end_of_its_lease_and_no_longer_time_is_counted() -> None:
    on, _ = once(COOLER, RESTED, 1000.0)
    late, commands = once(COOLER, on, 1060.0, since_s=60.0)
    assert commands.on_until_s == {}
    assert late.off_since_s == 1010.0
    assert late.on_total_s == 10.0
    assert once(COOLER, late, 1309.0)[1].on_until_s == {}
    assert once(COOLER, late, 1310.0)[1].on_until_s == {"cooler": 1320.0}


def test_an_output_whose_time_ends_at_this_very_instant_has_fallen_and_rests() -> None:
    ends_now = OutputMemory(1000.0, 1000.0, 0.0, on_until_s=1000.0, off_since_s=0.0, closings=1)
    after, commands = once(COOLER, ends_now, 1000.0)
    assert commands.on_until_s == {}
    assert (after.off_since_s, after.on_total_s, after.closings) == (1000.0, 5.0, 1)


@pytest.mark.parametrize("output", [HEATER, MASTER])
def test_lamp_and_contactor_end_with_the_age_of_the_air_temperature(output: Output) -> None:
    on, commands = once(output, RESTED, 1000.0, heat_until_s=1004.0)
    assert commands.on_until_s == {output.role: 1004.0}
    assert on.on_until_s == 1004.0
    on, _ = once(output, RESTED, 1000.0)
    cut, commands = once(output, on, 1005.0, heat_until_s=1005.0)
    assert commands.on_until_s == {}
    assert cut.off_since_s == 1005.0


@pytest.mark.parametrize("output", [COOLER, FAN])
def test_the_age_of_the_air_temperature_ends_nothing_else(output: Output) -> None:
    _, commands = once(output, RESTED, 1000.0, heat_until_s=990.0)
    assert commands.on_until_s == {output.role: 1010.0}


def test_a_forced_fan_is_on_whatever_its_window_says_unless_it_is_blocked() -> None:
    waits, commands = once(FAN, RESTED, 1000.0, duty=0.0)
    assert commands.on_until_s == {}
    _, commands = once(FAN, waits, 1005.0, duty=0.0, forced={"fan"})
    assert commands.on_until_s == {"fan": 1015.0}
    _, commands = once(FAN, waits, 1005.0, duty=0.0, forced={"fan"}, blocked={"fan"})
    assert commands.on_until_s == {}
    _, commands = once(FAN, waits, 1005.0, duty=0.0, forced={"heater"})
    assert commands.on_until_s == {}


def test_the_shortest_time_itself_is_given_and_less_is_carried() -> None:
    after, commands = once(PLAIN, RESTED, 1000.0, duty=0.5)
    assert commands.on_until_s == {"fan": 1005.0}
    assert after.carry_s == 0.0
    after, commands = once(PLAIN, RESTED, 1000.0, duty=0.25)
    assert commands.on_until_s == {}
    assert after.carry_s == 0.25 * 5.0, "of one tick"
    for tick in range(1, 8):
        after, commands = once(PLAIN, after, 1000.0 + 5.0 * tick, duty=0.25)
        if commands.on_until_s:
            break
    assert (tick, after.carry_s) == (2, 0.0), "so often that a quarter of the time is on"


def test_what_is_carried_is_forgotten_when_nothing_is_wanted_and_what_was_too_much_is_not() -> None:
    for carried_s, kept_s in ((0.75, 0.0), (-2.0, -2.0)):
        after, commands = once(PLAIN, replace(RESTED, carry_s=carried_s), 1000.0, duty=0.0)
        assert commands.on_until_s == {}
        assert after.carry_s == kept_s


def test_a_pause_of_the_shortest_off_time_is_made_and_a_shorter_one_is_left_out_and_owed() -> None:
    output = replace(PLAIN, min_off_s=4.0)
    after, _ = once(output, RESTED, 1000.0, duty=0.6)
    assert (after.on_ends_s, after.carry_s) == (1006.0, 0.0)
    after, _ = once(output, RESTED, 1000.0, duty=0.75)
    assert (after.on_ends_s, after.carry_s) == (float("inf"), -2.5)


def test_an_output_without_a_shortest_off_time_pauses_for_as_little_as_half_a_second() -> None:
    after, _ = once(PLAIN, RESTED, 1000.0, duty=0.95)
    assert after.on_ends_s == 1009.5


def test_a_hard_cap_is_reached_and_what_was_too_short_to_switch_is_made_up_for_beyond_it() -> None:
    output = replace(PLAIN, max_duty=0.5, min_on_s=1.0)
    after, _ = once(output, RESTED, 1000.0, duty=1.0)
    assert (after.on_ends_s, after.carry_s) == (1005.0, 0.0)
    after, _ = once(output, replace(RESTED, carry_s=0.75), 1000.0, duty=1.0)
    assert (after.on_ends_s, after.carry_s) == (1005.75, 0.0)
    output = replace(PLAIN, max_duty=0.875, min_on_s=2.0)
    after, _ = once(output, replace(RESTED, carry_s=1.5), 1000.0, duty=1.0)
    assert (after.on_ends_s, after.carry_s) == (1010.0, 0.25)


MECHANICAL = Output(role="heater", switch="mechanical", window_s=300.0, min_on_s=20.0, min_off_s=20.0, w=60.0)


def go(
    output: Output, duties: Mapping[float, float | None], until_s: float, before: OutputMemory | None = None
) -> tuple[OutputMemory, list[tuple[float, float]]]:
    """Run one output by duties that change at these instants; None: nobody knows. Return memory and on-spans."""
    chamber, now_s, duty = replace(CHAMBER, outputs=(output,)), 0.0, None
    memories = {output.role: before or OutputMemory()}
    spans: list[tuple[float, float]] = []
    while now_s < until_s:
        duty = duties.get(now_s, duty)
        wanted = {} if duty is None else {output.role: duty}
        memories, commands = time_outputs(memories, wanted, (), now_s - TICK_S, now_s, chamber)
        end_s = min(commands.on_until_s.get(output.role, now_s), now_s + TICK_S)
        if end_s > now_s:
            joined = spans and spans[-1][1] >= now_s
            spans[-1:] = [(spans[-1][0], end_s)] if joined else [*spans[-1:], (now_s, end_s)]
        now_s += TICK_S
    return memories[output.role], spans


def test_an_on_phase_ends_early_where_less_is_wanted_and_costs_no_closing() -> None:
    memory, spans = go(MECHANICAL, {0.0: 1.0, 100.0: 0.5}, 295.0)
    assert spans == [(0.0, 150.0)]
    assert memory.closings == 1
    _, spans = go(MECHANICAL, {0.0: 0.5, 100.0: 0.85}, 295.0)
    assert spans == [(0.0, 150.0)], "it is never lengthened"
    _, spans = go(MECHANICAL, {0.0: 0.5, 5.0: 0.0}, 295.0)
    assert spans == [(0.0, 20.0)], "it has had its shortest time"


def test_where_nobody_knows_what_is_wanted_the_window_stands() -> None:
    _, spans = go(MECHANICAL, {0.0: 0.5, 50.0: None}, 295.0)
    assert spans == [(0.0, 150.0)]


def test_an_on_phase_without_end_is_ended_for_the_shortest_pause_and_for_none_that_is_shorter() -> None:
    output = replace(MECHANICAL, window_s=80.0)
    assert go(output, {0.0: 1.0, 20.0: 0.75}, 80.0)[1] == [(0.0, 60.0)]
    assert go(output, {0.0: 1.0, 20.0: 0.8}, 80.0)[1] == [(0.0, 80.0)]
    quick = replace(output, min_on_s=0.0, min_off_s=0.0)
    assert go(quick, {0.0: 1.0, 20.0: 0.99}, 80.0)[1] == [(0.0, pytest.approx(79.2))]


def test_the_fan_s_and_the_cooler_s_minutes_stand_once_they_are_begun() -> None:
    """Only the lamp follows each wish; a stage names the fan's minutes of each hour, a compressor ends its run."""
    _, spans = go(FAN, {0.0: 0.5, 600.0: 0.1}, 3595.0)
    assert spans == [(0.0, 1800.0)]
    _, spans = go(COOLER, {0.0: 0.5, 200.0: 0.1}, 895.0)
    assert spans == [(0.0, 450.0)]


def test_a_lamp_that_need_not_rest_is_wanted_again_at_once_and_does_not_flicker() -> None:
    tireless = replace(MECHANICAL, min_off_s=0.0)
    _, spans = go(tireless, {0.0: 0.5, 100.0: 1.0}, 400.0)
    assert spans == [(0.0, 400.0)]
    _, spans = go(HEATER, {0.0: 0.05, 5.0: 1.0}, 50.0)
    assert spans == [(0.0, 3.0), (5.0, 50.0)], "two closings were saved, and one of them is left"


def test_a_wish_that_is_over_before_the_shortest_pause_costs_no_closing() -> None:
    memory, spans = go(MECHANICAL, {0.0: 0.2, 70.0: 1.0, 75.0: 0.2}, 295.0)
    assert spans == [(0.0, 60.0)]
    assert memory.closings == 1


def test_a_lamp_that_is_wanted_at_once_comes_before_its_window() -> None:
    memory, spans = go(MECHANICAL, {0.0: 0.2, 100.0: 1.0}, 295.0)
    assert spans == [(0.0, 60.0), (100.0, 295.0)]
    assert memory.closings == 2
    _, spans = go(MECHANICAL, {0.0: 0.2, 70.0: 1.0}, 295.0)
    assert spans[1][0] == 80.0, "it has been off for its shortest time"
    _, spans = go(MECHANICAL, {0.0: 0.2, 100.0: 0.8}, 295.0)
    assert spans == [(0.0, 60.0)], "so much is not at once"


@pytest.mark.parametrize("seed", range(6))
def test_whatever_is_wanted_no_hour_has_more_closings_than_windows_and_three(seed: int) -> None:
    random = Random(seed)
    duties = {at_s * TICK_S: random.choice((0.0, 0.1, 0.5, 1.0, 1.0)) for at_s in range(0, 2880, random.choice((1, 8)))}
    chamber = replace(CHAMBER, outputs=(MECHANICAL,))
    memories, closings, duty = {MECHANICAL.role: OutputMemory()}, [], 0.0
    for tick in range(2880):
        now_s = tick * TICK_S
        duty = duties.get(now_s, duty)
        memories, _ = time_outputs(memories, {"heater": duty}, (), now_s - TICK_S, now_s, chamber)
        closings.append(memories["heater"].closings)
    assert max(later - sooner for sooner, later in zip(closings, closings[720:], strict=False)) <= 12 + 3


@pytest.mark.parametrize("duty", [0.01, 0.03, 0.06])
def test_short_pulses_come_at_even_distances(duty: float) -> None:
    _, spans = drive(MECHANICAL, duty, hours=20)
    begins = [begin_s for begin_s, _ in spans[1:]]
    distances = [later - sooner for sooner, later in pairwise(begins)]
    assert len(distances) > 20
    assert max(distances) - min(distances) <= 2 * TICK_S
    assert distances[0] == pytest.approx(20.0 / duty, rel=0.02)


def test_mist_never_fills_its_window_though_the_rest_of_it_is_too_short_a_pause() -> None:
    """A lamp would stay on instead of resting for less than it must; mist would fill the box until it drips."""
    mister = Output(role="humidifier", window_s=150.0, min_on_s=1.0, min_off_s=120.0, ml_per_h=130.0)
    memory, spans = go(mister, {0.0: 0.4}, 1000.0)
    lengths = {end_s - begin_s for begin_s, end_s in spans}
    assert lengths == {60.0}
    assert all(later[0] - sooner[1] >= 120.0 for sooner, later in pairwise(spans))
    assert memory.closings == len(spans)
