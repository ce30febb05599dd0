"""A gap whose length no clock ever told leaves the degree-hours open on the sheet; one that was told does not."""

from pathlib import Path
from typing import Any

import pytest

from controller.review.figures import review
from controller.review.release import release
from tests.helpers.batch_logs import Log


def ferment(*gaps: tuple[float, str]) -> Log:
    """Tell of a ferment of 20 h at 24 °C, far within its limit, with these events of gaps."""
    log = Log().event(0.0, "hang").minutes(0.0, 22.0, 24.0).reading(20.0, "ph", 4.9, note="sample: sausage")
    for at_h, name in gaps:
        log.event(at_h, "gap", name)
    return log


def verdict(made: dict[str, Any]) -> str:
    (section,) = [part for part in made["criteria"] if part["name"] == "degree-hours"]
    (word,) = {line["verdict"] for line in section["lines"] if line["counts"]}
    return str(word)


@pytest.mark.parametrize(
    ("gaps", "count", "said"),
    [
        ((), 0, "met"),
        (((5.0, ""),), 0, "met"),  # Its length was known at once: the rows tell it.
        (((5.0, "unknown"),), 1, "not measured"),  # The clock has not been set since.
        (((5.0, "unknown"), (5.1, "known")), 0, "met"),
        (((5.0, "never"), (6.0, "unknown"), (6.1, "known")), 1, "not measured"),
        (((21.0, "never"),), 0, "met"),  # After the pH that ended the count.
        (((5.0, "unknown"), (5.01, "bounded:1800")), 0, "met"),
        (((5.0, "unknown"), (5.01, "never")), 1, "not measured"),
        (((5.0, "unknown"), (5.01, "bounded:"), (6.0, "bounded:-3")), 1, "not measured"),  # Damaged.
        (((5.0, "unknown"), (5.01, "bounded:1800"), (8.0, "unknown")), 1, "not measured"),
    ],
)
def test_the_sheet_leaves_open_what_a_gap_of_unknown_length_may_have_added(
    gaps: tuple[tuple[float, str], ...], count: int, said: str, tmp_path: Path
) -> None:
    folder = ferment(*gaps).write(tmp_path / "b")
    assert review(folder)["ferment"]["untold_gaps"] == count
    made = release(folder)
    assert verdict(made) == said
    assert ("no upper bound" in str(made)) == (said == "not measured")


@pytest.mark.parametrize(
    ("gaps", "hours"),
    [
        ((), 0.0),
        (((5.0, "unknown"), (5.01, "bounded:7200")), 2.0),
        (((5.0, "unknown"), (5.01, "bounded:7200"), (6.0, "known")), 0.0),  # Then the rows have it.
        (((5.0, "bounded:7200"), (9.0, "bounded:3600")), 3.0),
        (((21.0, "bounded:7200"),), 0.0),  # After the pH that ended the count.
    ],
)
def test_a_gap_that_the_cooling_bounds_counts_as_long_in_what_is_guarded(
    gaps: tuple[tuple[float, str], ...], hours: float, tmp_path: Path
) -> None:
    """By hand: 24.5 °C with the thermometer's error are 76.1 °F, 16.1 above 60 °F."""
    figures = review(ferment(*gaps).write(tmp_path / "b"))["ferment"]
    plain = review(ferment().write(tmp_path / "plain"))["ferment"]
    assert figures["guarded_degree_hours_f"] - plain["guarded_degree_hours_f"] == pytest.approx(16.1 * hours, abs=0.3)
    assert figures["degree_hours_f"] == plain["degree_hours_f"]
