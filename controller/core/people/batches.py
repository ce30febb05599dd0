"""The batch: begin it, hang the meat, say what is done, pause it, end it."""

from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import HEAVIEST_KG, Done, Refused, batch_of, do, entry_of, put
from controller.core.people.pieces import weighed
from controller.core.plan import BELOW_TRIP_K, Chamber
from controller.core.requests import Confirm, End, Hang, Hold, Next, Resume, Start
from controller.core.stages import PH_GROWTH_STOPS, lead, next_stage
from controller.core.values import Event

FLAT_PH: Final = 0.05
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
        if stage.kind == "ferment" and stage.until.ph_at_most is None:
            raise Refused(f"{stage.name}: a ferment ends on its pH; its until lacks ph_at_most")


@do.register
def _hang(request: Hang, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.hung_s is not None:
        raise Refused(f"{batch.id}: the meat was hung already; a correction is a note")
    pieces = {name: grams for name, grams in request.pieces_g.items() if 0.0 < grams < HEAVIEST_KG * 1000.0}
    batch = replace(batch, hung_s=batch.elapsed_s, hung_wall_s=inputs.wall_s)
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
        )
        for piece, grams in pieces.items()
    )
    if batch.stage.kind == "warm-up":
        batch, event = next_stage(batch, inputs.wall_s, "hang")
        events.append(event)
    return Done(put(memory, batch), f"{batch.id}: hung. Now {batch.stage.name}.", tuple(events), entries)


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
def _next(request: Next, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if batch.state == "complete":
        raise Refused(f"{batch.id}: there is no stage left; take the meat out and say hangroom end")
    if not request.because.strip():
        raise Refused('a stage is ended early only with a reason: --because "…"')
    if batch.stage.kind == "ferment":
        _may_end_ferment(batch)
    batch, event = next_stage(batch, inputs.wall_s, "person", request.because)
    return Done(put(memory, batch), f"{batch.id}: now {batch.stage.name}.", (replace(event, actor=request.actor),))


def _may_end_ferment(batch: Batch) -> None:
    """Refuse to end a ferment unless a reading has passed 5.3 and the last two show that the pH is flat."""
    values = batch.ferment_ph
    if not values or min(values) > PH_GROWTH_STOPS:
        last = f"the last reading is {values[-1]:.2f}" if values else "there is no reading"
        raise Refused(f"{batch.id}: a ferment ends on its pH; {last}, and none has been at or below {PH_GROWTH_STOPS}")
    if len(values) < 2 or abs(values[-1] - values[-2]) > FLAT_PH:  # noqa: PLR2004 - two readings
        raise Refused(
            f"{batch.id}: 5.3 is passed but the pH is not flat yet; the last two readings must agree within {FLAT_PH}"
        )


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
    event = Event("state", f"Resumed: {request.because or 'a person said so'}.", actor=request.actor, batch=batch.id)
    batch = replace(batch, state="running", held_because="", held_by_person=False, suspicion=type(batch.suspicion)())
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
