"""Tuning rules against the examples that were published with them, and against an independent library."""

from itertools import pairwise
from typing import Final

import control
import numpy as np
import pytest

from controller.core.tuning import (
    Lagged,
    PidGains,
    PiGains,
    amigo,
    amigo_integrating,
    amigo_pid,
    half_rule,
    half_rule_two_lags,
    integrating,
    lagged,
    sensitivity,
    simc,
    simc_integrating,
    simc_pid,
    ultimate_of_relay,
)

E1_LAGS: Final = (1.0, 0.2)
E2_LAGS: Final = (2.0, 1.0, 0.4, 0.2, 0.05, 0.05, 0.05)
WORKED: Final = Lagged(50.0, 1500.0, 0.0, 120.0)
"""The chamber of the worked example: 50 K at full power, 1500 s, 120 s of dead time."""


def e1(s: complex) -> complex:
    return 1.0 / ((s + 1.0) * (0.2 * s + 1.0))


def e2(s: complex) -> complex:
    denominator = 1.0 + 0.0j
    for lag in E2_LAGS:
        denominator *= lag * s + 1.0
    return (-0.3 * s + 1.0) * (0.08 * s + 1.0) / denominator


def test_the_first_published_example_of_simc() -> None:
    """E1 of Skogestad 2003: tau 1.1, theta 0.1, Kc 5.5, Ti 0.8; Ms is our own reckoning of the same loop, 1.56."""
    process = half_rule(1.0, E1_LAGS)
    assert (process.tau_s, process.dead_s) == pytest.approx((1.1, 0.1))
    assert simc(process) == pytest.approx(PiGains(5.5, 0.8))
    assert sensitivity(e1, simc(process), 10.0) == pytest.approx(1.56, abs=0.005)


def test_the_second_published_example_of_simc() -> None:
    """E2: tau 2.5, theta 1.47, Kc 0.85, Ti 2.5. Its zero at 0.08 s is taken off the dead time, as the paper does."""
    process = half_rule(1.0, E2_LAGS, dead_s=-0.08, zeros_s=(0.3,))
    assert (process.tau_s, process.dead_s) == pytest.approx((2.5, 1.47))
    assert simc(process) == pytest.approx(PiGains(0.85, 2.5), abs=0.005)
    assert sensitivity(e2, simc(process), 1.0) == pytest.approx(1.66, abs=0.005)
    two = half_rule_two_lags(1.0, E2_LAGS, dead_s=-0.08, zeros_s=(0.3,))
    assert two[1:] == pytest.approx((2.0, 1.2, 0.77))
    assert simc_pid(two) == pytest.approx(PidGains(1.30, 2.0, 1.2), abs=0.005)
    assert sensitivity(e2, simc_pid(two), 1.0) == pytest.approx(1.73, abs=0.01)


def test_the_published_values_of_amigo() -> None:
    assert amigo(1.0, 1.0, 1.0) == pytest.approx(PiGains(0.2500, 1.0000), abs=5e-5)
    assert amigo_pid(1.0, 1.0, 1.0) == pytest.approx(PidGains(0.6500, 1.0909, 0.3846), abs=5e-5)
    assert amigo(1.0, 10.0, 1.0) == pytest.approx(PiGains(2.8236, 6.0769), abs=5e-5)
    assert amigo_pid(1.0, 10.0, 1.0) == pytest.approx(PidGains(4.7000, 4.2000, 0.4854), abs=5e-5)


def test_amigo_of_a_process_that_integrates_is_the_limit_of_the_rule() -> None:
    slope, dead_s = 0.9 / 60.0, 90.0
    tau_s = 1e9
    assert amigo_integrating(slope, dead_s) == pytest.approx(amigo(slope * tau_s, tau_s, dead_s), rel=1e-4)


@pytest.mark.parametrize(
    ("gains", "ms"),
    [
        (PiGains(0.1490, 385.0), 2.16),  # Ziegler and Nichols, 0.45 Ku, Tu/1.2.
        (PiGains(0.1035, 1017.0), 1.48),  # Tyreus and Luyben.
        (simc(WORKED), 1.62),
        (simc(WORKED, closed_s=240.0), 1.35),
        (amigo(*WORKED[:2], WORKED.dead_s), 1.33),
    ],
)
def test_the_worked_chamber_has_the_robustness_that_was_worked_out(gains: PiGains, ms: float) -> None:
    assert sensitivity(lagged(WORKED), gains, 1.0 / 120.0) == pytest.approx(ms, abs=0.006)


def test_the_worked_chamber_has_the_gains_that_were_worked_out() -> None:
    assert simc(WORKED) == pytest.approx(PiGains(0.125, 960.0))
    assert simc(WORKED, closed_s=240.0) == pytest.approx(PiGains(0.0833, 1440.0), abs=5e-5)
    assert amigo(50.0, 1500.0, 120.0) == pytest.approx(PiGains(0.0734, 820.0), rel=2e-3)
    assert ultimate_of_relay(1.922, 0.5) == pytest.approx(0.3312, abs=1e-4)


@pytest.mark.parametrize(("ratio", "ms"), [(1.0, 1.59), (30.0, 1.67)])
def test_simc_has_its_published_robustness(ratio: float, ms: float) -> None:
    """Ti = T at T/L = 1 (Ms 1.59, whatever T/L); 1.67 where Ti = 8 theta binds."""
    process = Lagged(1.0, ratio, 0.0, 1.0)
    assert sensitivity(lagged(process), simc(process), 1.0) == pytest.approx(ms, abs=0.006)


def test_gains_of_an_integrating_process_do_not_hang_on_the_unit_of_time() -> None:
    per_s, per_min = simc_integrating(0.015, 90.0), simc_integrating(0.9, 1.5)
    assert (per_s.kc, per_s.ti_s / 60.0) == pytest.approx(per_min)
    found = sensitivity(integrating(0.015, 90.0), per_s, 1.0 / 90.0)
    assert found == pytest.approx(sensitivity(integrating(0.9, 1.5), per_min, 1.0 / 1.5), rel=1e-6)
    assert found == pytest.approx(1.70, abs=0.01)


def test_the_frequency_grid_agrees_with_an_independent_library() -> None:
    """python-control knows no exact dead time in `tf`, so it is multiplied on to its response."""
    process, gains = Lagged(0.8, 900.0, 60.0, 70.0), PiGains(5.0, 500.0)
    plant = control.tf([process.gain], np.polymul([process.tau_s, 1.0], [process.tau_2_s, 1.0]))
    loop = plant * control.tf([gains.kc * gains.ti_s, gains.kc], [gains.ti_s, 0.0])
    omega = np.logspace(-5.0, 0.0, 20001)
    response = loop(1j * omega) * np.exp(-1j * omega * process.dead_s)
    assert sensitivity(lagged(process), gains, 1.0 / 70.0) == pytest.approx(
        float(np.max(1.0 / np.abs(1.0 + response))), rel=1e-3
    )


def test_a_longer_dead_time_never_makes_a_loop_more_robust() -> None:
    gains = simc_integrating(0.015, 90.0)
    found = [sensitivity(integrating(0.015, dead_s), gains, 1.0 / 90.0) for dead_s in (60.0, 90.0, 110.0, 130.0)]
    assert all(earlier < later for earlier, later in pairwise(found))
