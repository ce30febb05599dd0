"""What a stage still waits for, in words, and which stages end with what has just been said."""

from msgspec.structs import replace

from controller.core.batch.asks import stage_asks
from controller.core.batch.stages import PH_GROWTH_STOPS, is_over, lacks_ph, next_stage
from controller.core.memory import Batch
from controller.core.plan import Chamber
from controller.food.germs.measured import HOUR_S, time_words


def still_wanted(batch: Batch) -> tuple[str, ...]:
    """Return what has to come before the stage ends, a clause each; a person's word is none of them."""
    if batch.state == "complete":
        return ()
    stage, until, found = batch.stage, batch.stage.until, list[str]()
    left_h = stage.at_least_h - batch.stage_elapsed_s / HOUR_S
    if left_h > 0.0:
        found.append(time_words(left_h))
    if until.hours is not None and until.hours * HOUR_S > batch.stage_at_conditions_s:
        found.append(f"{time_words(until.hours - batch.stage_at_conditions_s / HOUR_S)} at the right climate")
    if until.core_temp_c is not None and (batch.core_temp_c is None or batch.core_temp_c < until.core_temp_c):
        found.append(_core(batch, until.core_temp_c))
    loss = batch.weight_loss_pct
    if until.weight_loss_pct is not None and (loss is None or loss < until.weight_loss_pct):
        found.append(_loss(batch, until.weight_loss_pct))
    readings = batch.ph_readings
    if until.ph_at_most is not None and not (
        readings and readings[-1].from_sausage and readings[-1].has_reached(until.ph_at_most)
    ):
        found.append(f"a pH at or below {until.ph_at_most:g} in a real sausage")
    if lacks_ph(batch):
        found.append(f"a pH at or below {PH_GROWTH_STOPS} in a real sausage: none that stands is")
    return tuple(found)


def _core(batch: Batch, wanted_c: float) -> str:
    """Return the core that is wanted, in which piece, and how a wrong entry of it is taken back."""
    aim = f"core {wanted_c:.1f} °C"
    if batch.core_temp_c is None:
        return aim
    rows = zip(batch.core_temps, batch.core_ids, batch.core_of, strict=True)
    newest = {of: (value_c, name) for (_, value_c), name, of in rows}
    place = next((of for of, (value_c, _) in newest.items() if value_c == batch.core_temp_c), "")
    name = newest.get(place, (0.0, ""))[1]
    piece = f" --piece {place}" if place and " " not in place else ""
    back = f"; typed wrong? hangroom core TEMP{piece} --replaces {name}" if name else ""
    return f"{aim}{f' in {place}' if place else ''} (now {batch.core_temp_c:.1f} °C{back})"


def _loss(batch: Batch, wanted_pct: float) -> str:
    losses = {piece: loss for piece, loss in batch.losses_pct.items() if piece not in batch.pieces_out}
    if batch.unweighed:
        return f"{wanted_pct:g} % of weight lost, and a weight of {', '.join(batch.unweighed)}"
    if not losses:
        return f"{wanted_pct:g} % of weight lost (no piece was weighed twice)"
    slowest = min(losses, key=lambda piece: losses[piece])
    return f"{wanted_pct:g} % of weight lost in {slowest} (now {losses[slowest]:.1f} %)"


def run_through(batch: Batch, chamber: Chamber, wall_s: float) -> tuple[Batch, tuple[str, ...]]:
    """Return the batch as it will be when all stages that are over now have ended, and the names of these."""
    ended: list[str] = []
    while batch.state == "running" and is_over(batch, chamber):
        ended.append(batch.stage.name)
        batch, _ = next_stage(batch, wall_s, "until")
    return batch, tuple(ended)


def ends_words(batch: Batch, chamber: Chamber, wall_s: float) -> str:
    """Return which stages end with what was just said, and what comes now; empty where none does."""
    after, ended = run_through(batch, chamber, wall_s)
    if not ended:
        return ""
    names = " and ".join(", ".join(ended).rsplit(", ", maxsplit=1)) if len(ended) > 1 else ended[0]
    head = f"{names} {'is' if len(ended) == 1 else 'are'} over with it."
    if after.state == "complete":
        return f"{head} The batch is complete: take it out when you want and say hangroom end."
    return f"{head} {now_words(after)}"


def now_words(batch: Batch) -> str:
    """Return which stage the batch is in, where, what it asks of a person, and its note."""
    if batch.state == "complete":
        return "The batch is complete; it rests until it is taken out."
    place = "" if batch.stage.where == "chamber" else " (elsewhere)"
    asks = stage_asks(batch.stage)
    return f"Now {batch.stage.name}{place}.{f' {asks}' if asks else ''}"


def brought_back(batch: Batch, wall_s: float) -> Batch:
    """Return a complete batch in its last stage again, all but a weight of which still holds.

    What ended the stage stood then and stands still: its hours, its pH and the person's word; its weight was corrected.
    """
    last, stages = batch.ended[-1], batch.profile.stages
    until = stages[-1].until
    return replace(
        batch,
        state="running",
        stage_index=len(stages) - 1,
        stage_began_wall_s=last.began_wall_s,
        stage_elapsed_s=max(wall_s - last.began_wall_s, 0.0),
        stage_at_conditions_s=0.0 if until.hours is None else until.hours * HOUR_S,
        confirmed=until.confirm,
        ended=batch.ended[:-1],
    )
