"""What a piece looks, feels and smells like, and a water activity that was measured."""

from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import Done, Refused, batch_of, check_replaced, do, entry_of, put
from controller.core.people.drying import mix_of_batch
from controller.core.people.looks import NO_PROOF, refuse_looks, what_to_do
from controller.core.people.scale import stranger
from controller.core.plan import Chamber
from controller.core.requests import Look, WaterActivity
from controller.food.drying import water_activity_at_loss
from controller.food.drying_rate import AW_ERROR

DRY_SURFACE: Final = frozenset({"tacky", "dry"})
WHITE: Final = "white-mould"
AW_RANGE: Final = (0.5, 1.0)
"""A sausage leaves the bowl near 0.96 and is stone dry at 0.6; common practice, no source."""
PER_CENT: Final = 100.0


@do.register
def _look(request: Look, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    wrong = "say what you see: --look, --firmness, --smell or --mould" if not request.looks else ""
    wrong = wrong or refuse_looks(request.looks)
    if not wrong and request.piece and batch.green_g and request.piece not in batch.green_g:
        wrong = stranger(request.piece, batch)
    if wrong:
        raise Refused(wrong)
    entries = tuple(
        entry_of(
            request.id, batch, request.at_wall_s, kind, word, "", request.actor, inputs,
            piece=request.piece, note=request.note,
        )
        for kind, word in request.looks.items()
    )  # fmt: skip
    if request.looks.get("look") in DRY_SURFACE:
        batch = replace(batch, surface_dry_wall_s=request.at_wall_s)
    return Done(put(memory, batch), f"{batch.id}: " + "\n".join(_look_words(batch, request)), (), entries)


def _look_words(batch: Batch, request: Look) -> list[str]:
    of = f" of {request.piece}" if request.piece else ""
    lines = [f"{', '.join(request.looks.values())}{of}: noted."]
    looks = dict(request.looks)
    if looks.get("look") == WHITE and mould_is_planned(batch):
        del looks["look"]
        lines.append("White mould, as planned. Only the white one that you put on may stay; brush off every other.")
    lines += what_to_do(looks)
    if looks.get("look") in DRY_SURFACE and batch.stage.kind == "smoke":
        lines.append("The surface is ready for smoke.")
    return [*lines, NO_PROOF]


def mould_is_planned(batch: Batch) -> bool:
    """Say whether white mould is wanted on this batch, by its profile or by its plan."""
    return batch.profile.mould or (batch.sheet is not None and batch.sheet.mould)


@do.register
def _water_activity(request: WaterActivity, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    value = request.value
    if not AW_RANGE[0] <= value <= AW_RANGE[1]:
        meant = value / PER_CENT
        hint = f"did you mean {meant:g}?" if AW_RANGE[0] <= meant <= AW_RANGE[1] else "measure it again"
        raise Refused(f"aw {value:g}: of sausage it lies between {AW_RANGE[0]:g} and {AW_RANGE[1]:g}; {hint}")
    if request.piece and batch.green_g and request.piece not in batch.green_g:
        raise Refused(stranger(request.piece, batch))
    check_replaced(request.replaces, tuple(name for name, _, _ in batch.aw_taken))
    entry = entry_of(
        request.id, batch, request.at_wall_s, "water_activity", f"{value:g}", "1", request.actor, inputs,
        piece=request.piece, instrument=request.instrument, sample_temp_c=request.sample_temp_c,
        replaces=request.replaces, note=request.note,
    )  # fmt: skip
    kept = [row for row in batch.aw_taken if row[0] != request.replaces]
    taken = tuple(sorted((*kept, (request.id, request.at_wall_s, value)), key=_by_second))
    batch = replace(batch, aw_taken=taken, aw=taken[-1][2])
    return Done(put(memory, batch), f"{batch.id}: " + "\n".join(_aw_words(batch, request)), (), (entry,))


def _by_second(row: tuple[str, float, float]) -> float:
    return row[1]


def _aw_words(batch: Batch, request: WaterActivity) -> list[str]:
    of = f" of {request.piece}" if request.piece else ""
    lines = [f"water activity {request.value:.3f}{of}, measured with {request.instrument}."]
    loss = batch.losses_pct.get(request.piece, batch.weight_loss_pct)
    if loss is None:
        return lines
    mix, lactate, _ = mix_of_batch(batch)
    guess = water_activity_at_loss(mix, loss, lactate)
    apart = abs(guess - request.value)
    told = f"By recipe and {loss:.1f} % loss {guess:.2f} ±{AW_ERROR:g} was estimated"
    if round(apart, 2) <= AW_ERROR:
        return [*lines, f"{told}: they agree."]
    return [
        *lines,
        f"{told}: {apart:.2f} apart. Is the meter right, and the sample from the middle? The measured one counts.",
    ]
