"""The sums that learn priors, against textbook formulas and integrals done by scipy.

Gelman et al., Bayesian Data Analysis, 3rd ed.: section 2.5, eq. (2.11)-(2.12), the normal mean with known variance;
section 5.4, eq. (5.17)-(5.21), the hierarchical normal model.
"""

from math import exp, pi, sqrt
from random import Random

import numpy as np
import pytest
from scipy import integrate, stats

from controller.review.forecast.estimate import Prior, fit, quantiles
from controller.review.priors import shrinking
from controller.review.priors.left_one_out import left_one_out, lower_bound
from controller.review.priors.shown import Shown, crps, shift_of
from controller.review.priors.shrinking import Shift, learn, log_score, usual

SPREAD = 0.25
ONE = np.array([SPREAD])


def one(mean: float, error: float) -> Shift:
    return Shift(np.array([mean]), np.array([[1.0 / error**2]]))


def textbook(means: list[float], errors: list[float]) -> tuple[float, float]:
    """Return mean and spread of the next batch's shift, by the integral over the scatter t."""
    y, variances, makers = np.array(means), np.array(errors) ** 2, 0.5 * SPREAD**2
    # t² has a scaled inverse chi-square of 4 degrees of freedom and mean SPREAD²/2; as an inverse gamma:
    of_square = stats.invgamma(2.0, scale=0.5 * SPREAD**2)

    def given(t: float) -> tuple[float, float, float]:
        precision = 1.0 / (variances + t * t)  # (5.20), with the prior N(0, makers) of mu as one more precision.
        whole = float(np.sum(precision)) + 1.0 / makers
        mean = float(np.sum(precision * y)) / whole
        marginal = float(np.prod(stats.norm.pdf(y, mean, np.sqrt(variances + t * t))))
        marginal *= float(stats.norm.pdf(mean, 0.0, sqrt(makers))) / sqrt(whole) * sqrt(2.0 * pi)  # (5.21)
        return mean, 1.0 / whole, marginal * 2.0 * t * float(of_square.pdf(t * t))

    def over_t(what: int) -> float:
        def integrand(t: float) -> float:
            mean, variance, weight = given(t)
            return weight * (1.0, mean, variance + t * t + mean * mean)[what]

        return float(integrate.quad(integrand, 1e-6, 60.0 * SPREAD, limit=800, epsabs=1e-13, points=(0.1, 0.3))[0])

    whole, first, second = (over_t(what) for what in range(3))
    mean = first / whole
    return mean, sqrt(second / whole - mean * mean)


@pytest.mark.parametrize(
    ("means", "errors"),
    [
        ([0.4], [0.05]),
        ([0.4, 0.35, 0.5], [0.05, 0.1, 0.2]),
        ([-0.2, 0.3, 0.1, -0.1, 0.4, 0.0], [0.1] * 6),
        ([0.02, -0.01, 0.0, 0.01], [0.3, 0.3, 0.05, 0.05]),
    ],
    ids=["one", "three alike", "six apart", "four that hardly show anything"],
)
def test_the_learned_prior_is_the_textbook_s(means: list[float], errors: list[float]) -> None:
    belief = learn([one(mean, error) for mean, error in zip(means, errors, strict=True)], ONE)
    mean, spread = textbook(means, errors)
    assert belief.mean[0] == pytest.approx(mean, abs=0.002)
    assert belief.spread[0] == pytest.approx(spread, rel=0.02)


def test_with_the_scatter_given_it_is_the_conjugate_formula(monkeypatch: pytest.MonkeyPatch) -> None:
    scatter, errors, means = 0.1, [0.05, 0.08, 0.2], [0.3, 0.1, 0.5]
    monkeypatch.setattr(shrinking, "_grid", lambda _: (np.array([[scatter]]), np.zeros(1)))
    belief = learn([one(mean, error) for mean, error in zip(means, errors, strict=True)], ONE)
    precision = [1.0 / (error**2 + scatter**2) for error in errors]
    whole = sum(precision) + 1.0 / (0.5 * SPREAD**2)  # (2.12): precisions add.
    mean = sum(weight * value for weight, value in zip(precision, means, strict=True)) / whole  # (2.11)
    assert belief.mean[0] == pytest.approx(mean, rel=1e-9)
    assert belief.spread[0] == pytest.approx(sqrt(1.0 / whole + scatter**2), rel=1e-9)


def test_without_a_batch_and_with_one_that_says_nothing_the_shipped_prior_stays() -> None:
    for spread in (ONE, np.array([0.25, 0.3])):
        size = spread.size
        nothing = Shift(np.zeros(size), np.zeros((size, size)))
        for belief in (learn([], spread), learn([nothing, nothing], spread)):
            assert belief.mean == pytest.approx(np.zeros(size), abs=1e-9)
            assert belief.spread == pytest.approx(spread, rel=0.001)


def test_one_batch_moves_it_by_about_half_its_way_and_many_nearly_all_of_it() -> None:
    moved = [learn([one(0.25, 0.03)] * count, ONE) for count in (1, 2, 4, 12)]
    shares = [float(belief.mean[0]) / 0.25 for belief in moved]
    assert 0.45 < shares[0] < 0.7
    assert shares == sorted(shares)
    assert shares[-1] > 0.95
    spreads = [float(belief.spread[0]) for belief in moved]
    assert spreads[0] > 0.8 * SPREAD  # One batch does not make it sure.
    assert spreads == sorted(spreads, reverse=True)


def test_batches_that_differ_among_themselves_keep_the_spread() -> None:
    random = Random(1)
    apart = learn([one(random.gauss(0.0, SPREAD), 0.03) for _ in range(30)], ONE)
    assert apart.spread[0] == pytest.approx(SPREAD, rel=0.25)


def test_two_unknowns_that_only_their_sum_was_measured_of_are_learned_together() -> None:
    # Precision along (1, 1) alone: what was measured is the sum, 0.4; by symmetry each gets the same.
    along = np.array([[1.0, 1.0], [1.0, 1.0]]) / 0.05**2
    belief = learn([Shift(np.array([0.2, 0.2]), along)] * 6, np.array([0.25, 0.25]))
    assert belief.mean[0] == pytest.approx(belief.mean[1])
    assert 0.3 < belief.mean[0] + belief.mean[1] < 0.4


def test_the_log_score_is_the_normal_density_of_what_was_measured_but_for_a_constant() -> None:
    shift = one(0.3, 0.1)
    by = [log_score(shift, np.array([mean]), np.array([spread])) for mean, spread in ((0.0, 0.25), (0.25, 0.1))]
    density = [stats.norm.logpdf(0.3, mean, sqrt(spread**2 + 0.01)) for mean, spread in ((0.0, 0.25), (0.25, 0.1))]
    assert by[1] - by[0] == pytest.approx(density[1] - density[0], rel=1e-9)


def test_the_crps_of_weighted_draws_is_the_integral_of_its_definition() -> None:
    random = np.random.default_rng(3)
    values, weights = random.normal(10.0, 3.0, 400), random.uniform(0.1, 1.0, 400)
    weights /= weights.sum()
    order = np.argsort(values)
    came, grid = 12.5, np.linspace(-10.0, 30.0, 400_001)
    steps = np.concatenate(([0.0], np.cumsum(weights[order])))[np.searchsorted(values[order], grid, side="right")]
    by_integral = float(np.sum((steps - (grid >= came)) ** 2) * (grid[1] - grid[0]))
    assert crps(values, weights, came) == pytest.approx(by_integral, rel=1e-3)
    assert crps(np.array([7.0]), np.array([1.0]), 9.0) == pytest.approx(2.0)
    assert quantiles(values, weights, (0.5,))[0] == pytest.approx(np.median(values), abs=0.5)


def test_the_bound_of_the_gain_is_student_s() -> None:
    gains = [0.5, 0.9, 0.2, 0.7]
    interval = stats.t.interval(0.90, 3, np.mean(gains), stats.sem(gains))  # Two-sided 90 %: 95 % to each side.
    assert lower_bound(gains) == pytest.approx(interval[0])
    assert lower_bound([0.5]) is None


def test_the_spread_of_no_batch_is_the_shipped_one() -> None:
    assert usual(ONE).spread[0] == SPREAD
    assert exp(usual(ONE).mean[0]) == 1.0


def test_each_batch_is_scored_by_what_the_others_teach_and_not_by_itself() -> None:
    shifts = [one(mean, 0.05) for mean in (0.3, 0.1, -0.2, 0.4)]
    nothing = np.zeros(1)
    shown = [Shown(f"b{at}", shift, None, lambda _: (nothing, nothing), 1.0) for at, shift in enumerate(shifts)]
    scores = left_one_out(shown, ONE)
    for left_out, gain in enumerate(scores.gains):
        mean, spread = textbook([float(one.mean[0]) for at, one in enumerate(shifts) if at != left_out], [0.05] * 3)
        y = float(shifts[left_out].mean[0])
        by_others = stats.norm.logpdf(y, mean, sqrt(spread**2 + 0.05**2))
        shipped = stats.norm.logpdf(y, 0.0, sqrt(SPREAD**2 + 0.05**2))
        assert gain == pytest.approx(by_others - shipped, abs=0.02)
    assert scores.shipped is None
    assert scores.mean == pytest.approx(np.mean(scores.gains))


def test_what_the_readings_alone_say_is_the_posterior_less_its_prior() -> None:
    # One reading of y = x with error 0.2 under the prior N(1, 0.5²): the readings alone say 1.6 ± 0.2.
    wide = Prior(np.array([1.0]), np.array([0.5]))
    posterior = fit(wide, lambda unknowns: (unknowns - 1.6) / 0.2)
    shift = shift_of(posterior, wide, (0,))
    assert shift.mean[0] + 1.0 == pytest.approx(1.6, abs=0.02)
    assert 1.0 / sqrt(shift.precision[0, 0]) == pytest.approx(0.2, rel=0.05)
