"""Outputs are on until an instant, keep their shortest times, and carry what is left over."""

from itertools import pairwise

import pytest
from msgspec.structs import replace

from controller.core.chamber.timing import begin, time_outputs
from controller.core.memory import OutputMemory
from controller.core.plan import Output
from controller.core.values import Role
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
