"""The check of an instrument against fixed points: what it says, and what to write down.

A check changes no value: it is recorded, it says what would be right, and the maker writes an offset into the chamber
file. So what a sensor said can always be had back from the record.
"""

from math import isfinite
from typing import Final, NamedTuple

from msgspec.structs import replace

from controller.core.batch.care import GOOD, HAND_HELD, KINDS, WORDS, booked, meter_note, with_last_check
from controller.core.figures import degrees
from controller.core.memory import Inputs, Memory
from controller.core.people.desk import Done, Refused, do, noted
from controller.core.plan import Chamber, InstrumentKind
from controller.core.requests import Calibrate
from controller.core.values import Channel, CheckEntry, CheckMethod, Event, InstrumentCheck
from controller.food.checks.fixed_points import BUFFER_UNCERTAINTY, ICE_UNCERTAINTY_K
from controller.food.checks.instruments import (
    PointVerdict,
    judge_beside_c,
    judge_beside_pct,
    judge_buffers,
    judge_ice,
    judge_salt,
    spoken_k,
)

OWN: Final = " (own table)"
"""Stands behind the name of a buffer whose pH was typed from the bottle's own table."""
BETTER_K: Final = 0.3
BETTER_PCT: Final = 2.0
"""What a better instrument may itself be off by. Common practice, no source."""
MOST_OFFSET_K: Final = 3.0
MOST_OFFSET_PCT: Final = 10.0
"""What a chamber file takes as an offset; beyond it the sensor is broken."""

POINTS_C: Final = (-40.0, 150.0)
POINTS_MV: Final = (-2000.0, 2000.0)
"""What a fixed point can have, and what can be shown there. Common practice, no source."""
UNITS: Final[dict[InstrumentKind, tuple[str, ...]]] = {
    "thermometer": ("Cel",),
    "humidity": ("%RH",),
    "meter": ("pH", "mV"),
}
METHODS: Final[dict[CheckMethod, tuple[InstrumentKind, ...]]] = {
    "ice": ("thermometer",),
    "salt": ("humidity",),
    "buffers": ("meter",),
    "reference": ("thermometer", "humidity"),
}


__all__ = ["Judged", "judged", "kind_of", "meter_note"]


class Judged(NamedTuple):
    """Hold a check with its verdict, the question that it raises (else empty), and what is said of it."""

    check: InstrumentCheck
    ask: str
    text: str


# What a check says.


def judged(check: InstrumentCheck, chamber: Chamber) -> Judged:
    """Return the check with its true values, verdict and words. Raises Refused for what cannot be judged."""
    kind = kind_of(check.instrument, chamber)
    if kind not in METHODS[check.method]:
        fit = [method for method, kinds in METHODS.items() if kind in kinds]
        raise Refused(f"{check.instrument}: a {kind} is not checked by {check.method}, but by {' or '.join(fit)}")
    if check.instrument == "rh_temp" and check.method == "ice":
        raise Refused("rh_temp: a humidity sensor never goes into water; put it beside a better thermometer: reference")
    if check.unit not in UNITS[kind]:
        raise Refused(
            f"{check.instrument}: a {kind} shows {' or '.join(UNITS[kind])}, and not {check.unit or 'nothing'}"
        )
    _check_numbers(check)
    try:
        return _judged_buffers(check, chamber) if kind == "meter" else _judged_point(check, chamber)
    except ValueError as error:
        raise Refused(f"{check.instrument}: {error}") from error


def _check_numbers(check: InstrumentCheck) -> None:
    """Refuse what no instrument shows and no fixed point has: what is found here is added to what is counted."""
    for name, true, shown in check.points:
        if not (isfinite(true) and isfinite(shown)):
            raise Refused(f"{check.instrument}: {name or 'a point'}: this is no number")
    if check.unit in {"Cel", "mV"}:
        (low, high), sign = (POINTS_C, "°C") if check.unit == "Cel" else (POINTS_MV, "mV")
        for value in (value for _, true, shown in check.points for value in (true, shown)):
            if not low <= value <= high:
                raise Refused(f"{check.instrument}: {value:g} {sign}: a check lies between {low:g} and {high:g} {sign}")
    low_c, high_c = POINTS_C
    if check.temp_c is not None and not low_c <= check.temp_c <= high_c:
        raise Refused(f"{check.instrument}: {check.temp_c:g} °C: a check lies between {low_c:g} and {high_c:g} °C")


def kind_of(instrument: str, chamber: Chamber) -> InstrumentKind:
    """Return what an instrument is by the first word of its name. Raises Refused for an unknown one."""
    name = instrument.split(maxsplit=1)[0] if instrument.strip() else ""
    if instrument in WORDS and instrument in chamber.channels:
        return KINDS[instrument]
    if name in HAND_HELD:
        return KINDS[name]
    fixed = [channel for channel in chamber.channels if channel in WORDS]
    raise Refused(
        f"{instrument or 'nothing'}: no such instrument; this chamber has {', '.join(fixed)}; "
        f'one in the hand is called {", ".join(HAND_HELD)} with its number, as "meter 1"'
    )


def _judged_buffers(check: InstrumentCheck, chamber: Chamber) -> Judged:
    if check.temp_c is None:
        raise ValueError("the pH of a buffer depends on its temperature; say it")
    in_mv = check.unit == "mV"
    own_ph = {name: true for name, true, _ in check.points if name.endswith(OWN)}
    points = [(name, shown) for name, _, shown in check.points]
    said = judge_buffers(points, check.temp_c, in_mv=in_mv, own_ph=own_ph)
    verdict = said.verdict
    wrong_ph = said.error_ph - BUFFER_UNCERTAINTY
    if verdict == GOOD and wrong_ph > chamber.ph_error:
        verdict = (
            f"up to {wrong_ph:.2f} pH wrong, and the chamber file allows for ph_meter_error = {chamber.ph_error:g}"
        )
    whose = "the electrode" if in_mv else "the meter as it is set"
    text = (
        f"{check.instrument}: slope {said.slope_pct:.1f} % of the theoretical slope (Nernst) at "
        f"{degrees(check.temp_c)} ({whose}), {said.offset_mv:+.0f} mV at pH 7"
    )
    if not in_mv:
        text += f", {0.0 - round(said.offset_ph, 2):+.2f} pH at the buffer nearest 7"
    text += f": {verdict}. A reading may be off by {said.error_ph:.2f} pH."
    return Judged(
        replace(
            check,
            points=tuple((name, true, shown) for (name, shown), true in zip(points, said.true_ph, strict=True)),
            error=round(said.error_ph, 3),
            offset=said.offset_mv if in_mv else round(said.offset_ph, 3),
            slope_pct=said.slope_pct,
            verdict=verdict,
        ),
        said.ask,
        f"{text} {_meter_advice(said.error_ph, verdict, chamber)}",
    )


def _meter_advice(error_ph: float, verdict: str, chamber: Chamber) -> str:
    if verdict != GOOD:
        return (
            "Until a good check its readings end no stage and stop no count, and what it showed before is in doubt: "
            "clean the electrode, take fresh buffers, set the meter by them, check again, and measure again."
        )
    if round(error_ph, 2) > chamber.ph_error:
        return (
            f"From now on {error_ph:.2f} is added to each reading of it, more than the {chamber.ph_error:g} of the "
            "chamber file (ph_meter_error); set the meter by its buffers and check again."
        )
    return f"The program adds {chamber.ph_error:g} (ph_meter_error) to each reading before it counts."


def _judged_point(check: InstrumentCheck, chamber: Chamber) -> Judged:
    if len(check.points) != 1:
        raise ValueError("one fixed point at a time")
    name, given, shown = check.points[0]
    said = _point(check, name, given, shown)
    unit, where = ("%RH", f"over {name}") if check.unit == "%RH" else ("K", "in ice")
    if check.method == "reference":
        where = "beside the better one"
    shows = f"{shown:.1f} % where {said.true.value:.1f} %"
    off = f"off by {-said.offset:+.1f} %RH"
    if unit == "K":
        shows = f"{spoken_k(shown).removeprefix('+')} °C where {spoken_k(given).removeprefix('+')} °C"
        off = f"off by {spoken_k(-said.offset)} K"
    verdict = said.verdict
    if verdict == GOOD and check.instrument == "air_temp" and abs(said.offset) > chamber.air_error_k:
        verdict = f"{off}, and the degree-hours allow for {chamber.air_error_k:g} K"
    more = ""
    if check.instrument == "air_temp" and abs(said.offset) > chamber.air_error_k:
        more = (
            f" What hangs in the chamber is counted with {round(said.error, 2):g} K more than it shows from now on; "
            "what was counted before may be too little."
        )
    result = verdict if verdict.startswith("off by") else f"{off}: {verdict}"  # It is said once.
    text = f"{check.instrument}: shows {shows} would be right ({where}), {result}."
    return Judged(
        replace(
            check,
            points=((name, round(said.true.value, 2), shown),),
            error=round(said.error, 2),
            offset=round(said.offset, 2),
            verdict=verdict,
        ),
        said.ask,
        f"{text}{more} {_offset_advice(check.instrument, said, unit, chamber)}",
    )


def _point(check: InstrumentCheck, name: str, given: float, shown: float) -> PointVerdict:
    if check.method == "ice":
        return judge_ice(shown, "air" if check.instrument in WORDS else "food")
    if check.method == "salt":
        if check.temp_c is None:
            raise ValueError("what a salt gives depends on its temperature; say it")
        return judge_salt(shown, name, check.temp_c)
    if check.unit == "%RH":
        return judge_beside_pct(shown, given, BETTER_PCT)
    return judge_beside_c(shown, given, BETTER_K, "air" if check.instrument in WORDS else "food")


def _offset_advice(instrument: str, said: PointVerdict, unit: str, chamber: Chamber) -> str:
    """Say what to write into the chamber file; the program never applies it by itself."""
    if abs(said.offset) <= max(said.true.uncertainty, ICE_UNCERTAINTY_K):
        return f"That is within what the fixed point itself is known to (±{said.true.uncertainty:.1f}); change nothing."
    if instrument not in WORDS:
        return f"Nothing is corrected by itself: add {said.offset:+.1f} {unit} to what it shows before you type it."
    key, most, decimals = ("offset_pct", MOST_OFFSET_PCT, 1) if unit == "%RH" else ("offset_k", MOST_OFFSET_K, 2)
    already = chamber.care.offsets.get(_channel(instrument), 0.0)
    offset = round(already + said.offset, decimals) or 0.0
    if abs(offset) > most:
        return f"{key} would be {offset:g}, and a chamber file takes {most:g} at most: replace the sensor."
    sensor = "rh" if instrument == "rh_temp" else instrument
    return (
        f'Nothing is corrected by itself: write {key} = {offset:g} (it is {already:g} now) at the sensor "{sensor}" in '
        "the chamber file, restart the daemon, and check again."
    )


def _channel(instrument: str) -> Channel:
    return instrument  # type: ignore[return-value] # It is a key of WORDS.


# What is done with it.


@do.register
def _calibrate(request: Calibrate, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    said = judged(request.check, chamber)
    if said.ask and not request.sure:
        raise Refused(f"{request.check.instrument}: {said.ask} Nothing was recorded; if it is meant, say --sure.")
    entry = CheckEntry(
        request.id, request.at_wall_s, said.check, request.actor, inputs.wall_s, noted(request.note, inputs)
    )
    event = Event("check", said.text, id=request.id, actor=request.actor)
    checked = booked(memory.checked_wall_s, said.check, request.at_wall_s)
    last_checks = with_last_check(memory.last_checks, said.check, request.at_wall_s)
    memory = replace(memory, checked_wall_s=checked, last_checks=last_checks)
    if said.check.instrument == "rh":
        memory = replace(memory, rh_wet_s=0.0)
    return Done(memory, said.text, (event,), (), (entry,))
