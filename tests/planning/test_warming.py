"""How long the empty chamber takes to get warm: not much longer, and never shorter, than under the daemon itself."""

from pathlib import Path

import pytest

from controller import app
from controller.app.simulated import SHOW_EVERY_S
from controller.planning.hours.warming import STEADY_S, warm_up_s
from controller.settings.chamber_file import find_chamber
from controller.settings.profile_file import find_profile
from tests.helpers.planned import chamber_named


@pytest.mark.parametrize("name", ["old-fridge", "insulated-box", "plywood-cabinet"])
def test_the_chamber_is_switched_on_early_enough_by_its_model_figures(name: str, tmp_path: Path) -> None:
    reached: list[float] = []

    def see(progress: app.Progress) -> None:
        if progress.air_temp_c is not None and progress.air_temp_c >= 35.5:
            reached.append(progress.done_s)

    app.simulate(
        app.Simulation(
            profile=find_profile("tangy"), chamber=find_chamber(name), out=tmp_path, begin_wall_s=1.7e9, ambient_c=20.0,
            days=0.075, maker=False,
        ),
        see,
    )  # fmt: skip
    expected_s = warm_up_s(chamber_named(name), 20.0, 36.0)
    assert expected_s is not None
    quarter_s = SHOW_EVERY_S  # The progress looks once in a quarter of an hour.
    assert reached[0] - quarter_s <= expected_s - STEADY_S
    assert expected_s - STEADY_S <= reached[0] + quarter_s


def test_a_room_that_is_warm_enough_needs_no_lamp_and_one_that_is_too_cold_is_never_left() -> None:
    fridge = chamber_named()
    assert warm_up_s(fridge, 24.0, 24.0) == STEADY_S
    assert warm_up_s(fridge, -10.0, 36.0) is None
    slow, quick = warm_up_s(fridge, 10.0, 36.0), warm_up_s(fridge, 20.0, 36.0)
    assert slow is not None
    assert quick is not None
    assert slow > quick
