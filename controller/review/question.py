"""Say what a review asks of the climate log, before it goes through it once.

Where the count of degree-hours ends depends on when the ferment was over, and that on the rows. So the log is counted
to every end that may turn out to be the right one; they are few.
"""

from collections.abc import Sequence
from math import inf
from typing import Final

from controller.review.batch import BatchRecord, ReadingRow
from controller.review.contradicted import uncontradicted
from controller.review.logs.heat import Counting
from controller.review.logs.survey import Asked, Key, Survey, survey
from controller.review.readings import measured_ph, reached_s, standing
from controller.review.untold import bounded_gaps
from controller.settings.chamber_file import plan_of

ROWS_LACK: Final = inf
"""Stands for the end of a count of which rows lack: from the first row there is to the last one."""


def survey_of(record: BatchRecord, begin_s: float | None = None) -> Survey:
    """Go through the climate of a batch once.

    Args:
        record: what was recorded.
        begin_s: when counting begins; None: with hanging, else with the first row of a ferment.
    """
    hung_s = hung_at_s(record)
    ferments = frozenset(stage.name for stage in record.card.profile.stages if stage.kind == "ferment")

    def count(from_s: float, first_s: float) -> dict[Key, Counting]:
        return _counts(record, from_s, first_s)

    asked = Asked(record.every_s, hung_s, hung_s if begin_s is None else begin_s, ferments, count)
    return survey(record.log.frames(), asked)


def hung_at_s(record: BatchRecord) -> float | None:
    """Return when the meat was hung, by the diary."""
    return next((event.time_s for event in record.events if event.kind == "hang"), None)


def soured_s(readings: Sequence[ReadingRow], begin_s: float, over_s: float | None, error: float) -> float | None:
    """Return when the first pH was measured that ends the count, as the daemon counts it."""
    return reached_s(measured_ph(uncontradicted(readings, begin_s, over_s, error)), begin_s, error)


def _counts(record: BatchRecord, begin_s: float, first_s: float) -> dict[Key, Counting]:
    """Return a count for every end that may turn out to be right, without and with the instruments' errors.

    Behind the last row and before the first one nothing is reckoned: how warm it was there nobody knows.
    """
    readings = standing(record.readings)
    overs_s = [None, *(at_s - early_s for at_s, _ in measured_ph(readings) for early_s in (0.0, 1.0))]
    plan = plan_of(record.card.chamber)
    late_s = max(begin_s, first_s - record.every_s)
    bounded = bounded_gaps(record)
    made: dict[tuple[float, float | None, bool], Counting] = {}
    found: dict[Key, Counting] = {}
    for guarded, error in ((False, 0.0), (True, plan.ph_error)):
        ends_s = {None, *(soured_s(readings, begin_s, over_s, error) for over_s in overs_s)}
        for key, from_s, end_s in (*((end_s, begin_s, end_s) for end_s in ends_s), (ROWS_LACK, late_s, None)):
            # An upper bound holds what only the cooling tells; the rows by themselves know nothing of it.
            is_bound = guarded and bool(bounded)
            if (from_s, end_s, is_bound) not in made:
                adds_k = (0.0, plan.air_error_k)
                made[from_s, end_s, is_bound] = Counting(
                    from_s, end_s, record.every_s, adds_k=adds_k, bounded=bounded if is_bound else ()
                )
            found[guarded, key] = made[from_s, end_s, is_bound]
    return found
