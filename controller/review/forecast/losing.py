"""Forecast the weight loss of one batch from its folder: what its stage, and what its profile wants."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, isinf
from typing import Final

from msgspec.structs import replace

from controller.core.people.pieces import OUT
from controller.core.plan import Stage
from controller.food.drying import equilibrium_loss_pct, water_activity_at_loss
from controller.review.batch import BatchRecord
from controller.review.forecast import drying_curve
from controller.review.forecast.climate import STEP_S, Air, air_since, wanted_of
from controller.review.forecast.drying_curve import Ahead, Begun
from controller.review.forecast.estimate import Posterior, Prior, quantiles, share_never
from controller.review.forecast.mix import composition_of
from controller.review.forecast.told import Forecast
from controller.review.priors.kept import DryingPrior
from controller.review.readings import standing
from controller.review.stages import spans_of

DAY_S: Final = 86_400.0
DRYING: Final = frozenset({"dry", "rest"})
APART: Final = frozenset({"smoke", "cook", "chill", "equalise"})
"""What these stages take from a sausage follows no drying curve: the count of days begins anew after them."""
USUAL_TARGET_PCT: Final = 35.0
LATELY_S: Final = 7.0 * DAY_S
"""The present climate is the mean of so long, within the stage."""
KNOWN_AFTER_S: Final = 6.0 * 3600.0
"""With less of a log than that, a stage's climate is what it asks for."""
UNWEIGHED_VARIANCE_PCT2: Final = 3.0**2
"""How far the loss may be off after a cook or the like, when nobody has weighed since; common practice, no source."""
FAR_ENOUGH: Final = 0.25
"""From this share of the target loss on, the weighings say more than the recipe."""
SURE_PCT: Final = 2.3
"""So far above the target the equilibrium has to lie for nine batches in ten to get there: 1.28 spreads of 1.8 %."""
WEIGH_AT_LEAST_S: Final = 7.0 * DAY_S


@dataclass(frozen=True, slots=True)
class Drying:
    """Hold the drying so far: the present air, the days counted up to now, the weighings of the slowest piece."""

    temp_c: float
    rh_pct: float
    begun: Begun
    now_days: float
    weighings: tuple[tuple[float, float], ...]
    last_s: float  # From here on the days to come are counted.
    loss_pct: float


@dataclass(frozen=True, slots=True)
class Way:
    """Hold the climates up to a target, the days between that dry nothing, and the humidity of the last climate."""

    ahead: tuple[Ahead, ...]
    pause_d: float
    rh_pct: float


def forecasts(
    record: BatchRecord, place: int, hung_s: float, now_s: float, learned: DryingPrior | None = None
) -> list[Forecast]:
    """Return a forecast for the loss that ends this stage and, where it is another, for the last one of the profile.

    The slowest piece counts. `place` is the stage's in the profile, `learned` what earlier batches have shown of drying
    in this chamber and casing.
    """
    stages = record.card.profile.stages
    losses = losses_of(record, now_s)
    if not losses:
        return []
    if stages[place].where != "chamber":
        learned = None  # It was learned of this chamber, and of no other place.
    drying = so_far(record, stages[place], losses, hung_s, now_s)
    prior = prior_for(record, drying)
    if learned is not None:
        prior = prior.learned(drying_curve.TAU, learned.days, learned.days_spread)
    posterior = drying_curve.posterior_of(prior, drying.weighings, drying.begun)
    told = []
    for target in _targets(stages[place:]):
        way = _way(record, stages[place:], drying, target)
        forecast = Forecast(
            batch=record.card.batch.id,
            made_s=now_s,
            kind="weight_loss",
            target=target,
            basis="readings" if drying.weighings and drying.loss_pct >= FAR_ENOUGH * target else "recipe",
            readings=len(losses),
            batches=0 if learned is None else len(learned.batches),
        )
        reached_s = next((at_s for at_s, loss_pct in losses if loss_pct >= target), None)
        if reached_s is not None and drying.loss_pct >= target:
            told.append(replace(forecast, reached_s=reached_s))
            continue
        told.append(_when(record, forecast, drying, posterior, way))
    return told


def prior_for(record: BatchRecord, drying: Drying) -> Prior:
    """Return what the recipe, the casing's diameter and the present air lead one to expect."""
    mix, lactate_mol = composition_of(record.card)
    end_pct = equilibrium_loss_pct(mix, drying.rh_pct, lactate_mol)
    return drying_curve.prior_of(record.card.batch.diameter_mm, drying.temp_c, drying.rh_pct, end_pct)


def _when(record: BatchRecord, forecast: Forecast, drying: Drying, posterior: Posterior, way: Way) -> Forecast:
    """Return the forecast with its instants."""
    days = drying_curve.days_until(posterior, drying.weighings, drying.now_days, way.ahead, drying.begun) + way.pause_d
    low, early, middle, late, high = (drying.last_s + day * DAY_S for day in quantiles(days, posterior.weights))
    return replace(
        forecast,
        quantiles_s=None if isinf(low) else (low, early, middle, late, high),
        p_never=share_never(days, posterior.weights),
        measure_next_s=min(early, drying.last_s + WEIGH_AT_LEAST_S),
        why_never=_why(record, forecast.target, way.rh_pct, weighed=bool(drying.weighings)),
    )


def _why(record: BatchRecord, target: float, rh_pct: float, *, weighed: bool) -> str:
    """Say what would keep the loss from coming: the air, or where it is dry enough what the scale has shown."""
    mix, lactate_mol = composition_of(record.card)
    end_pct = equilibrium_loss_pct(mix, rh_pct, lactate_mol)
    helps = floor(100.0 * water_activity_at_loss(mix, target + SURE_PCT, lactate_mol))
    if end_pct >= target + SURE_PCT:
        room = f"The air is dry enough (at {rh_pct:.0f} %RH drying could go on to near {end_pct:.0f} %)"
        slow = ", but the weighings slow down before that: is the rim hard? Cut one open"
        return f"{room}{slow if weighed else ', but batches differ; weigh it'}."
    said = f"At {rh_pct:.0f} %RH drying ends near {end_pct:.0f} %"
    if helps < rh_pct and target + SURE_PCT < 100.0 * mix.water_kg:
        return f"{said}; at {helps} %RH it would come. Go there slowly, or a hard rim forms."
    return f"{said}."


def _targets(stages: Sequence[Stage]) -> list[float]:
    """Return the loss that ends the present stage, and the last one of the profile; 35 % where none is named."""
    wanted = [stage.until.weight_loss_pct for stage in stages if stage.until.weight_loss_pct is not None]
    if not wanted:
        return [USUAL_TARGET_PCT]
    return sorted({wanted[0], max(wanted)})


def losses_of(record: BatchRecord, now_s: float) -> list[tuple[float, float]]:
    """Return (instant, loss in %) of the piece that has lost least, without its first weight; [] without any weight.

    A piece that is out counts only where all are.
    """
    pieces: dict[str, list[tuple[float, float]]] = {}
    out: set[str] = set()
    for row in standing(record.readings):
        if row.kind != "weight" or row.value is None or row.value <= 0.0 or row.time_s > now_s:
            continue
        if row.note == OUT or row.note.startswith(f"{OUT};"):
            out.add(row.piece)
        else:
            pieces.setdefault(row.piece, []).append((row.time_s, row.value))
            out.discard(row.piece)
    inside = {piece: rows for piece, rows in pieces.items() if piece not in out} or pieces
    if not inside:
        return []
    curves = [[(at_s, 100.0 * (1.0 - grams / rows[0][1])) for at_s, grams in rows] for rows in inside.values()]
    weighed = [curve for curve in curves if len(curve) > 1] or curves
    return min(weighed, key=_last_loss)


def _last_loss(curve: list[tuple[float, float]]) -> float:
    return curve[-1][1]


def so_far(
    record: BatchRecord, stage: Stage, losses: Sequence[tuple[float, float]], hung_s: float, now_s: float
) -> Drying:
    """Return the drying up to now: days counted by the drive of the air, at the present air."""
    green_s = losses[0][0]
    air = air_since(record, min(hung_s, green_s), now_s)
    temp_c, rh_pct = _present(record, stage, air, now_s)
    here = drying_curve.drive_at(temp_c, rh_pct)
    begins_s, begun, weighings = _count(record, losses, hung_s)
    days, at = 0.0, []
    waiting = list(weighings)
    for step in air:
        while waiting and waiting[0][0] <= step.time_s:
            at.append((days, waiting.pop(0)[1]))
        if step.time_s > begins_s:
            days += drying_curve.drive_at(step.temp_c, step.rh_pct) / here * STEP_S / DAY_S
    at += [(days, loss_pct) for _, loss_pct in waiting]
    last_s = weighings[-1][0] if weighings else now_s
    return Drying(
        temp_c=temp_c,
        rh_pct=rh_pct,
        begun=begun,
        now_days=at[-1][0] if at else days,
        weighings=tuple(at),
        last_s=last_s,
        loss_pct=losses[-1][1],
    )


def _count(
    record: BatchRecord, losses: Sequence[tuple[float, float]], hung_s: float
) -> tuple[float, Begun, list[tuple[float, float]]]:
    """Return from when the days of drying count, with which loss, and the weighings after that."""
    stages = record.card.profile.stages
    ends = [span.ended_s for span in spans_of(record) if stages[span.place].kind in APART and span.ended_s is not None]
    if not ends:
        return max(hung_s, losses[0][0]), Begun(), list(losses[1:])
    since = [(at_s, loss_pct) for at_s, loss_pct in losses if at_s >= ends[-1]]
    if since:
        sigma = drying_curve.WEIGHING_SIGMA_PCT
        return since[0][0], Begun(max(since[0][1], 0.0), sigma**2), since[1:]
    return ends[-1], Begun(max(losses[-1][1], 0.0), UNWEIGHED_VARIANCE_PCT2), []


def _present(record: BatchRecord, stage: Stage, air: Sequence[Air], now_s: float) -> tuple[float, float]:
    """Return the present climate: the mean of what was logged lately in this stage, else what the stage asks for."""
    if stage.where != "chamber":
        return wanted_of(stage)
    began_s = max((span.began_s for span in spans_of(record)), default=now_s)
    lately = [step for step in air if step.logged and step.time_s > max(began_s, now_s - LATELY_S)]
    if len(lately) * STEP_S < KNOWN_AFTER_S:
        return wanted_of(stage)
    return sum(step.temp_c for step in lately) / len(lately), sum(step.rh_pct for step in lately) / len(lately)


def _way(record: BatchRecord, stages: Sequence[Stage], drying: Drying, target: float) -> Way:
    """Return the way to the target; the present climate comes first."""
    mix, lactate_mol = composition_of(record.card)
    diameter_mm = record.card.batch.diameter_mm

    def end_of_curve_pct(rh_pct: float) -> float:
        return equilibrium_loss_pct(mix, rh_pct, lactate_mol) + drying_curve.excess_pct(diameter_mm, rh_pct)

    found: list[Ahead] = []
    pause_d, temp_c, rh_pct = 0.0, drying.temp_c, drying.rh_pct
    for number, stage in enumerate(stages):
        if stage.kind not in DRYING:
            pause_d += max(stage.until.hours or 0.0, stage.at_least_h) / 24.0
            continue
        if number:
            temp_c, rh_pct = wanted_of(stage)
        until_pct = target if stage.until.weight_loss_pct is None else min(stage.until.weight_loss_pct, target)
        found.append(
            Ahead(
                until_pct=until_pct,
                end_pct=end_of_curve_pct(rh_pct) - end_of_curve_pct(drying.rh_pct),
                speed=drying_curve.drive_at(temp_c, rh_pct) / drying_curve.drive_at(drying.temp_c, drying.rh_pct),
                excess_pct=drying_curve.excess_pct(diameter_mm, rh_pct),
            )
        )
        if until_pct >= target:
            break
    return Way(tuple(found), pause_d, rh_pct)
