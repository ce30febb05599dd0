"""The tables of what people did: every entry and its corrections, alarms and what was done, gaps, decisions."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from controller.review.release.evidence import Evidence
from controller.review.report.shown import NONE, UNITS, Cell, Shown, Struck, Table, number

KINDS: Final = {
    "ph": "pH",
    "weight": "weight",
    "core_temp": "core",
    "smoker_temp": "smoker",
    "water_activity": "water activity",
}


def readings_table(evidence: Evidence, shown: Shown) -> Table:
    """Return every reading in the order of its time, also those that were replaced, with who entered it when."""
    readings = evidence.record.readings
    replaced = {(row.replaces, row.kind, row.piece): row.id for row in readings if row.replaces}
    rows: list[tuple[Cell, ...]] = []
    for row in sorted(readings, key=lambda row: row.time_s):
        value = f"{row.text} {UNITS.get(row.unit, row.unit)}".strip()
        value = shown.words(value) if row.unit == "Cel" else value
        by = replaced.get((row.id, row.kind, row.piece))
        what = KINDS.get(row.kind, row.kind) + (f" of {row.piece}" if row.piece else "")
        notes = [shown.words(row.note)] if row.note else []
        notes += [f"replaces {row.replaces}"] if row.replaces else []
        notes += [f"replaced by {by}"] if by else []
        rows.append(
            (
                shown.at(row.time_s),
                what,
                Struck(value) if by else value,
                row.instrument,
                row.actor,
                shown.at(row.entered_s),
                row.id,
                "; ".join(notes),
            )
        )
    return Table(
        caption="What was measured or seen, every entry", wide=True, nothing="Nothing was entered.", numbers=(2,),
        head=("When", "What", "Value", "By", "Entered by", "Entered at", "Entry", "Note"), rows=rows,
    )  # fmt: skip


def corrections_table(evidence: Evidence, shown: Shown) -> Table:
    """Return what was corrected, with old and new value and who did it when."""
    rows = [
        (
            shown.at(one["entered"]),
            KINDS.get(one["kind"], one["kind"]) + (f" of {one['piece']}" if one["piece"] else ""),
            NONE if one["old"] is None else Struck(_value(one["old"], one["unit"])),
            _value(one["new"], one["unit"]),
            one["old_actor"] or NONE,
            one["actor"],
            f"{one['replaces']}, now {one['id']}",
        )
        for one in evidence.figures["corrections"]
    ]
    return Table(
        caption="Corrections", wide=True, nothing="Nothing was corrected.", rows=rows, numbers=(2, 3),
        head=("Corrected at", "What", "Old value", "New value", "Old by", "New by", "Entry"),
    )  # fmt: skip


def _value(value: float | str, unit: str) -> str:
    said = f"{value:g}" if isinstance(value, float) else value
    return f"{said} {UNITS.get(unit, unit)}".strip()


def alarms_table(evidence: Evidence, shown: Shown) -> Table:
    """Return every alarm with how long it lasted and what was done about it."""
    rows = [
        (
            one["id"],
            one["priority"],
            shown.at(one["raised"]),
            f"{one['title']}. {shown.words(one['text'])}",
            number(one["active_h"]),
            "; ".join(_done(one, shown)),
        )
        for one in evidence.figures["alarm_history"]
    ]
    return Table(
        caption="Alarms, and what was done (priority 1: act within half an hour; 2: within hours; 3: within a day)",
        head=("Alarm", "Priority", "Raised", "What", "Lasted, h", "Done about it"), rows=rows, numbers=(4,), wide=True,
        nothing="No alarm was raised.",
    )  # fmt: skip


def _done(alarm: Mapping[str, Any], shown: Shown) -> Iterator[str]:
    for what in ("seen", "cleared"):
        if alarm[what] is not None:
            yield f"{what} by {alarm[what]['by']} after {alarm[what]['after_h']:.1f} h"
    for one in alarm["quieted"]:
        yield f"quieted by {one['by']} after {one['after_h']:.1f} h"
    if alarm["follows"]:
        yield f"followed from {alarm['follows']}"
    if alarm["called"] > 1:
        yield f"called {alarm['called']} times"
    if alarm["returned"] is not None:
        yield f"over at {shown.at(alarm['returned'])}"
    elif alarm["open"]:
        yield "still there at the end of the record"


def gaps_table(evidence: Evidence, shown: Shown) -> Table:
    """Return the times without a row, and those at which the program was away, as the diary tells them."""
    rows: list[tuple[Cell, ...]] = [
        (shown.at(gap["from"]), shown.at(gap["to"]), number(gap["hours"]), "no row of climate")
        for gap in evidence.figures["gaps"]
    ]
    rows += [
        (NONE, shown.at(one["back"]), one["length"] or "see there",
         f"{one['why']}: {shown.words(' '.join((one['text'], *one['later'])))}")
        for one in evidence.figures["breaks"]
    ]  # fmt: skip
    return Table(
        caption="Gaps in the record, and times without the program", nothing="There is no gap.", wide=True,
        head=("From", "To, or back at", "Hours", "What is known"), rows=rows, numbers=(2,),
    )  # fmt: skip


def people_table(evidence: Evidence, shown: Shown) -> Table:
    """Return what people decided and noted, by its time."""
    told = [(one["time"], one["kind"], one["text"], one["actor"]) for one in evidence.figures["decisions"]]
    told += [(one["time"], one["about"], one["text"], one["actor"]) for one in evidence.figures["notes"]]
    return Table(
        caption="What people decided and noted", nothing="Nothing is in the diary.", wide=True,
        head=("When", "Kind", "What", "By"),
        rows=[(shown.at(time), kind, shown.words(text), actor) for time, kind, text, actor in sorted(told)],
    )  # fmt: skip


def entered_table(evidence: Evidence) -> Table:
    """Return who typed what: how many entries of each kind, and the longest time from measuring to typing."""
    rows = [
        (
            one["actor"] or "nobody named",
            ", ".join(f"{count} {KINDS.get(kind, kind)}" for kind, count in one["readings"].items()) or "none",
            ", ".join(f"{count} {kind}" for kind, count in one["diary"].items()) or "none",
            number(one["latest_after_h"], 2),
        )
        for one in evidence.figures["entered_by"]
    ]
    return Table(
        caption="Who entered what", head=("Person", "Readings", "Else in the diary", "Latest entry, h after measuring"),
        rows=rows, numbers=(3,), nothing="Nobody entered anything.", wide=True,
    )  # fmt: skip
