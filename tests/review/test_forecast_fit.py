"""The fit and its two curves, against what stands outside of them: closed forms, scipy, the published tables."""

import numpy as np
import pytest
from scipy import optimize, stats

from controller.food.drying import equilibrium_loss_pct, mix_of
from controller.review.forecast import acid_curve, drying_curve
from controller.review.forecast.drying_curve import Ahead, Begun
from controller.review.forecast.estimate import LEVELS, Array, Prior, fit, quantiles, share_never
from tests.helpers.published_rows import rows_of

LACTATE_MOL = 0.05
"""Of the published drying table: 0.5 % dextrose."""


def unknowns(*values: float) -> Array:
    return np.array([values])


@pytest.mark.parametrize("row", rows_of("logistic_growth.csv"), ids=lambda row: row["t_h"])
def test_the_curve_of_the_ph_is_zwieterings_logistic(row: dict[str, str]) -> None:
    curve = unknowns(10.0, 4.6, np.log(0.5), np.log(4.0))
    fallen = 10.0 - acid_curve.ph_at(curve, np.array([float(row["t_h"])]))[0, 0]
    assert fallen == pytest.approx(float(row["grown"]), abs=6e-5)


def test_the_hour_of_a_ph_is_where_the_curve_has_that_ph() -> None:
    curve = unknowns(5.8, 0.7, np.log(0.04), np.log(18.0))
    for target in (5.7, 5.3, 5.15):
        hours = acid_curve.felt_h_at(curve, target)
        assert acid_curve.ph_at(curve, hours)[0, 0] == pytest.approx(target, abs=1e-9)
    assert acid_curve.felt_h_at(curve, 5.1)[0] == np.inf
    assert acid_curve.felt_h_at(curve, 5.9)[0] == 0.0


def test_a_straight_line_gets_exactly_the_posterior_of_the_textbook() -> None:
    # Bayesian linear regression: covariance (S0^-1 + X'X)^-1, mean covariance (S0^-1 m0 + X'y), all with sigma 1.
    design = np.array([[1.0, 0.0], [1.0, 1.0], [1.0, 3.0]])
    seen = np.array([2.0, 2.5, 6.0])
    prior = Prior(np.array([1.0, 0.5]), np.array([2.0, 0.7]))
    precision = np.diag(prior.spread**-2.0) + design.T @ design
    covariance = np.linalg.inv(precision)
    mean = covariance @ (prior.mean / prior.spread**2 + design.T @ seen)

    posterior = fit(prior, lambda draws: draws @ design.T - seen)
    assert posterior.best == pytest.approx(mean, abs=1e-6)
    for place in range(2):
        spread = float(np.sqrt(covariance[place, place]))
        expected = stats.norm(mean[place], spread).ppf(LEVELS)
        # 6000 draws worth some 4500: a quantile's own error is about 0.03 spreads.
        assert quantiles(posterior.draws[:, place], posterior.weights) == pytest.approx(expected, abs=0.1 * spread)
    assert 3000.0 < posterior.effective <= 6000.0


def test_without_readings_the_prior_comes_out() -> None:
    prior = Prior(np.array([5.0, 1.0]), np.array([0.3, 2.0]))
    posterior = fit(prior, lambda draws: np.zeros((draws.shape[0], 0)))
    for place in range(2):
        expected = stats.norm(prior.mean[place], prior.spread[place]).ppf(LEVELS)
        found = quantiles(posterior.draws[:, place], posterior.weights)
        assert found == pytest.approx(expected, abs=0.1 * prior.spread[place])


def test_a_bent_posterior_agrees_with_a_sum_over_a_grid() -> None:
    # One unknown, one reading of its exponential: the posterior is lopsided, so Laplace alone would be wrong.
    prior = Prior(np.array([0.0]), np.array([1.0]))
    posterior = fit(prior, lambda draws: (np.exp(draws) - 0.3) / 0.5)
    grid = np.linspace(-8.0, 4.0, 20_001)
    density = np.exp(-0.5 * (grid**2 + ((np.exp(grid) - 0.3) / 0.5) ** 2))
    expected = np.interp(LEVELS, np.cumsum(density) / density.sum(), grid)
    assert quantiles(posterior.draws[:, 0], posterior.weights) == pytest.approx(expected, abs=0.08)


def test_many_exact_readings_bring_back_the_curve_that_scipy_finds() -> None:
    hours = np.linspace(0.0, 60.0, 60)
    true = unknowns(5.75, 0.7, np.log(0.05), np.log(22.0))
    ph = acid_curve.ph_at(true, hours)[0]
    recipe = acid_curve.Recipe("mesophilic", 0.3)
    readings = list(zip(hours.tolist(), ph.tolist(), strict=True))
    found = acid_curve.posterior_of(acid_curve.prior_of(recipe, readings), readings).best

    def curve(at: Array, first: float, drop: float, speed: float, lag: float) -> Array:
        return np.asarray(first - drop / (1.0 + np.exp(4.0 * speed / drop * (lag - at) + 2.0)))

    by_scipy, _ = optimize.curve_fit(curve, hours, ph, p0=(5.7, 0.6, 0.04, 20.0))
    assert np.exp(found[2:]) == pytest.approx(by_scipy[2:], rel=0.03)
    assert found[:2] == pytest.approx(by_scipy[:2], abs=0.02)


def test_quantiles_tell_of_those_that_come_and_never_is_told_apart() -> None:
    values = np.array([1.0, 2.0, 3.0, 4.0, np.inf])
    weights = np.full(5, 0.2)
    assert quantiles(values, weights, (0.25, 0.5, 1.0)) == (1.0, 2.0, 4.0)
    assert share_never(values, weights) == pytest.approx(0.2)
    assert quantiles(np.array([np.inf]), np.array([1.0])) == (float("inf"),) * 5


def test_the_same_readings_give_the_same_forecast() -> None:
    recipe, readings = acid_curve.Recipe("thermotolerant", 0.5), [(0.0, 5.75), (10.0, 5.6)]
    first, second = (acid_curve.posterior_of(acid_curve.prior_of(recipe, readings), readings) for _ in range(2))
    assert np.array_equal(first.draws, second.draws)
    assert np.array_equal(first.weights, second.weights)


def felt(culture: str, temp_c: float) -> tuple[Array, Array]:
    """Return hours and felt hours of meat that warms from 4 °C with 1.5 h, as in the published table."""
    hours = np.arange(0.0, 300.0, 0.25)
    meat_c = temp_c - (temp_c - 4.0) * np.exp(-hours / 1.5)
    speeds = np.array([acid_curve.speed_at(culture, float(at)) for at in meat_c])
    return hours, np.concatenate(([0.0], np.cumsum(0.5 * (speeds[1:] + speeds[:-1]) * 0.25)))


ACID_ROWS = [row for row in rows_of("acid_table.csv") if row["t_pH5_3"] and 0.25 <= float(row["dextrose_pct"]) <= 0.7]


@pytest.mark.parametrize("row", ACID_ROWS, ids=lambda row: f"{row['culture']}-{row['T']}-{row['dextrose_pct']}")
def test_before_any_drop_the_middle_is_the_published_hour(row: dict[str, str]) -> None:
    hours, felt_h = felt(row["culture"], float(row["T"]))
    recipe = acid_curve.Recipe(row["culture"], float(row["dextrose_pct"]))
    prior = acid_curve.prior_of(recipe, [(0.0, 5.75)])
    reached = acid_curve.felt_h_at(prior.mean[np.newaxis, :], 5.3)
    # The logistic is not the model: 8 % is what the closed form costs, and a quarter of a band.
    assert np.interp(reached[0], felt_h, hours) == pytest.approx(float(row["t_pH5_3"]), rel=0.08)


def test_a_cold_start_costs_what_the_cold_costs() -> None:
    assert acid_curve.speed_at("mesophilic", 24.0) == pytest.approx(0.74194, abs=6e-6)  # Rosso 1993, as published.
    assert acid_curve.speed_at("mesophilic", 0.0) == 0.0
    assert acid_curve.speed_at("thermotolerant", 60.0) == 0.0


def prior_of(row: dict[str, str]) -> Prior:
    rh_pct = float(row["RH"])
    end_pct = equilibrium_loss_pct(mix_of(25.0, 2.7, 0.5), rh_pct, LACTATE_MOL)
    return drying_curve.prior_of(float(row["d_mm"]), float(row["T"]), rh_pct, end_pct)


def days(row: dict[str, str], target: float, weighings: list[tuple[float, float]]) -> tuple[Array, Array]:
    """Return the days and weights of a forecast after these weighings."""
    posterior = drying_curve.posterior_of(prior_of(row), weighings)
    now = weighings[-1][0] if weighings else 0.0
    excess = drying_curve.excess_pct(float(row["d_mm"]), float(row["RH"]))
    ahead = [Ahead(target, excess_pct=excess)]
    return now + drying_curve.days_until(posterior, weighings, now, ahead), posterior.weights


DRYING_ROWS = rows_of("drying_table.csv")


def drying_id(row: dict[str, str]) -> str:
    return f"{row['d_mm']}mm-{row['T']}C-{row['RH']}pct"


@pytest.mark.parametrize("row", DRYING_ROWS, ids=drying_id)
def test_the_band_without_a_weighing_holds_the_published_days(row: dict[str, str]) -> None:
    for column, target in (("d20", 20.0), ("d30", 30.0), ("d35", 35.0)):
        low, _, _, _, high = quantiles(*days(row, target, []))
        assert low < float(row[column]) < high


@pytest.mark.parametrize("row", DRYING_ROWS, ids=drying_id)
def test_two_published_weighings_and_the_20_pct_bring_the_day_of_35_near(row: dict[str, str]) -> None:
    weighings = [(1.0, float(row["loss_d1"])), (3.0, float(row["loss_d3"])), (float(row["d20"]), 20.0)]
    low, _, middle, _, high = quantiles(*days(row, 35.0, weighings))
    assert low < float(row["d35"]) < high
    assert middle == pytest.approx(float(row["d35"]), rel=0.2)


@pytest.mark.parametrize("row", [row for row in DRYING_ROWS if not row["d40"]], ids=drying_id)
def test_where_the_published_table_has_no_day_for_40_pct_it_most_likely_never_comes(row: dict[str, str]) -> None:
    assert float(row["RH"]) >= 85.0
    assert share_never(*days(row, 40.0, [])) > 0.6
    assert share_never(*days(row, 25.0, [])) < 0.01


def test_the_drive_says_how_much_longer_damp_air_takes() -> None:
    rows = [row for row in DRYING_ROWS if row["d_mm"] == "55"]
    assert len(rows) >= 4
    for row in rows:
        by_drive = 13.79 / drying_curve.drive_at(float(row["T"]), float(row["RH"]))  # 13.79 d at 13 °C and 78 %RH.
        assert by_drive == pytest.approx(float(row["d20"]), rel=0.06)


def test_a_count_that_begins_late_goes_on_along_the_same_curve() -> None:
    curve = unknowns(44.0, 1.07, np.log(20.0))
    whole = drying_curve.loss_at(curve, np.array([10.0, 15.0]))[0]
    late = drying_curve.loss_at(curve, np.array([0.0, 5.0]), Begun(loss_pct=float(whole[0])))[0]
    assert late == pytest.approx(whole)


def test_the_band_grows_with_the_days_to_come() -> None:
    row = next(row for row in DRYING_ROWS if drying_id(row) == "55mm-13C-78pct")
    weighings = [(1.0, 1.75), (3.0, 5.08), (13.8, 20.0)]
    widths = []
    for target in (22.0, 26.0, 30.0, 35.0):
        low, _, _, _, high = quantiles(*days(row, target, weighings))
        widths.append(high - low)
    assert widths == sorted(widths)
    assert widths[-1] > 3.0 * widths[0]


def test_a_drier_stage_to_come_brings_the_day_nearer_than_staying() -> None:
    row = next(row for row in DRYING_ROWS if drying_id(row) == "55mm-13C-78pct")
    weighings = [(1.0, 1.75), (3.0, 5.08)]
    posterior = drying_curve.posterior_of(prior_of(row), weighings)
    stays = [Ahead(35.0)]
    dries = [Ahead(15.0), Ahead(35.0, end_pct=1.2, speed=1.17)]
    cuts = [Ahead(15.0), Ahead(35.0)]
    middles = [
        quantiles(drying_curve.days_until(posterior, weighings, 3.0, ahead), posterior.weights)[2]
        for ahead in (stays, cuts, dries)
    ]
    assert middles[1] == pytest.approx(middles[0], rel=0.01)  # A stage that changes nothing changes nothing.
    assert 0.7 * middles[0] < middles[2] < 0.9 * middles[0]
