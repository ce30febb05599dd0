"""A short slice of the campaign that scores the forecasts; the whole one is `python -m tests.bench.forecasts`.

Sixteen batches cannot tell 75 from 85 %. The bounds are coarse on purpose: if 70 % of the bands hold the truth, fewer
than `fewest_held` of them do so in one of 200 slices; and a median of 16 widths may lie a tenth above that of 200.
"""

from typing import Final

import pytest
from scipy import stats

from tests.bench.forecasts import (
    HELD,
    LOSS_CASES,
    LOSS_SHIFTS,
    PH_CASES,
    PH_SHIFTS,
    WIDTH_AT_MOST,
    LossCase,
    PhCase,
    Score,
    loss_score,
    ph_score,
)

BATCHES: Final = 16
SLICE_WIDTH: Final = 1.1 * WIDTH_AT_MOST
SHIFTS: Final = ("none", "all up", "all down")
HOUR_S: Final = 3600.0


def fewest_held() -> int:
    """Return how many bands hold the truth at least, in 199 of 200 slices, if 70 % do in the long run."""
    return int(stats.binom.ppf(0.005, BATCHES, HELD[0]))


def check(score: Score) -> None:
    assert round(score.held * BATCHES) >= fewest_held(), score
    assert score.width <= SLICE_WIDTH * score.published, score


def test_the_bound_of_the_slice_is_the_binomial_one() -> None:
    assert fewest_held() == 6
    assert stats.binom.cdf(5, 16, 0.7) < 0.005 < stats.binom.cdf(6, 16, 0.7)


def test_the_slice_shifts_every_prior_mean_by_one_spread() -> None:
    for shifts in (PH_SHIFTS, LOSS_SHIFTS):
        assert all(abs(by) == 1.0 for name, row in shifts.items() if name != "none" for by in row)
        assert {len(row) for row in shifts.values()} in ({4}, {3})


@pytest.mark.parametrize("shift", SHIFTS)
@pytest.mark.parametrize("case", [PH_CASES[1], PH_CASES[3], PH_CASES[7]], ids=lambda c: f"{c.culture}-{c.measured_h}")
def test_a_ph_forecast_with_shifted_priors_still_holds_the_truth(case: PhCase, shift: str) -> None:
    check(ph_score(case, shift, BATCHES))


@pytest.mark.parametrize("shift", SHIFTS)
@pytest.mark.parametrize("case", [LOSS_CASES[5], LOSS_CASES[6]], ids=lambda case: f"{case.every_d}d-{case.up_to_d}")
def test_a_loss_forecast_with_shifted_priors_still_holds_the_truth(case: LossCase, shift: str) -> None:
    check(loss_score(case, shift, BATCHES, step_s=HOUR_S))
