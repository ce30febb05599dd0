"""A person wants another climate for the present stage: within limits, with a reason, and the card stays."""

import msgspec
import pytest
from msgspec.structs import replace

from controller.core.memory import Memory
from controller.core.plan import Stage, Until
from controller.core.requests import Adjust, Confirm
from controller.core.restart import after_restart
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench
from tests.helpers.pieces_bench import DRY, REST, bench_in, refused, told

FERMENT = replace(PROFILE.stages[1], air_temp_c=31.0)


def wish(
    temp_c: float | None = None, rh_pct: float | None = None, *, sure: bool = False, why: str = "soft fat"
) -> Adjust:
    return Adjust(id=f"set-{temp_c}-{rh_pct}-{sure}", air_temp_c=temp_c, rh_pct=rh_pct, because=why, sure=sure)


def fermenting(used_c: float = 0.0, *, passed: bool = False) -> Bench:
    """Return a ferment at 31 °C that has used so many Canadian degree-hours, and the like in the US ones."""
    bench = bench_in(FERMENT, DRY)
    batch = replace(
        bench.batch,
        passed_5_3=passed,
        highest_air_c=31.0,
        degree_hours_c=used_c,
        guarded_c=used_c,
        degree_hours_f=1.8 * used_c,
        guarded_f=1.8 * used_c,
    )
    bench.memory = replace(bench.memory, batches=(batch,))
    return bench


def test_the_chamber_goes_by_what_a_person_set_and_the_card_stays() -> None:
    bench = bench_in(DRY, REST)
    said = told(bench, wish(12.0, 82.0))
    assert "dry wants 12.0 °C and 82 % RH from now on, before 13.0 °C and 78 % RH." in said
    assert bench.tick().outcome is not None
    assert bench.outcome is not None
    assert (bench.outcome.wanted.air_temp_c, bench.outcome.wanted.rh_pct) == (12.0, 82.0)
    assert bench.events[-1] == (
        "set: dry: wanted is now 12.0 °C and 82 % RH, before 13.0 °C and 78 % RH: soft fat."
    )  # fmt: skip
    assert bench.batch.profile.stages[0] == DRY
    assert "before 12.0 °C and 82 % RH" in told(bench, wish(rh_pct=84.0))
    assert bench.batch.stage.air_temp_c == 12.0


def test_it_outlives_the_program() -> None:
    bench = bench_in(DRY, REST)
    told(bench, wish(rh_pct=82.0))
    kept = msgspec.msgpack.decode(msgspec.msgpack.encode(bench.memory), type=Memory)
    memory, _ = after_restart(kept, CHAMBER, bench.now_s + 60.0, bench.wall_s + 60.0, "boot-1", wall_trusted=True)
    bench.memory = memory
    assert bench.tick().outcome is not None
    assert bench.outcome is not None
    assert bench.outcome.wanted.rh_pct == 82.0


def test_it_ends_with_its_stage() -> None:
    first = replace(DRY, name="dry-1", until=Until(confirm=True))
    bench = bench_in(first, DRY, REST)
    told(bench, wish(rh_pct=85.0))
    bench.tick(Confirm(id="c"))
    assert (bench.batch.stage.name, bench.batch.stage.rh_pct) == ("dry", 78.0)


@pytest.mark.parametrize(
    ("request_", "says"),
    [
        (wish(75.0), "--air-temp 75 °C: take -5 to 42 °C; did you mean 75F (23.9 °C)?"),
        (wish(43.0), "take -5 to 42 °C"),
        (wish(25.0), "25 °C is warm for dry"),
        (wish(rh_pct=0.8), "--rh 0.8: take 30 to 99 % RH; did you mean 80?"),
        (wish(13.0, 78.0), "wants 13.0 °C and 78 % RH already"),
        (wish(), "say what is to change"),
        (wish(12.0, why=" "), "only with a reason"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_reason(request_: Adjust, says: str) -> None:
    assert says in refused(bench_in(DRY, REST), request_)


def test_what_this_chamber_cannot_do_is_refused() -> None:
    bench = bench_in(DRY, REST)
    bench.chamber = replace(
        CHAMBER, outputs=tuple(one for one in CHAMBER.outputs if one.role not in {"cooler", "heater"}), drying="none"
    )
    assert "no cooler, and its room gets up to 24 °C" in refused(bench, wish(12.0))
    assert "no heater" in refused(bench, wish(26.0, sure=True))
    assert "nothing in bench dries the air" in refused(bench, wish(rh_pct=70.0))


def test_a_stage_elsewhere_or_over_has_no_climate_to_set() -> None:
    cellar = Stage(name="cellar", kind="dry", where="elsewhere", until=Until(confirm=True))
    assert "is elsewhere" in refused(bench_in(cellar, DRY), wish(12.0))
    done = bench_in(DRY)
    done.memory = replace(done.memory, batches=(replace(done.batch, state="complete"),))
    assert "is complete" in refused(done, wish(12.0))


def test_a_ferment_stays_in_the_range_of_its_starter() -> None:
    assert "this starter works at 18 to 40 °C" in refused(fermenting(), wish(41.0))
    assert "a ferment lies between 12 and 45 °C" in refused(fermenting(), wish(8.0))


def test_a_ferment_so_cool_that_no_rule_counts_has_its_days_bounded() -> None:
    bench = fermenting()
    cool = replace(bench.batch.profile, starter_temp_c=(10.0, 40.0))
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, profile=cool),))
    assert "this rule protects nothing here; at most 2.0 days in this stage" in told(bench, wish(14.0))
    bench = bench_in(replace(FERMENT, at_most_h=None), DRY)
    endless = replace(bench.batch, profile=replace(bench.batch.profile, starter_temp_c=(10.0, 40.0)), passed_5_3=False)
    bench.memory = replace(bench.memory, batches=(endless,))
    assert "no at_most_h that would bound its days" in refused(bench, wish(14.0))


def test_a_worse_band_of_degree_hours_is_asked_back_with_the_hours_that_are_left() -> None:
    # 34 °C is in the second band of both rules: 1000 F and 555 C (AMIF 1997; CFIA 4.16.2.1); 0.5 K for the thermometer.
    bench = fermenting(100.0)
    assert "lowers the limit from 1200 to 1000 degree-hours (F): 24.0 h are left then" in refused(bench, wish(34.0))
    # Canada: (555 - 100) / (34.5 - 15.6) = 24.1 h; US: (1000 - 180) / (94.1 - 60) = 24.0 h.
    said = told(bench, wish(34.0, sure=True))
    assert "pH 5.3 within 24.0 h from now" in said
    assert "pH 5.3 within 24.1 h from now" in said


def test_a_band_whose_limit_is_used_up_already_is_never_entered() -> None:
    said = refused(fermenting(580.0), wish(34.0, sure=True))
    assert "1044 are used already: the batch would be over" in said  # 580 x 1.8, above 1000.


def test_within_its_band_or_after_5_3_a_ferment_may_be_changed() -> None:
    said = told(fermenting(100.0), wish(28.0))
    assert "pH 5.3 within" in said
    assert "wants 34.0 °C" in told(fermenting(100.0, passed=True), wish(34.0))


def test_much_drier_air_at_once_is_warned_of() -> None:
    assert "the rim may harden" in told(bench_in(DRY, REST), wish(rh_pct=70.0))


def test_air_in_which_the_wanted_loss_is_never_reached_is_told() -> None:
    assert "35 % loss is not reached at 90 % RH" in told(bench_in(DRY, REST), wish(rh_pct=90.0))


def test_the_gate_still_has_the_last_word() -> None:
    bench = bench_in(DRY, REST)
    told(bench, wish(20.0))
    bench.run(minutes=2).run(minutes=1, rh_temp=46.0, air_temp=44.0)
    assert not bench.heat_on
    assert bench.wall_s > WALL_S


def test_a_warm_up_that_is_set_into_a_worse_band_than_its_ferment_is_asked_back() -> None:
    warm = replace(PROFILE.stages[0], air_temp_c=31.0)
    bench = Bench(profile=replace(PROFILE, stages=(warm, FERMENT, DRY)))
    why = refused(bench, wish(38.0))
    assert "lowers the limit from 1200 to 900 degree-hours (F)" in why
    assert "the air is still as warm then: let it come down before the meat is hung" in why
    assert "warm wants 38.0 °C" in told(bench, wish(38.0, sure=True))


def test_other_stages_are_held_against_the_band_while_5_3_is_still_to_come() -> None:
    bench = fermenting(580.0)
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_index=1),))
    assert "the batch would be over" in refused(bench, wish(34.0, sure=True))
    bench = fermenting(580.0, passed=True)
    bench.memory = replace(bench.memory, batches=(replace(bench.batch, stage_index=1),))
    assert "dry wants 34.0 °C" in told(bench, wish(34.0, sure=True))
