"""What stays unproved when a person ends a stage that its readings do not end: a cook or a chill that is skipped."""

from controller.core.memory import Batch
from controller.core.people.chill import unproved as chill_unproved
from controller.core.people.heat import logs_of, target_log
from controller.food.germs.lethality import lowest
from controller.food.germs.measured import TYPED_APART_S, broken
from controller.food.germs.trichinae import needs_option


def unproved(batch: Batch) -> list[str]:
    """Return what is unproved if the present stage ends now, a clause each; empty where nothing is."""
    if batch.stage.kind == "cook":
        return _cook(batch)
    return chill_unproved(batch, logs_of(batch)) if batch.stage.kind == "chill" else []


def _cook(batch: Batch) -> list[str]:
    """Return what is left of the kill, and the trichinae of pork or game; the core that the cook should have had."""
    target, wanted_c = target_log(batch), batch.stage.until.core_temp_c
    found = lowest({piece: broken(log, TYPED_APART_S) for piece, log in logs_of(batch).items()}, target)
    too_cold = wanted_c is not None and (batch.core_temp_c is None or batch.core_temp_c < wanted_c)
    clauses = []
    if found is None or not found[1].reached:
        has = 0.0 if found is None else found[1].log
        clauses.append(f"lethality: Salmonella {has:.1f} of {target:g} log by the readings")
    if too_cold:
        core = "has not been measured" if batch.core_temp_c is None else f"is {batch.core_temp_c:.1f} °C"
        clauses.append(f"the core {core}, {wanted_c:.1f} °C is wanted")
    meats = None if batch.sheet is None else [meat.species for meat in batch.sheet.formula.meats]
    if clauses and (meats is None or needs_option(meats)):
        clauses.append("trichinae" if meats is not None else "trichinae, where pork or game is in it")
    return clauses
