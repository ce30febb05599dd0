"""Whether what was recorded of a batch meets the option against trichinae that its maker chose.

A freezer writes no log here: what a maker wrote about the pork is read, and said to be his word. Days in a drying room
are the time that the climate log shows at or above the temperature; colder hours are left out.
"""

import re
from dataclasses import dataclass
from typing import Final

from controller.food.germs import trichinae_tables as printed
from controller.food.germs.measured import (
    Condition,
    Log,
    celsius,
    fahrenheit,
    held_s,
    hours_at_or_above,
    longest_hours_at_or_above,
    lower_pieces,
    time_words,
    verdict_of,
)
from controller.food.germs.trichinae import (
    AFTER_ROUNDING,
    GAME,
    WILD,
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
        salt_pct: of the mix without dry ingredients; where that is not known, of the meat.
        ph: at the end of the ferment.
        ph_error: how far the meter may be off; it is added before the pH counts.
        aw: measured.
        core: (seconds, °C) in the core.
        smoke: (seconds, °C) of the smoker.
        ferment: (seconds, °C) of the chamber from hanging to the end of the ferment.
        drying: (seconds, °C) of the air while it dried.
        from_cure_h: hours from the day the cure went in.
        pepperoni: whether it is one.
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


_TEMP: Final = re.compile(r"([-−]?\d+(?:\.\d+)?)\s*°?\s*([CF])\b", re.IGNORECASE)
_TIME: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(days?|d|hours?|h)\b", re.IGNORECASE)


def frozen_as_written(text: str) -> tuple[float, float] | None:
    """Return (°C, hours) of a freezing that a maker wrote down, as "frozen 20 d at -15C"; None where it is not there.

    Exactly one temperature with its unit and one time with its unit are looked for; more than one cannot be judged.
    """
    temps, times = _TEMP.findall(text), _TIME.findall(text)
    if len(temps) != 1 or len(times) != 1:
        return None
    (number, unit), (count, of) = temps[0], times[0]
    value = float(number.replace("−", "-"))
    temp_c = celsius(value) if unit.upper() == "F" else value
    return temp_c, float(count) * (24.0 if of.lower().startswith("d") else 1.0)


def judge(option: Option, recorded: Recorded) -> tuple[Condition, ...]:
    """Say of each thing an option asks whether it is met, not met or not measured by what was recorded."""
    found: list[Condition] = []
    if option.kind in {"freeze", "cure"} and recorded.species & (WILD | {"horse"}):
        found.append(Condition("species", "domestic pork", ", ".join(sorted(recorded.species)), "not met", GAME))
    if option.kind == "none":
        words = f"the maker wrote: {recorded.treated}" if recorded.treated else ""
        found.append(Condition("trichinae", option.words, words, "not measured", option.source))
    elif option.kind == "freeze":
        found.append(_frozen(option, recorded.treated))
    elif option.kind == "cook":
        found.append(_cooked(option, recorded.core))
    elif option.id == "hill-2017":
        found += _hill(option, recorded)
    else:
        found += _cured(next(method for method in METHODS if method.id == option.id), recorded)
    return tuple(found)


def _frozen(option: Option, treated: str) -> Condition:
    written = frozen_as_written(treated)
    words = f"the maker wrote: {treated}" if treated else ""
    holds = None
    if written is not None and option.temp_c is not None and option.hours is not None:
        # 0.05 K, for 5 °F is written as -15.0 °C in the table itself.
        holds = written[0] <= option.temp_c + 0.05 and written[1] >= option.hours
    return Condition("trichinae: freezing", option.words, words, verdict_of(holds), option.source, option.confirm)


def _cooked(option: Option, core: Log) -> Condition:
    if not core or option.temp_c is None or option.hours is None:
        return Condition("trichinae: heating", option.words, "", "not measured", option.source, option.confirm)
    full = held_s(core, fahrenheit(option.temp_c), option.hours) is not None
    words = f"hottest core {max(temp_c for _, temp_c in core):.1f} °C"
    words += f", {time_words(hours_at_or_above(core, fahrenheit(option.temp_c)))} at or above it"
    return Condition("trichinae: heating", option.words, words, verdict_of(full), option.source, option.confirm)


def _hill(option: Option, recorded: Recorded) -> list[Condition]:
    source, low, high = option.source, *printed.HILL_PH
    ph, salt, aw, error = recorded.ph, recorded.salt_pct, recorded.aw, recorded.ph_error
    holds = None if ph is None else low <= round(ph, 2) and round(ph + error, 2) <= high
    acid = "" if ph is None else f"{ph:.2f}" + (f" + {error:g}" if error else "")
    days = None if ph is None or salt is None else hill_days(ph + error, salt)
    # Its days are counted from drying on, which asks the most of what can be meant.
    dried_h = hours_at_or_above(recorded.drying, fahrenheit(printed.HILL_DRY_C))
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
            verdict_of(None if not recorded.drying or days is None else dried_h >= days * 24.0), source,
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
    return found + [_lasted(need, recorded, source, confirm=confirm) for need in needs]


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


def _lasted(need: Need, recorded: Recorded, source: str, *, confirm: bool) -> Condition:
    wanted = time_words(need.hours)
    wanted += "" if need.temp_f is None else f" at {need.temp_f:g} °F ({celsius(need.temp_f):.1f} °C) or more"
    wanted += " in a row" if need.in_a_row else ""
    hours = _hours_of(need, recorded)
    words = "" if hours is None else time_words(hours) + ("" if need.temp_f is None else " at or above it")
    holds = None if hours is None else hours >= need.hours - AFTER_ROUNDING
    return Condition(need.place, wanted, words, verdict_of(holds), source, confirm)


def _hours_of(need: Need, recorded: Recorded) -> float | None:
    """Return the hours that were recorded of what is needed; None where nothing was."""
    if need.place == "from cure to release":
        return recorded.from_cure_h
    log = {"smoke": recorded.smoke, "heat": recorded.smoke, "drying room": recorded.drying}.get(need.place, ())
    if len(log) < 2 or need.temp_f is None:
        return None
    if need.in_a_row:
        return longest_hours_at_or_above(log, need.temp_f)
    return hours_at_or_above(log, need.temp_f)


def _mean_c(log: Log) -> float | None:
    """Return the mean over the time, of the lower neighbours; None where the log has no length."""
    pieces = lower_pieces(log)
    lasts_s = sum(to_s - at_s for at_s, to_s, _ in pieces)
    return sum(temp_c * (to_s - at_s) for at_s, to_s, temp_c in pieces) / lasts_s if lasts_s > 0.0 else None
