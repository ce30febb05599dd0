"""The tables of a report: what went in, what was meant and what came, who measured and did what."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from controller.core.fault_words import bare_name
from controller.food.bowl.cure import AUTHORITY_NAMES
from controller.review.release.drying import USEFUL
from controller.review.release.evidence import Evidence, Section
from controller.review.report.shown import ENDS, NONE, Cell, Shown, Stands, Struck, Table, number

OUTPUT_WORDS: Final = {
    "heater": "lamp",
    "humidifier": "mist",
    "cooler": "cooling",
    "dehumidifier": "dehumidifier",
    "fan": "fan",
    "fresh_air": "fresh air",
    "sounder": "sounder",
    "master": "master",
}
KINDS: Final = {
    "ph": "pH",
    "weight": "weight",
    "core_temp": "core",
    "smoker_temp": "smoker",
    "water_activity": "water activity",
}
UNITS: Final = {"Cel": "°C", "[degF]": "°F", "1": "", "pH": ""}
THE_PROGRAM: Final = "hangroom"


def bowl_table(evidence: Evidence, shown: Shown) -> Table:
    """Return what went into the bowl, line by line where a plan tells, else the card's grams."""
    card, sheet = evidence.record.card, evidence.sheet
    rows: list[tuple[Cell, ...]]
    if sheet is None:
        grams = card.formulation
        lines = (
            ("salt", grams.salt_g),
            ("cure", grams.cure_g),
            ("dextrose", grams.dextrose_g),
            ("starter", grams.starter_g),
        )
        rows = [("meat", f"{1000.0 * card.batch.meat_kg:.0f}", "", "as started")]
        rows += [(name, f"{value:g}", f"{value / card.batch.meat_kg / 10.0:.2f} of the meat", "by the profile")
                 for name, value in lines]  # fmt: skip
    else:
        rows = [
            (f"{meat.name} ({meat.species})", f"{1000.0 * meat.kg:.0f}", f"fat {meat.fat_pct:g}",
             f"{'fat taken as usual' if meat.fat_assumed else ''}{meat.treated}")
            for meat in sheet.formula.meats
        ]  # fmt: skip
        rows += [(line.name, f"{line.grams:g}", f"{line.pct:.2f} of the {line.of}", shown.words(line.note))
                 for line in sheet.formula.ingredients]  # fmt: skip
    return Table(
        caption="Into the bowl, as planned", head=("What", "Grams", "Per cent", "Note"), rows=rows, numbers=(1, 2)
    )


def ingoing_table(evidence: Evidence) -> Table:
    """Return ingoing nitrite and nitrate beside the limits of the maker's authority, and the least of any effect."""
    if evidence.sheet is None:
        return Table(
            caption="Ingoing nitrite and nitrate", head=("Limit", "Figure"), rows=[],
            nothing="No plan was made for this batch, so how strong the cure was is not on record.",
        )  # fmt: skip
    ours = AUTHORITY_NAMES[evidence.sheet.authority]
    rows = [
        (
            one.rule,
            NONE if one.value_ppm is None else f"{one.value_ppm:.1f}",
            f"{one.limit_ppm:g}",
            {"max": "at most", "min": "at least", "required": "required"}.get(one.kind, one.kind),
            one.basis,
            {"within": Stands("within"), "over": Stands("over"), "under": Stands("not met", "UNDER it")}.get(
                one.verdict, one.verdict
            ),
            f"{_cited(one.source, confirm=one.confirm)}{f'; {one.note}' if one.note else ''}",
        )
        for one in evidence.sheet.formula.limits
        if one.authority == ours or one.kind == USEFUL
    ]
    return Table(
        caption="Ingoing nitrite and nitrate, mg/kg (ppm)",
        head=("Rule", "Figure", "Limit", "Kind", "Of what", "Stands", "Source"),
        rows=rows, numbers=(1, 2), wide=True,
    )  # fmt: skip


def _cited(source: str, *, confirm: bool) -> str:
    return f"{source}; confirm with your authority" if confirm else source


def stages_table(evidence: Evidence, shown: Shown) -> Table:
    """Return each stage as it was meant, beside how it went."""
    real = {stage["name"]: stage for stage in evidence.figures["stages"]}
    rows = []
    for planned in evidence.figures["planned"]:
        came = real.get(planned["name"])
        rows.append(
            (
                _name(planned),
                _wanted(planned, shown),
                _until(planned, shown),
                _bounds(planned),
                NONE if came is None else number(came["hours"]),
                "not begun" if came is None else shown.at(came["began"]),
                "" if came is None else _end(came, shown),
            )
        )
    return Table(
        caption="The stages, as meant and as they came",
        head=("Stage", "Wanted", "Until", "Meant, h", "Real, h", "Began", "Ended"),
        rows=rows, numbers=(4,), wide=True,
    )  # fmt: skip


def _name(planned: Mapping[str, Any]) -> str:
    """Return the name of a stage, with what it is where the name does not tell."""
    more = [] if planned["name"] == planned["kind"] else [planned["kind"]]
    more += ["elsewhere"] if planned["where"] == "elsewhere" else []
    return f"{planned['name']} ({', '.join(more)})" if more else str(planned["name"])


def _wanted(planned: Mapping[str, Any], shown: Shown) -> str:
    parts = [] if planned["air_temp_c"] is None else [shown.temp(planned["air_temp_c"])]
    parts += (
        []
        if planned["rh_pct"] is None
        else [f"{'at least ' if planned['kind'] == 'ferment' else ''}{planned['rh_pct']:g} %RH"]
    )
    return ", ".join(parts) or "nothing"


def _until(planned: Mapping[str, Any], shown: Shown) -> str:
    until = planned["until"]
    parts = []
    if until["ph_at_most"] is not None:
        parts.append(f"pH {until['ph_at_most']:g} or lower")
    if until["weight_loss_pct"] is not None:
        parts.append(f"{until['weight_loss_pct']:g} % loss")
    if until["core_temp_c"] is not None:
        parts.append(f"core {shown.temp(until['core_temp_c'])}")
    if until["hours"] is not None:
        parts.append(f"{until['hours']:g} h at the right climate")
    if until["confirm"]:
        parts.append("a person confirms")
    return " and ".join(parts) or "a person ends it"


def _bounds(planned: Mapping[str, Any]) -> str:
    least, most, expected = planned["least_h"], planned["most_h"], planned["expected_h"]
    parts = [f"at least {least:g}"] if least else []
    parts += [f"at most {most:g}"] if most is not None else []
    parts += [f"forecast {expected:.0f}"] if expected is not None else []
    return ", ".join(parts) or "open"


def _end(came: Mapping[str, Any], shown: Shown) -> str:
    if came["ended"] is None:
        return "over; when, is on no record" if came["over"] else "goes on"
    why = f" ({ENDS.get(came['by'], came['by'])})" if came["by"] else ""
    return f"{shown.at(came['ended'])}{why}"


def sensors_table(evidence: Evidence, shown: Shown) -> Table:
    """Return the sensors of the chamber file, how far each may be off, and what is added to it."""
    rows = []
    for sensor in evidence.record.card.chamber.sensor:
        offsets = [] if not sensor.offset_k else [f"{sensor.offset_k:+g} K"]
        offsets += [] if not sensor.offset_pct else [f"{sensor.offset_pct:+g} %RH"]
        rows.append(
            (
                bare_name(sensor.channel),
                f"{sensor.kind} {sensor.id or sensor.address or ('' if sensor.pin is None else f'pin {sensor.pin}')}",
                "as its kind" if sensor.error_k is None else f"±{shown.apart(sensor.error_k)}",
                ", ".join(offsets) or "none",
            )
        )
    return Table(caption="Fixed in the chamber", head=("What", "Which", "May be off by", "Offset added"), rows=rows)


def checks_table(evidence: Evidence, shown: Shown) -> Table:
    """Return the checks of instruments: the last before the batch, those during it, the first after it."""
    checks = evidence.figures["checks"]
    rows = [
        (
            shown.at(one["time"]),
            one["instrument"],
            f"{one['method']} ({one['when']})",
            _found(one),
            one["verdict"],
            one["actor"],
            shown.words(one["note"]),
        )
        for one in checks["list"]
    ]
    nothing = "No check of an instrument is on record." if checks["known"] else (
        "This folder does not lie in its chamber's own any more, so its checks, in instruments.csv, are not here."
    )  # fmt: skip
    return Table(
        caption="Checks of instruments", nothing=nothing, wide=True,
        head=("When", "Instrument", "How", "Found", "Comes to", "By", "Note"), rows=rows,
    )  # fmt: skip


def _found(check: Mapping[str, Any]) -> str:
    unit = UNITS.get(check["unit"], check["unit"])
    off = None if check["offset"] is None else round(-check["offset"], 2) or 0.0
    parts = [] if off is None else [f"off by {off:+g} {unit}".rstrip()]
    parts += [] if check["slope_pct"] is None else [f"slope {check['slope_pct']:.1f} %"]
    parts += [] if check["error"] is None else [f"may be off by {check['error']:g} {unit}".rstrip()]
    return ", ".join(parts) or NONE


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


def criteria_table(criteria: Sequence[Section], shown: Shown) -> Table:
    """Return each criterion line by line: asked, found, how it stands, where the limit is published."""
    rows: list[tuple[Cell, ...]] = []
    for part in criteria:
        for place, row in enumerate(part.rows):
            stands = Stands(row.verdict) if row.counts else row.verdict
            what = row.what if place else f"{part.title}: {row.what}"
            rows.append((what, shown.words(row.wanted),
                         shown.words(row.found) or "nothing on record", stands,
                         _cited(row.source, confirm=row.confirm)))  # fmt: skip
    return Table(
        caption="What was asked for a release, and what was found; a line without a box does not count",
        head=("Criterion", "Asked", "Found", "Stands", "Source"), rows=rows, wide=True,
    )  # fmt: skip


def seconds(time: str) -> float:
    """Return the seconds since 1970 UTC of a time of the review."""
    return datetime.fromisoformat(time).timestamp()
