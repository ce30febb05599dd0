"""The pH: what a person measured, whether it can be so, and what it changes."""

from math import isfinite
from typing import Final

from msgspec.structs import replace

from controller.core.alarms.asked import answered_by_ph
from controller.core.batch.care import GOOD, last_meter_check, meter_note
from controller.core.batch.counting import moved, recount, sums_now
from controller.core.batch.margin import clock_utc, guard_k, is_held_over, is_over_limit
from controller.core.batch.reminders import JUST_S, after_reading
from controller.core.memory import PH_ERROR, Batch, Inputs, Memory, PhReading, Sums
from controller.core.people.desk import Done, Refused, batch_of, check_replaced, do, entry_of, put
from controller.core.people.looks import refuse_looks, what_to_do
from controller.core.people.ph_answer import tell
from controller.core.people.ph_checks import doubts, impossible
from controller.core.plan import Chamber
from controller.core.requests import Ph
from controller.core.values import Entry, Event

STRIPS: Final = "strips"
METER: Final = "meter"
"""Only what such a name begins with can end a stage or stop a count."""
STRIPS_KEPT: Final = 20
NOTED_ONLY: Final = "noted only"
"""Stands in the note of a pH that counts for nothing, by a meter found bad or by no meter: a review goes by it."""
UNDOES_OVER: Final = "with it the batch, which is over its degree-hours, would be within them"


@do.register
def _ph(request: Ph, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    batch = _filled(batch_of(memory, request.batch))
    check_replaced(request.replaces, (*batch.ph_ids, *(name for name, _ in batch.strips)))
    timeless = request.at_wall_s is not None and not isfinite(request.at_wall_s)
    why_not = impossible(request.value) or refuse_looks(request.looks) or ("this is no time" if timeless else "")
    if why_not:
        raise Refused(why_not, _not_taken(request, batch, why_not))
    request, at_wall_s = _completed(request, batch, inputs)
    doubted = doubts(request, at_wall_s, batch, _standing(batch, request.replaces), _warmest_c(batch, memory))
    error, distrust = trust_in(memory, request.instrument, chamber)
    sums = _sums_of(request, at_wall_s, batch, guard_k(batch, chamber))
    after = _entered(batch, request, at_wall_s, error, sums, inputs.wall_s)
    was_undone = is_over_limit(batch, chamber) and not is_over_limit(after, chamber)
    doubted += [UNDOES_OVER] if was_undone else []
    if doubted and not request.sure:
        reason = f"pH {request.value:g}: {'; '.join(doubted)}"
        raise Refused(
            f"{_ended(reason)} Not taken. If it is so, type it again with --sure.", _not_taken(request, batch, reason)
        )
    entries = _entries(request, at_wall_s, batch, inputs, sure=bool(doubted), counted=error is not None)
    advice = " ".join(what_to_do(request.looks))
    reopened = batch.passed_5_3 and not after.passed_5_3
    batch = replace(after, over_accepted=after.over_accepted and not was_undone)
    if error is None:
        said = distrust
    else:
        said = _newest_words(batch, request) + tell(batch, chamber, memory.air_temp_c, inputs.wall_s)
    if is_held_over(batch) and was_undone:
        said += " It was over its degree-hours by the reading that this one replaces: it stays paused, without heat, "
        said += 'until the one who has decided says hangroom resume --because "…".'
    if reopened:
        said += f" {_reopened(request)}"
    if batch.cool_from_s is not None and not batch.passed_5_3:
        batch = replace(batch, cool_from_s=None)
        said += " With no reading at or below 5.3 left it is not let cool any more."
    meter = meter_note(memory, request.instrument, at_wall_s, chamber.care.meter_days)
    words = [f"{batch.id}: pH {request.value:.2f}{_of(request)}", said, advice, meter]
    text = " ".join(word for word in words if word)
    memory = replace(put(memory, batch), alarms=answered_by_ph(memory.alarms, batch.id))
    return Done(memory, text, (), entries)


def trust_in(memory: Memory, instrument: str, chamber: Chamber) -> tuple[float | None, str]:
    """Return what a pH by this instrument may be wrong by, or None and why it counts for nothing.

    The larger of what the chamber file allows and what the last check of this meter left. One found bad counts for no
    more than strips until it is found good.
    """
    if instrument.split(maxsplit=1)[:1] != [METER]:
        name = STRIPS if instrument.startswith(STRIPS) else instrument.strip() or "an instrument without a name"
        return None, (
            f"by {name} is noted; {STRIPS if name == STRIPS else 'that'} alone end{'' if name == STRIPS else 's'} no "
            "stage and stop"
            f"{'' if name == STRIPS else 's'} no count: measure with a meter."
        )
    last = last_meter_check(memory.last_checks, instrument)
    if last is None:
        return chamber.ph_error, ""
    if last.verdict != GOOD:
        return None, (
            f"is noted, but ends no stage and stops no count: the last check found the meter bad ({last.verdict}). "
            "Set it by fresh buffers, check it again (hangroom calibrate), then measure again."
        )
    return max(chamber.ph_error, last.error), ""


def _entered(batch: Batch, request: Ph, at_wall_s: float, error: float | None, sums: Sums, wall_s: float) -> Batch:
    """Return the batch with this pH: by a meter that can be believed it counts, else it is only noted.

    One that was asked for has come only where it was taken when it was due, or since: an old one, or a correction of
    one, tells nothing of now.
    """
    batch = _without(batch, request.replaces)
    if error is None:
        strips = (*batch.strips[-STRIPS_KEPT:], (request.id, at_wall_s))
        return after_reading(recount(replace(batch, strips=strips)), wall_s)
    batch = _with(batch, request, at_wall_s, error, sums)
    taken_s = batch.elapsed_s - max(wall_s - at_wall_s, 0.0)
    newest_s = taken_s if batch.last_ph_s is None else max(taken_s, batch.last_ph_s)
    batch = replace(batch, last_ph_s=newest_s, sausage_prompted=False)
    if batch.ph_due_since_s is None or taken_s >= batch.ph_due_since_s - JUST_S:
        batch = replace(batch, overdue=False, ph_due_since_s=None)
    return after_reading(recount(batch), wall_s)


def _newest_words(batch: Batch, request: Ph) -> str:
    """Return which reading the rest of the answer speaks of, where it is not the one that was typed; else empty."""
    readings = batch.ph_readings
    if not readings or batch.ph_ids[-1] == request.id:
        return ""
    newest = readings[-1]
    return f"The newest reading is {newest.value:.2f} of {clock_utc(newest.at_wall_s, 0.0)}, and counts. "


def _reopened(request: Ph) -> str:
    """Return that the degree-hours count on, and why."""
    why = "a reading was corrected"
    if request.sample == "sausage" and not request.instrument.startswith(STRIPS):
        why = "the real sausage is above it, so what the wrapped sample had does not stand"
    return f"The count of degree-hours is open again from the last that stands: {why}."


def _of(request: Ph) -> str:
    if request.instrument.split(maxsplit=1)[:1] != [METER]:
        return ""
    return " in a real sausage." if request.sample == "sausage" else "."


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith("?") else f"{sentence}."


def _not_taken(request: Ph, batch: Batch, reason: str) -> Event:
    """Record what was not taken: it may have been typed while nobody could be asked back."""
    return Event("refused", f"Not taken: {_ended(reason)}", id=request.id, actor=request.actor, batch=batch.id)


def _completed(request: Ph, batch: Batch, inputs: Inputs) -> tuple[Ph, float]:
    """Return the request with its sample, and the time it was measured: a correction has those of what it replaces."""
    known = {name: at_s for name, (at_s, _) in zip(batch.ph_ids, batch.ph, strict=True)} | dict(batch.strips)
    was_sausage = request.replaces in batch.sausage_ids
    sample = request.sample or ("sausage" if was_sausage else "mince")
    at_wall_s = request.at_wall_s
    if at_wall_s is None:
        at_wall_s = known.get(request.replaces, inputs.wall_s)
    return replace(request, sample=sample), at_wall_s


def _standing(batch: Batch, replaces: str) -> list[PhReading]:
    return _without(batch, replaces).ph_readings


def _warmest_c(batch: Batch, memory: Memory) -> float | None:
    temps = (batch.stage.air_temp_c, batch.highest_air_c, memory.air_temp_c if batch.in_chamber else None)
    return max((temp_c for temp_c in temps if temp_c is not None), default=None)


def _sums_of(request: Ph, at_wall_s: float, batch: Batch, error_k: float) -> Sums:
    """Return the degree-hours that this pH leaves: those of now, or of the entry of the same measurement.

    Where the time is corrected to a later one, the most that can have been counted in between comes to them.
    """
    if request.replaces in batch.ph_ids:
        place = batch.ph_ids.index(request.replaces)
        if place < len(batch.ph_sums):
            return moved(batch, batch.ph_sums[place], at_wall_s - batch.ph[place][0], error_k)
    return sums_now(batch)


def _filled(batch: Batch) -> Batch:
    """Return the batch with something known of each reading: an older checkpoint knew the pH and its time only."""
    lacking = len(batch.ph) - len(batch.ph_errors)
    if lacking <= 0:
        return batch
    kept = Sums(batch.degree_hours_f, batch.degree_hours_c, batch.guarded_f, batch.guarded_c, batch.highest_air_c)
    return replace(
        batch, ph_errors=(*(PH_ERROR,) * lacking, *batch.ph_errors), ph_sums=(*(kept,) * lacking, *batch.ph_sums)
    )


def _without(batch: Batch, name: str) -> Batch:
    """Return the batch without one reading, by meter or by strips."""
    batch = replace(batch, strips=tuple(one for one in batch.strips if one[0] != name))
    if name not in batch.ph_ids:
        return batch
    place = batch.ph_ids.index(name)
    return _renewed(replace(
        batch,
        ph=batch.ph[:place] + batch.ph[place + 1 :],
        ph_ids=batch.ph_ids[:place] + batch.ph_ids[place + 1 :],
        ph_errors=batch.ph_errors[:place] + batch.ph_errors[place + 1 :],
        ph_sums=batch.ph_sums[:place] + batch.ph_sums[place + 1 :],
        sausage_ids=tuple(one for one in batch.sausage_ids if one != name),
    ))  # fmt: skip


def _with(batch: Batch, request: Ph, at_wall_s: float, error: float, sums: Sums) -> Batch:
    """Return the batch with one reading more, put in by its time."""
    place = next((place for place, (at_s, _) in enumerate(batch.ph) if at_s > at_wall_s), len(batch.ph))
    sausage_ids = (*batch.sausage_ids, request.id) if request.sample == "sausage" else batch.sausage_ids
    return _renewed(replace(
        batch,
        ph=(*batch.ph[:place], (at_wall_s, request.value), *batch.ph[place:]),
        ph_ids=(*batch.ph_ids[:place], request.id, *batch.ph_ids[place:]),
        ph_errors=(*batch.ph_errors[:place], error, *batch.ph_errors[place:]),
        ph_sums=(*batch.ph_sums[:place], sums, *batch.ph_sums[place:]),
        sausage_ids=sausage_ids,
    ))  # fmt: skip


def _renewed(batch: Batch) -> Batch:
    """Return the batch with the newest pH of a real sausage."""
    pairs = zip(batch.ph, batch.ph_ids, strict=True)
    newest = [pair for pair, name in pairs if name in batch.sausage_ids]
    return replace(batch, sausage_ph=newest[-1] if newest else None)


def _entries(
    request: Ph, at_wall_s: float, batch: Batch, inputs: Inputs, *, sure: bool, counted: bool
) -> tuple[Entry, ...]:
    """Return the rows to be recorded: the pH, and what was seen, felt and smelled with it."""
    words = ["sample: sausage"] if request.sample == "sausage" else []
    words += ["asked back, and sure"] if sure else []
    words += [] if counted or request.instrument.startswith(STRIPS) else [NOTED_ONLY]
    words += [request.note] if request.note else []
    rows = [
        entry_of(
            request.id, batch, at_wall_s, "ph", f"{request.value:g}", "pH", request.actor, inputs,
            instrument=request.instrument, sample_temp_c=request.sample_temp_c, replaces=request.replaces,
            note="; ".join(words),
        )
    ]  # fmt: skip
    rows += [
        entry_of(request.id, batch, at_wall_s, kind, word, "", request.actor, inputs, replaces=request.replaces)
        for kind, word in request.looks.items()
    ]
    return tuple(rows)
