"""Say what of a record is damaged or missing: whatever rests on it knows less than it seems to."""

from collections.abc import Iterator
from typing import Any, Final, get_args

from controller.core.values import EntryKind
from controller.records.csv_text import time_text
from controller.review.batch import BatchRecord
from controller.review.cut import cuts_of, tell_cut
from controller.review.logs.damage import Unread, numbers_text
from controller.review.logs.order import Disorder
from controller.review.logs.survey import Gap

HOUR_S: Final = 3600.0
KNOWN_KINDS: Final = frozenset(get_args(EntryKind))


def damage_of(record: BatchRecord) -> Iterator[str]:
    """Yield a sentence for what is missing, or was left out because it cannot be read."""
    for name, rows in record.damaged.items():
        row, left = ("row", "is") if rows == 1 else ("rows", "are")
        yield f"{rows} {row} of {name} cannot be read and {left} left out"
    if not (record.folder / "events.csv").is_file():
        yield "events.csv is not there: hanging, stages and alarms are not known"
    if not (record.folder / "readings.csv").is_file() and any(event.kind == "hang" for event in record.events):
        yield "readings.csv is not there: nothing that was measured is known"
    yield from _unknown_kinds(record)
    if not record.climate.rows:
        yield "no row of climate-YYYY-MM-DD.csv is there: no climate is known"
    for cut in cuts_of(record):
        yield tell_cut(cut, record.card.chamber.timezone)
    yield from _order_told(record.log.disorder)
    gaps = gaps_of(record)
    if gaps:
        hours = sum(gap["hours"] for gap in gaps)
        yield f"the climate of {hours:.1f} h is missing, in {len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'}"


def _unknown_kinds(record: BatchRecord) -> Iterator[str]:
    """Yield what was measured of a kind that is not known here: another version's, or a word that was changed."""
    kinds = [row.kind for row in record.readings if row.kind not in KNOWN_KINDS]
    if kinds:
        rows, named = len(kinds), ", ".join(f"{kind[:20]!r}" for kind in sorted(set(kinds))[:3])
        row, count = ("row", "counts") if rows == 1 else ("rows", "count")
        yield f"{rows} {row} of readings.csv {count} for nothing: of a kind that is not known here ({named})"


def gaps_of(record: BatchRecord) -> list[dict[str, Any]]:
    """Return where rows are missing, leaving out the time that the batch spent elsewhere."""
    return [gap_figures(gap) for gap in record.climate.gaps if not _was_elsewhere(record, gap)]


def gap_figures(gap: Gap) -> dict[str, Any]:
    """Return one gap as plain values for JSON."""
    from_s, to_s = gap.before.time_s, gap.row.time_s
    return {"from": time_text(from_s), "to": time_text(to_s), "hours": round((to_s - from_s) / HOUR_S, 3)}


def unread_figures(*unread: Unread) -> list[dict[str, Any]]:
    """Return what could not be read: file, how many lines, which ones, and why, the most frequent reason first."""
    return [
        {
            "file": name,
            "rows": damage.rows,
            "lines": numbers_text(damage.lines, damage.rows),
            "why": ", ".join(
                f"{why} ({rows})" for why, rows in sorted(damage.why.items(), key=lambda item: (-item[1], item[0]))
            ),
        }
        for one in unread
        for name, damage in sorted(one.files.items())
    ]


def order_figures(disorder: Disorder) -> dict[str, Any]:
    """Return the copies that were left out, and the steps of the clock, as plain values for JSON."""
    return {
        "copies": [
            {"from": time_text(copy.from_s), "to": time_text(copy.to_s), "rows": copy.rows} for copy in disorder.copies
        ],
        "clock_steps": [
            {
                "from": time_text(step.from_s),
                "to": time_text(step.to_s),
                "hours": round((step.to_s - step.from_s) / HOUR_S, 3),
            }
            for step in disorder.steps
        ],
    }


def _order_told(disorder: Disorder) -> Iterator[str]:
    rows = sum(copy.rows for copy in disorder.copies)
    if rows:
        row, stand, left = ("row", "stands", "is") if rows == 1 else ("rows", "stand", "are")
        yield f"{rows} {row} of climate {stand} there a second time, letter for letter, and {left} left out"
    if disorder.steps:
        back_h = max(step.from_s - step.to_s for step in disorder.steps) / HOUR_S
        often = "once" if len(disorder.steps) == 1 else f"{len(disorder.steps)} times"
        yield f"the clock went back {often}, by {back_h:.1f} h at most: each row counts as time that has passed"


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
