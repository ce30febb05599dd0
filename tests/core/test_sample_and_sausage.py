"""The wrapped sample stands for the sausage only as long as the sausage agrees."""

from controller.core.requests import Cool, Ph, Sample
from controller.food.degree_hours import standing_passes
from tests.helpers.bench_chamber import Bench
from tests.helpers.readings import answer, fermenting, later, refused


def ph(bench: Bench, name: str, value: float, *, sausage: bool = False, sure: bool = False, replaces: str = "") -> str:
    """Type a pH by meter now, and return the answer."""
    sample: Sample = "sausage" if sausage else "mince"
    at_wall_s = None if replaces else bench.wall_s
    bench.tick(
        Ph(id=name, at_wall_s=at_wall_s, value=value, instrument="meter", sample=sample, sure=sure, replaces=replaces)
    )
    return answer(bench)


def contradicted() -> Bench:
    """Return a ferment whose wrapped sample has passed 5.3, and whose sausage has not."""
    bench = later(fermenting(), 20.0)
    ph(bench, "mince", 4.9)
    assert bench.batch.passed_5_3
    later(bench, 1.0)
    ph(bench, "core", 5.6, sausage=True, sure=True)
    return bench


def test_a_sausage_far_from_the_wrapped_sample_is_asked_back() -> None:
    bench = later(fermenting(), 20.0)
    ph(bench, "mince", 4.9)
    later(bench, 1.0)
    said = ph(bench, "core", 5.6, sausage=True)
    assert "the wrapped sample had 4.90 within 2 h of it, and they differ by more than 0.3" in said
    assert "Not taken" in said
    assert bench.batch.passed_5_3
    assert "Not taken" not in ph(bench, "near", 5.2, sausage=True)


def test_a_sausage_above_5_3_opens_the_count_again_and_nothing_is_let_cool() -> None:
    bench = later(fermenting(), 20.0)
    ph(bench, "mince", 4.9)
    counted_f = bench.batch.degree_hours_f
    later(bench, 1.0)
    said = ph(bench, "core", 5.6, sausage=True, sure=True)
    assert "The count of degree-hours is open again" in said
    assert "what the wrapped sample had does not stand" in said
    assert not bench.batch.passed_5_3
    assert bench.batch.degree_hours_f > counted_f + 36.0
    assert "only after a pH at or below 5.3" in refused(bench, Cool(id="c", from_wall_s=bench.wall_s))
    before_f = bench.batch.degree_hours_f
    later(bench, 1.0)
    assert bench.batch.degree_hours_f > before_f + 36.0


def test_what_is_let_cool_already_is_warmed_again() -> None:
    bench = later(fermenting(), 20.0)
    ph(bench, "mince", 4.9)
    bench.tick(Cool(id="c", from_wall_s=bench.wall_s))
    later(bench, 1.0)
    assert "it is not let cool any more" in ph(bench, "core", 5.6, sausage=True, sure=True)


def test_only_the_sausage_ends_the_count_from_then_on() -> None:
    bench = contradicted()
    later(bench, 3.0)
    ph(bench, "mince 2", 4.8, sure=True)
    assert not bench.batch.passed_5_3
    later(bench, 1.0)
    ph(bench, "core 2", 5.1, sausage=True, sure=True)
    assert bench.batch.passed_5_3


def test_a_sausage_that_was_typed_wrong_gives_the_count_back() -> None:
    bench = contradicted()
    later(bench, 1.0)
    ph(bench, "core fixed", 4.95, sausage=True, replaces="core")
    assert bench.batch.passed_5_3
    first = bench.batch.ph_sums[bench.batch.ph_ids.index("mince")]
    assert bench.batch.degree_hours_f == first.degree_hours_f


def test_a_sausage_that_was_measured_early_takes_nothing_from_the_sample() -> None:
    bench = later(fermenting(), 12.0)
    ph(bench, "core", 5.6, sausage=True)
    later(bench, 8.0)
    ph(bench, "mince", 5.0)
    assert bench.batch.passed_5_3


def test_a_ripe_sausage_whose_ph_rises_again_opens_nothing() -> None:
    # In ripening the pH rises, as 4.65 to 4.88 from day 14 to 20: Korean J. Food Sci. Anim. Resour. 36(3), table 2.
    bench = later(fermenting(), 24.0)
    ph(bench, "mince", 4.75)
    ph(bench, "core", 4.7, sausage=True)
    assert later(bench, 0.1).batch.stage.name == "dry"
    later(bench, 30.0)
    ph(bench, "ripe", 5.5, sausage=True, sure=True)
    assert bench.batch.passed_5_3


def test_which_readings_stand() -> None:
    sour, not_yet = (True, False), (False, False)
    sour_sausage, bland_sausage = (True, True), (False, True)
    assert standing_passes([not_yet, sour]) == [1]
    assert standing_passes([sour, bland_sausage]) == []
    assert standing_passes([sour, bland_sausage, sour, sour_sausage]) == [3]
    assert standing_passes([bland_sausage, sour, sour_sausage]) == [1, 2]
    assert standing_passes([sour_sausage, bland_sausage, sour_sausage]) == [2]
