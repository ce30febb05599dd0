"""After a break the batch goes on where it was, or waits for a person; nothing is made up."""

import pytest
from msgspec.structs import replace

from controller.core.memory import Loops, Memory
from controller.core.outage.away import Cut
from controller.core.requests import Hang, Hold, Ph
from controller.core.restart import after_restart
from tests.helpers.bench_chamber import CHAMBER, Bench
from tests.helpers.outages import cut, hung

NOTHING_TOLD = replace(CHAMBER, room_c=(20.0, 45.0))
"""As warm as its room: its cooling tells nothing of a cut."""


def fermenting() -> Bench:
    bench = Bench(NOTHING_TOLD).run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="h")).run(minutes=60)
    bench.memory = replace(bench.memory, wall_trusted=True)
    return bench


def back(bench: Bench, gap_s: float, boot_id: str = "boot-2", *, trusted: bool = True, clean: bool = False) -> Memory:
    kept = replace(bench.memory, ended_cleanly=clean)
    now_s = kept.last_s + gap_s if boot_id == kept.boot_id else 50.0
    memory, events = after_restart(kept, bench.chamber, now_s, kept.wall_s + gap_s, boot_id, wall_trusted=trusted)
    assert events[0].kind == "gap"
    return memory


def test_a_short_gap_goes_on_in_the_same_stage_with_its_elapsed_time() -> None:
    bench = fermenting()
    memory = back(bench, 300.0)
    assert memory.batches[0].state == "running"
    assert memory.batches[0].stage.name == "ferment"
    assert memory.batches[0].stage_elapsed_s == pytest.approx(bench.batch.stage_elapsed_s + 300.0)
    assert memory.batches[0].stage_at_conditions_s == bench.batch.stage_at_conditions_s
    assert memory.alarms == ()


def test_an_hour_goes_on_with_an_alarm() -> None:
    memory = back(fermenting(), 3600.0)
    assert memory.batches[0].state == "running"
    assert [alarm.row for alarm in memory.alarms] == ["C16"]


@pytest.mark.fault_row("C16")
@pytest.mark.parametrize(("gap_s", "trusted"), [(9 * 3600.0, True), (60.0, False)])
def test_a_long_gap_or_one_nobody_can_measure_waits_for_a_person(gap_s: float, trusted: bool) -> None:  # noqa: FBT001
    memory = back(fermenting(), gap_s, trusted=trusted)
    assert memory.batches[0].state == "held"
    said = "look at the meat" if trusted else "is being found out"
    assert said in memory.batches[0].held_because


def test_in_the_same_boot_the_gap_is_known_without_a_clock_on_the_wall() -> None:
    memory = back(fermenting(), 120.0, "boot-1", trusted=False)
    assert memory.batches[0].state == "running"


def test_the_gap_is_reckoned_at_the_highest_temperature_on_either_side() -> None:
    bench = fermenting()
    used = bench.batch.degree_hours_f
    memory = back(bench, 600.0)
    before_f = (36.0 * 1.8 + 32.0 - 60.0) * 600.0 / 3600.0  # Until there is a temperature on the other side.
    assert memory.batches[0].degree_hours_f - used == pytest.approx(before_f, rel=0.001)
    bench.memory, bench.now_s = memory, memory.last_s
    bench.tick(air_temp=37.0, rh_temp=37.0)
    gap_f = (37.0 * 1.8 + 32.0 - 60.0) * 600.0 / 3600.0
    assert bench.batch.degree_hours_f - used == pytest.approx(gap_f, rel=0.02)


def test_after_a_restart_heat_waits_and_the_compressor_rests() -> None:
    bench = fermenting()
    bench.memory, bench.now_s = back(bench, 60.0), 50.0
    for _ in range(5):
        assert not bench.tick(air_temp=30.0, rh_temp=30.0).heat_on
    assert bench.tick().heat_on
    assert bench.memory.outputs["cooler"].off_since_s == 50.0


def test_a_short_cut_gives_the_lamp_its_duty_back_and_a_long_one_does_not() -> None:
    bench = fermenting()
    bench.memory = replace(bench.memory, loops=replace(bench.memory.loops, heat_integral=0.31, wanted_c=36.0))
    assert back(bench, 300.0).loops.heat_integral == 0.31
    assert back(bench, 3600.0).loops == Loops()


def test_three_crashes_in_ten_minutes_lock_the_heat_until_a_person_clears_it() -> None:
    bench = fermenting()
    for _ in range(3):
        bench.memory = back(bench, 60.0, "boot-1")
    assert [alarm.row for alarm in bench.memory.alarms if alarm.latched] == ["C2"]
    bench.now_s = bench.memory.last_s
    bench.run(minutes=3, air_temp=30.0)
    assert not bench.heat_on
    assert bench.batch.state == "held"


def test_clean_stops_are_no_crashes() -> None:
    bench = fermenting()
    for _ in range(4):
        bench.memory = back(bench, 60.0, "boot-1", clean=True)
    assert bench.memory.alarms == ()


def test_counts_of_the_outputs_outlive_the_program() -> None:
    bench = fermenting()
    memory = back(bench, 60.0)
    assert memory.outputs["heater"].closings == bench.memory.outputs["heater"].closings
    assert memory.outputs["heater"].on_until_s == float("-inf")


def test_a_gap_says_why_the_program_ended_and_what_the_clocks_were() -> None:
    bench = fermenting()
    for boot_id, clean, why in (
        ("boot-2", False, "the power had failed, or the computer had hung"),
        ("boot-1", False, "it had ended without a stop"),
        ("boot-1", True, "it had been stopped"),
    ):
        kept = replace(bench.memory, ended_cleanly=clean)
        _, events = after_restart(kept, CHAMBER, kept.last_s + 60.0, kept.wall_s + 60.0, boot_id, wall_trusted=True)
        assert why in events[0].text
        assert "Last known 2026-01-05 09:20 UTC, now 2026-01-05 09:21 UTC; the clock can be believed" in events[0].text


# The clock on the wall is stepped while the program is away, in the same boot.


def stepped(step_s: float, *, before: bool = True, after: bool = True, passed_h: float = 0.0) -> Bench:
    """Let the program be away for 8 s and the wall clock be stepped meanwhile; it could be believed before, or after.

    `passed_h` is for how long the program has run before it, since a restart after the hanging.
    """
    bench = fermenting()
    if passed_h:
        cut(bench, 8 / 3600, boot_id="boot-1", clean=True).run(minutes=passed_h * 60.0)
    kept = replace(bench.memory, wall_trusted=before, ended_cleanly=True)
    bench.now_s, bench.wall_s, bench.wall_trusted = kept.last_s + 8.0, kept.wall_s + 8.0 + step_s, after
    bench.memory, events = after_restart(kept, bench.chamber, bench.now_s, bench.wall_s, "boot-1", wall_trusted=after)
    bench.events = [f"{event.kind}: {event.text}" for event in events]
    return bench.run(minutes=5)


def hanging_lies_back_s(bench: Bench) -> float:
    batch = bench.batch
    assert batch.hung_wall_s is not None
    assert batch.hung_s is not None
    hung_for_s = batch.elapsed_s - batch.hung_s - bench.chamber.tick_s  # The tick of the hanging is counted after it.
    return bench.wall_s - batch.hung_wall_s - hung_for_s


@pytest.mark.fault_row("C4")
@pytest.mark.parametrize("step_s", [-48 * 3600.0, -2.0, 61.0, 30 * 86_400.0])
def test_a_step_of_the_clock_while_the_program_was_away_is_told_and_moves_what_was_measured(step_s: float) -> None:
    bench = stepped(step_s)
    assert [(alarm.row, alarm.priority) for alarm in bench.memory.alarms] == [("C4", "3")]
    assert sum(event.startswith("clock: ") for event in bench.events) == 1
    assert hanging_lies_back_s(bench) == pytest.approx(0.0, abs=0.1)
    bench.tick(Ph(id="p", at_wall_s=bench.wall_s, value=4.6, instrument="meter", sample="sausage", sure=True)).run(
        minutes=1
    )
    assert bench.batch.stage.name == "dry", "the pH counts as one since the hanging"
    assert bench.batch.passed_5_3


@pytest.mark.parametrize("step_s", [0.0, 1.5, -0.9])
def test_a_clock_that_was_not_stepped_is_not_told(step_s: float) -> None:
    bench = stepped(step_s)
    assert bench.memory.alarms == ()
    assert not any(event.startswith("clock: ") for event in bench.events)


def test_the_step_that_sets_a_clock_moves_what_was_measured_by_it_and_calls_nobody() -> None:
    bench = stepped(5 * 3600.0, before=False)
    assert "C4" not in [alarm.row for alarm in bench.memory.alarms]
    assert hanging_lies_back_s(bench) == pytest.approx(0.0, abs=0.1)
    bench = stepped(5 * 3600.0, before=False, passed_h=0.1)
    assert hanging_lies_back_s(bench) == pytest.approx(5 * 3600.0, abs=3.0), "hung before, by a clock that may be right"


def test_a_clock_that_cannot_be_believed_after_its_step_moves_them_too_and_is_told() -> None:
    bench = stepped(-48 * 3600.0, after=False)
    assert {"C4"} <= {alarm.row for alarm in bench.memory.alarms}
    assert hanging_lies_back_s(bench) == pytest.approx(0.0, abs=0.1)


def untrusted(bench: Bench, gap_s: float) -> Bench:
    """Bring the program back after a power cut on a computer without a clock battery: the wall clock stood still."""
    kept = bench.memory
    true_wall_s = kept.wall_s + gap_s
    bench.memory, _ = after_restart(kept, bench.chamber, 50.0, kept.wall_s + 20.0, "boot-2", wall_trusted=False)
    bench.now_s, bench.wall_s, bench.wall_trusted = 50.0, kept.wall_s + 20.0, False
    bench.run(minutes=1)
    assert bench.batch.state == "held"
    bench.wall_s, bench.wall_trusted = true_wall_s + 60.0, True  # The network has told the time.
    return bench.run(minutes=1)


@pytest.mark.parametrize(("gap_s", "state"), [(300.0, "running"), (3600.0, "running"), (9 * 3600.0, "held")])
def test_a_batch_that_only_waited_for_the_clock_goes_on_when_the_network_tells_it(gap_s: float, state: str) -> None:
    bench = fermenting()
    elapsed_s, used = bench.batch.elapsed_s, bench.batch.degree_hours_f
    untrusted(bench, gap_s)
    assert bench.batch.state == state
    assert bench.batch.elapsed_s == pytest.approx(elapsed_s + gap_s + 120.0, abs=10.0)
    gap_f = (36.0 * 1.8 + 32.0 - 60.0) * (gap_s + 120.0) / 3600.0
    assert bench.batch.degree_hours_f - used == pytest.approx(gap_f, rel=0.03)
    (cut,) = bench.batch.away.cuts
    assert cut == Cut(cut.back_s, gap_s, 1)
    assert cut.back_s == pytest.approx(elapsed_s + gap_s + 60.0, abs=10.0)


def test_what_a_person_paused_meanwhile_stays_paused() -> None:
    bench = fermenting()
    bench.tick(Hold(id="hold"))
    bench.memory = replace(bench.memory, wall_trusted=True)
    untrusted(bench, 300.0)
    assert bench.batch.state == "held"


def test_what_an_older_program_kept_of_its_readings_is_filled_in_before_a_step_puts_them_in_order() -> None:
    bench = hung()
    ph = ((bench.wall_s + 7200.0, 5.6), (bench.wall_s, 5.5))
    old = replace(bench.batch, ph=ph, ph_ids=("a", "b"), ph_errors=(), ph_sums=())
    kept = replace(bench.memory, batches=(old,))
    now_s, wall_s = bench.now_s + 10.0, bench.wall_s - 3600.0
    after, _ = after_restart(kept, bench.chamber, now_s, wall_s, kept.boot_id, wall_trusted=True)
    assert after.batches[0].ph_ids == ("b", "a")
    assert len(after.batches[0].ph_errors) == 2
