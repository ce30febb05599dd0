"""The picture of the acid: each pH against the degree-hours that had been used up when it was measured."""

from typing import Any, Final

from msgspec import Struct

from controller.food.degree_hours import BINDING, TARGET_PH, US
from controller.review.drawing.axis import Axis
from controller.review.drawing.svg import box, line
from controller.review.ferment import degree_hours_at
from controller.review.readings import is_ph_that_counts
from controller.review.release.evidence import JUST_AFTER_S, Evidence
from controller.review.report.pictures.paper import (
    INK,
    NARROW,
    PAPERS,
    SOFT,
    Paper,
    Picture,
    frame,
    legend,
    small,
    stroke,
    svg,
    width_of,
)
from controller.review.report.shown import Shown, Table, number

KEY: Final = "acid"
HEIGHT: Final = 230.0
TOP: Final = 24.0


class Taken(Struct, frozen=True, kw_only=True):
    """Hold one pH with the degree-hours at its instant, in both rules' own units."""

    at_s: float
    ph: float
    counts: bool
    instrument: str
    actor: str
    note: str
    hours_f: float | None
    hours_c: float | None


def taken_in_ferment(evidence: Evidence) -> list[Taken]:
    """Return each pH that stands, up to the end of the ferment, with the degree-hours up to then.

    They are counted as the review counts them, but on beyond pH 5.3, so that later readings find their place.
    """
    hung_s, record = evidence.hung_s, evidence.record
    readings = [row for row in evidence.readings if row.kind == "ph" and row.value is not None]
    ferments = evidence.of_kind("ferment")
    if ferments and ferments[-1].span.ended_s is not None:
        readings = [row for row in readings if row.time_s <= ferments[-1].ends_s + JUST_AFTER_S]
    began_s = ferments[0].span.began_s if ferments else None
    begin_s = began_s if hung_s is None else hung_s
    since = [] if begin_s is None else [row.time_s for row in readings if row.time_s >= begin_s]
    counts = {} if begin_s is None else dict(zip(since, degree_hours_at(record, begin_s, since), strict=True))
    return [
        Taken(
            at_s=row.time_s,
            ph=row.value or 0.0,
            counts=is_ph_that_counts(row),
            instrument=row.instrument,
            actor=row.actor,
            note=row.note,
            hours_f=counts[row.time_s].fahrenheit if row.time_s in counts else None,
            hours_c=counts[row.time_s].celsius if row.time_s in counts else None,
        )
        for row in readings
    ]


def acid_picture(evidence: Evidence, shown: Shown) -> Picture:
    """Return the picture of the pH against the degree-hours of the rule that is used up most."""
    taken, ferment = taken_in_ferment(evidence), evidence.figures["ferment"]
    is_us = _is_us(evidence)
    unit, limit = ("°F·h", ferment["limit_f"]) if is_us else ("°C·h", ferment["limit_c"])
    title = "pH against degree-hours"
    used = ferment["degree_hours_f" if is_us else "degree_hours_c"]
    says = f"{len(taken)} readings of pH in the ferment."
    if limit is not None:
        says += f" {used:.0f} of {limit:.0f} {unit} were used up"
        hours = ferment["hours_to_ph_5_3"]
        says += " and pH 5.3 was not reached." if hours is None else f" when pH 5.3 was reached, after {hours:.1f} h."
    drawn = {paper.name: _draw(taken, ferment, is_us=is_us, paper=paper, title=title, says=says) for paper in PAPERS}
    note = "The count that is judged ends at the first pH of 5.3 or lower; later readings are only placed by it."
    return Picture(id=KEY, title=title, says=says, drawn=drawn, table=_table(taken, shown), note=note)


def _is_us(evidence: Evidence) -> bool:
    """Say whether the US rule is drawn: the only one in force, or the one of which least is left."""
    binding = BINDING[evidence.record.card.chamber.degree_hours_rule]
    margin = evidence.figures["ferment"]["margin"]
    return US in binding and (len(binding) == 1 or margin is None or margin["rule"] == "us")


def _draw(taken: list[Taken], ferment: dict[str, Any], *, is_us: bool, paper: Paper, title: str, says: str) -> str:
    key = f"{KEY}-{paper.name}"
    unit, letter = ("°F·h", "f") if is_us else ("°C·h", "c")
    limit, guarded = ferment[f"limit_{letter}"], ferment["guarded"][f"degree_hours_{letter}"]
    placed = [(one, hours) for one in taken if (hours := one.hours_f if is_us else one.hours_c) is not None]
    furthest = max([limit or 0.0, guarded, *(hours for _, hours in placed)]) * 1.08 or 1.0
    x = Axis(0.0, furthest, paper.left, paper.right)
    phs = [one.ph for one, _ in placed]
    y = Axis(min([*phs, TARGET_PH]) - 0.25, max([*phs, TARGET_PH]) + 0.25, TOP + HEIGHT, TOP)
    bottom = y.first
    parts = []
    if limit is not None:
        wide = x.last - x(limit)
        parts.append(box(x(limit), TOP, wide, HEIGHT, f"url(#{key}-gap)"))
    parts += [*frame(x, y, "", 6), small(paper.left, 12, "pH", more="font-weight='bold'")]
    for value in x.ticks(4 if paper is NARROW else 8):
        parts += [line([(x(value), bottom), (x(value), bottom + 4)], 0.9, "", INK),
                  small(x(value), bottom + 16, f"{value:g}", "middle")]  # fmt: skip
    parts.append(small((x.first + x.last) / 2, bottom + 31, f"degree-hours, {unit}", "middle"))
    parts.append(line([(x.first, y(TARGET_PH)), (x.last, y(TARGET_PH))], 1.2, "7,3", INK))
    if limit is not None:
        parts.append(line([(x(limit), TOP), (x(limit), bottom)], 1.8, "2,2", INK))
        parts.append(small(x(limit) - 4, TOP + 13, f"limit {limit:.0f}", "end"))
    if ferment["hours_to_ph_5_3"] is not None:
        parts += _guarded(x(guarded), bottom)
    parts += _readings(placed, x, y, paper.width if limit is None else x(limit))
    entries = [(stroke(1.2, "7,3"), f"pH {TARGET_PH:g}"), (stroke(1.8, "2,2"), "limit"),
               (f"<circle cx='13' cy='0' r='4' fill='{INK}'/>", "reading by a meter")]  # fmt: skip
    if any(not one.counts for one, _ in placed):
        entries.append((f"<circle cx='13' cy='0' r='3.5' fill='white' stroke='{INK}'/>", "noted only"))
    if ferment["hours_to_ph_5_3"] is not None:
        entries.append((f"<g transform='translate(13 4)'>{''.join(_guarded(0, 0))}</g>", "count with the errors added"))
    words, more = legend(paper, bottom + 40, entries)
    return svg(KEY, title, says, paper, bottom + 40 + more, [*parts, *words])


def _guarded(x: float, y: float) -> list[str]:
    """Return the mark on the axis of the count with the instruments' errors added."""
    corners = f"{x - 5:.1f},{y:.1f} {x:.1f},{y - 9:.1f} {x + 5:.1f},{y:.1f}"
    return [f"<polygon points='{corners}' fill='white' stroke='{INK}' stroke-width='1.3'/>"]


def _readings(placed: list[tuple[Taken, float]], x: Axis, y: Axis, limit_x: float) -> list[str]:
    """Return the readings, those of a meter joined, each with its pH where there is room, and not across the limit."""
    parts = []
    joined = [(x(hours), y(one.ph)) for one, hours in placed if one.counts]
    if len(joined) > 1:
        parts.append(line(joined, 1.0, "", SOFT))
    last_x = float("-inf")
    for one, hours in placed:
        place_x, place_y = x(hours), y(one.ph)
        style = f"fill='{INK}'" if one.counts else f"fill='white' stroke='{INK}' stroke-width='1.2'"
        parts.append(f"<circle cx='{place_x:.1f}' cy='{place_y:.1f}' r='{4 if one.counts else 3.5}' {style}/>")
        if place_x - last_x >= width_of("5.30") + 6:
            is_left = place_x < limit_x < place_x + width_of("5.30") + 8 or x.last < place_x + width_of("5.30") + 8
            at = (place_x - 6, place_y + 14) if is_left else (place_x + 6, place_y - 6)
            parts.append(small(*at, f"{one.ph:.2f}", "end" if is_left else "start"))
            last_x = place_x
    return parts


def _table(taken: list[Taken], shown: Shown) -> Table:
    return Table(
        caption="The pH readings that stand, up to the end of the ferment",
        head=("When", "pH", "°F·h by then", "°C·h by then", "By", "Entered by", "Note"),
        rows=[
            (shown.at(one.at_s), f"{one.ph:.2f}", number(one.hours_f, 0), number(one.hours_c, 0),
             one.instrument if one.counts else f"{one.instrument} (noted only)", one.actor, one.note)
            for one in taken
        ],
        numbers=(1, 2, 3),
        wide=True,
        nothing="No pH was entered.",
    )  # fmt: skip
