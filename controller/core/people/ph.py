"""The pH: what a person measured, whether it can be so, and what it changes."""

from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.desk import Done, Refused, batch_of, check_replaced, do, entry_of, put
from controller.core.plan import Chamber
from controller.core.requests import Ph
from controller.core.stages import PH_GROWTH_STOPS

STRIPS: Final = "strips"
LOWEST_PH: Final = 3.0
HIGHEST_PH: Final = 8.0


@do.register
def _ph(request: Ph, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    if not LOWEST_PH <= request.value <= HIGHEST_PH:
        raise Refused(f"pH {request.value:g}: meat has {LOWEST_PH:g} to {HIGHEST_PH:g}; type it again")
    check_replaced(request.replaces, batch.ph_ids)
    entry = entry_of(
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
    return Done(put(memory, batch), f"{batch.id}: pH {request.value:.2f}{aim}.", (), (entry,))


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
