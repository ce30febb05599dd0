"""Say what of a record is damaged or missing: whatever rests on it knows less than it seems to."""

from collections.abc import Iterator
from typing import Any, Final

from controller.records.csv_text import time_text
from controller.review.batch import BatchRecord
from controller.review.cut import cuts_of, tell_cut
from controller.review.logs.survey import Gap

HOUR_S: Final = 3600.0


def damage_of(record: BatchRecord) -> Iterator[str]:
    """Yield a sentence for what is missing, or was left out because it cannot be read."""
    for name, rows in record.damaged.items():
        row, left = ("row", "is") if rows == 1 else ("rows", "are")
        yield f"{rows} {row} of {name} cannot be read and {left} left out"
    if not (record.folder / "events.csv").is_file():
        yield "events.csv is not there: hanging, stages and alarms are not known"
    if not (record.folder / "readings.csv").is_file() and any(event.kind == "hang" for event in record.events):
        yield "readings.csv is not there: nothing that was measured is known"
    if not record.climate.rows:
        yield "no row of climate-YYYY-MM-DD.csv is there: no climate is known"
    for cut in cuts_of(record):
        yield tell_cut(cut, record.card.chamber.timezone)
    gaps = gaps_of(record)
    if gaps:
        hours = sum(gap["hours"] for gap in gaps)
        yield f"the climate of {hours:.1f} h is missing, in {len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'}"


def gaps_of(record: BatchRecord) -> list[dict[str, Any]]:
    """Return where rows are missing, leaving out the time that the batch spent elsewhere."""
    return [
        {
            "from": time_text(gap.before.time_s),
            "to": time_text(gap.row.time_s),
            "hours": round((gap.row.time_s - gap.before.time_s) / HOUR_S, 3),
        }
        for gap in record.climate.gaps
        if not _was_elsewhere(record, gap)
    ]


def _was_elsewhere(record: BatchRecord, gap: Gap) -> bool:
    """Say whether a stage between these two rows was not in this chamber."""
    before, row = gap.before, gap.row
    stages = record.card.profile.stages
    names = [stage.name for stage in stages]
    if before.stage not in names or (row.stage not in names and row.state != "complete"):
        return False
    begin = names.index(before.stage)
    end = names.index(row.stage) if row.stage in names else len(names)
    return any(stage.where == "elsewhere" for stage in stages[begin:end])
