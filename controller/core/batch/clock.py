"""Move the times of a batch with the clock on the wall, so that they keep their distance from now."""

from msgspec.structs import replace

from controller.core.memory import Batch


def by_new_clock(batch: Batch, stepped_s: float, began_s: float, until_s: float) -> Batch:
    """Return the batch with its times on the wall moved by a step of the clock.

    Args:
        batch: the batch.
        stepped_s: how far the clock was stepped; below 0: back.
        began_s: times before this, by the old clock, stay as they are,
        until_s: and times after this.
    """

    def moved(at_s: float) -> float:
        return at_s + stepped_s if began_s <= at_s <= until_s else at_s

    def maybe(at_s: float | None) -> float | None:
        return None if at_s is None else moved(at_s)

    newest = batch.sausage_ph
    return _in_order(replace(
        batch,
        hung_wall_s=maybe(batch.hung_wall_s),
        ended=tuple(
            replace(one, began_wall_s=moved(one.began_wall_s), ended_wall_s=moved(one.ended_wall_s))
            for one in batch.ended
        ),
        stage_began_wall_s=moved(batch.stage_began_wall_s),
        ph=tuple((moved(at_s), value) for at_s, value in batch.ph),
        strips=tuple((name, moved(at_s)) for name, at_s in batch.strips),
        sausage_ph=None if newest is None else (moved(newest[0]), newest[1]),
        weighings=tuple((name, moved(at_s), grams) for name, at_s, grams in batch.weighings),
        core_temps=tuple((moved(at_s), temp_c) for at_s, temp_c in batch.core_temps),
        smoker=tuple((name, moved(at_s), temp_c) for name, at_s, temp_c in batch.smoker),
        surface_dry_wall_s=maybe(batch.surface_dry_wall_s),
        aw_taken=tuple((name, moved(at_s), value) for name, at_s, value in batch.aw_taken),
    ))  # fmt: skip


def _in_order(batch: Batch) -> Batch:
    """Return the batch with its readings by rising time, where a step has moved some of them past others."""
    ph_times, core_times = [at_s for at_s, _ in batch.ph], [at_s for at_s, _ in batch.core_temps]
    if ph_times != sorted(ph_times):
        places = sorted(range(len(ph_times)), key=ph_times.__getitem__)
        batch = replace(
            batch,
            ph=tuple(batch.ph[place] for place in places),
            ph_ids=tuple(batch.ph_ids[place] for place in places),
            ph_errors=tuple(batch.ph_errors[place] for place in places),
            ph_sums=tuple(batch.ph_sums[place] for place in places),
        )
    if core_times != sorted(core_times):
        places = sorted(range(len(core_times)), key=core_times.__getitem__)
        batch = replace(
            batch,
            core_temps=tuple(batch.core_temps[place] for place in places),
            core_ids=tuple(batch.core_ids[place] for place in places),
            core_of=tuple(batch.core_of[place] for place in places),
        )
    return batch
