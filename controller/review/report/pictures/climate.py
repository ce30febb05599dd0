"""The picture of the climate: air temperature and humidity with what was wanted, its band, and how far it swung."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from controller.review.drawing.axis import Axis, TimeAxis
from controller.review.drawing.svg import Point
from controller.review.logs.course import Course
from controller.review.report.pictures.paper import (
    PAPERS,
    SOFT,
    Paper,
    Picture,
    Times,
    alarm_lanes,
    background,
    broken,
    cloud,
    frame,
    legend,
    names_height,
    small,
    stage_names,
    stroke,
    svg,
    time_marks,
)
from controller.review.report.shown import NONE, Shown, Table, number, span
from controller.review.stages import WITHIN_K, WITHIN_PCT

KEY: Final = "climate"
WANTED_DASH: Final = "7,3"
BAND_DASH: Final = "1.5,2.5"
AIR_HEIGHT: Final = 190.0
RH_HEIGHT: Final = 130.0
BETWEEN: Final = 26.0
Values = Sequence[float | None]


def climate_picture(course: Course, times: Times, figures: dict[str, Any], shown: Shown) -> Picture:
    """Return the picture of air temperature and humidity over the whole batch."""
    title = "Air temperature and humidity"
    says = _says(figures, shown)
    return Picture(
        id=KEY,
        title=title,
        says=says,
        drawn={paper.name: _draw(course, times, paper, shown, title, says) for paper in PAPERS},
        table=_table(figures, shown),
        note=f"Each point of the lines is the mean of {course.bucket_s / 60.0:.0f} min." if course.bucket_s else "",
    )


def _says(figures: dict[str, Any], shown: Shown) -> str:
    told = [
        f"{stage['name']}: mean {shown.temp(stage['air_temp_c']['mean'])}, {number(stage['rh_pct']['mean'], 0)} %RH"
        for stage in figures["stages"]
        if stage["air_temp_c"]["mean"] is not None
    ]
    gaps = len(figures["gaps"])
    breaks = f" The lines break at {gaps} {'gap' if gaps == 1 else 'gaps'} of the record." if gaps else ""
    return f"Over time: {'; '.join(told) or 'nothing was recorded'}.{breaks}"


def _draw(course: Course, times: Times, paper: Paper, shown: Shown, title: str, says: str) -> str:
    key = f"{KEY}-{paper.name}"
    x = TimeAxis(times.begin_s, times.end_s, paper.left, paper.right, times.zone)
    top = names_height(times, x, paper) + 16
    air_bottom = top + AIR_HEIGHT
    rh_top = air_bottom + BETWEEN
    rh_bottom = rh_top + RH_HEIGHT
    band_k = WITHIN_K if shown.units == "C" else 1.8 * WITHIN_K
    air = [
        [None if value is None else shown.value(value) for value in values]
        for values in (course.air_temp_c, course.air_temp_min_c, course.air_temp_max_c, course.air_temp_set_c)
    ]
    y_air = _axis(air, air_bottom, top, 1.0)
    y_rh = _axis([course.rh_pct, course.rh_min_pct, course.rh_max_pct, course.rh_set_pct], rh_bottom, rh_top, 4.0)
    alarms, lanes = alarm_lanes(times, x, rh_bottom + 4, paper)
    marks = rh_bottom + lanes + 4
    entries = [
        (stroke(1.4), "mean"),
        (_sample_of_cloud(), "lowest to highest"),
        (stroke(1.2, WANTED_DASH), "wanted"),
        (stroke(1.0, BAND_DASH, SOFT), f"wanted ±{shown.apart(WITHIN_K)}, ±{WITHIN_PCT:g} %"),
        *_hatches(times, key),
    ]
    words, more = legend(paper, marks + 24, entries)
    parts = [
        *background(times, x, top, air_bottom, key),
        *frame(x, y_air, ""),
        *_panel(course.time_s, air, x, y_air, band_k),
        *stage_names(times, x, paper, top),
        small(paper.left, 11, f"Air, {shown.degree}", more="font-weight='bold'"),
        *background(times, x, rh_top, rh_bottom, key),
        *frame(x, y_rh, "", 5),
        *_panel(
            course.time_s, [course.rh_pct, course.rh_min_pct, course.rh_max_pct, course.rh_set_pct], x, y_rh, WITHIN_PCT
        ),
        small(paper.left, rh_top - 7, "Humidity, %RH", more="font-weight='bold'"),
        *time_marks(x, air_bottom, paper, words=False),
        *alarms,
        *time_marks(x, marks, paper),
        *words,
    ]
    return svg(KEY, title, says, paper, marks + 24 + more, parts)


def _hatches(times: Times, key: str) -> Iterator[tuple[str, str]]:
    frame_of = "stroke='#767676' stroke-width='0.5'"
    if times.gaps:
        yield f"<rect x='0' y='-5' width='26' height='10' fill='url(#{key}-gap)' {frame_of}/>", "no record"
    if any(elsewhere for *_, elsewhere in times.stages):
        yield f"<rect x='0' y='-5' width='26' height='10' fill='url(#{key}-away)' {frame_of}/>", "elsewhere"
    if times.alarms:
        yield "<polygon points='8,-5 17,-5 12.5,4' fill='white' stroke='#111' stroke-width='1.1'/>", "alarm"
    if any(lane.urgent for lane in times.alarms):
        yield "<polygon points='8,-5 17,-5 12.5,4' fill='#111' stroke='#111' stroke-width='1.1'/>", "urgent alarm"


def _sample_of_cloud() -> str:
    return "<rect x='0' y='-5' width='26' height='10' fill='#dcdcdc' stroke='#767676' stroke-width='0.5'/>"


def _axis(values: Sequence[Values], bottom: float, top: float, beyond: float) -> Axis:
    known = [value for each in values for value in each if value is not None]
    low, high = min(known, default=0.0), max(known, default=100.0)
    return Axis(low - beyond, high + beyond, bottom, top)


def _panel(time_s: Sequence[float], values: Sequence[Values], x: TimeAxis, y: Axis, band: float) -> Iterator[str]:
    """Yield one plot: cloud, wanted value with its band, mean."""
    mean, low, high, wanted = values

    def at(of: Values, by: float = 0.0) -> list[Point | None]:
        return [
            None if value is None else (x(at_s), y.within(value + by)) for at_s, value in zip(time_s, of, strict=True)
        ]

    both = [lower is not None and upper is not None for lower, upper in zip(low, high, strict=True)]
    yield from cloud(
        at([value if known else None for value, known in zip(low, both, strict=True)]),
        at([value if known else None for value, known in zip(high, both, strict=True)]),
    )
    yield from broken(at(wanted, band), 1.0, BAND_DASH, SOFT)
    yield from broken(at(wanted, -band), 1.0, BAND_DASH, SOFT)
    yield from broken(at(wanted), 1.2, WANTED_DASH)
    yield from broken(at(mean), 1.4)


def _table(figures: dict[str, Any], shown: Shown) -> Table:
    rows = []
    for stage in figures["stages"]:
        air, humid = stage["air_temp_c"], stage["rh_pct"]
        low, high = (None if air[end] is None else shown.value(air[end]) for end in ("min", "max"))
        swings = stage["fluctuation"]
        rows.append(
            (
                stage["name"],
                number(stage["hours"]),
                NONE if air["mean"] is None else number(shown.value(air["mean"])),
                span(low, high),
                number(air["within_pct"], 0),
                _swing(swings["air_temp_k"], 1.0 if shown.units == "C" else 1.8, 1),
                number(humid["mean"], 0),
                span(humid["min"], humid["max"], 0),
                _humid_share(stage),
                _swing(swings["rh_pct"], 1.0, 0),
            )
        )
    return Table(
        caption="The climate of each stage (swing: in half an hour, the usual one and the largest)",
        head=(
            "Stage", "Hours", f"Air mean {shown.degree}", f"Air {shown.degree}",
            f"% of minutes within {shown.apart(WITHIN_K)}", f"Swing {'K' if shown.units == 'C' else '°F'}",
            "Mean %RH", "%RH", f"% of minutes within {WITHIN_PCT:g} %RH", "Swing %RH",
        ),
        rows=rows,
        numbers=tuple(range(1, 10)),
        wide=True,
    )  # fmt: skip


def _swing(swing: dict[str, float | None], factor: float, decimals: int) -> str:
    """Return the usual and the largest swing."""
    usual, largest = swing["median"], swing["largest"]
    if usual is None or largest is None:
        return NONE
    return f"{factor * usual:.{decimals}f}; {factor * largest:.{decimals}f}"


def _humid_share(stage: dict[str, Any]) -> str:
    """Return the share of minutes near the wanted humidity; in a ferment, where it is a least one, from there on."""
    humid = stage["rh_pct"]
    if stage["kind"] == "ferment" and humid["at_least_pct"] is not None:
        return f"{humid['at_least_pct']:.0f} (or above)"
    return number(humid["within_pct"], 0)
