"""Judge instruments by their fixed points: a pH meter in two buffers, a humidity sensor over a salt, a probe in ice.

What is judged is what the instrument showed, whatever offset it already carries. An `ask` names a likely slip, such
as a wrong liquid; what was typed should not be taken before a person says that it is meant.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, log
from typing import Final, Literal

from controller.food.checks.fixed_points import (
    BOTTLES,
    BUFFER_UNCERTAINTY,
    ICE_C,
    ICE_UNCERTAINTY_K,
    KELVIN,
    SALTS,
    FixedPoint,
    buffer_ph,
    rh_of,
)

GAS_J_PER_MOL_K: Final = 8.31446261815324
FARADAY_C_PER_MOL: Final = 96_485.33212331001
"""CODATA 2018, both exact since the SI of 2019."""

SLOPE_PCT: Final = (95.0, 105.0)
OFFSET_MV: Final = 30.0
"""An electrode is fit for use within these, and is calibrated anew on each day of use. Common practice, no source."""
APART_PH: Final = 2.0
"""So far apart two buffers must be for a slope. Common practice, no source."""
MIXED_UP: Final = 0.6  # From this share of what is accepted on, another liquid is thought of,
CLEARER: Final = 0.5  # if it leaves at most this share of the misfit.
SAME_LIQUID_PH: Final = 0.5
"""Bottles that are at most so far apart are taken one for the other."""
SHOWN_WRONG_PH: Final = 0.05
HIGHEST_PH: Final = 14.0
HIGHEST_MV: Final = 450.0

Use = Literal["food", "air"]
THERMOMETER_K: Final[dict[Use, float]] = {"food": 1.0, "air": 1.5}
"""FDA Food Code 4-203.11 and 4-203.12: ±1 °C for food, ±1.5 °C for air; from memory."""
HYGROMETER_PCT: Final = 3.0
"""A sensor is good by itself within this, in %RH: twice what the usual ones promise. Common practice, no source."""
SLIP_K: Final = 5.0
SLIP_PCT: Final = 10.0
OTHER_SALT_PCT: Final = 5.0
OTHER_SALT_NEAR_PCT: Final = 3.0


def nernst_slope_mv(temp_c: float) -> float:
    """Return how many mV an ideal electrode gives for one pH, R T ln 10 / F; 59.16 mV at 25 °C."""
    return 1000.0 * GAS_J_PER_MOL_K * (temp_c + KELVIN) * log(10.0) / FARADAY_C_PER_MOL


@dataclass(frozen=True, slots=True)
class BufferVerdict:
    """Hold what two or more buffers say of a meter.

    Attributes:
        true_ph: of each point, at its temperature.
        slope_pct: of the Nernst slope at that temperature. For a meter that shows pH it is that of the whole meter as
            it is set; only mV tell of the electrode alone.
        offset_mv: what the electrode gives at pH 7, by the line through the points.
        offset_ph: true less shown, at the buffer nearest 7.
        error_ph: how far a reading may be off now: the worst of the points and the buffers' own uncertainty; for mV
            what is left after the meter has been set by these points.
        verdict: `good`, or in words what is wrong.
        ask: the likely slip, else empty.
    """

    true_ph: tuple[float, ...]
    slope_pct: float
    offset_mv: float
    offset_ph: float
    error_ph: float
    verdict: str
    ask: str


def judge_buffers(
    points: Sequence[tuple[str, float]], temp_c: float, *, in_mv: bool = False, own_ph: Mapping[str, float] = {}
) -> BufferVerdict:
    """Judge a pH meter by what it shows in buffers.

    Args:
        points: what stands on each bottle, and what the meter showed in it: pH, or mV.
        temp_c: of the buffers, in °C.
        in_mv: whether mV were read.
        own_ph: the pH at this temperature by the bottle's own table, for bottles that are not in `BOTTLES`.

    Raises:
        ValueError: fewer than two buffers or too near ones, an unknown bottle, a temperature outside its table, or a
            figure that no meter shows.
    """
    true_ph = tuple(_true_ph(bottle, temp_c, own_ph) for bottle, _ in points)
    if len(true_ph) < 2 or max(true_ph) - min(true_ph) < APART_PH:
        raise ValueError(f"a slope needs two buffers at least {APART_PH:g} pH apart, as 7.00 and 4.01")
    slope_mv = nernst_slope_mv(temp_c)
    shown_ph = tuple(_as_ph(bottle, shown, slope_mv, in_mv=in_mv) for bottle, shown in points)
    slope_pct, offset_mv = _line(true_ph, shown_ph, slope_mv)
    nearest = min(range(len(points)), key=lambda place: abs(true_ph[place] - 7.0))
    return BufferVerdict(
        true_ph,
        slope_pct,
        offset_mv,
        true_ph[nearest] - shown_ph[nearest],
        _error_ph(true_ph, shown_ph, slope_pct, offset_mv / slope_mv, in_mv=in_mv),
        _buffer_verdict(slope_pct, offset_mv),
        _ask_of_buffers([bottle for bottle, _ in points], true_ph, shown_ph, temp_c, in_mv=in_mv),
    )


def _true_ph(bottle: str, temp_c: float, own_ph: Mapping[str, float]) -> float:
    if bottle in own_ph:
        return own_ph[bottle]
    if bottle not in BOTTLES:
        known = ", ".join(sorted(BOTTLES, key=float))
        raise ValueError(f"buffer {bottle}: no such bottle is known; known are {known}, each by what stands on it")
    return buffer_ph(BOTTLES[bottle], temp_c).value


def _as_ph(bottle: str, shown: float, slope_mv: float, *, in_mv: bool) -> float:
    """Return what an ideal electrode's meter would show: 7 at 0 mV."""
    if in_mv:
        if not abs(shown) <= HIGHEST_MV:
            raise ValueError(f"{bottle}={shown:g}: an electrode gives -{HIGHEST_MV:g} to {HIGHEST_MV:g} mV")
        return 7.0 - shown / slope_mv
    if not 0.0 <= shown <= HIGHEST_PH:
        raise ValueError(f"{bottle}={shown:g}: a meter shows pH 0 to {HIGHEST_PH:g}; if these are mV, say --mv")
    return shown


def _line(true_ph: Sequence[float], shown_ph: Sequence[float], slope_mv: float) -> tuple[float, float]:
    """Return slope in % and what the electrode gives at pH 7 in mV, by least squares."""
    mean_true, mean_shown = sum(true_ph) / len(true_ph), sum(shown_ph) / len(shown_ph)
    together = sum((t - mean_true) * (s - mean_shown) for t, s in zip(true_ph, shown_ph, strict=True))
    share = together / sum((t - mean_true) ** 2 for t in true_ph)
    # As exact as they are shown: 94.98 % is 95.0 %, and there is no -0.0.
    offset_mv = round((7.0 - mean_shown - share * (7.0 - mean_true)) * slope_mv, 1) or 0.0
    return round(100.0 * share, 1), offset_mv


def _error_ph(
    true_ph: Sequence[float], shown_ph: Sequence[float], slope_pct: float, offset_ph: float, *, in_mv: bool
) -> float:
    if in_mv:
        shown_ph = [7.0 + (shown - 7.0 + offset_ph) * 100.0 / slope_pct if slope_pct else shown for shown in shown_ph]
    return max(abs(t - s) for t, s in zip(true_ph, shown_ph, strict=True)) + BUFFER_UNCERTAINTY


def _buffer_verdict(slope_pct: float, offset_mv: float) -> str:
    wrong = []
    if not SLOPE_PCT[0] <= slope_pct <= SLOPE_PCT[1]:
        wrong.append(f"slope {slope_pct:.1f} %, wanted {SLOPE_PCT[0]:g} to {SLOPE_PCT[1]:g} %")
    if abs(offset_mv) > OFFSET_MV:
        wrong.append(f"{offset_mv:+.0f} mV at pH 7, wanted within {OFFSET_MV:g} mV")
    return "; ".join(wrong) or "good"


def _ask_of_buffers(
    bottles: Sequence[str], true_ph: Sequence[float], shown_ph: Sequence[float], temp_c: float, *, in_mv: bool
) -> str:
    """Think of swapped buffers and of the bottle that is taken for another."""
    slope_mv = nernst_slope_mv(temp_c)
    if in_mv and all(3.0 < (7.0 - ph) * slope_mv < 11.0 for ph in shown_ph):
        return "these look like pH, not like mV; leave --mv out"
    if _line(true_ph, shown_ph, slope_mv)[0] < 0.0:
        return f"the buffers {' and '.join(bottles)} look swapped: the higher one showed the lower pH"
    misfit = _misfit(true_ph, shown_ph, slope_mv, in_mv=in_mv)
    if misfit < MIXED_UP:
        return ""
    best, liquids = misfit, tuple(bottles)
    for place, bottle in enumerate(bottles):
        for other in _taken_for(bottle, temp_c):
            other_ph = buffer_ph(BOTTLES[other], temp_c).value
            less = _misfit([*true_ph[:place], other_ph, *true_ph[place + 1 :]], shown_ph, slope_mv, in_mv=in_mv)
            if less < best:
                best, liquids = less, (*bottles[:place], other, *bottles[place + 1 :])
    if tuple(bottles) == liquids or best > CLEARER * misfit:
        return ""
    was, now = next((was, now) for was, now in zip(bottles, liquids, strict=True) if was != now)
    return (
        f"what it shows fits the liquid {now} better than {was}, and these are two different liquids; "
        f"is it {now} that stands on the bottle?"
    )


def _taken_for(bottle: str, temp_c: float) -> list[str]:
    """Return the bottles that this one may be taken for."""
    if bottle not in BOTTLES:
        return []
    found = []
    for other, name in BOTTLES.items():
        if other != bottle and abs(float(other) - float(bottle)) <= SAME_LIQUID_PH:
            try:
                buffer_ph(name, temp_c)
            except ValueError:  # Its table does not go so far, so nobody can say.
                continue
            found.append(other)
    return found


def _misfit(true_ph: Sequence[float], shown_ph: Sequence[float], slope_mv: float, *, in_mv: bool) -> float:
    """Return how badly it fits: 1 where it is just accepted. A meter that shows pH should simply show the buffers'."""
    if not in_mv:
        return max(abs(t - s) for t, s in zip(true_ph, shown_ph, strict=True)) / SHOWN_WRONG_PH
    slope_pct, offset_mv = _line(true_ph, shown_ph, slope_mv)
    return max(abs(slope_pct - 100.0) / (SLOPE_PCT[1] - 100.0), abs(offset_mv) / OFFSET_MV)


@dataclass(frozen=True, slots=True)
class PointVerdict:
    """Hold what one fixed point says of a thermometer or a humidity sensor.

    Attributes:
        true: the fixed point with its uncertainty.
        offset: true less shown: what has to be added to what it shows, on top of what is added already.
        error: how far it may be off now, without a further offset.
        verdict: `good`, or in words what is wrong.
        ask: the likely slip, else empty.
    """

    true: FixedPoint
    offset: float
    error: float
    verdict: str
    ask: str


def judge_ice(shown_c: float, use: Use = "air") -> PointVerdict:
    """Judge a thermometer by what it shows in melting ice, in °C. Raises ValueError for what is no number."""
    true = FixedPoint(ICE_C, ICE_UNCERTAINTY_K, "melting ice and water")
    ask = ""
    if shown_c > SLIP_K:
        meant = " Did you mean 32F?" if round(shown_c) == 32 else ""
        ask = f"{shown_c:.1f} °C is no melting ice, which has 0 °C (32 °F).{meant}"
    elif shown_c < -SLIP_K:
        ask = f"{shown_c:.1f} °C is no melting ice, which has 0 °C: fresh out of the freezer, or salted?"
    return _judge_temp(true, shown_c, THERMOMETER_K[use], ask)


def judge_beside_c(shown_c: float, true_c: float, error_k: float, use: Use = "air") -> PointVerdict:
    """Judge a thermometer beside a better one that may itself be off by `error_k`. All in °C. Raises ValueError."""
    ask = ""
    if abs(true_c - shown_c) > SLIP_K:
        ask = f"{shown_c:.1f} °C beside {true_c:.1f} °C: so far apart, they were not in the same place, or it is a slip"
    return _judge_temp(FixedPoint(true_c, error_k, "a better thermometer"), shown_c, THERMOMETER_K[use], ask)


def _judge_temp(true: FixedPoint, shown_c: float, within_k: float, ask: str) -> PointVerdict:
    if not isfinite(shown_c):
        raise ValueError(f"{shown_c}: no temperature")
    offset_k = true.value - shown_c
    verdict = "good"
    if abs(offset_k) > within_k:
        verdict = f"off by {spoken_k(-offset_k)} K, wanted within {within_k:g} K"
    return PointVerdict(true, offset_k, abs(offset_k) + true.uncertainty, verdict, ask)


def spoken_k(off_k: float) -> str:
    """Return a difference as it is said: to hundredths, so that one of 1 °F can be told in °F, too."""
    return f"{off_k:+.2f}".removesuffix("0")


def judge_salt(shown_pct: float, salt: str, temp_c: float) -> PointVerdict:
    """Judge a humidity sensor by what it shows over a saturated salt solution.

    Args:
        shown_pct: in %RH, 0 to 110: a wet sensor may show more than 100.
        salt: a key of `SALTS`.
        temp_c: of solution and sensor, in °C.

    Raises:
        ValueError: no such salt, a temperature outside its table, or no humidity.
    """
    true = rh_of(salt, temp_c)
    if not 0.0 <= shown_pct <= 100.0 + SLIP_PCT:
        raise ValueError(f"{shown_pct:g} %: a humidity is 0 to 100 %")
    offset_pct = true.value - shown_pct
    nearer = _nearest_salt(shown_pct, temp_c)
    ask = ""
    if abs(offset_pct) > OTHER_SALT_PCT and nearer is not None and nearer[0] != salt:
        ask = (
            f"{shown_pct:g} % over {salt}, which has {true.value:.1f} % at {temp_c:g} °C; {nearer[0]} has "
            f"{nearer[1]:.1f} %: is it the right salt?"
        )
    elif abs(offset_pct) > SLIP_PCT:
        ask = f"{shown_pct:g} % over {salt}, which has {true.value:.1f} % at {temp_c:g} °C: a slip, or not yet steady?"
    return _judge_rh(true, shown_pct, ask)


def judge_beside_pct(shown_pct: float, true_pct: float, error_pct: float) -> PointVerdict:
    """Judge a humidity sensor beside a better one that may itself be off by `error_pct`. Raises ValueError."""
    ask = ""
    if abs(true_pct - shown_pct) > SLIP_PCT:
        ask = f"{shown_pct:g} % beside {true_pct:g} %: so far apart, they were not in the same air, or it is a slip"
    return _judge_rh(FixedPoint(true_pct, error_pct, "a better humidity sensor"), shown_pct, ask)


def _nearest_salt(shown_pct: float, temp_c: float) -> tuple[str, float] | None:
    """Return the salt whose humidity comes nearest to what was shown, and that, if it comes near at all."""
    found = []
    for salt, rows in SALTS.items():
        if rows[0][0] <= temp_c <= rows[-1][0]:
            value = rh_of(salt, temp_c).value
            found.append((abs(value - shown_pct), salt, value))
    apart, salt, value = min(found)
    return (salt, value) if apart <= OTHER_SALT_NEAR_PCT else None


def _judge_rh(true: FixedPoint, shown_pct: float, ask: str) -> PointVerdict:
    if not 0.0 <= shown_pct <= 100.0 + SLIP_PCT:
        raise ValueError(f"{shown_pct:g} %: a humidity is 0 to 100 %")
    offset_pct = true.value - shown_pct
    verdict = "good"
    if abs(offset_pct) > HYGROMETER_PCT:
        verdict = f"off by {-offset_pct:+.1f} %RH, wanted within {HYGROMETER_PCT:g} %RH"
    return PointVerdict(true, offset_pct, abs(offset_pct) + true.uncertainty, verdict, ask)


def corrected_pct(shown_pct: float, offset_pct: float) -> float:
    """Return a humidity with its sensor's offset: an honest value of 0 to 100 % does not leave that range by it."""
    if not 0.0 <= shown_pct <= 100.0:
        return shown_pct + offset_pct
    return min(max(shown_pct + offset_pct, 0.0), 100.0)
