"""What has been reached once: before that, being off it is no news.

Cold meat, a new stage, a wish of a person and the way down from a warm ferment all put the air far off what is wanted
without a fault. So each side is armed for itself when the air has come there: "too warm" once the air was as low as
wanted, "too cold" once it was as warm, and the same for damp and dry. A step of what is wanted disarms the side from
which the air has to come; meat that was just hung disarms them all. A ramp is slow enough to be followed.
"""

from typing import Final

from controller.core.plant.memory import ArmWatch
from controller.core.values import Wanted

REACHED_K: Final = 0.5
REACHED_PCT: Final = 3.0
STEP_K: Final = 0.5
STEP_PCT: Final = 1.0
"""What is a step, and when its end is reached. Common practice, no source."""


def arm(watch: ArmWatch, air_c: float | None, mean_pct: float | None, wanted: Wanted, *, settling: bool) -> ArmWatch:
    """Return which sides are armed now.

    Args:
        watch: which were.
        air_c: the good air temperature, if there is one.
        mean_pct: the mean of the humidity over about an hour.
        wanted: the set-points.
        settling: the meat has just been hung.
    """
    wanted_c, wanted_pct = wanted.air_temp_c, wanted.rh_pct
    if wanted_c is None:
        return ArmWatch()
    if settling:
        return ArmWatch(wanted_c, wanted_pct)
    step_k = 0.0 if watch.wanted_c is None else wanted_c - watch.wanted_c
    warm, cold = watch.warm and step_k >= -STEP_K, watch.cold and step_k <= STEP_K
    if air_c is not None:
        warm, cold = warm or air_c <= wanted_c + REACHED_K, cold or air_c >= wanted_c - REACHED_K
    if wanted_pct is None:
        return ArmWatch(wanted_c, None, warm, cold)
    step_pct = 0.0 if watch.wanted_pct is None else wanted_pct - watch.wanted_pct
    steady = abs(step_k) <= STEP_K  # Another temperature is another humidity of the same air.
    damp, dry = watch.damp and steady and step_pct >= -STEP_PCT, watch.dry and steady and step_pct <= STEP_PCT
    if mean_pct is not None:
        damp, dry = damp or mean_pct <= wanted_pct + REACHED_PCT, dry or mean_pct >= wanted_pct - REACHED_PCT
    return ArmWatch(wanted_c, wanted_pct, warm, cold, damp, dry)
