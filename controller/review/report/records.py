"""The tables of a report: what went in, what was meant and what came, who measured and did what."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from controller.core.fault_words import bare_name
from controller.food.bowl.cure import AUTHORITY_NAMES
from controller.review.release.drying import USEFUL
from controller.review.release.evidence import Evidence, Section
from controller.review.report.shown import ENDS, NONE, UNITS, Cell, Shown, Stands, Table, number


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
