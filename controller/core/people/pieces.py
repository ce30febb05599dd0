"""The pieces: what they weigh, how hot they are in the core, what they look like."""

from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import HEAVIEST_KG, Done, Refused, batch_of, check_replaced, do, entry_of, put
from controller.core.plan import Chamber
from controller.core.requests import CoreTemp, Weigh

CORE_C: Final = (-30.0, 120.0)


@do.register
def _weigh(request: Weigh, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    for piece, grams in request.pieces_g.items():
        if not 0.0 < grams < HEAVIEST_KG * 1000.0:
            raise Refused(f"{piece}={grams:g}: a weight is more than 0 g, and no piece weighs that much")
    entries = tuple(
        entry_of(
            request.id, batch, request.at_wall_s, "weight", f"{grams:g}", "g", request.actor, inputs,
            piece=piece, instrument=request.instrument, replaces=request.replaces, note=request.note,
        )
        for piece, grams in request.pieces_g.items()
    )  # fmt: skip
    check_replaced(request.replaces, tuple(name for name, _, _ in batch.weighings))
    batch = weighed(batch, request.id, request.at_wall_s, request.pieces_g, request.replaces)
    loss = batch.weight_loss_pct
    said = "green weights noted" if loss is None else f"the slowest piece has lost {loss:.1f} %"
    return Done(put(memory, batch), f"{batch.id}: {said}.", (), entries)


def weighed(batch: Batch, name: str, at_wall_s: float, pieces_g: dict[str, float], replaces: str = "") -> Batch:
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


@do.register
def _core(request: CoreTemp, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if not CORE_C[0] <= request.value_c <= CORE_C[1]:
        raise Refused(f"core {request.value_c:g} °C: this cannot be; type it again")
    entry = entry_of(
        request.id, batch, request.at_wall_s, "core_temp", f"{request.value_c:g}", "Cel", request.actor, inputs,
        instrument=request.instrument, replaces=request.replaces, note=request.note,
    )  # fmt: skip
    batch = replace(batch, core_temp_c=request.value_c)
    return Done(put(memory, batch), f"{batch.id}: core {request.value_c:.1f} °C.", (), (entry,))
