"""The daemon counts tick by tick, the review from the climate file afterwards: two routes to the same degree-hours."""

from pathlib import Path

import pytest

from controller.app import Simulation, simulate
from controller.records.status import read_status
from controller.review.figures import review
from controller.settings.profile_file import find_profile
from tests.helpers.chamber_story import BEGIN_WALL_S
from tests.helpers.shipped_chambers import deciding_seldom

WITHIN = 0.005
"""The two agree within 0.5 %."""


@pytest.mark.parametrize(
    ("profile", "days", "faults"),
    [
        ("tangy", 1.1, ()),  # Past 5.3 and beyond: counting has ended by a reading.
        ("tangy", 0.5, ("power-cut@6h/40m",)),  # Under way, with a gap that counts at its warmer end.
        ("tangy", 0.5, ("missing:air_temp@5h/3h",)),  # Three blind hours, in which the chamber cools, and warms after.
    ],
)
def test_the_running_sum_and_the_climate_file_agree(
    tmp_path: Path, profile: str, days: float, faults: tuple[str, ...]
) -> None:
    summary = simulate(
        Simulation(
            profile=find_profile(profile),
            chamber=deciding_seldom("insulated-box", tmp_path),
            out=tmp_path,
            begin_wall_s=BEGIN_WALL_S,
            days=days,
            faults=faults,
        ),
        lambda _progress: None,
    )
    (batch,) = read_status(tmp_path).batches
    ferment = review(Path(summary.folder))["ferment"]
    assert batch.counting is not None
    assert batch.counting.ended == (ferment["hours_to_ph_5_3_guarded"] is not None)
    assert batch.counting.us.guarded == pytest.approx(ferment["guarded_degree_hours_f"], rel=WITHIN)
    assert batch.counting.canada.guarded == pytest.approx(ferment["guarded_degree_hours_c"], rel=WITHIN)
    assert batch.counting.us.guarded_limit == ferment["guarded_limit_f"]
    assert batch.counting.canada.guarded_limit == ferment["guarded_limit_c"]
    assert batch.counting.us.guarded > 300.0
    if not batch.counting.ended:  # Until a pH ends them, the plain sums stand beside each other too.
        assert batch.degree_hours_f == pytest.approx(ferment["degree_hours_f"], rel=WITHIN)
        assert batch.degree_hours_c == pytest.approx(ferment["degree_hours_c"], rel=WITHIN)
