"""How long the empty chamber takes to get warm: not much longer, and never shorter, than under the daemon itself."""

from pathlib import Path

import pytest

from controller import app
from controller.planning.hours.warming import STEADY_S, warm_up_s
from controller.review.batch import read_batch
from controller.settings.chamber_file import find_chamber
from controller.settings.profile_file import find_profile
from tests.helpers.planned import chamber_named


@pytest.mark.parametrize("name", ["old-fridge", "insulated-box", "plywood-cabinet"])
def test_the_chamber_is_switched_on_early_enough_by_its_model_figures(name: str, tmp_path: Path) -> None:
    begin_s, quarter_s = 1.7e9, 900.0
    wanted = app.Simulation(
        profile=find_profile("tangy"),
        chamber=find_chamber(name),
        out=tmp_path,
        begin_wall_s=begin_s,
        ambient_c=20.0,
        days=0.075,
        maker=False,
    )
    app.simulate(wanted, lambda _: None)
    (folder,) = (tmp_path / "batches").iterdir()
    reached_s = next(row.time_s for row in read_batch(folder).rows if (row.air_temp_c or 0.0) >= 35.5) - begin_s
    expected_s = warm_up_s(chamber_named(name), 20.0, 36.0)
    assert expected_s is not None
    assert reached_s - quarter_s <= expected_s - STEADY_S
    assert expected_s - STEADY_S <= reached_s + quarter_s


def test_a_room_that_is_warm_enough_needs_no_lamp_and_one_that_is_too_cold_is_never_left() -> None:
    fridge = chamber_named()
    assert warm_up_s(fridge, 24.0, 24.0) == STEADY_S
    assert warm_up_s(fridge, -10.0, 36.0) is None
    slow, quick = warm_up_s(fridge, 10.0, 36.0), warm_up_s(fridge, 20.0, 36.0)
    assert slow is not None
    assert quick is not None
    assert slow > quick
