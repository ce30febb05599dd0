"""What a finished ferment shows of its starter: how steeply the pH falls, and how long it waits before."""

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from controller.food.acid import CULTURES
from controller.food.degree_hours import TARGET_PH
from controller.review.batch import BatchRecord, ReadingRow
from controller.review.contradicted import uncontradicted
from controller.review.forecast import acid_curve
from controller.review.forecast.climate import STEP_S, air_since
from controller.review.forecast.estimate import Array, Prior
from controller.review.forecast.mix import dextrose_pct_of
from controller.review.forecast.souring import FRESH_S, FeltTime
from controller.review.priors.count import MOST_MISSING, corrected_by, missing_h
from controller.review.priors.shown import LATE, Shown, shift_of, widened
from controller.review.priors.shrinking import Belief
from controller.review.readings import standing
from controller.review.stages import spans_of

SPREAD: Final = np.array([acid_curve.SPEED_SPREAD, acid_curve.LAG_SPREAD])
PLACES: Final = (acid_curve.SPEED, acid_curve.LAG)
HOUR_S: Final = 3600.0


def look_at(record: BatchRecord) -> Shown | str:
    """Return what the ferment of a finished batch shows; where it cannot count, why."""
    found = _bounds(record)
    if isinstance(found, str):
        return found
    hung_s, ended_s, wanted_c = found
    measured, corrected = _measured(record, hung_s, ended_s)
    lacking_h, of_h = missing_h(air_since(record, hung_s, ended_s), record)
    if lacking_h > MOST_MISSING * of_h:
        return f"gaps: of {of_h:.0f} h of its ferment {lacking_h:.0f} h of the climate are on no record"
    culture = record.card.profile.starter
    felt = FeltTime(record, culture, hung_s, ended_s, wanted_c)
    readings = [(felt.felt_h(at_s), ph) for at_s, ph in measured]
    recipe = acid_curve.Recipe(culture, dextrose_pct_of(record.card))
    if not acid_curve.rests_on_readings(acid_curve.prior_of(recipe, readings), readings):
        why = f"too few pH readings inside the drop ({acid_curve.ENOUGH_IN_THE_DROP} are needed)"
        return f"{why}{corrected}"

    def wall_h(felt_h: Array) -> Array:
        return np.asarray((felt.wall_s(felt_h) - hung_s) / HOUR_S)

    return shown_by(record.card.batch.id, recipe, readings, wall_h)


def _bounds(record: BatchRecord) -> tuple[float, float, float] | str:
    """Return when the meat was hung, when its ferment ended and what it was wanted at; else why it cannot count."""
    hung_s = next((event.time_s for event in record.events if event.kind == "hang"), None)
    stages = record.card.profile.stages
    ferment = next((span for span in spans_of(record) if stages[span.place].kind == "ferment"), None)
    if record.card.profile.starter not in CULTURES:
        return "it has no starter"
    if ferment is None:
        return "it has no ferment"
    if hung_s is None:
        return "when it was hung is on no record"
    if ferment.ended_s is None:
        return "when its ferment ended is on no record"
    return hung_s, ferment.ended_s, stages[ferment.place].air_temp_c or 0.0


def _measured(record: BatchRecord, hung_s: float, ended_s: float) -> tuple[list[tuple[float, float]], str]:
    """Return the pH that count, and what is to be said of those that were corrected."""
    rows = [row for row in standing(record.readings) if hung_s - FRESH_S <= row.time_s <= ended_s + STEP_S]
    firm = [row for row in rows if row.kind != "ph" or not row.replaces]
    counted: list[ReadingRow] = uncontradicted(firm, hung_s, ended_s, 0.0)
    replaced = [row for row in rows if row.kind == "ph" and row.replaces]
    return [(row.time_s, row.value) for row in counted if row.value is not None], corrected_by(replaced)


def shown_by(
    batch: str,
    recipe: acid_curve.Recipe,
    readings: Sequence[tuple[float, float]],
    wall_h: Callable[[Array], Array],
) -> Shown:
    """Return what a ferment shows.

    Args:
        batch: its name.
        recipe: culture and sugar.
        readings: (felt hours, pH), by rising time.
        wall_h: hours from hanging of felt hours, by the log.
    """
    prior = acid_curve.prior_of(recipe, readings)
    wide = widened(prior, PLACES)
    shift = shift_of(acid_curve.posterior_of(wide, readings), wide, PLACES)
    first = [one for one in readings[:1] if one[0] <= acid_curve.EARLY * float(np.exp(prior.mean[acid_curve.LAG]))]

    def tell(belief: Belief) -> tuple[Array, Array]:
        posterior = acid_curve.posterior_of(believed(prior, belief), first)
        return wall_h(acid_curve.felt_h_at(posterior.draws, TARGET_PH)), posterior.weights

    came_h = _reached_h(readings)
    came = None if came_h is None else float(wall_h(np.array([came_h]))[0])
    followed_h = float(wall_h(np.array([readings[-1][0]]))[0])
    return Shown(batch, shift, came, tell, LATE * followed_h)


def believed(prior: Prior, belief: Belief) -> Prior:
    """Return the recipe's prior with what is believed of the maker's own."""
    for number, place in enumerate(PLACES):
        prior = prior.learned(place, float(belief.mean[number]), float(belief.spread[number]))
    return prior


def _reached_h(readings: Sequence[tuple[float, float]]) -> float | None:
    """Return after how many felt hours pH 5.3 was passed, on the line between the two readings around it."""
    for (before_h, above), (at_h, below) in pairwise(readings):
        if above > TARGET_PH >= below:
            return before_h + (at_h - before_h) * (above - TARGET_PH) / (above - below)
    return None
