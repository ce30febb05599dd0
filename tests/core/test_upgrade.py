"""A checkpoint of an older program, in mid-ferment: the limit does not begin at nought."""

import zlib
from typing import Any

import msgspec
import pytest

from controller.core.plan import Profile
from controller.core.requests import Ph
from controller.core.restart import after_restart
from controller.records.checkpoint import decode_memory
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench
from tests.helpers.readings import answer, later

HUNG_WALL_S = WALL_S + 1205.0
HOURS = 3600.0


def old_batch(**more: object) -> dict[str, Any]:
    """Return what the first program kept of a batch after 15 h at 36 °C: no sums with an error, none beside a pH."""
    return {
        "id": "b",
        "profile": msgspec.to_builtins(PROFILE),
        "state": "running",
        "began_wall_s": WALL_S,
        "meat_kg": 5.0,
        "diameter_mm": 55.0,
        "stage_index": 1,
        "stage_began_wall_s": HUNG_WALL_S,
        "elapsed_s": 55210.0,
        "stage_elapsed_s": 54010.0,
        "stage_at_conditions_s": 54010.0,
        "arrived": True,
        "stage_start_c": 36.0,
        "confirmed": False,
        "hung_s": 1200.0,
        "hung_wall_s": HUNG_WALL_S,
        "ended": [{"name": "warm", "began_wall_s": 0.0, "ended_wall_s": HUNG_WALL_S, "by": "hang"}],
        "ph": [[HUNG_WALL_S + 54000.0, 5.45]],
        "ph_ids": ["p1"],
        "ph_demanded": 1,
        "last_ph_s": 55205.0,
        "weighings": [["hang", HUNG_WALL_S, {"A": 400.0, "B": 410.0}]],
        "green_g": {"A": 400.0, "B": 410.0},
        "now_g": {},
        "core_temp_c": None,
        "degree_hours_f": 552.1022222222199,
        "degree_hours_c": 306.05666666666684,
        "highest_air_c": 36.0,
        "passed_5_3": False,
        "spare_f": 0.0,
        "spare_c": 0.0,
        "spare_highest_c": None,
        "suspicion": {"cause": "", "since_s": 0.0, "starts_s": []},
        "held_because": "",
        "held_by_person": False,
        "held_by_gap": False,
        "overdue": False,
        "ph_due_since_s": None,
        "closed": False,
        **more,
    }


def upgraded(**more: object) -> Bench:
    """Return the chamber half a minute later, with this program."""
    memory = {
        "started_s": 1000.0,
        "last_s": 56210.0,
        "boot_id": "boot-1",
        "wall_s": WALL_S + 55210.0,
        "wall_trusted": True,
        "ended_cleanly": True,
        "air_temp_c": 36.0,
        "highest_c": 36.0,
        "gap_s": 0.0,
        "leader": "b",
        "batches": [old_batch(**more)],
        "answered": ["hang", "p1"],
    }
    body = msgspec.msgpack.encode(memory)
    kept = decode_memory(b'{"version":1,"crc32":%d}\n' % zlib.crc32(body) + body)
    bench = Bench()
    bench.now_s, bench.wall_s = kept.last_s + 30.0, kept.wall_s + 30.0
    bench.memory, _ = after_restart(kept, CHAMBER, bench.now_s, bench.wall_s, "boot-1", wall_trusted=True)
    return bench.run(minutes=2, air_temp=36.0, rh_temp=36.0)


def test_what_was_counted_before_the_upgrade_counts_with_the_error_added() -> None:
    bench = upgraded()
    hours = 54010.0 / HOURS
    assert bench.batch.guarded_f >= 552.1 + 0.9 * hours
    assert bench.batch.guarded_f == pytest.approx(552.1 + 0.9 * hours, abs=3.0)  # And the minutes since.
    assert bench.batch.guarded_c == pytest.approx(306.06 + 0.5 * hours, abs=1.5)


def test_the_batch_is_paused_at_the_hour_at_which_it_would_have_been_without_the_upgrade() -> None:
    bench = upgraded()
    by_hand_h = 1000.5 / (36.5 * 1.8 + 32.0 - 60.0)  # 26.6 h from hanging: 36.5 °C lies in the band up to 100 °F.
    hung_s = bench.batch.hung_s
    assert hung_s is not None
    while bench.batch.state == "running":
        later(bench, 0.1)
        assert bench.batch.elapsed_s < 50 * HOURS
    assert "over the degree-hours" in bench.batch.held_because
    assert (bench.batch.elapsed_s - hung_s) / HOURS == pytest.approx(by_hand_h, abs=0.2)


def test_a_reading_of_before_keeps_the_degree_hours_it_left_when_it_is_corrected() -> None:
    bench = later(upgraded(), 15.0)
    at_s = bench.batch.ph[0][0]
    bench.tick(Ph(id="c", at_wall_s=at_s, value=5.2, instrument="meter", replaces="p1", sure=True))
    assert bench.batch.passed_5_3
    assert bench.batch.guarded_f == pytest.approx(552.1 + 0.9 * 15.0, abs=1.0)


def test_a_5_28_that_ended_the_count_by_the_older_program_ends_it_no_more() -> None:
    bench = upgraded(
        ph=[[HUNG_WALL_S + 46800.0, 5.45], [HUNG_WALL_S + 54000.0, 5.28]], ph_ids=["p1", "p2"], passed_5_3=True
    )
    assert not bench.batch.passed_5_3
    before_f = bench.batch.guarded_f
    later(bench, 2.0)
    assert bench.batch.guarded_f - before_f == pytest.approx(2.0 * 37.7, rel=0.01)


def test_in_drying_the_hours_of_the_ferment_alone_are_made_warmer() -> None:
    ended = [
        {"name": "warm", "began_wall_s": 0.0, "ended_wall_s": HUNG_WALL_S, "by": "hang"},
        {"name": "ferment", "began_wall_s": HUNG_WALL_S, "ended_wall_s": HUNG_WALL_S + 54000.0, "by": "until"},
    ]
    bench = upgraded(
        stage_index=2,
        ended=ended,
        passed_5_3=True,
        ph=[[HUNG_WALL_S + 54000.0, 4.8]],
        elapsed_s=1200.0 + 30 * 86_400.0,
        stage_elapsed_s=28 * 86_400.0,
        hung_wall_s=HUNG_WALL_S,
    )
    assert bench.batch.guarded_f == pytest.approx(552.1 + 0.9 * 15.0, abs=0.1)
    bench.tick(Ph(id="n", at_wall_s=bench.wall_s, value=5.0, instrument="meter", sure=True))
    assert "paused" not in answer(bench)
    assert bench.batch.guarded_f == pytest.approx(552.1 + 0.9 * 15.0, abs=0.1)


@pytest.mark.parametrize(
    ("cut_h", "asks", "counted_s"),
    [(9.0, "", 30.0), (9.0, "ph", 9 * HOURS + 30.0), (0.8, "", 0.8 * HOURS + 30.0)],
)
def test_long_cuts_of_before_that_a_person_has_answered_count_no_more_and_all_others_do(
    cut_h: float, asks: str, counted_s: float
) -> None:
    cuts = [{"back_s": 40_000.0, "lasted_s": cut_h * HOURS, "stage_index": 1, "power": True}]
    state = {"state": "held", "held_because": "a cut"} if asks else {}
    bench = upgraded(away={"cuts": cuts, "asks": asks}, **state)
    assert bench.batch.away.counted_s == pytest.approx(counted_s)
    assert bench.batch.state == ("held" if asks else "running")


def test_a_profile_of_before_is_read_as_it_was() -> None:
    assert isinstance(upgraded().batch.profile, Profile)
