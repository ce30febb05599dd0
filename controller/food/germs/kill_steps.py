"""Processes that kill E. coli O157:H7 in a fermented sausage: acid, then a hold or a mild heat, as one whole.

Fermenting and drying alone lower the number by one or two powers of ten only, and beef carries this germ. Each row is
one published process with a name that a profile can carry. It holds only as a whole: ferment temperature, end pH,
casing and what comes after. Time at a temperature counts as the sum of what was at or above it; dips are left out, and
so is what nobody recorded: where that could have filled a hold, it is not measured.
"""

from dataclasses import dataclass, replace
from math import exp
from typing import Final, Literal

from controller.food.germs.measured import (
    DAY_S,
    Condition,
    Log,
    Verdict,
    break_h,
    celsius,
    colder,
    filled,
    held_s,
    hours_at_or_above,
    lower_pieces,
    readings_of,
    time_words,
    verdict_of,
)


@dataclass(frozen=True, slots=True)
class Hold:
    """Hold one step after the ferment: so many hours at so many °F or more, of the air around it or of the core."""

    temp_f: float
    hours: float
    of: Literal["air", "core"] = "air"


@dataclass(frozen=True, slots=True)
class KillStep:
    """Hold one published process.

    Attributes:
        id: the name by which a profile calls it.
        organism: what it was shown for.
        log: powers of ten it gives; None where the source gives none.
        ferment_f: temperature of the ferment; None where the source gives none.
        ph: the end pH, as ("<=", 4.6); None where none is asked.
        casing_mm: smallest and largest diameter; None where the source gives none.
        steps: what comes after the ferment, in this order.
        mpr_max: moisture to protein at most, after drying; None where not asked.
        then: the step in words, as the source has it.
        source: where it is published.
        confirm: whether it rests on memory.
        note: what else is to be known.
    """

    id: str
    organism: str
    log: float | None
    ferment_f: float | None
    ph: tuple[Literal["<=", ">="], float] | None
    casing_mm: tuple[float, float] | None
    steps: tuple[Hold, ...]
    mpr_max: float | None
    then: str
    source: str
    confirm: bool = False
    note: str = ""


BREAKS_TOLD_H: Final = 0.1
_COLI: Final = "E. coli O157:H7"
_ANNEX_K: Final = "CFIA, Meat Hygiene Manual of Procedures, ch. 4, Annex K (archived)"
_AFTER: Final = f"{_ANNEX_K}, from memory; after Nickelson et al. (1996), NCBA Research Report 11-316"
_WISCONSIN: Final = "University of Wisconsin-Madison, low-temperature cooking of pepperoni and summer sausage (summary)"
_THIN: Final = (0.0, 55.0)
_THICK: Final = (56.0, 105.0)
_HEAT_THIN: Final = (Hold(110.0, 1.0), Hold(125.0, 6.0))
_HEAT_THICK: Final = (Hold(100.0, 1.0), Hold(110.0, 1.0), Hold(120.0, 1.0), Hold(125.0, 7.0))
_THIN_WORDS: Final = "1 h at 110 F, then 6 h at 125 F"
_THICK_WORDS: Final = "1 h at 100 F, 1 h at 110 F, 1 h at 120 F, then 7 h at 125 F"
_STUDY: Final = "E. coli O157:H7, Salmonella, Listeria"
_READ_AS: Final = "the summary gives no powers of ten; confirm what it was validated for"


def _row(
    name: str, ferment_f: float, ph: tuple[Literal["<=", ">="], float], casing_mm: tuple[float, float],
    steps: tuple[Hold, ...], then: str, source: str = _ANNEX_K,
) -> KillStep:  # fmt: skip
    return KillStep(name, _COLI, 5.0, ferment_f, ph, casing_mm, steps, None, then, source, confirm=source is _AFTER)


def _mild(name: str, ph: float, temp_f: float, minutes: float, then: str) -> KillStep:
    steps = (Hold(temp_f, minutes / 60.0, "core"),)
    return KillStep(
        name, _STUDY, None, None, ("<=", ph), None, steps, None, then, _WISCONSIN, confirm=True, note=_READ_AS
    )


KILL_STEPS: Final = (
    _row("70f-5.0-55mm-heat", 70.0, (">=", 5.0), _THIN, _HEAT_THIN, _THIN_WORDS),
    _row("90f-4.6-55mm-hold-6d", 90.0, ("<=", 4.6), _THIN, (Hold(90.0, 144.0),), "hold at 90 F for 6 days or more"),
    _row("90f-4.6-55mm-heat", 90.0, ("<=", 4.6), _THIN, _HEAT_THIN, _THIN_WORDS),
    _row("90f-4.6-105mm-heat", 90.0, ("<=", 4.6), _THICK, _HEAT_THICK, _THICK_WORDS),
    _row("90f-5.0-105mm-heat", 90.0, (">=", 5.0), _THICK, _HEAT_THICK, _THICK_WORDS),
    KillStep(
        "96f-5.0-55mm-heat-dry", _COLI, 5.0, 96.0, ("<=", 5.0), _THIN, (Hold(128.0, 1.0, "core"),), 1.6,
        "128 F internal for 60 min, then dry at 55 F and 65 % RH to a moisture to protein ratio of 1.6", _ANNEX_K,
    ),
    _row(
        "110f-4.6-55mm-hold-4d", 110.0, ("<=", 4.6), _THIN, (Hold(110.0, 96.0),), "hold at 110 F for 4 days or more",
        _AFTER,
    ),
    _row("110f-4.6-55mm-heat", 110.0, ("<=", 4.6), _THIN, _HEAT_THIN, _THIN_WORDS, _AFTER),
    _row("110f-4.6-105mm-heat", 110.0, ("<=", 4.6), _THICK, _HEAT_THICK, _THICK_WORDS, _AFTER),
    _row("110f-5.0-105mm-heat", 110.0, (">=", 5.0), _THICK, _HEAT_THICK, _THICK_WORDS, _AFTER),
    _mild("pepperoni-5.0-145f", 5.0, 145.0, 0.0, "145 F internal, no hold"),
    _mild("pepperoni-5.0-128f-60min", 5.0, 128.0, 60.0, "128 F internal for 60 min"),
    _mild("summer-5.0-130f-30min", 5.0, 130.0, 30.0, "130 F internal for 30 min"),
    _mild("summer-4.6-130f", 4.6, 130.0, 0.0, "130 F internal, no hold"),
    KillStep(
        "lebanon-80f-100f-110f", _COLI, 5.0, None, None, None,
        (Hold(80.0, 8.0, "core"), Hold(100.0, 24.0, "core"), Hold(110.0, 24.0, "core")), None,
        "internal 80 F 8 h, 100 F 24 h, 110 F 24 h",
        "Kansas State University, Cattlemen's Day 1998, Report of Progress 804",
    ),
)  # fmt: skip

WITHOUT_HEAT: Final = (
    "E. coli O157:H7 outlives ferment and drying: fermented to pH 4.8, dried to a moisture to protein ratio of 1.9 and "
    "kept 2 months at 4 °C, only about 2 powers of ten were gone. Drying alone is no kill step"
)
WITHOUT_HEAT_SOURCE: Final = "Glass et al. 1992, Appl. Environ. Microbiol. 58:2513-2516"
REPORTED: Final = (
    (
        "Pepperoni type at 35.6 °C and 85 % RH: the ferment alone 0.3 to 1.2 log, with 37.8 to 54.4 °C for 0.5 to "
        "12.5 h after it 2.0 to 6.7 log in all (Shane et al. 2018, Italian Journal of Food Safety 7:7250)."
    ),
    f"{WITHOUT_HEAT} ({WITHOUT_HEAT_SOURCE}).",
)
"""What was reported of processes that give no fixed number: to be shown, never to be judged by."""


def kill_step_of(name: str) -> KillStep:
    """Return the process of this name. Raises KeyError where there is none."""
    for step in KILL_STEPS:
        if step.id == name:
            return step
    raise KeyError(f"{name}: no such process; there are {', '.join(step.id for step in KILL_STEPS)}")


def judge_kill_step(
    step: KillStep, *, end_ph: float | None = None, ph_error: float = 0.0,
    ferment_c: float | None = None, diameter_mm: float | None = None,
    air: Log = (), core: Log = (), after_s: float = float("-inf"), mpr: float | None = None,
    error_k: float = 0.0,
) -> tuple[Condition, ...]:  # fmt: skip
    """Say of each thing that a process asks whether it is met, not met or not measured.

    Args:
        step: the process.
        end_ph: at the end of the ferment, as measured.
        ph_error: how far the meter may be off; it counts against the row, whichever way that is.
        ferment_c: mean air temperature of the ferment. A warmer ferment counts as met: common practice, no source.
        diameter_mm: of the casing at stuffing.
        air: (seconds, °C) of the air around the sausage, where it hung.
        core: (seconds, °C) in the core. A hold of the air counts by the core where no air was measured.
        after_s: when the ferment was over; what was before it does not count.
        mpr: moisture to protein, as a laboratory measured it.
        error_k: how far the thermometer may be off; above 0 each heat or hold is judged once more with it taken off.
    """
    found: list[Condition] = []
    if step.ferment_f is not None:
        found.append(_ferment(step, step.ferment_f, ferment_c))
    if step.ph is not None:
        found.append(_acid(step, step.ph, end_ph, ph_error))
    if step.casing_mm is not None:
        found.append(_casing(step, step.casing_mm, diameter_mm))
    found += _holds(step, air, core, after_s)
    if error_k > 0.0:
        how = f", with {error_k:g} K of error taken off"
        again = _holds(step, colder(air, error_k), colder(core, error_k), after_s)
        found += [replace(condition, what=condition.what + how) for condition in again]
    if step.mpr_max is not None:
        holds = None if mpr is None else mpr <= step.mpr_max
        words = "" if mpr is None else f"{mpr:.2f}"
        found.append(_condition(step, "moisture to protein", f"{step.mpr_max:g} or less", words, verdict_of(holds)))
    return tuple(found)


def _condition(step: KillStep, what: str, wanted: str, found: str, verdict: Verdict) -> Condition:
    return Condition(what, wanted, found, verdict, step.source, step.confirm)


def _ferment(step: KillStep, ferment_f: float, ferment_c: float | None) -> Condition:
    wanted = f"{ferment_f:g} °F ({celsius(ferment_f):.1f} °C) or warmer"
    if ferment_c is None:
        return _condition(step, "ferment", wanted, "", "not measured")
    mean_f = round(ferment_c * 1.8 + 32.0)  # The rows are whole degrees.
    words = f"mean {ferment_c:.1f} °C ({mean_f} °F)"
    return _condition(step, "ferment", wanted, words, verdict_of(mean_f >= ferment_f))


def _acid(step: KillStep, rule: tuple[Literal["<=", ">="], float], end_ph: float | None, error: float) -> Condition:
    sign, limit = rule
    wanted = f"{limit:.1f} or {'lower' if sign == '<=' else 'higher'}, as the row is printed"
    if end_ph is None:
        return _condition(step, "pH after the ferment", wanted, "", "not measured")
    holds = round(end_ph + error, 6) <= limit if sign == "<=" else round(end_ph - error, 6) >= limit
    words = f"{end_ph:.2f}" + (f" {'+' if sign == '<=' else '-'} {error:g}" if error else "")
    return _condition(step, "pH after the ferment", wanted, words, verdict_of(holds))


def _casing(step: KillStep, casing_mm: tuple[float, float], diameter_mm: float | None) -> Condition:
    low, high = casing_mm
    wanted = f"{high:g} mm or less" if low == 0.0 else f"{low:g} to {high:g} mm"
    if diameter_mm is None:
        return _condition(step, "casing", wanted, "", "not measured")
    if diameter_mm < low:  # It heats and sours faster, but the row was shown for thicker ones only.
        words = f"{diameter_mm:g} mm, thinner than the row: that it does for these too is no published figure"
        return Condition("casing", wanted, words, "met", step.source, confirm=True)
    return _condition(step, "casing", wanted, f"{diameter_mm:g} mm", verdict_of(diameter_mm <= high))


def _holds(step: KillStep, air: Log, core: Log, after_s: float) -> list[Condition]:
    """Judge the steps in their order: each begins where the one before it was full, so none is reckoned twice."""
    found: list[Condition] = []
    from_s: float | None = after_s
    for hold in step.steps:
        log, of = (core, "core") if hold.of == "core" or len(readings_of(air)) < 2 else (air, "air")
        wanted = f"{hold.of} at {hold.temp_f:g} °F ({celsius(hold.temp_f):.1f} °C) or more"
        wanted += f" for {time_words(hold.hours)}" if hold.hours else ", no hold"
        words, verdict = "", verdict_of(None)
        since = [] if from_s is None else [point for point in log if point[0] >= from_s]
        known = readings_of(since)
        if from_s is not None and known and (len(known) > 1 or hold.hours == 0.0):
            hours = hours_at_or_above(log, hold.temp_f, from_s=from_s)
            words = f"{time_words(hours)} by the {of}, hottest {max(temp_c for _, temp_c in known):.1f} °C"
            open_h = break_h(since)
            words += f"; {time_words(open_h)} without a record" if open_h > BREAKS_TOLD_H else ""
            full_s = held_s(log, hold.temp_f, hold.hours, from_s=from_s)
            could = full_s is None and held_s(filled(log), hold.temp_f, hold.hours, from_s=from_s) is not None
            verdict = verdict_of(None if could else full_s is not None)
            from_s = full_s
        else:
            from_s = None
        found.append(_condition(step, "heat or hold", wanted, words, verdict))
    return found


DRYING_SOURCE: Final = "McQuestin, Shadbolt and Ross (2009), Appl. Environ. Microbiol. 75:6963"
DRYING_C: Final = (0.0, 47.0)
DRYING_NOTE: Final = (
    "an order of magnitude only: temperature explains 61 % of the spread, single batches lie off by a factor of several"
)


def ecoli_log_per_day(temp_c: float) -> float:
    """Return by how many powers of ten E. coli falls in a day where pH or water activity stops its growth.

    24 exp(30.974 - 10483/T), T in kelvin, 0 to 47 °C. McQuestin, Shadbolt and Ross (2009), Appl. Environ. Microbiol.
    75:6963. An order of magnitude, no limit.

    Raises:
        ValueError: outside 0 to 47 °C.
    """
    if not DRYING_C[0] <= temp_c <= DRYING_C[1]:
        raise ValueError(f"{temp_c:g} °C: the relation holds from {DRYING_C[0]:g} to {DRYING_C[1]:g} °C")
    return 24.0 * exp(30.974 - 10_483.0 / (temp_c + 273.15))


def ecoli_drying_log(log: Log) -> float:
    """Return the powers of ten that a log of temperatures stands for, from the first reading on; an order of magnitude.

    Begin it where the pH has fallen to 5.3. Below 0 °C nothing counts, above 47 °C no more than at 47 °C.
    """
    total = 0.0
    for at_s, to_s, temp_c in lower_pieces(log):
        if temp_c >= DRYING_C[0]:
            total += ecoli_log_per_day(min(temp_c, DRYING_C[1])) * (to_s - at_s) / DAY_S
    return total
