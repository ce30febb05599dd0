"""Whether what was recorded of a batch meets the option against trichinae that its maker chose.

A freezer writes no log here: what a maker wrote about the pork is read where its words are plain, and said to be his
word. The temperature he wrote is that of the freezer, and how thick the pieces were counts: nothing is taken for the
temperature at their centre but where he chose such an option or wrote so. Days in a drying room are the time that the
climate log shows at or above the temperature; colder hours, and those of which no row tells, are left out.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from controller.food.germs import trichinae_tables as printed
from controller.food.germs.measured import (
    MM_PER_IN,
    Condition,
    Log,
    break_h,
    celsius,
    colder,
    fahrenheit,
    filled,
    held_s,
    hours_at_or_above,
    longest_hours_at_or_above,
    lower_pieces,
    readings_of,
    time_words,
    verdict_of,
)
from controller.food.germs.trichinae import (
    AFTER_ROUNDING,
    FROST_PROOF,
    GAME,
    Option,
    days_of_method,
    drying_days_6,
    hill_days,
    off_pct_3b,
)
from controller.food.germs.trichinae_tables import METHODS, TABLE_3B, TABLE_3B_F, Method, Need


@dataclass(frozen=True, slots=True)
class Recorded:
    """Hold what was recorded of a batch; None or empty is what was not.

    Attributes:
        species: of the meats.
        treated: what the maker wrote about the pork before the bowl.
        diameter_mm: of the casing at stuffing.
        salt_pct: on the basis that the option names.
        ph: at the end of the ferment.
        ph_error: how far the meter may be off; it is added before the pH counts.
        aw: measured.
        core: (seconds, °C) in the core.
        smoke: (seconds, °C) of the smoker.
        ferment: (seconds, °C) of the chamber from hanging to the end of the ferment.
        drying: (seconds, °C) of the air while it dried.
        from_cure_h: hours from the day the cure went in.
        pepperoni: whether it is one.
        chosen: whether the maker named the option; one of freezing then says how thick the pieces were.
        error_k: how far a thermometer may be off; above 0 each heat is judged once more with it taken off.
    """

    species: frozenset[str] = frozenset()
    treated: str = ""
    diameter_mm: float | None = None
    salt_pct: float | None = None
    ph: float | None = None
    aw: float | None = None
    core: Log = ()
    smoke: Log = ()
    ferment: Log = ()
    drying: Log = ()
    from_cure_h: float | None = None
    pepperoni: bool = False
    ph_error: float = 0.0
    chosen: bool = True
    error_k: float = 0.0


BREAKS_TOLD_H: Final = 0.1
_TEMP: Final = re.compile(r"(minus\s*|[-−]\s*)?(\d+(?:\.\d+)?)\s*°?\s*([CF])\b", re.IGNORECASE)
_TIME: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(weeks?|days?|d|hours?|h)\b", re.IGNORECASE)
_THICK: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(mm|cm|inch(?:es)?|in)\b(?:\s*(?:thick|deep))?", re.IGNORECASE)
_IN_HOURS: Final = {"w": 168.0, "d": 24.0, "h": 1.0}
_IN_MM: Final = {"m": 1.0, "c": 10.0, "i": MM_PER_IN}
_CENTRE: Final = frozenset({"core", "centre", "center"})
_AROUND: Final = frozenset({"freezer", "air", "room"})
_PLAIN: Final = _CENTRE | _AROUND | {
    "frozen", "freeze", "froze", "freezing", "at", "for", "in", "the", "a", "my", "of", "deep", "chest", "home", "and",
    "or", "colder", "kept", "held", "stored", "thick", "pieces", "piece", "layer", "layers", "up", "to", "it", "was",
    "throughout", "pork", "meat", "with", "by", "butcher", "all",
}  # fmt: skip
"""Words that say nothing else; any other, as "not" or "almost", leaves it to a person."""


@dataclass(frozen=True, slots=True)
class Freezing:
    """Hold what a maker wrote of a freezing: °C, hours, where it was measured, and how thick the pieces were in mm."""

    temp_c: float
    hours: float
    centre: bool = False
    around: bool = False
    thick_mm: float | None = None


def frozen_as_written(text: str) -> Freezing | None:
    """Return the freezing that a maker wrote down, as "frozen 20 d at -15C, 10 cm thick"; None where it is not plain.

    Exactly one temperature below 0 °C and one time are looked for, each with its unit, at most one thickness, and
    nothing but plain words beside them.
    """
    temps, times, thick = _TEMP.findall(text), _TIME.findall(text), _THICK.findall(text)
    rest = _THICK.sub(" ", _TIME.sub(" ", _TEMP.sub(" ", text)))
    words = set(re.findall(r"[^\s,;.()]+", rest.lower()))
    if len(temps) != 1 or len(times) != 1 or len(thick) > 1 or not words <= _PLAIN:
        return None
    (sign, number, unit), (count, of) = temps[0], times[0]
    value = -float(number) if sign else float(number)
    temp_c = celsius(value) if unit.upper() == "F" else value
    if temp_c >= 0.0:
        return None
    thick_mm = float(thick[0][0]) * _IN_MM[thick[0][1][0].lower()] if thick else None
    hours = float(count) * _IN_HOURS[of[0].lower()]
    return Freezing(temp_c, hours, bool(words & _CENTRE), bool(words & _AROUND), thick_mm)


def judge(option: Option, recorded: Recorded) -> tuple[Condition, ...]:
    """Say of each thing an option asks whether it is met, not met or not measured by what was recorded."""
    found: list[Condition] = []
    if option.kind in {"freeze", "cure"} and recorded.species & FROST_PROOF:
        found.append(Condition("species", "domestic pork", ", ".join(sorted(recorded.species)), "not met", GAME))
    if option.kind == "none":
        words = f"the maker wrote: {recorded.treated}" if recorded.treated else ""
        found.append(Condition("trichinae", option.words, words, "not measured", option.source))
    elif option.kind == "freeze":
        found.append(_frozen(option, recorded.treated, chosen=recorded.chosen))
    elif option.kind == "cook":
        found.append(_cooked(option, recorded.core))
        if recorded.error_k > 0.0:
            found.append(_less_error(_cooked(option, colder(recorded.core, recorded.error_k)), recorded))
    elif option.id == "hill-2017":
        found += _hill(option, recorded)
    else:
        found += _cured(next(method for method in METHODS if method.id == option.id), recorded)
    return tuple(found)


def _less_error(condition: Condition, recorded: Recorded) -> Condition:
    return replace(condition, what=f"{condition.what}, with {recorded.error_k:g} K of error taken off")


def _frozen(option: Option, treated: str, *, chosen: bool) -> Condition:
    written = frozen_as_written(treated)
    words = f"the maker wrote: {treated}" if treated else ""
    holds, assumed = None, ""
    if written is not None and option.temp_c is not None and option.hours is not None:
        # 0.05 K, for 5 °F is written as -15.0 °C in the table itself.
        holds = written.temp_c <= option.temp_c + 0.05 and written.hours >= option.hours
        holds, assumed = _with_thickness(option, written, holds=holds, chosen=chosen)
    elif treated:
        assumed = 'no plain words, as "frozen 20 days at -15C, 10 cm thick"'
    words += f" ({assumed})" if assumed else ""
    return Condition("trichinae: freezing", option.words, words, verdict_of(holds), option.source, option.confirm)


def _with_thickness(option: Option, written: Freezing, *, holds: bool, chosen: bool) -> tuple[bool | None, str]:
    """Return what is left of a freezing, cold and long enough or not, once its thickness is asked for, and why."""
    if option.thickest_mm is None:
        if written.centre:
            return holds, ""
        if chosen and not written.around:
            return holds, "taken for the temperature at the centre, as the option says"
        return None, "that is no temperature at the centre of the pieces"
    if not holds or written.thick_mm is not None:
        return holds and (written.thick_mm or 0.0) <= option.thickest_mm + AFTER_ROUNDING, ""
    up_to = f"up to {option.thickest_mm:.0f} mm thick"
    if chosen or option.thickest_mm > printed.FREEZING_1_IN[0] * MM_PER_IN + AFTER_ROUNDING:
        return True, f"the pieces are taken to be {up_to}{', as the option says' if chosen else ''}"
    return None, f"how thick the pieces were is not on record; the row is for {up_to}"


def _cooked(option: Option, core: Log) -> Condition:
    known = readings_of(core)
    if not known or option.temp_c is None or option.hours is None:
        return Condition("trichinae: heating", option.words, "", "not measured", option.source, option.confirm)
    at_f = fahrenheit(option.temp_c)
    full = held_s(core, at_f, option.hours) is not None
    could = not full and held_s(filled(core), at_f, option.hours) is not None
    words = f"hottest core {max(temp_c for _, temp_c in known):.1f} °C"
    words += f", {time_words(hours_at_or_above(core, at_f))} at or above it"
    verdict = verdict_of(None if could else full)
    return Condition("trichinae: heating", option.words, words, verdict, option.source, option.confirm)


def _hill(option: Option, recorded: Recorded) -> list[Condition]:
    source, low, high = option.source, *printed.HILL_PH
    ph, salt, aw, error = recorded.ph, recorded.salt_pct, recorded.aw, recorded.ph_error
    holds = None if ph is None else low <= round(ph, 2) and round(ph + error, 2) <= high
    acid = "" if ph is None else f"{ph:.2f}" + (f" + {error:g}" if error else "")
    days = None if ph is None or salt is None else hill_days(ph + error, salt)
    # Its days are counted from drying on, which asks the most of what can be meant.
    dry_f = fahrenheit(printed.HILL_DRY_C)
    dried_h = hours_at_or_above(recorded.drying, dry_f)
    dried = None
    if recorded.drying and days is not None:
        dried = enough(dried_h, hours_at_or_above(filled(recorded.drying), dry_f), days * 24.0)
    fermented_c = _mean_c(recorded.ferment)
    return [
        Condition(
            "pH after the ferment", f"{low:g} to {high:g}", acid, verdict_of(holds), source,
        ),
        Condition(
            "salt", f"{printed.HILL_SALT_PCT:g} % or more", "" if salt is None else f"{salt:.2f} %",
            verdict_of(None if salt is None else salt >= printed.HILL_SALT_PCT), source,
        ),
        Condition(
            "ferment", f"at {printed.HILL_FERMENT_C:g} °C or warmer",
            "" if fermented_c is None else f"mean {fermented_c:.1f} °C",
            verdict_of(None if fermented_c is None else round(fermented_c, 1) >= printed.HILL_FERMENT_C), source,
        ),
        Condition(
            "drying", f"{printed.HILL_DRY_C:g} °C or more" + ("" if days is None else f" for {days} days"),
            f"{time_words(dried_h)} at or above it" if recorded.drying else "",
            verdict_of(dried), source,
        ),
        Condition(
            "water activity", f"{printed.HILL_AW:g} or less", "" if aw is None else f"{aw:.3f}",
            verdict_of(None if aw is None else aw <= printed.HILL_AW), source,
        ),
    ]  # fmt: skip


def _cured(method: Method, recorded: Recorded) -> list[Condition]:
    source, confirm, salt, mm = method.source, method.confirm, recorded.salt_pct, recorded.diameter_mm
    found = [
        Condition(
            "salt", f"{method.salt_pct:.2f} % or more", "" if salt is None else f"{salt:.2f} %",
            verdict_of(None if salt is None else salt >= method.salt_pct - 0.005), source, confirm,
        ),
        Condition("grind", f"{method.grind_in:g} in or finer", "", "not measured", source, confirm),
    ]  # fmt: skip
    needs = None if mm is None else _needs(method, mm, salt, recorded)
    if needs is None:
        words = "" if mm is None else f"{mm:g} mm"
        wanted = "a casing and salt within the tables of the method"
        found.append(Condition("casing", wanted, words, verdict_of(None if mm is None else False), source, confirm))
        return found
    found += _lasted_all(needs, recorded, source, confirm=confirm)
    if recorded.error_k > 0.0:
        hot = replace(recorded, smoke=colder(recorded.smoke, recorded.error_k))
        again = _lasted_all(needs, hot, source, confirm=confirm)
        found += [_less_error(condition, recorded) for condition in again if condition.what in _HEATED]
    return found


def _needs(method: Method, diameter_mm: float, salt_pct: float | None, recorded: Recorded) -> tuple[Need, ...] | None:
    if method.id != "method-6":
        return days_of_method(method, diameter_mm, pepperoni=recorded.pepperoni)
    if salt_pct is None:
        return None
    most = (0, 0.0, 0.0)
    for hours in TABLE_3B:
        for temp_f in TABLE_3B_F:
            if hours_at_or_above(recorded.ferment, temp_f) >= hours:
                most = max(most, (off_pct_3b(hours, temp_f), hours, temp_f))
    days = drying_days_6(diameter_mm, salt_pct, held_h=most[1], held_f=most[2])
    return None if days is None else (printed.HOLD_6, Need("drying room", days * 24.0, printed.DRY_6_F))


_HEATED: Final = frozenset({"smoke", "heat"})


def _lasted_all(needs: Sequence[Need], recorded: Recorded, source: str, *, confirm: bool) -> list[Condition]:
    """Judge what a method asks in its order: a step of heat, and the drying after it, begins where the last was full.

    So no hour counts twice.
    """
    found, from_s = list[Condition](), float("-inf")
    for need in needs:
        found.append(_lasted(need, recorded, source, confirm=confirm, from_s=from_s))
        if need.place == "heat" and need.temp_f is not None:
            full_s = held_s(recorded.smoke, need.temp_f, need.hours, from_s=from_s)
            from_s = float("inf") if full_s is None else full_s
    return found


def _lasted(need: Need, recorded: Recorded, source: str, *, confirm: bool, from_s: float) -> Condition:
    wanted = time_words(need.hours)
    wanted += "" if need.temp_f is None else f" at {need.temp_f:g} °F ({celsius(need.temp_f):.1f} °C) or more"
    wanted += " in a row" if need.in_a_row else ""
    log = {"smoke": recorded.smoke, "heat": recorded.smoke, "drying room": recorded.drying}.get(need.place, ())
    hours = recorded.from_cure_h if need.place == "from cure to release" else _hours_of(need, log, from_s)
    words = "" if hours is None else time_words(hours) + ("" if need.temp_f is None else " at or above it")
    could = _hours_of(need, filled(log), from_s)
    open_h = break_h(log)
    words += f"; {time_words(open_h)} without a record" if words and open_h > BREAKS_TOLD_H else ""
    holds = None if hours is None else enough(hours, hours if could is None else could, need.hours)
    return Condition(need.place, wanted, words, verdict_of(holds), source, confirm)


def _hours_of(need: Need, log: Log, from_s: float) -> float | None:
    """Return the hours that a log shows of what is needed since an instant; None where it has no length."""
    if len(readings_of(log)) < 2 or need.temp_f is None or from_s == float("inf"):
        return None
    if need.in_a_row:
        return longest_hours_at_or_above(log, need.temp_f)
    return hours_at_or_above(log, need.temp_f, from_s=from_s)


def enough(hours: float, at_most: float, wanted: float) -> bool | None:
    """Say whether hours are as many as wanted; None where those of which nothing is on record could fill them."""
    if hours >= wanted - AFTER_ROUNDING:
        return True
    return None if at_most >= wanted - AFTER_ROUNDING else False


def _mean_c(log: Log) -> float | None:
    """Return the mean over the time, of the lower neighbours; None where it has none, or breaks of over an hour."""
    if break_h(log) > 1.0:
        return None
    pieces = lower_pieces(log)
    lasts_s = sum(to_s - at_s for at_s, to_s, _ in pieces)
    return sum(temp_c * (to_s - at_s) for at_s, to_s, temp_c in pieces) / lasts_s if lasts_s > 0.0 else None
