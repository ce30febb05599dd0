"""A review lets a real sausage contradict its wrapped sample, as the running program does."""

from pathlib import Path

from controller.review.figures import review
from tests.helpers.batch_logs import Log


def soured(*readings: tuple[float, float, str]) -> Log:
    """Return 50 hours at 26.3 °C with these readings: (hour, pH, note)."""
    log = Log().event(0.0, "hang").minutes(0.0, 50.0, 26.3)
    for hour, ph, note in readings:
        log = log.reading(hour, "ph", ph, note=note)
    return log


def test_a_sample_that_the_sausage_contradicted_ends_no_count(tmp_path: Path) -> None:
    ferment = review(soured((30.0, 4.9, ""), (31.0, 5.6, "sample: sausage"), (35.0, 4.8, "")).write(tmp_path / "b"))
    assert ferment["ferment"]["hours_to_ph_5_3"] is None
    assert ferment["ferment"]["guarded_verdict"] == "open"


def test_a_sausage_that_sours_later_ends_it(tmp_path: Path) -> None:
    told = soured((30.0, 4.9, ""), (31.0, 5.6, "sample: sausage"), (40.0, 5.0, "sample: sausage"))
    assert review(told.write(tmp_path / "b"))["ferment"]["hours_to_ph_5_3"] == 40.0


def test_a_sausage_measured_early_takes_nothing_away(tmp_path: Path) -> None:
    told = soured((12.0, 5.6, "sample: sausage"), (30.0, 4.9, ""))
    assert review(told.write(tmp_path / "b"))["ferment"]["hours_to_ph_5_3"] == 30.0
