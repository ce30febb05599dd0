"""A slice of the campaign that scores the forecasts; the whole one is `python -m tests.bench.forecasts`.

Every case of the published table is in it, with every prior mean shifted by one spread up; down: `pytest -m long`. So
few batches cannot tell 75 from 85 %, so the bounds of one case are what a slice of this size may fall to in one of
200 when the long run is just good enough: 70 % of the bands hold the truth, and the median width is 1.3 times the
published one (the median of fifty widths may lie a tenth above that of 200). At the upper end one case of this size
says nothing: even at 97 % it is often whole. There, and without any allowance, all cases of a shift together are held
to 70 to 97 %.
"""

from functools import cache
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

PH_BATCHES: Final = 50
LOSS_BATCHES: Final = 30
SLICE_WIDTH: Final = 1.1 * WIDTH_AT_MOST
SHIFTS: Final = ("all up", "all down")
EACH_SHIFT: Final = ("all up", pytest.param("all down", marks=pytest.mark.long))
HOUR_S: Final = 3600.0


def fewest_held(batches: int) -> int:
    """Return how many bands hold the truth at least, in 199 of 200 slices, if 70 % do in the long run."""
    return int(stats.binom.ppf(0.005, batches, HELD[0]))


@cache
def of_ph(case: PhCase, shift: str) -> Score:
    return ph_score(case, shift, PH_BATCHES)


@cache
def of_loss(case: LossCase, shift: str) -> Score:
    return loss_score(case, shift, LOSS_BATCHES, step_s=HOUR_S)


def check(score: Score, batches: int) -> None:
    assert round(score.held * batches) >= fewest_held(batches), score
    assert score.width <= SLICE_WIDTH * score.published, score


def test_the_bounds_of_the_slice_are_the_binomial_ones() -> None:
    assert (fewest_held(PH_BATCHES), fewest_held(LOSS_BATCHES)) == (26, 14)
    for batches in (PH_BATCHES, LOSS_BATCHES):
        fewest = fewest_held(batches)
        assert stats.binom.cdf(fewest - 1, batches, 0.7) < 0.005 <= stats.binom.cdf(fewest, batches, 0.7)


def test_the_slice_has_every_case_and_shifts_every_prior_mean_by_one_spread() -> None:
    assert (len(PH_CASES), len(LOSS_CASES)) == (9, 10)
    for shifts, priors in ((PH_SHIFTS, 4), (LOSS_SHIFTS, 3)):
        assert [set(shifts[shift]) for shift in SHIFTS] == [{1.0}, {-1.0}]
        assert {len(row) for row in shifts.values()} == {priors}


@pytest.mark.parametrize("shift", EACH_SHIFT)
@pytest.mark.parametrize("case", PH_CASES, ids=lambda case: f"{case.culture}, {len(case.measured_h)} readings")
def test_a_ph_forecast_with_shifted_priors_still_holds_the_truth(case: PhCase, shift: str) -> None:
    check(of_ph(case, shift), PH_BATCHES)


@pytest.mark.parametrize("shift", EACH_SHIFT)
@pytest.mark.parametrize("case", LOSS_CASES, ids=lambda case: f"every {case.every_d} d up to {case.up_to_d}")
def test_a_loss_forecast_with_shifted_priors_still_holds_the_truth(case: LossCase, shift: str) -> None:
    check(of_loss(case, shift), LOSS_BATCHES)


@pytest.mark.parametrize("shift", EACH_SHIFT)
def test_all_cases_of_a_shift_together_hold_seventy_to_ninety_seven_per_cent(shift: str) -> None:
    for held in ([of_ph(case, shift).held for case in PH_CASES], [of_loss(case, shift).held for case in LOSS_CASES]):
        assert HELD[0] <= sum(held) / len(held) <= HELD[1], held
