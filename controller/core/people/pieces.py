"""The pieces: what they weigh on the hook, which have left, and what their loss tells of the drying."""

from msgspec.structs import replace

from controller.core.batch.waits import brought_back, ends_words, now_words
from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import Done, Refused, batch_of, check_replaced, do, entry_of, put
from controller.core.people.drying import SHOWN_EACH, judged, loss_words, words_of
from controller.core.people.scale import asked_back, doubt_about, net_of, note_of
from controller.core.plan import Chamber
from controller.core.requests import Weigh
from controller.core.values import Entry, Event

OUT: str = "out"
"""Begins the note of the row of a piece that has left; the row holds its last net grams."""


@do.register
def _weigh(request: Weigh, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    batch = batch_of(memory, request.batch)
    tare_g = batch.tare_g if request.tare_g is None else request.tare_g
    net_g = net_of(request.pieces_g, tare_g)
    check_replaced(request.replaces, tuple(name for name, _, _ in batch.weighings))
    back = _come_back(batch, request, net_g)
    _check_out(batch, request, back)
    if not request.sure:
        doubt = doubt_about(batch, request.at_wall_s, net_g, tare_g, request.replaces)
        if doubt:
            raise asked_back(doubt, request, batch)
    last_g = {piece: batch.now_g.get(piece, batch.green_g[piece]) for piece in request.out}
    entries = _entries(batch, request, net_g, last_g, tare_g, inputs)
    was_known = set(batch.green_g)
    batch = replace(
        batch,
        tare_g=tare_g,
        weigh_called_s=None,
        pieces_out=(*(piece for piece in batch.pieces_out if piece not in back), *request.out),
    )
    batch = judged(weighed(batch, request.id, request.at_wall_s, {**net_g, **last_g}, request.replaces))
    batch, events = _back_again(batch, request, inputs.wall_s)
    lines = [*_net_words(net_g, tare_g), *_said(batch, request, chamber, inputs.wall_s, back=bool(events))]
    strangers = [piece for piece in net_g if piece not in was_known] if was_known else []
    if strangers:
        lines.append(f"{', '.join(strangers)}: new; the loss counts from today's weight.")
    if request.out:
        lines.append(f"{', '.join(request.out)}: out, and no longer counted.")
    return Done(put(memory, batch), f"{batch.id}: " + "\n".join(lines), events, entries)


def _net_words(net_g: dict[str, float], tare_g: float) -> list[str]:
    """Return what was taken off, and what is left, in whole grams; empty where nothing was taken off."""
    if not net_g or tare_g <= 0.0:
        return []
    shown = ", ".join(f"{piece} {grams:.0f} g" for piece, grams in net_g.items()) if len(net_g) <= SHOWN_EACH else ""
    return [f"less {tare_g:.0f} g for hook and string{f': {shown}' if shown else ''}."]


def _said(batch: Batch, request: Weigh, chamber: Chamber, wall_s: float, *, back: bool) -> list[str]:
    """Return what a weighing tells: of a stage that ends with it only that, and what comes now."""
    if back:
        return [loss_words(batch), f"By this weight the end is not reached; the batch goes on. {now_words(batch)}"]
    if batch.state == "complete":
        return [loss_words(batch), "The batch is complete; a wrong weight is put right with --replaces ID."]
    ends = ends_words(batch, chamber, wall_s)
    if not ends:
        return words_of(batch)
    return [loss_words(batch), ends, f"Typed wrong? hangroom weigh PIECE=GRAMS --replaces {request.id}"]


def _back_again(batch: Batch, request: Weigh, wall_s: float) -> tuple[Batch, tuple[Event, ...]]:
    """Return a complete batch in its last stage again where a corrected weight has not reached what ended it."""
    wanted, loss = batch.profile.stages[-1].until.weight_loss_pct, batch.weight_loss_pct
    if batch.state != "complete" or not request.replaces or wanted is None or not batch.ended:
        return batch, ()
    if batch.ended[-1].by != "until" or (loss is not None and loss >= wanted):
        return batch, ()
    batch = judged(brought_back(batch, wall_s))
    text = f"Goes on with {batch.stage.name}: a weight was corrected, and its end is not reached."
    return batch, (Event("state", text, actor=request.actor, batch=batch.id),)


def _come_back(batch: Batch, request: Weigh, net_g: dict[str, float]) -> tuple[str, ...]:
    """Return the pieces that are in again because the very entry that took them out is corrected."""
    found = []
    for piece in batch.pieces_out:
        names = [name for name, _, grams in batch.weighings if piece in grams]
        if piece in net_g and names[-1:] == [request.replaces]:
            found.append(piece)
    return tuple(found)


def _check_out(batch: Batch, request: Weigh, back: tuple[str, ...]) -> None:
    if not request.pieces_g and not request.out:
        raise Refused("which piece weighs what? A=412")
    for piece in request.out:
        if piece not in batch.green_g:
            known = ", ".join(sorted(batch.green_g)) or "none"
            raise Refused(f"{piece}=out: has never been weighed; known are {known}")
        if piece in request.pieces_g:
            raise Refused(f"{piece}: weigh it first, then say {piece}=out")
    for piece in (*request.out, *request.pieces_g):
        if piece in batch.pieces_out and piece not in back and not request.replaces:
            raise Refused(f"{piece}: is out already; a correction names the entry it replaces: --replaces ID")


def _entries(
    batch: Batch,
    request: Weigh,
    net_g: dict[str, float],
    last_g: dict[str, float],
    tare_g: float,
    inputs: Inputs,
) -> tuple[Entry, ...]:
    rows = [(piece, grams, note_of(request.pieces_g[piece], tare_g, request.note)) for piece, grams in net_g.items()]
    rows += [(piece, grams, "; ".join(part for part in (OUT, request.note) if part)) for piece, grams in last_g.items()]
    return tuple(
        entry_of(
            request.id, batch, request.at_wall_s, "weight", f"{grams:g}", "g", request.actor, inputs,
            piece=piece, instrument=request.instrument, replaces=request.replaces, note=note,
        )
        for piece, grams, note in rows
    )  # fmt: skip


def weighed(batch: Batch, name: str, at_wall_s: float, net_g: dict[str, float], replaces: str = "") -> Batch:
    """Return the batch after a weighing: of each piece the first weight is the green one, the last one counts now.

    A correction takes the place of the pieces it names in the weighing that it replaces.
    """
    kept = []
    for old_name, old_s, old in batch.weighings:
        corrected = old_name == replaces
        at_wall_s = old_s if corrected else at_wall_s
        kept.append((old_name, old_s, {p: g for p, g in old.items() if not (corrected and p in net_g)}))
    kept.append((name, at_wall_s, dict(net_g)))
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
