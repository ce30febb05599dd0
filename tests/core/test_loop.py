"""The temperature loop against an independent one: python-control's closed loop of the same plant and PI law.

Plant: first order plus dead time, K e^(-Ls)/(Ts+1) with K 50 K, T 1500 s, L 120 s, and SIMC gains with the closed-loop
time constant equal to the dead time (Skogestad 2003, J. Process Control 13:291): Kc = T/(K·2L) = 0.125 per K,
Ti = min(T, 8L) = 960 s. Its robustness Ms is 1.62 (worked example, computed from the exact delay).
"""

from collections import deque

import numpy as np
import pytest
from msgspec.structs import replace

from controller.core.chamber.climate import control
from controller.core.memory import Loops
from controller.core.plan import Chamber, Gains
from controller.core.values import Known, Wanted
from tests.helpers.bench_chamber import CHAMBER

GAIN_K, LAG_S, DEAD_S, TICK_S = 50.0, 1500.0, 120.0, 5.0
KC, TI_S = 0.125, 960.0
HEATER_ONLY = tuple(output for output in CHAMBER.outputs if output.role == "heater")


def chamber() -> Chamber:
    """Return a chamber whose walls take nothing: what is left is the PI loop alone."""
    figures = replace(CHAMBER.figures, air_wall_w_per_k=0.0)
    gains = Gains(heat_per_k=KC, heat_ti_s=TI_S)
    return replace(CHAMBER, outputs=HEATER_ONLY, drying="none", gains=gains, figures=figures)


def our_loop(wanted_c: float, start_c: float, start_duty: float, seconds: float) -> tuple[list[float], list[float]]:
    """Run our loop without windows on the plant; return air and duty."""
    air_c, loops = start_c, Loops(heat_integral=start_duty, heat_duty=start_duty, wanted_c=start_c)
    pipe = deque([start_duty] * round(DEAD_S / TICK_S))
    keep = np.exp(-TICK_S / LAG_S)
    airs, duties = [], []
    for tick in range(round(seconds / TICK_S)):
        known = Known(air_temp_c=air_c, highest_c=air_c)
        loops, duty = control(loops, known, Wanted(wanted_c), "ferment", chamber(), tick * TICK_S, TICK_S)
        pipe.append(duty["heater"])
        airs.append(air_c)
        duties.append(duty["heater"])
        air_c = keep * air_c + (1 - keep) * GAIN_K * pipe.popleft()
    return airs, duties


def test_a_small_step_is_answered_as_python_control_answers_it() -> None:
    airs, _ = our_loop(26.0, 25.0, 0.5, 5000.0)
    keep = np.exp(-TICK_S / LAG_S)
    import control as reference  # It takes seconds, and only one process needs it.

    plant = reference.tf([GAIN_K * (1 - keep)], [1, -keep], TICK_S)
    delay = reference.tf([1], [1] + [0] * round(DEAD_S / TICK_S), TICK_S)
    law = reference.tf([KC + KC / TI_S * TICK_S, -KC], [1, -1], TICK_S)
    closed = reference.feedback(law * plant * delay, 1)
    _, expected = reference.step_response(closed, T=np.arange(len(airs)) * TICK_S)
    assert np.max(np.abs(np.array(airs) - 25.0 - expected)) < 1e-6


def test_the_robustness_of_the_tuning_is_the_worked_example() -> None:
    omega = np.logspace(-5, -1, 20_000)
    s = 1j * omega
    open_loop = KC * (1 + 1 / (TI_S * s)) * GAIN_K * np.exp(-DEAD_S * s) / (LAG_S * s + 1)
    assert np.max(np.abs(1 / (1 + open_loop))) == pytest.approx(1.62, abs=0.01)


def test_three_hours_at_full_power_end_without_an_overshoot_of_half_a_kelvin() -> None:
    airs, duties = our_loop(46.0, 5.0, 0.1, 6 * 3600.0)
    full_s = sum(duty >= 1.0 for duty in duties) * TICK_S
    assert full_s > 2000.0
    assert max(airs) < 46.5
    assert airs[-1] == pytest.approx(46.0, abs=0.1)


def test_the_integral_does_not_grow_while_the_lamp_is_at_full_power() -> None:
    loops = Loops(heat_integral=0.2, heat_duty=1.0, wanted_c=36.0)
    for tick in range(720):
        loops, duty = control(loops, Known(air_temp_c=20.0), Wanted(36.0), "ferment", chamber(), tick * 5.0, 5.0)
    assert duty["heater"] == 1.0
    assert loops.heat_integral == 0.2


def test_nothing_is_asked_for_without_a_good_air_temperature() -> None:
    loops, duty = control(Loops(heat_integral=0.3), Known(), Wanted(36.0, 85.0), "ferment", chamber(), 0.0, 5.0)
    assert duty == {}
    assert loops.heat_integral == 0.3


def test_an_open_door_teaches_the_loop_nothing_and_gets_no_more_heat_than_before() -> None:
    loops = Loops(heat_integral=0.3, heat_duty=0.4, wanted_c=36.0)
    known = Known(air_temp_c=30.0, door_open=True)
    watched = replace(chamber(), channels=(*chamber().channels, "door"))
    for tick in range(60):
        loops, duty = control(loops, known, Wanted(36.0), "ferment", watched, tick * 5.0, 0.0)
        assert duty["heater"] == pytest.approx(0.3, abs=1e-3)
    assert loops.heat_integral == pytest.approx(0.3, abs=1e-3)
