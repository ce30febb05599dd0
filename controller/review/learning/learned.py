"""From the rows of a step test to the learned file: figures with their errors, gains, and what could not be found."""

from cmath import exp
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from msgspec import structs

from controller.core.tuning import (
    PiGains,
    Transfer,
    amigo,
    amigo_integrating,
    integrating,
    sensitivity,
    simc_integrating,
)
from controller.records.steps import StepHead
from controller.review.learning.fit import Fitted, dead_and_slope, fit
from controller.review.learning.lumped import BODIES, Box, answer, lags_s, matrices
from controller.review.learning.parts import (
    Rest,
    figure_of,
    look_at_after_heat,
    look_at_cold,
    look_at_mist,
    look_at_rest,
)
from controller.review.learning.rows import NonsenseError, Steps, read_steps
from controller.settings.chamber_file import ChamberFile
from controller.settings.chamber_plan import RESPONSE_S, lamp_response, plan_of, used_of
from controller.settings.learned_file import (
    NOTHING,
    RANGES,
    Figure,
    Learned,
    LearnedGains,
    Made,
    heater_of,
    lamp_w_of,
    mist_ml_per_h_of,
    thermometer_of,
)

HARDLY_K: Final = 2.0
"""The lamp has to lift the air by so much, else nothing follows from it."""
SWINGS_K: Final = 3.0
"""A room that changes more than this during the test decides the decay itself."""
STRANGE_K: Final = 0.3
STRANGE_SHARE: Final = 0.05
"""What a chamber left alone does not do: residuals beyond these are a door, a draught, a hand. Common practice."""
LOADED: Final = "the chamber was loaded: three hours cannot show it"
"""Why a loaded run gives neither holding duty nor the wall's figures: a load swallows heat for a day."""


@dataclass(frozen=True, slots=True)
class Result:
    """Hold all that was found in a step test: the learned file, and what the picture is drawn from."""

    learned: Learned
    steps: Steps
    fitted: Fitted
    rest: Rest


def learn_from(folder: Path) -> Result:
    """Return what a step test shows.

    Raises:
        NonsenseError: nothing can be learned from it, and why.
        NoInputError, DataError: it is no folder of a step test, or is damaged.
    """
    steps = read_steps(folder)
    rest = look_at_rest(steps)
    _require_a_rise(steps)
    _require_a_calm_room(steps)
    fitted = fit(steps, rest.noise_k.value or 0.0)
    _require_nothing_strange(fitted)
    return Result(_learned(steps, rest, fitted), steps, fitted, rest)


def _require_a_rise(steps: Steps) -> None:
    probe_c = steps.values["air_temp"]
    before = float(np.mean(probe_c[steps.during("rest")]))
    rise_k = float(np.max(probe_c[steps.during("heat", "off")])) - before
    if rise_k < HARDLY_K:
        minutes = float(np.sum(steps.on["heater"])) * steps.step_s / 60.0
        raise NonsenseError(
            f"the air hardly rose: {rise_k:.1f} K with the lamp on for {minutes:.0f} min, at least {HARDLY_K:g} K are "
            "wanted. Is the lamp's power right, and the probe inside?"
        )


def _require_a_calm_room(steps: Steps) -> None:
    room_c = steps.values.get("ambient_temp")
    if room_c is None:
        return
    swing_k = float(np.max(room_c) - np.min(room_c))
    if swing_k > SWINGS_K:
        raise NonsenseError(
            f"the room swung by {swing_k:.1f} K during the test, limit {SWINGS_K:g} K; choose a calm day"
        )


def _require_nothing_strange(fitted: Fitted) -> None:
    """Refuse what no chamber does that is left alone."""
    rise_k = float(np.max(fitted.curve_c) - fitted.start_c)
    left_k = float(np.sqrt(np.mean(fitted.left_k**2)))
    limit_k = max(STRANGE_K, STRANGE_SHARE * rise_k)
    if left_k > limit_k / 2.0 or float(np.max(np.abs(fitted.left_k))) > 2.0 * limit_k:
        raise NonsenseError(
            f"the air did what lamp and walls do not: it was off by up to {np.max(np.abs(fitted.left_k)):.1f} K. Was "
            "the door open, or did the room change? Do it again, and leave the door shut"
        )


def _learned(steps: Steps, rest: Rest, fitted: Fitted) -> Learned:
    head, chamber = steps.head, steps.head.chamber
    (dead_s, dead_error_s), (slope, slope_error) = dead_and_slope(fitted)
    figures: dict[str, Figure] = {
        "dead_s": figure_of(dead_s, max(dead_error_s, steps.step_s / 2.0), 1),
        "slope_k_per_min": figure_of(slope * 60.0, slope_error * 60.0, 4),
        "probe_s": _of(fitted, lambda box: box.probe_s, 0),
        "fast_lag_s": _of(fitted, _fast_lag_s, 0),
        "noise_k": rest.noise_k,
        "offset_k": rest.offset_k,
    }
    figures["after_heat_k"], figures["after_heat_s"] = look_at_after_heat(steps)
    figures |= _walls(fitted, loaded=head.loaded_kg > 0.0)
    names = ("mist_pct_per_s", "mist_delay_s", "mist_falls_s")
    figures |= dict(zip(names, look_at_mist(steps), strict=True))
    names = ("cool_dead_s", "cool_slope_k_per_min", "after_cool_k")
    figures |= dict(zip(names, look_at_cold(steps), strict=True))
    beside = in_file(chamber)
    figures = {name: _within(name, _beside(figure, beside.get(name))) for name, figure in figures.items()}
    made = _made(steps, fitted)
    gains = _gains(slope, dead_s, chamber, fitted, head)
    return structs.replace(Learned(made=made, dead_s=NOTHING, slope_k_per_min=NOTHING, gains=gains), **figures)


def _of(fitted: Fitted, of: Callable[[Box], float], digits: int) -> Figure:
    return figure_of(of(fitted.box), fitted.error(of), digits)


def _fast_lag_s(box: Box) -> float:
    """Return the sum of all lags but the slow ones (wall, load, cold plate): from the lamp to the thermometer."""
    slow = 1 + bool(box.load_j_per_k) + bool(box.plate_j_per_k)
    return sum(lags_s(box)[slow:])


def _walls(fitted: Fitted, *, loaded: bool) -> dict[str, Figure]:
    """Return what the walls do; of a loaded chamber nothing."""
    if loaded:
        names = ("ua_w_per_k", "air_wall_w_per_k", "wall_j_per_k", "slow_lag_s", "lamp_s")
        return {name: Figure(because=LOADED) for name in names}
    return {
        "ua_w_per_k": _of(fitted, lambda box: box.ua_w_per_k, 3),
        "air_wall_w_per_k": _of(fitted, lambda box: box.air_wall_w_per_k, 2),
        "wall_j_per_k": _of(fitted, lambda box: box.wall_j_per_k, 0),
        "slow_lag_s": _of(fitted, lambda box: lags_s(box)[0], 0),
        "lamp_s": _of(fitted, lambda box: box.lamp_s, 0),
    }


def in_file(chamber: ChamberFile) -> dict[str, float]:
    """Return what the chamber file itself has, or leads one to expect, for each figure."""
    model, plan = chamber.model, plan_of(chamber)
    leading = next(entry for entry in chamber.sensor if entry.channel == "air_temp")
    response_s = RESPONSE_S[leading.kind] if leading.response_s is None else leading.response_s
    slope, dead_s = lamp_response(model, lamp_w_of(chamber), response_s)
    return {
        "dead_s": round(dead_s, 1),
        "slope_k_per_min": round(slope * 60.0, 4),
        "probe_s": response_s,
        "ua_w_per_k": model.ua_w_per_k,
        "air_wall_w_per_k": model.air_wall_w_per_k,
        "wall_j_per_k": model.wall_j_per_k,
        "lamp_s": round(model.lamp_j_per_k / model.lamp_w_per_k, 0),
        "mist_pct_per_s": round(plan.figures.mist_pct_per_s, 3),
    }


def _beside(figure: Figure, in_file: float | None) -> Figure:
    return Figure(value=figure.value, error=figure.error, because=figure.because, in_file=in_file)


def _within(name: str, figure: Figure) -> Figure:
    """Return the figure, or why it is none: what lies beyond all chambers was not measured."""
    low, high = RANGES[name]
    if figure.value is None or low <= figure.value <= high:
        return figure
    if name in {"dead_s", "slope_k_per_min"}:
        raise NonsenseError(f"{name} would be {figure.value:g}, which no chamber has ({low:g} to {high:g})")
    return Figure(because=f"found was {figure.value:g}, which no chamber has", in_file=figure.in_file)


def _made(steps: Steps, fitted: Fitted) -> Made:
    head, chamber = steps.head, steps.head.chamber
    heater = heater_of(chamber)
    measured = "ambient_temp" in steps.values
    room_c = float(np.mean(steps.values["ambient_temp"])) if measured else fitted.start_c + fitted.room_k
    return Made(
        test=head.name,
        on=head.began,
        chamber=chamber.name,
        lamp_w=lamp_w_of(chamber),
        switch="mechanical" if heater is None else heater.switch,
        thermometer=thermometer_of(chamber),
        volume_l=chamber.model.volume_l,
        ml_per_h=mist_ml_per_h_of(chamber),
        loaded_kg=head.loaded_kg,
        room_c=round(room_c, 2),
        room_is="measured" if measured else "taken to be as warm as the chamber at rest, and constant",
    )


def _gains(slope: float, dead_s: float, chamber: ChamberFile, fitted: Fitted, head: StepHead) -> LearnedGains:
    """Return the gains; of an empty chamber Ms is that of the whole fitted chamber."""
    if head.loaded_kg > 0.0:
        return gains_of_response(slope, dead_s, chamber)
    window_s = _window_s(chamber)
    rise_k = _steady_k(fitted.box)

    def process(s: complex) -> complex:
        return answer(fitted.box, s) * exp(-s * window_s / 2.0)

    return gains_of_response(slope, dead_s, chamber, process, amigo(rise_k, rise_k / slope, dead_s + window_s / 2.0))


def gains_of_response(
    slope: float, dead_s: float, chamber: ChamberFile, process: Transfer | None = None, by_amigo: PiGains | None = None
) -> LearnedGains:
    """Return the gains by both rules and those that are used, each with Ms by the exact dead time.

    Half a window is added to the dead time, for the duty is set once a window.

    Args:
        slope: steepest rise under the full lamp in K/s.
        dead_s: its dead time.
        chamber: for the window of its lamp.
        process: the whole chamber, half a window included; None: what slope and dead time say of it.
        by_amigo: the gains of that rule; None: those of a process that only integrates.
    """
    window_s = _window_s(chamber)
    theta_s = dead_s + window_s / 2.0
    process = integrating(slope, theta_s) if process is None else process
    by_simc, used = simc_integrating(slope, theta_s), PiGains(*used_of(slope, dead_s, window_s))
    by_amigo = amigo_integrating(slope, theta_s) if by_amigo is None else by_amigo
    ms = [sensitivity(process, gains, 1.0 / theta_s) for gains in (used, by_simc, by_amigo)]
    return LearnedGains(
        window_s=window_s,
        heat_per_k=round(used.kc, 5),
        heat_ti_s=round(used.ti_s, 1),
        ms=round(ms[0], 3),
        simc_per_k=round(by_simc.kc, 5),
        simc_ti_s=round(by_simc.ti_s, 1),
        simc_ms=round(ms[1], 3),
        amigo_per_k=round(by_amigo.kc, 5),
        amigo_ti_s=round(by_amigo.ti_s, 1),
        amigo_ms=round(ms[2], 3),
    )


def _window_s(chamber: ChamberFile) -> float:
    return next(output.window_s for output in plan_of(chamber).outputs if output.role == "heater")


def _steady_k(box: Box) -> float:
    """Return how many kelvin above its room the full lamp holds the chamber in the end."""
    a, b = matrices(box)
    there = [place for place in range(BODIES) if abs(a[place, place]) > 0.0]
    found = np.linalg.solve(a[np.ix_(there, there)], -b[there, 0])
    return float(found[there.index(1)])
