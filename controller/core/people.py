"""Do what people ask: one function per verb, each returning the memory, what is to be recorded, and one answer.

A request whose id has been dealt with is answered again and changes nothing: so a crash between the effect and the
answer does not do a thing twice.
"""

from functools import singledispatch
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from controller.core import alarms
from controller.core.memory import Batch, Inputs, Memory
from controller.core.plan import BELOW_TRIP_K, Chamber
from controller.core.requests import (
    Clear,
    Confirm,
    CoreTemp,
    End,
    Hang,
    Hold,
    Next,
    Note,
    Ph,
    Request,
    Resume,
    Seen,
    Start,
    Weigh,
)
from controller.core.stages import PH_GROWTH_STOPS, lead, next_stage
from controller.core.values import Answer, Entry, EntryKind, Event

REMEMBERED: Final = 200
"""Ids of so many requests are remembered, far more than can be under way at once."""
FLAT_PH: Final = 0.05
STRIPS: Final = "strips"
LOWEST_PH: Final = 3.0
HIGHEST_PH: Final = 8.0
CORE_C: Final = (-30.0, 120.0)
COLDEST_C: Final = -5.0
HEAVIEST_KG: Final = 1000.0
WIDEST_MM: Final = 300.0
"""What cannot be, whoever typed it; the verbs ask back much earlier. Common practice, no source."""


class Refused(Exception):  # noqa: N818 - it is an answer, no error
    """Carry the reason why a request cannot be done, in words for the person."""


class Done(Struct, frozen=True):
    """Hold what a request changed, and what is said of it."""

    memory: Memory
    text: str
    events: tuple[Event, ...] = ()
    entries: tuple[Entry, ...] = ()


def serve(memory: Memory, request: Request, inputs: Inputs, chamber: Chamber) -> tuple[Done, Answer]:
    """Do one request and answer it. What is refused changes nothing but is remembered as answered."""
    if request.id in memory.answered:
        was_done = request.id not in memory.refused
        text = f"This has been {'done' if was_done else 'refused'} already."
        return Done(memory, ""), Answer(request.id, done=was_done, text=text)
    try:
        done = _do(request, memory, inputs, chamber)
        answer = Answer(request.id, done=True, text=done.text)
    except Refused as refused:
        done = Done(replace(memory, refused=(*memory.refused[-REMEMBERED:], request.id)), str(refused))
        answer = Answer(request.id, done=False, text=str(refused))
    answered = (*done.memory.answered[-REMEMBERED:], request.id)
    return replace(done, memory=replace(done.memory, answered=answered)), answer


@singledispatch
def _do(request: Request, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    msg = f"nobody knows how to do {type(request).__name__}"
    raise Refused(msg)


def _batch(memory: Memory, name: str) -> Batch:
    """Return the batch a person means: the one named, or the only open one."""
    opened = [batch for batch in memory.batches if batch.open]
    if name:
        found = next((batch for batch in opened if batch.id == name), None)
        if found is None:
            raise Refused(f"{name}: no such open batch; open are: {_names(opened)}")
        return found
    if len(opened) != 1:
        raise Refused(f"which batch? Open are: {_names(opened)}; say --batch NAME" if opened else "no batch is open")
    return opened[0]


def _names(batches: list[Batch]) -> str:
    return ", ".join(batch.id for batch in batches) or "none"


def _put(memory: Memory, batch: Batch) -> Memory:
    return replace(memory, batches=tuple(batch if batch.id == old.id else old for old in memory.batches))


@_do.register
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


@_do.register
def _hang(request: Hang, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if batch.hung_s is not None:
        raise Refused(f"{batch.id}: the meat was hung already; a correction is a note")
    pieces = {name: grams for name, grams in request.pieces_g.items() if 0.0 < grams < HEAVIEST_KG * 1000.0}
    batch = replace(batch, hung_s=batch.elapsed_s, hung_wall_s=inputs.wall_s)
    batch = _weighed(batch, request.id, inputs.wall_s, pieces)
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
        _entry(
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
    return Done(_put(memory, batch), f"{batch.id}: hung. Now {batch.stage.name}.", tuple(events), entries)


@_do.register
def _confirm(request: Confirm, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if not batch.stage.until.confirm or batch.state == "complete":
        raise Refused(f"{batch.id}: the stage {batch.stage.name} asks for no confirmation")
    if batch.stage.kind == "warm-up":
        raise Refused(f"{batch.id}: a warm-up ends when the meat is in: hangroom hang")
    text = f"Stage {batch.stage.name} confirmed."
    event = Event("confirm", text, actor=request.actor, batch=batch.id)
    return Done(_put(memory, replace(batch, confirmed=True)), f"{batch.id}: {text}", (event,))


@_do.register
def _next(request: Next, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if batch.state == "complete":
        raise Refused(f"{batch.id}: there is no stage left; take the meat out and say hangroom end")
    if not request.because.strip():
        raise Refused('a stage is ended early only with a reason: --because "…"')
    if batch.stage.kind == "ferment":
        _may_end_ferment(batch)
    batch, event = next_stage(batch, inputs.wall_s, "person", request.because)
    return Done(_put(memory, batch), f"{batch.id}: now {batch.stage.name}.", (replace(event, actor=request.actor),))


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


@_do.register
def _hold(request: Hold, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if batch.state not in {"running", "suspended"}:
        raise Refused(f"{batch.id}: is {batch.state} and cannot be paused")
    reason = request.because or "a person paused it"
    event = Event("state", f"Paused: {reason}. Heat and mist are off.", actor=request.actor, batch=batch.id)
    batch = replace(batch, state="held", held_because=reason, held_by_person=True)
    return Done(_put(memory, batch), f"{batch.id}: paused, waits for you.", (event,))


@_do.register
def _resume(request: Resume, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if batch.state != "held":
        raise Refused(f"{batch.id}: is {batch.state}, there is nothing to resume")
    locks = [alarm.id for alarm in memory.alarms if alarm.latched and alarm.locks]
    if locks:
        raise Refused(f"{batch.id}: {', '.join(locks)} must be cleared first: hangroom clear {locks[0]}")
    event = Event("state", f"Resumed: {request.because or 'a person said so'}.", actor=request.actor, batch=batch.id)
    batch = replace(batch, state="running", held_because="", held_by_person=False, suspicion=type(batch.suspicion)())
    return Done(_put(memory, batch), f"{batch.id}: goes on with {batch.stage.name}.", (event,))


@_do.register
def _end(request: End, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
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
    return Done(_put(memory, closed), f"{batch.id}: {said}.", (event,))


@_do.register
def _ph(request: Ph, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if not LOWEST_PH <= request.value <= HIGHEST_PH:
        raise Refused(f"pH {request.value:g}: meat has {LOWEST_PH:g} to {HIGHEST_PH:g}; type it again")
    _check_replaced(request.replaces, batch.ph_ids)
    entry = _entry(
        request.id, batch, request.at_wall_s, "ph", f"{request.value:g}", "pH", request.actor, inputs,
        instrument=request.instrument, sample_temp_c=request.sample_temp_c, replaces=request.replaces,
        note=request.note,
    )  # fmt: skip
    if request.instrument.startswith(STRIPS):
        return Done(
            memory, f"{batch.id}: pH {request.value:.2f} by strips is noted; strips alone end no stage.", (), (entry,)
        )
    kept = [(pair, name) for pair, name in zip(batch.ph, batch.ph_ids, strict=True) if name != request.replaces]
    kept.append(((request.at_wall_s, request.value), request.id))
    kept.sort(key=_by_time)
    batch = replace(
        batch,
        ph=tuple(pair for pair, _ in kept),
        ph_ids=tuple(name for _, name in kept),
        last_ph_s=batch.elapsed_s,
        overdue=False,
        ph_due_since_s=None,
    )
    batch = _counted(batch)
    target = batch.stage.until.ph_at_most
    aim = "" if target is None else f" (the stage ends at {target:g} or lower)"
    return Done(_put(memory, batch), f"{batch.id}: pH {request.value:.2f}{aim}.", (), (entry,))


def _counted(batch: Batch) -> Batch:
    """Return the batch with the degree-hours that its readings leave: a corrected 5.3 brings back what came after."""
    passed = any(value <= PH_GROWTH_STOPS for value in batch.ferment_ph)
    if passed == batch.passed_5_3:
        return batch
    if passed:
        return replace(batch, passed_5_3=True, spare_f=0.0, spare_c=0.0, spare_highest_c=None)
    temps = [temp for temp in (batch.highest_air_c, batch.spare_highest_c) if temp is not None]
    return replace(
        batch,
        passed_5_3=False,
        degree_hours_f=batch.degree_hours_f + batch.spare_f,
        degree_hours_c=batch.degree_hours_c + batch.spare_c,
        highest_air_c=max(temps, default=None),
    )


def _by_time(item: tuple[tuple[float, float], str]) -> float:
    return item[0][0]


def _check_replaced(replaces: str, known: tuple[str, ...]) -> None:
    if replaces and replaces not in known:
        raise Refused(f"{replaces}: no such entry to replace; the newest are {', '.join(known[-3:]) or 'none'}")


@_do.register
def _weigh(request: Weigh, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    for piece, grams in request.pieces_g.items():
        if not 0.0 < grams < HEAVIEST_KG * 1000.0:
            raise Refused(f"{piece}={grams:g}: a weight is more than 0 g, and no piece weighs that much")
    entries = tuple(
        _entry(
            request.id, batch, request.at_wall_s, "weight", f"{grams:g}", "g", request.actor, inputs,
            piece=piece, instrument=request.instrument, replaces=request.replaces, note=request.note,
        )
        for piece, grams in request.pieces_g.items()
    )  # fmt: skip
    _check_replaced(request.replaces, tuple(name for name, _, _ in batch.weighings))
    batch = _weighed(batch, request.id, request.at_wall_s, request.pieces_g, request.replaces)
    loss = batch.weight_loss_pct
    said = "green weights noted" if loss is None else f"the slowest piece has lost {loss:.1f} %"
    return Done(_put(memory, batch), f"{batch.id}: {said}.", (), entries)


def _weighed(batch: Batch, name: str, at_wall_s: float, pieces_g: dict[str, float], replaces: str = "") -> Batch:
    """Return the batch after a weighing: of each piece the first weight is the green one, the last one counts now.

    A correction takes the place of the pieces it names in the weighing that it replaces.
    """
    kept = []
    for old_name, old_s, old in batch.weighings:
        corrected = old_name == replaces
        at_wall_s = old_s if corrected else at_wall_s
        kept.append((old_name, old_s, {p: g for p, g in old.items() if not (corrected and p in pieces_g)}))
    kept.append((name, at_wall_s, dict(pieces_g)))
    kept.sort(key=_by_second)
    green: dict[str, float] = {}
    now: dict[str, float] = {}
    for _, _, grams_of in kept:
        for piece, grams in grams_of.items():
            if piece in green:
                now[piece] = grams
            else:
                green[piece] = grams
    return replace(batch, weighings=tuple(kept), green_g=green, now_g=now)


def _by_second(weighing: tuple[str, float, dict[str, float]]) -> float:
    return weighing[1]


@_do.register
def _core(request: CoreTemp, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = _batch(memory, request.batch)
    if not CORE_C[0] <= request.value_c <= CORE_C[1]:
        raise Refused(f"core {request.value_c:g} °C: this cannot be; type it again")
    entry = _entry(
        request.id, batch, request.at_wall_s, "core_temp", f"{request.value_c:g}", "Cel", request.actor, inputs,
        instrument=request.instrument, replaces=request.replaces, note=request.note,
    )  # fmt: skip
    batch = replace(batch, core_temp_c=request.value_c)
    return Done(_put(memory, batch), f"{batch.id}: core {request.value_c:.1f} °C.", (), (entry,))


@_do.register
def _note(request: Note, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    opened = [batch for batch in memory.batches if batch.open]
    name = _batch(memory, request.batch).id if request.batch or len(opened) == 1 else ""
    return Done(memory, "Noted.", (Event("note", request.text, actor=request.actor, batch=name),))


@_do.register
def _seen(request: Seen, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    after, event = alarms.acknowledge(memory.alarms, request.alarm, request.actor)
    if event is None:
        raise Refused(f"{request.alarm}: there is no such alarm now; hangroom alarms lists them")
    return Done(replace(memory, alarms=after), f"{request.alarm}: seen.", (event,))


@_do.register
def _clear(request: Clear, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    after, event, why_not = alarms.clear(memory.alarms, request.alarm, request.actor)
    if event is None:
        raise Refused(why_not)
    row = request.alarm.split("-", maxsplit=1)[0]
    crashes = () if row == "C2" else memory.crashes_wall_s
    return Done(replace(memory, alarms=after, crashes_wall_s=crashes), f"{request.alarm}: cleared.", (event,))


def _entry(
    name: str, batch: Batch, at_wall_s: float, kind: EntryKind, value: str, unit: str, actor: str, inputs: Inputs,
    *, piece: str = "", instrument: str = "", sample_temp_c: float | None = None, replaces: str = "", note: str = "",
) -> Entry:  # fmt: skip
    return Entry(
        batch.id,
        name,
        at_wall_s,
        kind,
        value,
        unit,
        piece,
        instrument,
        sample_temp_c,
        actor,
        inputs.wall_s,
        replaces,
        note,
    )
