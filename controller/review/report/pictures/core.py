"""The picture of the core: how warm the meat was in smoke, cook and chill, piece by piece."""

from typing import Final

from msgspec.structs import replace

from controller.food.germs.measured import readings_of
from controller.review.drawing.axis import Axis, TimeAxis
from controller.review.drawing.svg import line
from controller.review.release.evidence import HOT, Evidence
from controller.review.report.pictures.paper import (
    DASHES,
    INK,
    PAPERS,
    SHAPES,
    Paper,
    Picture,
    Times,
    background,
    frame,
    legend,
    mark,
    names_height,
    small,
    stage_names,
    stroke,
    svg,
    time_marks,
)
from controller.review.report.shown import Shown, Table, number

KEY: Final = "core"
HEIGHT: Final = 220.0
MOST_POINTS: Final = 300
MOST_ROWS: Final = 24
BESIDE_S: Final = 60.0
Points = dict[str, list[tuple[float, float]]]


def core_picture(evidence: Evidence, times: Times, shown: Shown) -> Picture | None:
    """Return the picture of the core temperatures; None where none was measured, or the meat was never heated."""
    cores: Points = {name or "the core": _thinned(readings_of(log)) for name, log in evidence.cores().items()}
    cores = {name: points for name, points in cores.items() if points}
    hot = evidence.of_kind(*HOT)
    if not cores or not hot:
        return None
    wanted = [placed.stage.until.core_temp_c for placed in hot if placed.stage.until.core_temp_c is not None]
    wanted_c = max(wanted, default=None)
    measured_s = [at_s for points in cores.values() for at_s, _ in points]
    # Only the hours that matter here; the pictures of the whole batch have the others.
    near = replace(times, begin_s=min(hot[0].span.began_s, *measured_s), end_s=max(hot[-1].ends_s, *measured_s))
    title = "Core temperature in smoke, cook and chill"
    hottest = {name: max(temp_c for _, temp_c in points) for name, points in cores.items()}
    says = "; ".join(f"{name}: {len(cores[name])} readings, hottest {shown.temp(top)}" for name, top in hottest.items())
    says = f"{says}." if wanted_c is None else f"{says}. The profile cooks to {shown.temp(wanted_c)}."
    return Picture(
        id=KEY,
        title=title,
        says=says,
        drawn={paper.name: _draw(cores, wanted_c, near, paper, shown, title, says) for paper in PAPERS},
        table=_table(cores, shown),
        note="Between two readings the line is only drawn; what counts there is the lower one.",
    )


def _thinned(points: tuple[tuple[float, float], ...] | list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return at most so many of the points; a fixed probe has one for each row."""
    every = -(-len(points) // MOST_POINTS) or 1
    return [point for place, point in enumerate(points) if place % every == 0 or place == len(points) - 1]


def _draw(
    cores: Points, wanted_c: float | None, times: Times, paper: Paper, shown: Shown, title: str, says: str
) -> str:  # fmt: skip
    key = f"{KEY}-{paper.name}"
    x = TimeAxis(times.begin_s, times.end_s, paper.left, paper.right, times.zone)
    top = names_height(_seen(times), x, paper) + 16
    bottom = top + HEIGHT
    values = [shown.value(temp_c) for points in cores.values() for _, temp_c in points]
    values += [] if wanted_c is None else [shown.value(wanted_c)]
    y = Axis(min(values) - 2.0, max(values) + 3.0, bottom, top)
    seen = _seen(times)
    parts = [*background(seen, x, top, bottom, key), *frame(x, y, "", 6), *stage_names(seen, x, paper, top)]
    parts.append(small(paper.left, 11, f"Core, {shown.degree}", more="font-weight='bold'"))
    entries = []
    if wanted_c is not None:
        parts.append(line([(x.first, y(shown.value(wanted_c))), (x.last, y(shown.value(wanted_c)))], 1.2, "7,3", INK))
        entries.append((stroke(1.2, "7,3"), f"wanted: {shown.temp(wanted_c)}"))
    for place, (name, points) in enumerate(cores.items()):
        dash, shape = DASHES[place % len(DASHES)], SHAPES[place % len(SHAPES)]
        at = [(x(at_s), y(shown.value(temp_c))) for at_s, temp_c in points]
        parts.append(line(at, 1.2, dash, INK))
        parts += [mark(shape, *point) for point in at[:: -(-len(at) // 40)]]
        entries.append((stroke(1.2, dash) + mark(shape, 13, 0), name))
    words, more = legend(paper, bottom + 26, entries)
    return svg(KEY, title, says, paper, bottom + 26 + more, [*parts, *time_marks(x, bottom, paper), *words])


def _seen(times: Times) -> Times:
    """Return the times with the stages that lie within them, none of them hatched: all of this may be elsewhere."""
    stages = [
        (name, from_s, until_s, False)
        for name, from_s, until_s, _ in times.stages
        if until_s > times.begin_s + BESIDE_S and from_s < times.end_s - BESIDE_S
    ]
    return replace(times, stages=stages, gaps=())


def _table(cores: Points, shown: Shown) -> Table:
    rows = sorted((at_s, name, temp_c) for name, points in cores.items() for at_s, temp_c in points)
    every = -(-len(rows) // MOST_ROWS) or 1
    left_out = "" if every == 1 else f" (one in {every})"
    return Table(
        caption=f"The core temperatures{left_out}",
        head=("When", "Piece or probe", shown.degree),
        rows=[
            (shown.at(at_s), name, number(shown.value(temp_c)))
            for place, (at_s, name, temp_c) in enumerate(rows)
            if place % every == 0
        ],
        numbers=(2,),
    )
