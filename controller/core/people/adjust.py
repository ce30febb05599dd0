"""Another climate for the present stage, wanted by a person with a reason. The card of the batch stays as it was.

It holds for this stage of this batch only, and outlives the program. What the gate and the limits forbid stays
forbidden. A ferment may be led into a band of fewer degree-hours only where the person says so a second time, and never
where what has been counted is over that band's limit already.
"""

from math import inf
from typing import Final

from msgspec.structs import replace

from controller.core.batch.margin import below_base, guard_k, tell_below_base
from controller.core.figures import degrees
from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import Done, Refused, batch_of, do, put
from controller.core.people.drying import mix_of_batch
from controller.core.people.start_checks import COLDEST_C
from controller.core.plan import BELOW_TRIP_K, Chamber, Stage
from controller.core.requests import Adjust
from controller.core.values import Event
from controller.food.degree_hours import BINDING, hours_left, in_unit, limit_for
from controller.food.drying_rate import is_unreachable, rh_that_reaches_pct
from controller.food.germs.measured import celsius

RH_PCT: Final = (30.0, 99.0)
FERMENT_C: Final = (12.0, 45.0)
"""Between the slow ferment of a cellar and the fast one at 110 °F. Common practice, no source."""
WARM_DRYING_C: Final = 20.0
"""Drying is done at 12 to 16 °C; warmer is asked back. Common practice, no source."""
DRYING_KINDS: Final = frozenset({"dry", "equalise", "rest", "chill"})
LOSING_KINDS: Final = frozenset({"dry", "equalise", "rest", "smoke"})
WET_BY_ITSELF_PCT: Final = 90.0
"""A chamber full of fresh meat is that wet without a way of drying; common practice, no source."""
LARGEST_STEP_PCT: Final = 5.0
"""Humidity is lowered by few points at a time, or the rim hardens; common practice, no source."""
NO_DAYS: Final = (
    "at or below 15.6 °C (60 °F) no degree-hours are counted, and this stage has no at_most_h that would bound its days"
)
IN_WARM_AIR: Final = (
    " The highest counts from hanging on, and the air is still as warm then: let it come down before the meat is hung."
)
SAME: Final = 0.01


@do.register
def _adjust(request: Adjust, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    stage = batch.stage
    if batch.state == "complete":
        raise Refused(f"{batch.id}: is complete and only rests; there is no stage to set a climate for")
    if stage.where != "chamber":
        raise Refused(f"{batch.id}: {stage.name} is elsewhere; change the climate where it hangs, and say so in a note")
    if not request.because.strip():
        raise Refused('a climate is changed only with a reason: --because "…"')
    temp_c = _changed(request.air_temp_c, stage.air_temp_c)
    rh_pct = _changed(request.rh_pct, stage.rh_pct)
    if temp_c is None and rh_pct is None:
        wants = _climate(stage.air_temp_c, stage.rh_pct)
        raise Refused(f"{batch.id}: {stage.name} wants {wants} already; say what is to change: --air-temp 12C --rh 82")
    said: list[str] = []
    if temp_c is not None:
        _check_temp(temp_c, stage, chamber)
        if stage.kind == "ferment":
            said += _check_ferment(temp_c, batch, chamber, sure=request.sure)
        elif _is_open(batch):
            said += _check_band(temp_c, batch, chamber, sure=request.sure)
        if stage.kind in DRYING_KINDS and temp_c > WARM_DRYING_C and not request.sure:
            raise Refused(
                f"{degrees(temp_c)} is warm for {stage.name}: sausage dries at 12 to 16 °C. If it is so, say it again "
                "with --sure"
            )
    if rh_pct is not None:
        said += _check_rh(rh_pct, batch, chamber)
    after = replace(
        batch,
        set_air_temp_c=batch.set_air_temp_c if temp_c is None else temp_c,
        set_rh_pct=batch.set_rh_pct if rh_pct is None else rh_pct,
        rh_mean_pct=None if rh_pct is not None else batch.rh_mean_pct,
        rh_mean_s=0.0 if rh_pct is not None else batch.rh_mean_s,
    )
    old, new = _climate(stage.air_temp_c, stage.rh_pct), _climate(after.stage.air_temp_c, after.stage.rh_pct)
    text = f"{stage.name}: wanted is now {new}, before {old}: {' '.join(request.because.split())}."
    event = Event("set", text, id="set", actor=request.actor, batch=batch.id)
    words = "\n".join([f"{batch.id}: {stage.name} wants {new} from now on, before {old}.", *said])
    return Done(put(memory, after), f"{words}\nThis stage only; the batch card stays as it was.", (event,))


def _changed(wanted: float | None, now: float | None) -> float | None:
    return None if wanted is None or (now is not None and abs(wanted - now) < SAME) else wanted


def _climate(temp_c: float | None, rh_pct: float | None) -> str:
    parts = [f"{temp_c:.1f} °C"] if temp_c is not None else []
    parts += [f"{rh_pct:.0f} % RH"] if rh_pct is not None else []
    return " and ".join(parts) or "nothing"


def _check_temp(temp_c: float, stage: Stage, chamber: Chamber) -> None:
    """Refuse what this chamber cannot hold, or must not."""
    highest_c = chamber.limits.trip_c - BELOW_TRIP_K
    if not COLDEST_C <= temp_c <= highest_c:
        meant_c = celsius(temp_c)
        hint = f"; did you mean {temp_c:g}F ({meant_c:.1f} °C)?" if COLDEST_C <= meant_c <= highest_c else ""
        raise Refused(f"--air-temp {degrees(temp_c)}: take {COLDEST_C:g} to {degrees(highest_c)}{hint}")
    coldest_room_c, warmest_room_c = min(chamber.room_c), max(chamber.room_c)
    if temp_c < warmest_room_c and chamber.output("cooler") is None:
        raise Refused(
            f"--air-temp {degrees(temp_c)}: {chamber.name} has no cooler, and its room gets up to "
            f"{degrees(warmest_room_c)}"
        )
    if temp_c > coldest_room_c and chamber.output("heater") is None:
        raise Refused(
            f"--air-temp {degrees(temp_c)}: {chamber.name} has no heater, and its room gets down to "
            f"{degrees(coldest_room_c)}"
        )
    if stage.kind == "ferment" and not FERMENT_C[0] <= temp_c <= FERMENT_C[1]:
        raise Refused(f"--air-temp {degrees(temp_c)}: a ferment lies between {FERMENT_C[0]:g} and {FERMENT_C[1]:g} °C")


def _check_ferment(temp_c: float, batch: Batch, chamber: Chamber, *, sure: bool) -> list[str]:
    """Refuse what the starter or the degree-hours do not bear; return what is to be known of the rest."""
    low_c, high_c = batch.profile.starter_temp_c
    if batch.profile.starter != "none" and not low_c <= temp_c <= high_c:
        raise Refused(f"--air-temp {degrees(temp_c)}: this starter works at {round(low_c, 1):g} to {degrees(high_c)}")
    if batch.passed_5_3:
        return []
    said = []
    if below_base(temp_c):
        if batch.stage.at_most_h is None:
            raise Refused(f"--air-temp {degrees(temp_c)}: {NO_DAYS}")
        said.append(f"Mind: {tell_below_base(batch)}.")
    return said + _check_band(temp_c, batch, chamber, sure=sure)


def _is_open(batch: Batch) -> bool:
    """Say whether a pH of 5.3 is still to come: in a ferment ahead, or in the meat that hangs."""
    ferments = any(stage.kind == "ferment" for stage in batch.profile.stages)
    return not batch.passed_5_3 and (ferments or batch.stage.until.ph_at_most is not None)


def _check_band(temp_c: float, batch: Batch, chamber: Chamber, *, sure: bool) -> list[str]:
    """Ask back what leads into a band of fewer degree-hours; return what is to be known of the hours that are left.

    In a warm-up nothing is counted yet, but the meat is hung into that air: it is held against the ferment's own.
    """
    warms = batch.stage.kind == "warm-up"
    said: list[str] = []
    meant_c = batch.stage.air_temp_c
    if warms:
        ahead = [s.air_temp_c for s in batch.profile.stages if s.kind == "ferment" and s.air_temp_c is not None]
        meant_c = ahead[0] if ahead else meant_c
    meant_c = temp_c if meant_c is None else meant_c
    highest_c = batch.highest_air_c
    warmest_c = max(temp_c if highest_c is None else highest_c, temp_c)
    before_c = max(meant_c if highest_c is None else highest_c, meant_c)
    error_k = guard_k(batch, chamber)
    for rule in BINDING[chamber.degree_hours_rule]:
        old, new = limit_for(rule, before_c + error_k), limit_for(rule, warmest_c + error_k)
        used = batch.guarded_f if rule.unit == "F" else batch.guarded_c
        hours = hours_left(rule, used, temp_c + error_k, warmest_c + error_k)
        if new < old:
            band = (
                f"{degrees(temp_c)} ({in_unit(rule, temp_c):.1f} °{rule.unit}), {error_k:g} K for the thermometer "
                f"added, lowers the limit from {old:.0f} to {new:.0f} degree-hours ({rule.unit})"
            )
            if hours <= 0.0:
                raise Refused(f"{band}, and {used:.0f} are used already: the batch would be over")
            if not sure:
                raise Refused(
                    f"{band}: {hours:.1f} h are left then.{IN_WARM_AIR if warms else ''} If you mean it, say it again "
                    "with --sure"
                )
            said.append(f"{band}.")
        if hours != inf and not warms:
            said.append(f"{rule.name}: pH 5.3 within {hours:.1f} h from now, at this temperature.")
    return said


def _check_rh(rh_pct: float, batch: Batch, chamber: Chamber) -> list[str]:
    """Refuse a humidity that cannot be had; return what is to be known of the rest."""
    stage = batch.stage
    if not RH_PCT[0] <= rh_pct <= RH_PCT[1]:
        meant = 100.0 * rh_pct
        hint = f"; did you mean {meant:g}?" if RH_PCT[0] <= meant <= RH_PCT[1] else ""
        raise Refused(f"--rh {rh_pct:g}: take {RH_PCT[0]:g} to {RH_PCT[1]:g} % RH{hint}")
    if stage.kind in LOSING_KINDS and chamber.drying == "none" and rh_pct < WET_BY_ITSELF_PCT:
        raise Refused(
            f"--rh {rh_pct:g}: nothing in {chamber.name} dries the air, and meat alone keeps it near "
            f"{WET_BY_ITSELF_PCT:g} % RH"
        )
    said = []
    if stage.kind == "dry" and stage.rh_pct is not None and stage.rh_pct - rh_pct > LARGEST_STEP_PCT:
        said.append("That is much drier at once: the rim may harden. Go by few points; weigh tomorrow.")
    target = stage.until.weight_loss_pct
    if stage.kind == "dry" and target is not None:
        mix, lactate, _ = mix_of_batch(batch)
        ends_pct = is_unreachable(mix, lactate, rh_pct, target)
        if ends_pct is not None:
            need = rh_that_reaches_pct(mix, lactate, target)
            said.append(
                f"{target:g} % loss is not reached at {rh_pct:g} % RH: drying ends near {ends_pct:.0f} %, estimated; "
                f"{need} % RH or less does."
            )
    return said
