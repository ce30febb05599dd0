"""Put a report together: gather, draw, fill in the page."""

import re
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from controller.food.bowl.cure import CAUTION
from controller.review.batch import read_batch
from controller.review.logs.course import Course, course_of
from controller.review.logs.scan import NO_HINTS
from controller.review.logs.spreadsheet import Hints
from controller.review.release.evidence import Evidence, evidence_of
from controller.review.release.sheet import CAUTIONS, sections_of, who_decides
from controller.review.release.souring import degree_hours_section
from controller.review.report import entries, records
from controller.review.report.first import OVER, deviations, five_figures, what_and_when
from controller.review.report.pictures.acid import acid_picture
from controller.review.report.pictures.climate import climate_picture
from controller.review.report.pictures.core import core_picture
from controller.review.report.pictures.drying import drying_picture
from controller.review.report.pictures.duties import duties_picture
from controller.review.report.pictures.paper import Lane, Picture, Times
from controller.review.report.shown import Code, Say, Shown, Table
from controller.review.report.sources import sources_of

TEMPLATES: Final = Path(__file__).parent / "templates"
POINTS: Final = 640
"""About one for each place across the paper."""
PLAIN: Final = re.compile(r"[\w.-]{1,80}")


def report(
    folder: Path, *, made_s: float, version: str, say: Say, out: Path | None = None, hints: Hints = NO_HINTS
) -> str:
    """Return the report of a batch, finished or running, as the text of one HTML file.

    Args:
        folder: of the batch.
        made_s: when it is made, seconds since 1970 UTC.
        version: of the program.
        say: puts a sentence of the program into local time and the chamber's units.
        out: where it will be written, which is no source.
        hints: what a person says about the times of a climate file that a spreadsheet has saved again.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged, or a file cannot be read.
    """
    sources = sources_of(folder, out)  # First: what is written meanwhile is in no sum, and hardly in a figure.
    evidence = evidence_of(read_batch(folder, hints=hints))
    chamber = evidence.record.card.chamber
    shown = Shown(timezone=chamber.timezone, units=chamber.units, say=say)
    criteria = sections_of(evidence)
    degree_hours = degree_hours_section(evidence).comes_to
    batch = evidence.record.card.batch.id
    return _environment().get_template("page.html").render(
        batch=batch,
        footer=batch if PLAIN.fullmatch(batch) else "",
        title=evidence.record.card.profile.title,
        shown=shown,
        made=shown.at(made_s),
        version=version,
        running=evidence.figures["state"] not in OVER,
        what=what_and_when(evidence, shown),
        five=five_figures(evidence, shown),
        deviations=deviations(evidence, criteria, shown),
        decides=who_decides(evidence, degree_hours),
        cautions=[CAUTION, *CAUTIONS],
        pictures=_pictures(evidence, shown),
        tables=_tables(evidence, shown),
        criteria=records.criteria_table(criteria, shown),
        notes=[(part.title, [shown.words(said) for said in (*part.estimates, *part.notes)]) for part in criteria],
        sources=Table(
            caption="The files this record was made from",
            head=("File", "Bytes", "SHA-256"),
            rows=[(Code(one.name), f"{one.bytes}", Code(one.sha256)) for one in sources],
            numbers=(1,),
        ),
    )  # fmt: skip


def _environment() -> Environment:
    found = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    found.globals["style"] = Markup((TEMPLATES / "style.css").read_text("utf-8"))  # noqa: S704 - a file of our own
    found.filters["drawn"] = Markup  # Drawings escape what they say (review/drawing/svg).
    return found


def _pictures(evidence: Evidence, shown: Shown) -> list[Picture]:
    line = course_of(evidence.record.log, POINTS)
    times = _times(evidence, line, ZoneInfo(shown.timezone))
    found = [
        climate_picture(line, times, evidence.figures, shown),
        acid_picture(evidence, shown),
        core_picture(evidence, times, shown),
        drying_picture(evidence, times, shown),
        duties_picture(line, times, evidence.figures),
    ]
    return [picture for picture in found if picture is not None]


def _times(evidence: Evidence, line: Course, zone: ZoneInfo) -> Times:
    """Return what the time axes show: from the first row or stage to the last that is known."""
    known = [
        *line.time_s,
        *(placed.span.began_s for placed in evidence.stages),
        *(placed.ends_s for placed in evidence.stages),
    ]
    return Times(
        begin_s=min(known, default=0.0),
        end_s=max(known, default=3600.0),
        zone=zone,
        stages=[
            (placed.stage.name, placed.span.began_s, placed.ends_s, placed.stage.where == "elsewhere")
            for placed in evidence.stages
        ],
        gaps=[(records.seconds(gap["from"]), records.seconds(gap["to"])) for gap in evidence.figures["gaps"]],
        alarms=[
            Lane(name=one["id"], from_s=records.seconds(one["raised"]),
                 until_s=records.seconds(one["raised"]) + 3600.0 * one["active_h"], urgent=one["priority"] == "1")
            for one in evidence.figures["alarm_history"]
        ],
    )  # fmt: skip


def _tables(evidence: Evidence, shown: Shown) -> dict[str, list[Table]]:
    """Return the tables of the record by the heading they stand under, in their order."""
    return {
        "Recipe and ingoing figures": [records.bowl_table(evidence, shown), records.ingoing_table(evidence)],
        "Stages": [records.stages_table(evidence, shown)],
        "Instruments": [records.sensors_table(evidence, shown), records.checks_table(evidence, shown)],
        "Readings and corrections": [
            entries.readings_table(evidence, shown),
            entries.corrections_table(evidence, shown),
            entries.entered_table(evidence),
        ],
        "Alarms, gaps and decisions": [
            entries.alarms_table(evidence, shown),
            entries.gaps_table(evidence, shown),
            entries.people_table(evidence, shown),
        ],
    }
