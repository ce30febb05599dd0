"""Forecast one batch, from what stands in its folder and nothing else."""

from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from controller.food.acid import CULTURES
from controller.review.batch import BatchRecord, read_batch
from controller.review.forecast import losing, souring
from controller.review.forecast.climate import place_at
from controller.review.forecast.told import Forecast
from controller.review.priors.kept import Priors, acid_for, drying_for, use_priors
from controller.review.stages import spans_of


class Outlook(Struct, frozen=True, kw_only=True):
    """Hold the forecasts of a batch; where there are none, `nothing` says why.

    `why_not` says why the learned priors that lie there are not used.
    """

    batch: str
    timezone: str
    forecasts: tuple[Forecast, ...]
    nothing: str = ""
    why_not: str = ""


def outlook(folder: Path, now_s: float | None = None) -> Outlook:
    """Return what can be forecast of a batch, with the priors that were learned where it lies.

    Args:
        folder: of the batch.
        now_s: wall seconds; None: the newest row or reading of the folder. What is younger is not looked at, so a
            forecast can be made afterwards as it would have been then.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged.
    """
    return outlook_of(read_batch(folder), now_s)


def outlook_of(record: BatchRecord, now_s: float | None = None) -> Outlook:
    """Return what can be forecast of what was read; `now_s` as above."""
    if now_s is None:
        told_s = [row.time_s for rows in (record.readings, record.events) for row in rows]
        last_s = record.climate.last_s
        now_s = max(told_s if last_s is None else [*told_s, last_s], default=0.0)
    record = as_of(record, now_s)
    use = use_priors(record.folder.resolve().parent.parent)
    forecasts, nothing = _forecasts(record, now_s, use.priors)
    return Outlook(
        batch=record.card.batch.id,
        timezone=record.card.chamber.timezone,
        forecasts=tuple(forecasts),
        nothing="" if forecasts else nothing,
        why_not=use.why_not,
    )


def as_of(record: BatchRecord, now_s: float) -> BatchRecord:
    """Return what was known of a batch at an instant."""
    return replace(
        record,
        log=record.log.until(now_s),
        readings=[row for row in record.readings if row.time_s <= now_s],
        events=[row for row in record.events if row.time_s <= now_s],
    )


def _forecasts(record: BatchRecord, now_s: float, priors: Priors) -> tuple[list[Forecast], str]:
    """Return the forecasts, and why there may be none."""
    hung_s = next((event.time_s for event in record.events if event.kind == "hang"), None)
    if hung_s is None:
        return [], "the meat is not hung yet"
    if any(event.kind == "end" for event in record.events) or (
        record.climate.last is not None and record.climate.last.state == "complete"
    ):
        return [], "the batch is over"
    place = place_at(record, spans_of(record), now_s)
    stage = record.card.profile.stages[place]
    if stage.kind in {"warm-up", "ferment"}:
        if record.card.profile.starter not in CULTURES:
            return [], "it has no starter, and without one nobody can say how its pH falls"
        ferment = next((stage for stage in record.card.profile.stages if stage.kind == "ferment"), stage)
        return souring.forecasts(record, ferment, hung_s, now_s, acid_for(priors, record.card)), ""
    if stage.kind in losing.DRYING:
        learned = drying_for(priors, record.card)
        found = losing.forecasts(record, place, hung_s, now_s, learned)
        return found, "nothing has been weighed: hangroom weigh A=412"
    return [], f"it is in the stage {stage.name}; a pH is forecast in a ferment, a loss while it dries"
