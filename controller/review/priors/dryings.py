"""What a finished drying shows of its chamber: its days beside those that air and diameter lead one to expect."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from msgspec.structs import replace

from controller.review.batch import BatchRecord
from controller.review.forecast import drying_curve, losing
from controller.review.forecast.climate import air_since
from controller.review.forecast.drying_curve import Ahead, Begun
from controller.review.forecast.estimate import Array, Prior
from controller.review.forecast.folder import as_of
from controller.review.priors.count import MOST_MISSING, corrected_by, missing_h
from controller.review.priors.shown import LATE, Shown, shift_of, widened
from controller.review.priors.shrinking import Belief
from controller.review.readings import standing
from controller.review.stages import Span, spans_of

SPREAD: Final = np.array([drying_curve.TAU_SPREAD])
PLACES: Final = (drying_curve.TAU,)
LEAST_WEIGHINGS: Final = 3
LEAST_LOSS_PCT: Final = 10.0
"""Lost since the count of drying days began; before that the pace is hardly seen. Common practice, no source."""
TARGET_STEP_PCT: Final = 5.0


@dataclass(frozen=True, slots=True)
class Dried:
    """Hold one drying: prior of its air and diameter, where the count began, weighings, what W is too high by."""

    prior: Prior
    begun: Begun
    weighings: tuple[tuple[float, float], ...]
    excess_pct: float


def look_at(record: BatchRecord) -> Shown | str:
    """Return what the drying of a finished batch shows; where it cannot count, why."""
    hung_s = next((event.time_s for event in record.events if event.kind == "hang"), None)
    if hung_s is None:
        return "when it was hung is on no record"
    stages = record.card.profile.stages
    dry = [span for span in spans_of(record) if stages[span.place].kind in losing.DRYING]
    if not dry:
        return "it was not dried"
    if any(stages[span.place].where != "chamber" for span in dry):
        return "it was dried elsewhere"
    replaced = [row for row in standing(record.readings) if row.kind == "weight" and row.replaces]
    doubtful = {row.piece for row in replaced}
    kept = [row for row in record.readings if row.kind != "weight" or row.piece not in doubtful]
    found = _dried(replace(record, readings=kept), dry[-1], hung_s)
    if isinstance(found, str):
        return f"{found}{corrected_by(replaced)}"
    return shown_by(record.card.batch.id, found)


def _dried(record: BatchRecord, last: Span, hung_s: float) -> Dried | str:
    until_s = last.last_s if last.ended_s is None else last.ended_s
    weighed = [at_s for at_s, _ in losing.losses_of(record, until_s) if at_s >= last.began_s]
    if not weighed:
        return "nothing was weighed while it dried"
    now_s = weighed[-1]
    seen = as_of(record, now_s)
    lacking_h, of_h = missing_h(air_since(seen, hung_s, now_s), record)
    if lacking_h > MOST_MISSING * of_h:
        return f"gaps: of {of_h / 24.0:.0f} days {lacking_h / 24.0:.1f} days of the climate are on no record"
    losses = losing.losses_of(seen, now_s)
    drying = losing.so_far(seen, record.card.profile.stages[last.place], losses, hung_s, now_s)
    if len(drying.weighings) < LEAST_WEIGHINGS:
        return f"too few weighings ({len(drying.weighings)} after the first; {LEAST_WEIGHINGS} are needed)"
    lost_pct = drying.weighings[-1][1] - drying.begun.loss_pct
    if lost_pct < LEAST_LOSS_PCT:
        return f"it lost {lost_pct:.0f} % while that was followed ({LEAST_LOSS_PCT:g} % are needed)"
    excess = drying_curve.excess_pct(record.card.batch.diameter_mm, drying.rh_pct)
    return Dried(losing.prior_for(record, drying), drying.begun, drying.weighings, excess)


def shown_by(batch: str, dried: Dried) -> Shown:
    """Return what a drying shows."""
    wide = widened(dried.prior, PLACES)
    shift = shift_of(drying_curve.posterior_of(wide, dried.weighings, dried.begun), wide, PLACES)
    target = _target_of(dried)

    def tell(belief: Belief) -> tuple[Array, Array]:
        posterior = drying_curve.posterior_of(believed(dried.prior, belief), (), dried.begun)
        ahead = [Ahead(target or 0.0, excess_pct=dried.excess_pct)]
        return drying_curve.days_until(posterior, (), 0.0, ahead, dried.begun), posterior.weights

    came = None if target is None else _reached_days(dried.begun.loss_pct, dried.weighings, target)
    return Shown(batch, shift, came, tell, LATE * dried.weighings[-1][0])


def believed(prior: Prior, belief: Belief) -> Prior:
    """Return the recipe's prior with what is believed of this chamber."""
    return prior.learned(drying_curve.TAU, float(belief.mean[0]), float(belief.spread[0]))


def _target_of(dried: Dried) -> float | None:
    """Return the last whole five per cent that was weighed; None where none lies behind the begin of the count."""
    target = TARGET_STEP_PCT * (dried.weighings[-1][1] // TARGET_STEP_PCT)
    return target if target > dried.begun.loss_pct else None


def _reached_days(begun_pct: float, weighings: Sequence[tuple[float, float]], target: float) -> float | None:
    for (before, low), (at, high) in pairwise([(0.0, begun_pct), *weighings]):
        if low < target <= high:
            return before + (at - before) * (target - low) / (high - low)
    return None
