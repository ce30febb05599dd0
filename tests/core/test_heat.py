"""Smoke, cook and chill: what is measured in the core, which reading counts, and what the answer says."""

import csv

import pytest
from msgspec.structs import replace

from controller.core.people.heat import logs_of
from controller.core.plan import Stage, Until
from controller.core.requests import Confirm, Look, Smoker, Start
from controller.core.values import Channel, FaultKind
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench
from tests.helpers.pieces_bench import REST, bench_in, core, refused, told
from tests.helpers.published_rows import DATA

SMOKE = Stage(
    name="smoke", kind="smoke", where="elsewhere", air_temp_c=45.0, at_least_h=2.0, until=Until(confirm=True)
)  # fmt: skip
COOK = Stage(
    name="cook", kind="cook", where="elsewhere", air_temp_c=75.0, until=Until(core_temp_c=65.0, confirm=True)
)  # fmt: skip
CHILL = Stage(name="chill", kind="chill", where="elsewhere", air_temp_c=4.0, until=Until(confirm=True))
DRY = Stage(name="dry", kind="dry", air_temp_c=13.0, rh_pct=78.0, until=Until(weight_loss_pct=20.0))


def over_degree_hours(bench: Bench) -> Bench:
    """Leave open whether the ferment met its degree-hours."""
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, passed_5_3=False),))
    return bench


@pytest.mark.parametrize(
    ("stage", "value_c", "says"),
    [
        (PROFILE.stages[1], 64.0, "in a ferment stage lies between -2 and 46 °C"),
        (PROFILE.stages[1], 64.0, "Did you mean 64F (17.8 °C)?"),
        (DRY, 55.0, "Did you mean 55F (12.8 °C)?"),
        (SMOKE, 100.0, "in a smoke stage lies between -2 and 75 °C"),
        (COOK, 100.0, "moist heat ends below 100 °C"),
        (CHILL, 95.0, "it comes from the cook"),
        (COOK, 140.0, "this cannot be; type it again"),
    ],
)
def test_a_core_that_a_stage_does_not_have_is_asked_back(stage: Stage, value_c: float, says: str) -> None:
    assert says in refused(bench_in(stage, REST), core("k", 1.0, value_c))


def test_what_the_maker_is_sure_of_is_taken() -> None:
    assert "core 42.0 °C." in told(bench_in(DRY, REST), core("k", 1.0, 42.0, sure=True))


def test_of_several_pieces_the_lowest_counts() -> None:
    bench = bench_in(COOK, REST)
    told(bench, core("k1", 30.0, 64.0, "A"))
    said = told(bench, core("k2", 31.0, 66.0, "B"))
    assert "core 66.0 °C in B; 64.0 °C, the lowest, counts (the stage ends at 65 °C)." in said
    told(bench, Confirm(id="c", sure=True))
    assert bench.batch.stage.name == "cook"
    told(bench, core("k3", 33.0, 65.0, "A"))
    assert bench.batch.stage.name == "rest"


def test_two_probes_with_numbers_are_two_places() -> None:
    bench = bench_in(COOK, REST)
    told(bench, core("k1", 30.0, 60.0, instrument="probe 1"))
    assert "60.0 °C, the lowest, counts" in told(bench, core("k2", 30.0, 67.0, instrument="probe 2"))


def test_a_corrected_core_takes_the_place_and_the_time_of_the_wrong_one() -> None:
    bench = bench_in(COOK, REST)
    bench.wall_s = WALL_S + 3600.0
    told(bench, core("k1", 30.0, 56.0))
    typed_now = core("k2", 60.0, 65.0, replaces="k1", sure=True)
    told(bench, replace(typed_now, value_c=46.0))
    assert bench.batch.core_temps == ((WALL_S + 1800.0, 46.0),)
    assert bench.batch.core_temp_c == 46.0
    assert "no such entry" in refused(bench, core("k3", 61.0, 47.0, replaces="nothing"))


def test_a_correction_after_the_stage_is_noted_and_moves_nothing_back() -> None:
    bench = bench_in(replace(COOK, until=Until(core_temp_c=65.0)), REST)
    told(bench, core("k1", 30.0, 68.0))
    assert bench.batch.stage.name == "rest"
    said = told(bench, core("k2", 31.0, 28.0, replaces="k1"))
    assert "noted for the stage that is over" in said
    assert "heat again and measure" in said
    assert bench.batch.stage.name == "rest"


def dwell_rows() -> list[tuple[float, float]]:
    """Return (°C, minutes for 6.5 log) of three printed rows."""
    rows = [line for line in (DATA / "lethality.csv").read_text("utf-8").splitlines() if not line.startswith("#")]
    found = [
        ((float(row["temp_F"]) - 32.0) / 1.8, float(row["time"]))
        for row in csv.DictReader(rows)
        if row["organism"] == "Salmonella" and row["log_reduction"] == "6.5" and row["temp_F"] in {"136", "140", "145"}
    ]
    assert len(found) == 3
    return found


@pytest.mark.parametrize(("temp_c", "minutes"), dwell_rows())
def test_the_answer_counts_down_the_printed_minutes(temp_c: float, minutes: float) -> None:
    # FSIS Appendix A (1999), the rows of 136, 140 and 145 °F for 6.5 log.
    bench = bench_in(COOK, REST)
    said = told(bench, core("k1", 0.0, temp_c))
    assert f"0.0 of 6.5 log so far; {minutes:.0f} min more at this temperature" in said
    said = told(bench, core("k2", minutes / 2.0, temp_c))
    assert "3.2 of 6.5 log so far" in said
    assert f"{minutes / 2.0:.0f} min more" in said
    assert "6.5 of 6.5 log by the printed table" in told(bench, core("k3", minutes, temp_c))


def test_between_two_readings_the_lower_one_counts() -> None:
    bench = bench_in(COOK, REST)
    told(bench, core("k1", 0.0, 50.0))
    said = told(bench, core("k2", 30.0, 62.8))  # Half an hour at 145 °F would be enough seven times over.
    assert "0.0 of 6.5 log so far; 4 min more" in said
    assert "measure again" in said


def test_too_cold_a_core_counts_nothing() -> None:
    assert "nothing is counted yet (54.4 °C, 130 °F)" in told(bench_in(COOK, REST), core("k1", 0.0, 50.0))


def test_a_slow_come_up_is_held_where_the_degree_hours_are_open() -> None:
    met = bench_in(COOK, REST)
    told(met, core("k1", 0.0, 8.0))
    assert "Come-up" not in told(met, core("k2", 500.0, 60.0))
    open_ = over_degree_hours(bench_in(COOK, REST))
    assert "in 6 h or less" in told(open_, core("k1", 0.0, 8.0))
    assert "Come-up: 8.3 h from 10 to 54.4 °C is more than 6 h: hold the batch." in told(open_, core("k2", 500.0, 60.0))


def test_a_chill_counts_from_the_last_hot_reading_of_the_cook() -> None:
    bench = bench_in(replace(COOK, until=Until(core_temp_c=65.0)), CHILL, REST)
    told(bench, core("k1", 30.0, 66.0))
    assert bench.batch.stage.name == "chill"
    said = told(bench, core("k2", 90.0, 45.0))
    # With nitrite: 130 to 80 °F in 5 h (FSIS Appendix B, June 1999, as restated by Ohio State University).
    assert "54.4 to 26.7 °C in 5 h: 1 h used; 26.7 °C or less at the latest by" in said
    assert "Confirm the figures with your authority" in said
    said = told(bench, core("k3", 240.0, 25.0))
    assert "26.7 to 4.4 °C in 10 h" in said
    said = told(bench, core("k4", 400.0, 4.0))
    assert "through every window in time" in said


def test_the_latest_time_of_the_mark_runs_from_the_last_hot_reading() -> None:
    bench = bench_in(replace(COOK, until=Until(core_temp_c=65.0)), CHILL, REST)
    told(bench, core("k1", 0.0, 66.0))
    # 08:00 UTC and 5 h; the answer is given some seconds after the hour.
    assert "13:00 UTC. Confirm" in told(bench, core("k2", 60.0, 45.0))


def test_without_nitrite_the_fast_windows_hold() -> None:
    bare = replace(PROFILE, cure="other")
    bench = bench_in(replace(COOK, until=Until(core_temp_c=65.0)), CHILL, REST, profile=bare)
    told(bench, core("k1", 0.0, 66.0))
    said = told(bench, core("k2", 100.0, 30.0))
    assert "Chill, rapid: 54.4 to 26.7 °C in 1.5 h: 1.7 h used, too slow." in said
    assert "do not taste, hold the batch" in said


def test_the_smoker_asks_for_a_dry_surface_first() -> None:
    bench = bench_in(SMOKE, REST)
    said = told(bench, Smoker(id="s1", at_wall_s=WALL_S + 60.0, value_c=60.0))
    assert "smoker 60.0 °C." in said
    assert "The profile has 45 °C: 15 K hotter." in said
    assert "Is the surface dry?" in said
    assert "2 h more in this stage at least." in said
    assert bench.outcome is not None
    assert [(entry.kind, entry.value, entry.unit) for entry in bench.outcome.entries] == [("smoker_temp", "60", "Cel")]
    assert "ready for smoke" in told(bench, Look(id="l", at_wall_s=WALL_S + 120.0, looks={"look": "tacky"}))
    assert "Is the surface dry?" not in told(bench, Smoker(id="s2", at_wall_s=WALL_S + 180.0, value_c=46.0))


@pytest.mark.parametrize(
    ("stage", "value_c", "says"),
    [
        (DRY, 45.0, "belongs to a smoke or a cook"),
        (SMOKE, 140.0, "did you mean 140F (60 °C)?"),
        (SMOKE, 400.0, "this cannot be"),
    ],
)
def test_a_smoker_that_cannot_be_is_asked_back(stage: Stage, value_c: float, says: str) -> None:
    assert says in refused(bench_in(stage, REST), Smoker(id="s", at_wall_s=WALL_S, value_c=value_c))


def test_each_stage_of_a_person_begins_with_what_it_asks() -> None:
    bench = bench_in(REST, SMOKE, replace(COOK, until=Until(core_temp_c=65.0)), CHILL, REST)
    bench.tick(Confirm(id="c1"))
    assert "First let the surface dry until it is tacky" in bench.events[-1]
    assert "Then smoke near 45 °C, 2 h or longer" in bench.events[-1]
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_elapsed_s=7200.0),))
    bench.tick(Confirm(id="c2"))
    assert "The lowest counts" in bench.events[-1]
    assert "It ends at 65 °C in the coolest piece." in bench.events[-1]
    bench.tick(core("k", 1.0, 66.0))
    assert "Into cold water or ice at once" in bench.events[-1]


def test_mist_stays_off_while_the_chamber_is_smoked_in() -> None:
    here = replace(SMOKE, where="chamber", air_temp_c=25.0, rh_pct=75.0)
    bench = bench_in(here, REST)
    dry_air: dict[Channel, float | FaultKind] = {"air_temp": 25.0, "rh_temp": 25.0, "rh": 40.0}
    bench.says.update(dry_air)
    misted = False
    for _ in range(200):
        bench.tick()
        assert bench.outcome is not None
        misted = misted or bench.outcome.commands.is_on("humidifier", bench.now_s)
    assert not misted
    assert not any(alarm.row == "A5" for alarm in bench.memory.alarms)
    dry = replace(here, kind="dry", name="dry", until=Until(weight_loss_pct=30.0))
    bench = bench_in(dry, REST)
    bench.says.update(dry_air)
    assert any(
        bench.tick().outcome.commands.is_on("humidifier", bench.now_s)  # type: ignore[union-attr]
        for _ in range(200)
    )


def test_the_fixed_core_probe_counts_every_five_minutes_of_a_chill_in_the_chamber() -> None:
    bench = bench_in(replace(CHILL, where="chamber"), REST)
    bench.chamber = replace(
        CHAMBER,
        channels=(*CHAMBER.channels, "core_temp"),
        response_s={**CHAMBER.response_s, "core_temp": 30.0},
    )
    bench.says["core_temp"] = 52.0
    bench.run(minutes=16)
    assert [round((at_s - WALL_S) / 60.0) for at_s, _ in bench.batch.core_temps] == [0, 5, 10, 15]
    assert bench.batch.core_temp_c == 52.0
    assert "52.0 °C, the highest, counts" in told(bench, core("k", 16.0, 44.0, "A"))


def test_in_a_chill_the_warmest_piece_counts_and_every_piece_begins_at_the_cook() -> None:
    bench = bench_in(replace(COOK, until=Until(core_temp_c=65.0)), CHILL, REST)
    told(bench, core("k1", 0.0, 66.0, "B"))
    told(bench, core("k2", 240.0, 25.0, "A"))
    said = told(bench, core("k3", 241.0, 40.0, "C"))
    assert "54.4 to 26.7 °C in 5 h: 4 h used" in said
    assert bench.batch.core_temp_c == 40.0
    assert "core 24.0 °C in A; 40.0 °C, the highest, counts" in told(bench, core("k4", 242.0, 24.0, "A"))


def test_a_piece_goes_down_from_its_own_cook_and_one_that_was_not_read_there_from_the_last_reading() -> None:
    bench = bench_in(replace(COOK, until=Until(core_temp_c=65.0)), CHILL, REST)
    told(bench, core("k1", 0.0, 64.0, "A"))
    told(bench, core("k2", 0.0, 70.0, "C"))
    told(bench, core("k3", 1.0, 66.0, "A"))
    bench.tick()
    assert bench.batch.stage.name == "chill"
    told(bench, core("k4", 60.0, 25.0, "B"))
    assert {piece: [temp_c for _, temp_c in log] for piece, log in logs_of(bench.batch).items()} == {"B": [66.0, 25.0]}
    told(bench, core("k5", 61.0, 24.0, "C"))
    assert [temp_c for _, temp_c in logs_of(bench.batch)["C"]] == [70.0, 24.0]


def test_no_request_brings_a_cook_or_a_smoke_into_a_chamber_that_is_not_meant_for_it() -> None:
    bench = Bench()
    bench.memory = replace(bench.memory, batches=())
    for stage, says in ((COOK, "a chamber does not cook"), (SMOKE, "no smoke is let into bench")):
        here = replace(stage, where="chamber", air_temp_c=25.0)
        profile = replace(PROFILE, stages=(*PROFILE.stages, here))
        assert says in answer_to(bench, Start(id=f"s-{stage.name}", batch="x", profile=profile, meat_kg=3.0))
    bench.chamber = replace(CHAMBER, smoke_here=True)
    profile = replace(PROFILE, stages=(*PROFILE.stages, replace(SMOKE, where="chamber", air_temp_c=25.0)))
    assert "x started" in answer_to(bench, Start(id="s3", batch="x", profile=profile, meat_kg=3.0))


def answer_to(bench: Bench, request: Start) -> str:
    bench.tick(request)
    assert bench.outcome is not None
    return bench.outcome.answers[-1].text
