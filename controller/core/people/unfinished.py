"""What becomes of meat whose batch ends before its time: the program stops leading, and says what to do with it.

What is said is common practice, no source. The program never says that anything may be eaten.
"""

from typing import Final

from controller.core.batch.margin import is_over_limit
from controller.core.memory import Batch
from controller.core.plan import Chamber
from controller.food.degree_hours import TARGET_PH

RAW: Final = (
    "It is raw and has not soured: put it below 4 °C at once, marked and apart; do not taste. Whoever is competent "
    "decides what becomes of it."
)
OVER: Final = (
    "It is over its degree-hours: keep it cold and apart, marked; do not taste. A laboratory and a competent person "
    "decide."
)
UNFINISHED: Final = (
    "It is not finished: nothing leads its climate and nothing counts from now on. Keep it below 4 °C, marked, until "
    "it goes on elsewhere or whoever is competent has decided what becomes of it."
)


def doubt_of_end(batch: Batch) -> str:
    """Return the question that ending a batch deserves whose meat hangs and is not done; empty where none does."""
    if batch.state == "complete" or batch.hung_s is None:
        return ""
    hours = f"{batch.stage_elapsed_s / 3600.0:.1f} h"
    if _waits_for_acid(batch):
        last = f"the last pH is {batch.ph[-1][1]:.2f}" if batch.ph else "no pH has been measured"
        return f"the meat is in {batch.stage.name} for {hours}, and {last}, none at or below {TARGET_PH:g}: end it now?"
    return f"{batch.stage.name} lasts for {hours} and is not over: end the batch now?"


def what_to_do(batch: Batch, chamber: Chamber) -> str:
    """Return what is to be done with the meat of a batch that is ended; empty where it is complete, or none hangs."""
    if batch.hung_s is None:
        return ""
    if is_over_limit(batch, chamber):
        return OVER
    if batch.state == "complete":
        return ""
    return RAW if _waits_for_acid(batch) else UNFINISHED


def _waits_for_acid(batch: Batch) -> bool:
    """Say whether this meat was to be soured, and is not."""
    return not batch.passed_5_3 and any(stage.until.ph_at_most is not None for stage in batch.profile.stages)
