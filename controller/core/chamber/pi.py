"""One step of a PI loop by simple-pid, rebuilt from our own memory so that it hides nothing."""

from typing import Final

from simple_pid import PID

LEAST_DT_S: Final = 1e-3
"""The first tick of a run may come at the very instant at which the run began."""


def pi_step(
    error: tuple[float, float],
    per_k: float,
    ti_s: float,
    integral: float,
    last: float,
    dt_s: float,
    span: tuple[float, float] = (0.0, 1.0),
) -> tuple[float, float]:
    """Return the new integral and the duty.

    The integral is frozen while the last duty was clipped and the error drives it further.

    Args:
        error: (set-point, value).
        per_k: gain, duty per unit of error; negative where more output lowers the value.
        ti_s: integral time in seconds.
        integral: what was carried over, as a duty.
        last: the duty of the last step.
        dt_s: seconds since then; 0 freezes the integral.
        span: the lowest and the highest duty.
    """
    bottom, top = span
    drives = (error[0] - error[1]) * per_k
    if bottom == 0.0 and integral <= 0.0 and drives <= 0.0:
        return 0.0, 0.0  # Nothing to take back and nothing to give: most loops, most of the time.
    clipped = (last >= top and drives > 0.0) or (last <= bottom and drives < 0.0)
    pid = PID(
        per_k,
        0.0 if clipped else per_k / ti_s,
        0.0,
        setpoint=error[0],
        sample_time=None,
        output_limits=span,
        time_fn=_no_time,
        starting_output=integral,
    )
    duty = pid(error[1], dt=max(dt_s, LEAST_DT_S))
    return pid.components[1], bottom if duty is None else duty


def _no_time() -> float:
    return 0.0
