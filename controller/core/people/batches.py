"""The batch: begin it, hang the meat, say what is done, let it cool, pause it, end it."""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms.asked import answered_by_resuming
from controller.core.alarms.sounder import tell_earshot
from controller.core.batch.blind import leave_gap
from controller.core.batch.margin import (
    OVER,
    air_now_c,
    below_base,
    clock_utc,
    is_held_over,
    is_past_limit,
    tell_below_base,
)
from controller.core.batch.reminders import SAUSAGE
from controller.core.batch.stages import PH_GROWTH_STOPS, cools_to, lacks_ph, lead, next_stage
from controller.core.batch.waits import ends_words, now_words, still_wanted
from controller.core.memory import Batch, Inputs, Memory
from controller.core.outage.rules import answered, lacks_to_resume
from controller.core.people.desk import Done, Refused, batch_of, do, entry_of, put
from controller.core.people.hung import instead_of_hanging, tell_green, tell_unweighed
from controller.core.people.pieces import weighed
from controller.core.people.scale import asked_back, doubt_of_all, doubt_of_light, net_of, note_of
from controller.core.people.start_checks import check_start, doubt_of_room, tell_first
from controller.core.people.unfinished import doubt_of_end, what_to_do
from controller.core.people.unproved import unproved
from controller.core.plan import Chamber
from controller.core.requests import Confirm, Cool, End, Hang, Hold, Next, Resume, Start
from controller.core.values import Event

FLAT_PH: Final = 0.05
FLAT_S: Final = 2.0 * 3600.0
"""Two readings that lie closer cannot show that the pH has stopped; common practice, no source."""
LONGEST_COOL_S: Final = 48.0 * 3600.0


@do.register
def _start(request: Start, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    check_start(request, chamber)
    first = request.profile.stages[0]
    leading = lead(memory)
    if any(batch.id == request.batch for batch in memory.batches):
        raise Refused(f"{request.batch}: this batch exists already")
    if leading is not None and first.where == "chamber":
        raise Refused(
            f"the chamber is led by {leading.id} ({leading.stage.name}); end it or wait until it is elsewhere"
        )
    learning = memory.learning
    if learning is not None and not learning.ended and first.where == "chamber":
        raise Refused(f"the step test {learning.name} runs in the chamber; wait for its end, or: hangroom learn --stop")
    unwritable = next((alarm for alarm in memory.alarms if alarm.row == "C7" and (alarm.active or alarm.latched)), None)
    if unwritable is not None:
        raise Refused(
            f"{unwritable.id}: the card was found read-only, and a batch that cannot be recorded is not begun; "
            f"replace the card, then: hangroom clear {unwritable.id}"
        )
    if chamber.heat_refused and first.where == "chamber":
        raise Refused(f"no heat, so no start: {chamber.heat_refused}")
    doubt = doubt_of_room(first, chamber, inputs.readings.get("ambient_temp"))
    if doubt and not request.sure:
        raise Refused(
            f"{doubt} If it shall begin all the same, say it again with --sure",
            Event("refused", f"Not begun: {doubt}", id="P3", actor=request.actor),
        )
    batch = Batch(
        id=request.batch,
        profile=request.profile,
        began_wall_s=inputs.wall_s,
        stage_began_wall_s=inputs.wall_s,
        meat_kg=request.meat_kg,
        diameter_mm=request.diameter_mm,
        sheet=request.sheet,
    )
    near = tell_earshot(chamber, memory.heard, inputs.wall_s)
    what = f"{batch.id} started: {request.profile.title}, {round(request.meat_kg, 2):g} kg."
    text = " ".join(said for said in (what, tell_first(first), now_words(batch), near) if said)
    event = Event("start", text, actor=request.actor, batch=batch.id)
    return Done(replace(memory, batches=(*memory.batches, batch)), text, (event,))


@do.register
def _hang(request: Hang, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.hung_s is not None:
        raise Refused(f"{batch.id}: the meat was hung already; {instead_of_hanging(batch)}")
    pieces = net_of(request.pieces_g, request.tare_g)
    doubt = "" if request.sure else doubt_of_all(batch, pieces) or doubt_of_light(batch, pieces)
    if doubt:
        raise asked_back(doubt, request, batch)
    batch = replace(batch, hung_s=batch.elapsed_s, hung_wall_s=inputs.wall_s, tare_g=request.tare_g)
    if pieces:
        batch = weighed(batch, request.id, inputs.wall_s, pieces)
    weights = f", {len(pieces)} pieces weighed" if pieces else ""
    events = [
        Event(
            "hang",
            f"The meat is in{weights}. Ferment time and degree-hours count from now.",
            actor=request.actor,
            batch=batch.id,
        )
    ]
    entries = tuple(
        entry_of(
            request.id,
            batch,
            inputs.wall_s,
            "weight",
            f"{grams:g}",
            "g",
            request.actor,
            inputs,
            piece=piece,
            instrument="scale",
            note=note_of(request.pieces_g[piece], request.tare_g, ""),
        )
        for piece, grams in pieces.items()
    )
    if batch.stage.kind == "warm-up":
        batch, event = next_stage(batch, inputs.wall_s, "hang")
        events.append(event)
    temp_c = air_now_c(batch, batch.stage.air_temp_c)
    cold = batch.stage.kind == "ferment" and below_base(temp_c)
    said = f"{batch.id}: hung. {now_words(batch)}" + (f" Mind: {tell_below_base(batch)}." if cold else "")
    said += f" {tell_unweighed(batch)}" if not pieces else f"\n{tell_green(request.id, pieces, request.tare_g)}"
    return Done(put(memory, batch), said, tuple(events), entries)


@do.register
def _confirm(request: Confirm, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    batch = batch_of(memory, request.batch)
    if not batch.stage.until.confirm or batch.state == "complete":
        raise Refused(f"{batch.id}: the stage {batch.stage.name} asks for no confirmation")
    if batch.stage.kind == "warm-up":
        raise Refused(f"{batch.id}: a warm-up ends when the meat is in: hangroom hang")
    doubts = unproved(batch)
    if doubts and not request.sure:
        raise asked_back(f"{'; '.join(doubts)}: the {batch.stage.kind} is unproved if it is over now", request, batch)
    text = f"Stage {batch.stage.name} confirmed{_although(doubts)}."
    confirmed = replace(batch, confirmed=True)
    said = f"{batch.id}: {_confirmed_words(confirmed, text, chamber, inputs.wall_s)}"
    event = Event("confirm", text, actor=request.actor, batch=batch.id)
    return Done(put(memory, confirmed), said, (event,))


def _although(doubts: list[str]) -> str:
    return f", unproved: {'; '.join(doubts)}" if doubts else ""


def _confirmed_words(batch: Batch, text: str, chamber: Chamber, wall_s: float) -> str:
    """Return what becomes of a confirmation: the stage ends with it, or waits for the rest."""
    waits = still_wanted(batch)
    if waits:
        return f"noted; still wanted: {', '.join(waits)}. Then {batch.stage.name} ends by itself."
    ends = ends_words(batch, chamber, wall_s)
    return f"{text} {ends}" if ends else text


@do.register
def _next(request: Next, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    batch = batch_of(memory, request.batch)
    if batch.state == "complete":
        raise Refused(f"{batch.id}: there is no stage left; take the meat out and say hangroom end")
    if not request.because.strip():
        raise Refused('a stage is ended early only with a reason: --because "…"')
    if is_past_limit(batch, chamber):
        raise Refused(
            f"{batch.id}: it is over its degree-hours: {OVER}. First, if so decided: hangroom resume --because"
        )
    if batch.stage.kind == "ferment":
        _may_end_ferment(batch)
    else:
        _may_end_other(batch)
    doubts, ended = unproved(batch), batch.stage.name
    if doubts and not request.sure:
        question = f"{ended} ends before its time, and unproved is then: {'; '.join(doubts)}"
        raise asked_back(question, request, batch)
    reason = f"{request.because.strip()}{_although(doubts)}"
    batch, event = next_stage(batch, inputs.wall_s, "person", reason)
    said = f"{batch.id}: {ended} is ended{_although(doubts)}. {now_words(batch)}"
    return Done(put(memory, batch), said, (replace(event, actor=request.actor),))


def _may_end_other(batch: Batch) -> None:
    """Refuse to end a stage that waits for a pH without one from a sausage, or any stage after one without 5.3."""
    readings = batch.ph_readings
    if lacks_ph(batch):
        raise Refused(
            f"{batch.id}: no pH that stands has been at or below {PH_GROWTH_STOPS}, and this batch waited for one: "
            f"hold it; {SAUSAGE}"
        )
    if batch.stage.until.ph_at_most is None or (readings and readings[-1].from_sausage and readings[-1].has_passed_5_3):
        return
    hung = "" if batch.hung_s is not None else "say hangroom hang first, then "
    raise Refused(
        f"{batch.id}: {batch.stage.name} waits for a pH, and nothing is dried without one; the last reading has to be "
        f"at or below {PH_GROWTH_STOPS} and from the meat: {hung}{SAUSAGE}"
    )


def _may_end_ferment(batch: Batch) -> None:
    """Refuse to end a ferment unless the sausage itself has passed 5.3 and the readings show that the pH is flat.

    A reading counts with its instrument's error added.
    """
    readings = batch.ph_readings
    if not batch.passed_5_3:
        last = f"the last reading is {readings[-1].value:.2f}" if readings else "there is no reading"
        error = f" with its {readings[-1].error:g} added" if readings else ""
        raise Refused(
            f"{batch.id}: a ferment ends on its pH; {last}, and none{error} has been at or below {PH_GROWTH_STOPS}"
        )
    last_one = readings[-1]
    if not (last_one.from_sausage and last_one.has_passed_5_3):
        raise Refused(
            f"{batch.id}: the last reading has to be at or below {PH_GROWTH_STOPS} and from the meat: {SAUSAGE}"
        )
    before = next((one for one in reversed(readings) if last_one.at_wall_s - one.at_wall_s >= FLAT_S), None)
    if before is None or round(abs(last_one.value - before.value), 3) > FLAT_PH:
        raise Refused(
            f"{batch.id}: {PH_GROWTH_STOPS} is passed but the pH is not flat yet; two readings at least "
            f"{FLAT_S / 3600:g} h apart must agree within {FLAT_PH}"
        )


@do.register
def _cool(request: Cool, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    batch = batch_of(memory, request.batch)
    if request.from_wall_s is None:
        if batch.cool_from_s is None:
            raise Refused(f"{batch.id}: nothing is set that could be taken back")
        text = "The ferment is not let cool; it goes on as the card says."
        event = Event("cool", text, id="off", actor=request.actor, batch=batch.id)
        return Done(put(memory, replace(batch, cool_from_s=None)), f"{batch.id}: {text}", (event,))
    if batch.stage.kind != "ferment" or batch.stage.where != "chamber" or batch.hung_s is None:
        raise Refused(f"{batch.id}: {batch.stage.name} is no ferment in this chamber; only a ferment is let cool")
    if not batch.passed_5_3:
        last = f"the last reading is {batch.ph[-1][1]:.2f}" if batch.ph_readings else "there is no reading"
        raise Refused(
            f"{batch.id}: {last}; only after a pH at or below {PH_GROWTH_STOPS}, its instrument's error added, may it "
            "cool: before that, cold stops the acid and not the toxin that is there"
        )
    wait_s = max(request.from_wall_s - inputs.wall_s, 0.0)
    if not wait_s <= LONGEST_COOL_S:  # Also what is no number.
        raise Refused(
            f"{batch.id}: that is {wait_s / 3600:.0f} h ahead; say a time within {LONGEST_COOL_S / 3600:.0f} h"
        )
    from_s = max(request.from_wall_s, inputs.wall_s)  # As typed: a sum of seconds would show a minute less.
    text = (
        f"From {clock_utc(from_s, 0.0)} on ({wait_s / 3600.0:.1f} h) the ferment is let cool: lamp off, "
        f"{cools_to(batch, chamber)}. It stays a ferment until a pH ends it; take it back with hangroom cool --off."
    )
    event = Event("cool", text, id="from", actor=request.actor, batch=batch.id)
    return Done(put(memory, replace(batch, cool_from_s=batch.elapsed_s + wait_s)), f"{batch.id}: {text}", (event,))


@do.register
def _hold(request: Hold, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.state == "held" and not batch.held_by_gap:  # That one the clock may let go on.
        raise Refused(f"{batch.id}: is paused already; it goes on with hangroom resume")
    if batch.state not in {"running", "suspended", "held"}:
        raise Refused(f"{batch.id}: is {batch.state} and cannot be paused")
    reason = request.because or "a person paused it"
    event = Event("state", f"Paused: {reason}. Heat and mist are off.", actor=request.actor, batch=batch.id)
    batch = replace(batch, state="held", held_because=reason, held_by_person=True, held_by_gap=False)
    return Done(put(memory, batch), f"{batch.id}: paused, waits for you. {_meanwhile(batch)}", (event,))


def _meanwhile(batch: Batch) -> str:
    """Say what becomes of the meat while its batch is paused: it does not know that the program waits."""
    if batch.hung_s is None:
        return "Heat and mist are off; the chamber gets as warm and as moist as its room."
    off = "Heat and mist are off" if batch.stage.where == "chamber" else "This program controls nothing there"
    if batch.stage.kind == "ferment" and not batch.passed_5_3:
        return f"{off}, but the meat goes on souring, slower as it cools; time and degree-hours go on: measure the pH."
    return f"{off}, but the meat goes on drying and ages; its time goes on."


@do.register
def _resume(request: Resume, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.state != "held":
        raise Refused(f"{batch.id}: is not paused, there is nothing to resume")
    locks = [alarm.id for alarm in memory.alarms if alarm.latched and alarm.locks]
    if locks:
        raise Refused(f"{batch.id}: {', '.join(locks)} must be cleared first: hangroom clear {locks[0]}")
    lacks = lacks_to_resume(batch, request.because)
    if lacks:
        raise Refused(f"{batch.id}: it waits after {batch.held_because.split(';')[0]}: {lacks}")
    over, was_over = is_past_limit(batch, chamber), is_held_over(batch)
    if over and not was_over:
        raise Refused(f"{batch.id}: it has just gone over its degree-hours; look at hangroom status, then say it again")
    if was_over and not request.because.strip():
        raise Refused(
            f"{batch.id}: it {'is' if over else 'was'} over its degree-hours: {OVER}. It goes on only with the reason "
            'of the one who has decided: hangroom resume --because "…"'
        )
    reason = request.because.strip() or "a person said so"
    text = f"Resumed: {reason}."
    if was_over:
        corrected = "" if over else ", which a correction has lowered since"
        text = f"Resumed over the degree-hours{corrected}, by a person's decision: {reason}."
    event = Event("state", text, id="P9" if was_over else "", actor=request.actor, batch=batch.id)
    batch = replace(
        batch,
        state="running",
        held_because="",
        held_by_person=False,
        held_by_gap=False,
        suspicion=type(batch.suspicion)(),
        away=replace((answered(batch) if batch.away.asks else batch).away, asks="", gave=False),
        over_accepted=batch.over_accepted or over,
    )
    batch = leave_gap(batch)
    memory = replace(put(memory, batch), alarms=answered_by_resuming(memory.alarms, batch.id))
    return Done(memory, f"{batch.id}: goes on with {batch.stage.name}.", (event,))


@do.register
def _end(request: End, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    doubt, then = doubt_of_end(batch), what_to_do(batch, chamber)
    if doubt and not request.sure:
        raise asked_back(f"{batch.id}: {doubt} {then}", request, batch)
    was_complete = batch.state == "complete"
    how = "aborted" if request.aborted else "stopped"
    said = "taken out" if was_complete and not request.aborted else how
    because = f": {request.because}" if request.because else ""
    event = Event(
        "end",
        f"The batch was {said}{because}.",
        id="complete" if was_complete else how,
        actor=request.actor,
        batch=batch.id,
    )
    state = "complete" if said == "taken out" else how
    closed = replace(batch, state=state, closed=True)
    return Done(put(memory, closed), f"{batch.id}: {said}.{f' {then}' if then else ''}", (event,))
