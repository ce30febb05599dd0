"""A bare chamber model that is held at a climate until it has settled: what its outputs gave on the mean."""

from msgspec import Struct

from controller.simulator.chamber_model import ChamberModel

WINDOW_S = 600.0
STEP_S = 5.0
STEPS = 120
LEAST_ON_S = 120.0
LEAST_OFF_S = 300.0


class Settled(Struct, frozen=True, kw_only=True):
    """Hold the means of the last third of a run; shares of the time are 0 to 1."""

    air_c: float
    rh_pct: float
    lamp: float
    cooler: float


class _Slow:
    """Be an integrator that finds a holding duty within hours, in no hurry."""

    def __init__(self, begin: float, per_k: float) -> None:
        self._integral, self._per_k = begin, per_k

    def duty(self, missing_k: float) -> float:
        self._integral = min(max(self._integral + 0.1 * self._per_k * missing_k, 0.0), 1.0)
        return min(max(self._integral + self._per_k * missing_k, 0.0), 1.0)


def settle(
    model: ChamberModel, air_c: float, hours: float, *, cooler: float | None = 0.0, lamp: float | None = None,
    mist_kg_s: float = 0.0, dryer: float = 0.0,
) -> Settled:  # fmt: skip
    """Hold a model in windows of ten minutes and return the means of the last third.

    Args:
        model: begun where it may be; air, wall, plate and meat are set to `air_c` first.
        air_c: wanted.
        hours: how long.
        cooler: share of the time for the compressor; None: what holds the air.
        lamp: share for the lamp; None: what holds the air.
        mist_kg_s: given on the mean, in pulses of whole steps.
        dryer: share for dehumidifier or fresh air.
    """
    model.air_c = model.wall_c = model.plate_c = model.meat_c = air_c
    warm, cold = _Slow(0.3, 0.1), _Slow(0.1, 0.1)
    sums, count, mean_c, carried_s, owed_kg = [0.0] * 4, 0, air_c, 0.0, 0.0
    windows = int(hours * 3600.0 / WINDOW_S)
    for window in range(windows):
        lamp_share = warm.duty(air_c - mean_c) if lamp is None else lamp
        wanted_s = (cold.duty(mean_c - air_c) if cooler is None else cooler) * WINDOW_S + carried_s
        cool_s = wanted_s if wanted_s >= LEAST_ON_S else 0.0
        if cool_s > WINDOW_S - LEAST_OFF_S:
            cool_s = WINDOW_S if cooler == 1.0 else WINDOW_S - LEAST_OFF_S
        carried_s = wanted_s - cool_s
        lit, sum_c, sum_pct = 0, 0.0, 0.0
        for step in range(STEPS):
            now_s = step * STEP_S
            owed_kg += mist_kg_s * STEP_S
            model.lamp_on = now_s % 60.0 < lamp_share * 60.0
            lit += model.lamp_on
            model.cooler_on = now_s < cool_s
            model.mist_on = owed_kg >= 0.5 * model.parameters.mist_kg_s * STEP_S > 0.0
            owed_kg -= model.parameters.mist_kg_s * STEP_S if model.mist_on else 0.0
            dries = now_s < dryer * WINDOW_S
            if model.fresh_air_on != (dries and model.parameters.dehumidifier_w == 0.0):
                model.fresh_air_on = not model.fresh_air_on
                model.changed()
            model.dehumidifier_on = dries and model.parameters.dehumidifier_w > 0.0
            model.advance(STEP_S)
            sum_c, sum_pct = sum_c + model.air_c, sum_pct + model.rh_pct
        mean_c = sum_c / STEPS
        if window >= windows * 2 // 3:
            count += 1
            for place, value in enumerate((mean_c, sum_pct / STEPS, lit / STEPS, cool_s / WINDOW_S)):
                sums[place] += value
    mean = [total / count for total in sums]
    return Settled(air_c=mean[0], rh_pct=mean[1], lamp=mean[2], cooler=mean[3])
