"""The picture of what the outputs did: of each the share of the time it was on."""

from typing import Any, Final

from controller.review.drawing.axis import Axis, TimeAxis
from controller.review.drawing.svg import line
from controller.review.logs.course import Course
from controller.review.report.pictures.paper import (
    PAPERS,
    SOFT,
    Paper,
    Picture,
    Times,
    background,
    names_height,
    small,
    stage_names,
    svg,
    time_marks,
)
from controller.review.report.shown import NONE, Table, number

KEY: Final = "duties"
OUTPUTS: Final = {
    "heater": "Lamp",
    "humidifier": "Mist",
    "cooler": "Cooling",
    "dehumidifier": "Dehumidifier",
    "fan": "Fan",
}
PLOT: Final = 40.0
STEP: Final = 62.0


def duties_picture(course: Course, times: Times, figures: dict[str, Any]) -> Picture | None:
    """Return the picture of the outputs of this chamber; None where no row tells of any."""
    known = {
        role: words for role, words in OUTPUTS.items() if any(v is not None for v in getattr(course, f"{role}_pct"))
    }
    if not known:
        return None
    title = "What lamp, mist, cooling and fan did"
    means = {role: _mean(getattr(course, f"{role}_pct")) for role in known}
    told = "; ".join(f"{known[role]} on {number(mean, 0)} % of the time" for role, mean in means.items())
    says = f"Over the whole record: {told}."
    return Picture(
        id=KEY,
        title=title,
        says=says,
        drawn={paper.name: _draw(course, times, known, paper, title, says) for paper in PAPERS},
        table=_table(figures, known),
        note="Each column stands for the share of its time in which the output was on, from 0 to 100 %.",
    )


def _mean(values: tuple[float | None, ...]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def _draw(course: Course, times: Times, known: dict[str, str], paper: Paper, title: str, says: str) -> str:
    key = f"{KEY}-{paper.name}"
    x = TimeAxis(times.begin_s, times.end_s, paper.left, paper.right, times.zone)
    first = names_height(times, x, paper) + 18
    parts = []
    bottom = first
    for place, (role, words) in enumerate(known.items()):
        top = first + STEP * place
        bottom = top + PLOT
        y = Axis(0.0, 100.0, bottom, top)
        parts += list(background(times, x, top, bottom, key))
        parts += _columns(course, role, x, y)
        parts += [
            line([(x.first, bottom), (x.last, bottom)], 0.9, "", "#111"),
            line([(x.first, top), (x.last, top)], 0.6, "2,2", SOFT),
            small(x.first - 5, bottom + 2, "0", "end"),
            small(x.first - 5, top + 6, "100", "end"),
            small(x.first, top - 6, f"{words}, % of the time", more="font-weight='bold'") if place else "",
            *time_marks(x, bottom, paper, words=place == len(known) - 1),
        ]
        if not place:
            parts += [*stage_names(times, x, paper, top), small(paper.left, 11, f"{words}, % of the time",
                                                                more="font-weight='bold'")]  # fmt: skip
    return svg(KEY, title, says, paper, bottom + 24, parts)


def _columns(course: Course, role: str, x: TimeAxis, y: Axis) -> list[str]:
    """Return the columns of one output as one path: a step for each bucket in which it was on."""
    path = []
    for at_s, duty in zip(course.time_s, getattr(course, f"{role}_pct"), strict=True):
        if duty:
            left, right = x.within(at_s - course.bucket_s), x.within(at_s)
            path.append(f"M{left:.1f} {y.first:.1f}V{y.within(duty):.1f}H{max(right, left + 0.4):.1f}V{y.first:.1f}Z")
    return [f"<path d='{''.join(path)}' fill='#3a3a3a'/>"] if path else []


def _table(figures: dict[str, Any], known: dict[str, str]) -> Table:
    """Return for each stage the share of each output, how often it was switched on, and what went in."""
    rows = []
    for stage in figures["stages"]:
        if not stage["rows"]:
            continue
        cells = []
        for role in known:
            count, duty = stage["switches"].get(role), stage["duty_pct"].get(role)
            cells.append(NONE if duty is None else f"{duty:.0f} %; {NONE if count is None else count} times")
        kwh = sum(stage["energy_kwh"].values()) if stage["energy_kwh"] else None
        rows.append((stage["name"], *cells, number(kwh, 2), number(stage["water_l"], 2)))
    return Table(
        caption="The outputs in each stage: how long and how often on; energy and water by the chamber file's figures",
        head=("Stage", *known.values(), "kWh", "Water, l"),
        rows=rows,
        numbers=tuple(range(1, 3 + len(known))),
        wide=True,
    )
