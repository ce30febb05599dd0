"""From how a chamber answers to the gains of a PI loop, by published rules, and how robust a loop with them is.

A process here is gain, time constants and dead time, or slope and dead time where it only integrates within the time
that counts. Gains are in units of output per unit of what is measured; times in seconds, or in any one unit.
"""

from cmath import exp
from collections.abc import Callable, Iterable
from math import log10, pi
from typing import Final, NamedTuple


class PiGains(NamedTuple):
    """Hold the gain and the integral time of a PI loop."""

    kc: float
    ti_s: float


class PidGains(NamedTuple):
    """Hold gain, integral and derivative time of a PID loop; series or parallel as its rule says."""

    kc: float
    ti_s: float
    td_s: float


class Lagged(NamedTuple):
    """Hold a process as gain, one or two time constants (the second may be 0), and dead time."""

    gain: float
    tau_s: float
    tau_2_s: float
    dead_s: float


def half_rule(gain: float, lags_s: Iterable[float], dead_s: float = 0.0, zeros_s: Iterable[float] = ()) -> Lagged:
    """Return a process with many lags as one with a single lag and a dead time.

    The largest lag stays; half of the next is added to it and the other half to the dead time, to which all smaller
    lags and all inverse responses (zeros_s: T of (-T s + 1)) are added. Skogestad 2003, J. Process Control 13:291.
    """
    first, second, *rest = [*sorted(lags_s, reverse=True), 0.0]
    return Lagged(gain, first + second / 2.0, 0.0, dead_s + second / 2.0 + sum(rest) + sum(zeros_s))


def half_rule_two_lags(
    gain: float, lags_s: Iterable[float], dead_s: float = 0.0, zeros_s: Iterable[float] = ()
) -> Lagged:
    """Return a process with many lags as one with two of them and a dead time, for a PID loop; the same rule."""
    first, second, third, *rest = [*sorted(lags_s, reverse=True), 0.0, 0.0]
    return Lagged(gain, first, second + third / 2.0, dead_s + third / 2.0 + sum(rest) + sum(zeros_s))


def simc(process: Lagged, closed_s: float | None = None) -> PiGains:
    """Return the gains of the SIMC rule: Kc = T/(K (tau_c + theta)), Ti = min(T, 4 (tau_c + theta)).

    Args:
        process: with one lag; above 0 all.
        closed_s: tau_c, the wanted time constant of the closed loop; None: the dead time, which is "tight".

    Source: Skogestad 2003, J. Process Control 13:291.
    """
    together_s = (process.dead_s if closed_s is None else closed_s) + process.dead_s
    return PiGains(process.tau_s / (process.gain * together_s), min(process.tau_s, 4.0 * together_s))


def simc_pid(process: Lagged, closed_s: float | None = None) -> PidGains:
    """Return the gains of the SIMC rule for two lags: those of `simc`, and Td = the second lag, in series form."""
    return PidGains(*simc(process, closed_s), process.tau_2_s)


def simc_integrating(slope_per_s: float, dead_s: float, closed_s: float | None = None) -> PiGains:
    """Return the gains of the SIMC rule for k' e^(-theta s)/s: Kc = 1/(k' (tau_c + theta)), Ti = 4 (tau_c + theta)."""
    together_s = (dead_s if closed_s is None else closed_s) + dead_s
    return PiGains(1.0 / (slope_per_s * together_s), 4.0 * together_s)


def amigo(gain: float, tau_s: float, dead_s: float) -> PiGains:
    """Return the PI gains of the AMIGO rule, made for a robustness of about 1.4.

    Kc = 0.15/K + (0.35 - L T/(L + T)^2) T/(K L), Ti = 0.35 L + 13 L T^2/(T^2 + 12 L T + 7 L^2).
    Source: Åström and Hägglund 2004, J. Process Control 14:635.
    """
    share = 0.35 - dead_s * tau_s / (dead_s + tau_s) ** 2
    kc = 0.15 / gain + share * tau_s / (gain * dead_s)
    ti_s = 0.35 * dead_s + 13.0 * dead_s * tau_s**2 / (tau_s**2 + 12.0 * dead_s * tau_s + 7.0 * dead_s**2)
    return PiGains(kc, ti_s)


def amigo_integrating(slope_per_s: float, dead_s: float) -> PiGains:
    """Return the same where the process only integrates, the limit for long T: Kc = 0.35/(k' L), Ti = 13.35 L."""
    return PiGains(0.35 / (slope_per_s * dead_s), 13.35 * dead_s)


def amigo_pid(gain: float, tau_s: float, dead_s: float) -> PidGains:
    """Return the PID gains of the AMIGO rule (parallel form); the same source.

    K = (0.2 + 0.45 T/L)/K, Ti = L (0.4 L + 0.8 T)/(L + 0.1 T), Td = 0.5 L T/(0.3 L + T).
    """
    return PidGains(
        (0.2 + 0.45 * tau_s / dead_s) / gain,
        dead_s * (0.4 * dead_s + 0.8 * tau_s) / (dead_s + 0.1 * tau_s),
        0.5 * dead_s * tau_s / (0.3 * dead_s + tau_s),
    )


Transfer = Callable[[complex], complex]
POINTS: Final = 500
DECADES: Final = 3.0


def lagged(process: Lagged) -> Transfer:
    """Return the transfer function of a process, with the exact e^(-L s)."""

    def at(s: complex) -> complex:
        return process.gain * exp(-process.dead_s * s) / ((process.tau_s * s + 1.0) * (process.tau_2_s * s + 1.0))

    return at


def integrating(slope_per_s: float, dead_s: float) -> Transfer:
    """Return the transfer function of a process that only integrates, with the exact e^(-L s)."""

    def at(s: complex) -> complex:
        return slope_per_s * exp(-dead_s * s) / s

    return at


def sensitivity(process: Transfer, gains: PiGains | PidGains, around_per_s: float) -> float:
    """Return the largest |1/(1 + P C)|, Ms: how much the loop makes worse at its worst frequency. 1.2 to 2 is usual.

    Args:
        process: its transfer function.
        gains: of the loop; a PID one in series form.
        around_per_s: a frequency in rad/s near which the worst one lies, as 1/(dead time): three decades to both sides
            are looked at, 500 points each; Ms of a smooth loop is within 1e-3 then.
    """
    td_s = gains.td_s if isinstance(gains, PidGains) else 0.0
    worst = 0.0
    low = log10(around_per_s) - DECADES
    for point in range(2 * POINTS + 1):
        s = 1j * 10.0 ** (low + DECADES * point / POINTS)
        loop = process(s) * gains.kc * (1.0 + 1.0 / (gains.ti_s * s)) * (1.0 + td_s * s)
        worst = max(worst, 1.0 / abs(1.0 + loop))
    return worst


def ultimate_of_relay(amplitude: float, half_step: float) -> float:
    """Return the ultimate gain by a relay of +-half_step that makes an oscillation of this amplitude: 4 d/(pi a).

    Source: Åström and Hägglund 1984, Automatica 20:645.
    """
    return 4.0 * half_step / (pi * amplitude)
