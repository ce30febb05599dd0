"""The batch: begin it, hang the meat, say what is done, let it cool, pause it, end it."""

from typing import Final

from msgspec.structs import replace

from controller.core.batch.margin import OVER, air_now_c, below_base, clock_utc, is_past_limit, tell_below_base
from controller.core.batch.reminders import SAUSAGE
from controller.core.batch.stages import PH_GROWTH_STOPS, coolest_to_come_c, lead, next_stage
from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import HEAVIEST_KG, Done, Refused, batch_of, do, entry_of, put
from controller.core.people.pieces import weighed
from controller.core.people.scale import asked_back, doubt_of_all, net_of, note_of
from controller.core.plan import BELOW_TRIP_K, Chamber
from controller.core.requests import Confirm, Cool, End, Hang, Hold, Next, Resume, Start
from controller.core.values import Event

FLAT_PH: Final = 0.05
FLAT_S: Final = 2.0 * 3600.0
"""Two readings that lie closer cannot show that the pH has stopped; common practice, no source."""
LONGEST_COOL_S: Final = 48.0 * 3600.0
COLDEST_C: Final = -5.0
WIDEST_MM: Final = 300.0
"""What cannot be, whoever typed it; the verbs ask back much earlier. Common practice, no source."""


@do.register
def _start(request: Start, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    _check_start(request, chamber)
    first = request.profile.stages[0]
    leading = lead(memory)
    if any(batch.id == request.batch for batch in memory.batches):
        raise Refused(f"{request.batch}: this batch exists already")
    if leading is not None and first.where == "chamber":
        raise Refused(
            f"the chamber is led by {leading.id} ({leading.stage.name}); end it or wait until it is elsewhere"
        )
    if chamber.heat_refused and first.where == "chamber":
        raise Refused(f"no heat, so no start: {chamber.heat_refused}")
    batch = Batch(
        id=request.batch,
        profile=request.profile,
        began_wall_s=inputs.wall_s,
        stage_began_wall_s=inputs.wall_s,
        meat_kg=request.meat_kg,
        diameter_mm=request.diameter_mm,
        sheet=request.sheet,
    )
    heard = request.heard_wall_s is not None and inputs.wall_s - request.heard_wall_s <= 86_400.0  # noqa: PLR2004 - a day
    near = "" if heard else " No alarm has been heard in a test in the last 24 h: stay within earshot until one has."
    text = f"{batch.id} started: {request.profile.title}, {request.meat_kg:g} kg. Now {first.name}.{near}"
    event = Event("start", text, actor=request.actor, batch=batch.id)
    return Done(replace(memory, batches=(*memory.batches, batch)), text, (event,))


def _check_start(request: Start, chamber: Chamber) -> None:
    """Refuse what no checked profile can be: the box takes what anybody wrote into it."""
    stages, trip_c = request.profile.stages, chamber.limits.trip_c
    if not stages:
        raise Refused("the profile has no stage")
    if not (0.0 < request.meat_kg < HEAVIEST_KG and 0.0 < request.diameter_mm < WIDEST_MM):
        raise Refused(f"{request.meat_kg:g} kg of meat in {request.diameter_mm:g} mm: this cannot be")
    for stage in stages:
        temp_c = stage.air_temp_c
        if temp_c is not None and stage.where == "chamber" and not (COLDEST_C <= temp_c <= trip_c - BELOW_TRIP_K):
            raise Refused(f"{stage.name}: {temp_c:g} °C; take {COLDEST_C:g} to {trip_c - BELOW_TRIP_K:g} °C")
        if stage.rh_pct is not None and not 0.0 <= stage.rh_pct <= 100.0:  # noqa: PLR2004 - per cent
            raise Refused(f"{stage.name}: {stage.rh_pct:g} % RH is no humidity")
        if stage.kind == "cook" and stage.where == "chamber":
            raise Refused(f"{stage.name}: a chamber does not cook; it is done elsewhere")
        if stage.kind == "smoke" and stage.where == "chamber" and not chamber.smoke_here:
            raise Refused(f"{stage.name}: no smoke is let into {chamber.name}; it is done elsewhere")
        if stage.kind == "ferment" and stage.until.ph_at_most is None:
            raise Refused(f"{stage.name}: a ferment ends on its pH; its until lacks ph_at_most")


@do.register
def _hang(request: Hang, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.hung_s is not None:
        raise Refused(f"{batch.id}: the meat was hung already; a correction is a note")
    pieces = net_of(request.pieces_g, request.tare_g)
    doubt = "" if request.sure else doubt_of_all(batch, pieces)
    if doubt:
        raise asked_back(doubt, request, batch)
    batch = replace(batch, hung_s=batch.elapsed_s, hung_wall_s=inputs.wall_s, tare_g=request.tare_g)
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
    said = f"{batch.id}: hung. Now {batch.stage.name}." + (f" Mind: {tell_below_base(batch)}." if cold else "")
    return Done(put(memory, batch), said, tuple(events), entries)


@do.register
def _confirm(request: Confirm, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if not batch.stage.until.confirm or batch.state == "complete":
        raise Refused(f"{batch.id}: the stage {batch.stage.name} asks for no confirmation")
    if batch.stage.kind == "warm-up":
        raise Refused(f"{batch.id}: a warm-up ends when the meat is in: hangroom hang")
    text = f"Stage {batch.stage.name} confirmed."
    event = Event("confirm", text, actor=request.actor, batch=batch.id)
    return Done(put(memory, replace(batch, confirmed=True)), f"{batch.id}: {text}", (event,))


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
    batch, event = next_stage(batch, inputs.wall_s, "person", request.because)
    return Done(put(memory, batch), f"{batch.id}: now {batch.stage.name}.", (replace(event, actor=request.actor),))


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
    coolest_c = coolest_to_come_c(batch)
    how = "" if coolest_c is None else f", wanted {coolest_c:g} °C"
    how += "" if chamber.output("cooler") is not None else " (no cooler: as far as the room lets it)"
    text = (
        f"From {clock_utc(inputs.wall_s, wait_s / 3600.0)} on ({wait_s / 3600.0:.1f} h) the ferment is let cool: lamp "
        f"off{how}. It stays a ferment until a pH ends it; take it back with hangroom cool --off."
    )
    event = Event("cool", text, id="from", actor=request.actor, batch=batch.id)
    return Done(put(memory, replace(batch, cool_from_s=batch.elapsed_s + wait_s)), f"{batch.id}: {text}", (event,))


@do.register
def _hold(request: Hold, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.state not in {"running", "suspended"}:
        raise Refused(f"{batch.id}: is {batch.state} and cannot be paused")
    reason = request.because or "a person paused it"
    event = Event("state", f"Paused: {reason}. Heat and mist are off.", actor=request.actor, batch=batch.id)
    batch = replace(batch, state="held", held_because=reason, held_by_person=True)
    return Done(put(memory, batch), f"{batch.id}: paused, waits for you.", (event,))


@do.register
def _resume(request: Resume, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.state != "held":
        raise Refused(f"{batch.id}: is {batch.state}, there is nothing to resume")
    locks = [alarm.id for alarm in memory.alarms if alarm.latched and alarm.locks]
    if locks:
        raise Refused(f"{batch.id}: {', '.join(locks)} must be cleared first: hangroom clear {locks[0]}")
    over = is_past_limit(batch, chamber)
    if over and OVER not in batch.held_because:
        raise Refused(f"{batch.id}: it has just gone over its degree-hours; look at hangroom status, then say it again")
    if over and not request.because.strip():
        raise Refused(
            f"{batch.id}: it is over its degree-hours: {OVER}. It goes on only with the reason of the one who has "
            'decided: hangroom resume --because "…"'
        )
    reason = request.because.strip() or "a person said so"
    text = f"Resumed over the degree-hours, by a person's decision: {reason}." if over else f"Resumed: {reason}."
    event = Event("state", text, id="P9" if over else "", actor=request.actor, batch=batch.id)
    batch = replace(
        batch,
        state="running",
        held_because="",
        held_by_person=False,
        suspicion=type(batch.suspicion)(),
        over_accepted=batch.over_accepted or over,
    )
    return Done(put(memory, batch), f"{batch.id}: goes on with {batch.stage.name}.", (event,))


@do.register
def _end(request: End, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
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
    return Done(put(memory, closed), f"{batch.id}: {said}.", (event,))
