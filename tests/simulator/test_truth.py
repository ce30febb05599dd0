"""What a simulation says of how the climate was held."""

import pytest

from controller.simulator.truth import StageTruth
from tests.helpers.bench_chamber import CHAMBER


@pytest.mark.parametrize(
    ("logged_c", "true_c", "said"),
    [
        ((35.8, 36.1, 35.9), (35.7, 36.2, 35.9), "first overshoot +0.10 K as logged, +0.20 K in the model."),
        ((35.3, 35.2), (34.0, 33.8), "never above what is wanted: 0.70 K below as logged, 2.00 K in the model."),
    ],
)
def test_an_overshoot_is_what_came_above_and_no_overshoot_is_said_as_such(
    logged_c: tuple[float, ...], true_c: tuple[float, ...], said: str
) -> None:
    stage = StageTruth("warm-up", "warm-up")
    for logged, true in zip(logged_c, true_c, strict=True):
        stage.add(logged, true, 36.0, arrived=True)
    assert said in " ".join(line.strip() for line in stage.lines(CHAMBER))
