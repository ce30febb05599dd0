"""The picture of the drying: the loss of each piece, what the profile dries to, and what was forecast."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from msgspec import Struct

from controller.review.drawing.axis import Axis, TimeAxis
from controller.review.drawing.svg import area, line
from controller.review.release.evidence import DRYING, Evidence
from controller.review.report.pictures.paper import (
    CLOUD,
    DASHES,
    INK,
    PAPERS,
    SHAPES,
    SOFT,
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
    width_of,
)
from controller.review.report.records import seconds
from controller.review.report.shown import Shown, Table, number
from controller.review.story.scored import read_told

KEY: Final = "drying"
HEIGHT: Final = 230.0
FEWEST: Final = 2
MOST_ROWS: Final = 16
LETTER: Final = 11.0
"""So high is the name of a piece."""
BAR: Final = 7.0
"""So far the bar of a forecast reaches up and down, with the line across its middle."""


class Ahead(Struct, frozen=True, kw_only=True):
    """Hold one forecast as it is drawn: made when, at which loss; the target, when it is expected (10, 50, 90 %)."""

    made_s: float
    loss_pct: float
    target: float
    low_s: float
    middle_s: float
    high_s: float
    afterwards: bool  # It was made for this report, from what was known then, and told to nobody.


def ahead_of(evidence: Evidence) -> list[Ahead]:
    """Return the forecasts of the last loss that are drawn.

    Those are the first and the middle one of what was kept. Where nothing was kept, one is made afterwards from what
    was known at the middle one of the weighings, or at the newest while the batch still dries.
    """
    weights = _weights(evidence)
    told = [one for one in read_told(evidence.record.folder)[0] if one.kind == "weight_loss" and one.quantiles_s]
    if told:
        target = max(one.target for one in told)
        mine = [one for one in told if one.target == target]
        chosen = {one.made_s: one for one in (mine[0], mine[len(mine) // 2])}
        return [
            Ahead(made_s=one.made_s, loss_pct=_loss_at(weights, one.made_s), target=target, low_s=one.quantiles_s[0],
                  middle_s=one.quantiles_s[2], high_s=one.quantiles_s[-1], afterwards=False)
            for one in chosen.values() if one.quantiles_s is not None
        ]  # fmt: skip
    return _made_afterwards(evidence, weights)


def _made_afterwards(evidence: Evidence, weights: Sequence[dict[str, Any]]) -> list[Ahead]:
    dried = evidence.of_kind(*DRYING)
    times = sorted(
        {_at_s(row) for row in weights if row["loss_pct"] > 0.0 and dried and _at_s(row) > dried[0].span.began_s}
    )
    if not times:
        return []
    from controller.review.forecast.folder import outlook_of  # Loads scipy: only where there is something to forecast.

    is_over = evidence.figures["state"] in {"complete", "stopped", "aborted"}
    at_s = times[(len(times) - 1) // 2] if is_over else times[-1]
    made = [one for one in outlook_of(evidence.record, at_s).forecasts if one.kind == "weight_loss" and one.quantiles_s]
    return [
        Ahead(made_s=at_s, loss_pct=_loss_at(weights, at_s), target=one.target, low_s=one.quantiles_s[0],
              middle_s=one.quantiles_s[2], high_s=one.quantiles_s[-1], afterwards=True)
        for one in made[-1:] if one.quantiles_s is not None
    ]  # fmt: skip


def _weights(evidence: Evidence) -> list[dict[str, Any]]:
    return list(evidence.figures["weight_course"])


def _at_s(row: dict[str, Any]) -> float:
    return seconds(row["time"])


def _loss_at(weights: Sequence[dict[str, Any]], at_s: float) -> float:
    """Return the loss of the slowest piece, by what was weighed up to then."""
    newest = {row["piece"]: row["loss_pct"] for row in weights if _at_s(row) <= at_s}
    return min(newest.values(), default=0.0)


def drying_picture(evidence: Evidence, times: Times, shown: Shown) -> Picture | None:
    """Return the picture of the weight loss; None where no piece was weighed again."""
    weights = _weights(evidence)
    pieces = list(dict.fromkeys(row["piece"] for row in weights))
    if not any(sum(row["piece"] == piece for row in weights) >= FEWEST for piece in pieces):
        return None
    goals = [stage.until.weight_loss_pct for stage in evidence.record.card.profile.stages]
    goal = max((goal for goal in goals if goal is not None), default=None)
    ahead = ahead_of(evidence)
    title = "Weight loss"
    last = {row["piece"]: row for row in weights}
    says = "; ".join(f"Piece {piece or 'without a name'} lost {row['loss_pct']:.1f} %" for piece, row in last.items())
    says += "." if goal is None else f". The profile dries to {goal:g} % of the green weight."
    says += "".join(f" {_words(one, shown)}" for one in ahead)
    return Picture(
        id=KEY,
        title=title,
        says=says,
        drawn={paper.name: _draw(weights, pieces, goal, ahead, times, paper, title, says) for paper in PAPERS},
        table=_table(weights, pieces, shown),
    )


def _words(one: Ahead, shown: Shown) -> str:
    """Return a forecast in a sentence."""
    form = "%Y-%m-%d"
    low, high = shown.at(one.low_s, form), shown.at(one.high_s, form)
    by = "made afterwards from what was known" if one.afterwards else "told"
    when = f"on {low}" if str(low) == str(high) else f"between {low} and {high}"
    return f"Forecast, {by} at {shown.at(one.made_s)}: {one.target:g} % {when} (80 %)."


def _draw(
    weights: Sequence[dict[str, Any]], pieces: Sequence[str], goal: float | None, ahead: Sequence[Ahead], times: Times,
    paper: Paper, title: str, says: str,
) -> str:  # fmt: skip
    key = f"{KEY}-{paper.name}"
    latest_s = max([times.end_s, *(one.high_s for one in ahead)])
    x = TimeAxis(times.begin_s, latest_s, paper.left, paper.right - 12, times.zone)
    top = names_height(times, x, paper) + 16
    bottom = top + HEIGHT
    losses = [row["loss_pct"] for row in weights]
    highest = max([*losses, goal or 0.0, *(one.target for one in ahead), 1.0])
    y = Axis(min(0.0, *losses), highest * (1.1 if ahead else 1.06), bottom, top)  # Above a bar a name has room.
    parts = [*background(times, x, top, bottom, key), *frame(x, y, "", 6), *stage_names(times, x, paper, top)]
    parts.append(small(paper.left, 11, "Loss, % of the green weight", more="font-weight='bold'"))
    if goal is not None:
        parts.append(line([(x.first, y(goal)), (x.last, y(goal))], 1.2, "7,3", INK))
    for one in ahead:
        parts += _fan(one, x, y)
    entries = [(stroke(1.2, "7,3"), f"wanted: {goal:g} %")] if goal is not None else []
    every = -(-len({row["time"] for row in weights}) // MOST_ROWS)
    for number_of, piece in enumerate(pieces):
        dash, shape = DASHES[number_of % len(DASHES)], SHAPES[number_of % len(SHAPES)]
        at = [(x(_at_s(row)), y(row["loss_pct"])) for row in weights if row["piece"] == piece]
        parts += [
            line(at, 1.2, dash, INK),
            *(mark(shape, *point) for place, point in enumerate(at) if place % every == 0),
        ]
        entries.append((stroke(1.2, dash) + mark(shape, 13, 0), piece or "the piece"))
    bars = [(x.within(one.low_s), x.within(one.high_s), y(one.target)) for one in ahead]
    parts += list(_letters(weights, pieces, x, y, bars))
    if ahead:
        entries.append(
            (f"<polygon points='0,4 26,-6 26,5' fill='{CLOUD}' stroke='#767676' stroke-width='0.7'/>", "forecast, 80 %")
        )
    words, more = legend(paper, bottom + 26, entries)
    return svg(KEY, title, says, paper, bottom + 26 + more, [*parts, *time_marks(x, bottom, paper), *words])


def _fan(one: Ahead, x: TimeAxis, y: Axis) -> list[str]:
    """Return a forecast as a fan from where it was made to when the target was expected."""
    begin, target_y = (x(one.made_s), y(one.loss_pct)), y(one.target)
    low, middle, high = x.within(one.low_s), x.within(one.middle_s), x.within(one.high_s)
    return [
        area([begin, (low, target_y), (high, target_y)], CLOUD),
        line([begin, (low, target_y)], 0.7, "", SOFT),
        line([begin, (high, target_y)], 0.7, "", SOFT),
        line([(low, target_y), (high, target_y)], 4, "", INK),
        line([(middle, target_y - BAR), (middle, target_y + BAR)], 2, "", INK),
    ]


def _letters(
    weights: Sequence[dict[str, Any]], pieces: Sequence[str], x: TimeAxis, y: Axis,
    bars: Sequence[tuple[float, float, float]],
) -> Iterator[str]:  # fmt: skip
    """Yield the name of each piece behind its last weighing, one below the other where they would meet.

    Where it would meet the bar of a forecast (its ends, and how high it lies), it stands above or below that.
    """
    last = {row["piece"]: row for row in weights}
    taken = float("-inf")
    for row in sorted((last[piece] for piece in pieces), key=lambda row: -row["loss_pct"]):
        left = x(_at_s(row)) + 7
        at = max(y(row["loss_pct"]) + 4, taken + LETTER)
        for begin, end, bar in sorted(bars, key=lambda each: each[2]):
            if left <= end and left + width_of(row["piece"]) >= begin and bar - BAR < at < bar + BAR + LETTER:
                above = bar - BAR - 2
                is_above = y(row["loss_pct"]) <= bar and above >= max(taken, y.last) + LETTER
                at = above if is_above else bar + BAR + LETTER
        taken = at
        if row["piece"] and len(row["piece"]) <= 3:  # noqa: PLR2004 - longer names stand in the legend
            yield small(left, at, row["piece"], more=f"fill='{INK}' font-weight='bold'")


def _table(weights: Sequence[dict[str, Any]], pieces: Sequence[str], shown: Shown) -> Table:
    """Return the weighings, one row a time and one column a piece; of very many some are left out."""
    times = list(dict.fromkeys(row["time"] for row in weights))
    every = -(-len(times) // MOST_ROWS)
    kept = [at for place, at in enumerate(times) if place % every == 0 or at == times[-1]]
    said = {(row["time"], row["piece"]): row for row in weights}
    actors = {row["time"]: row["actor"] for row in weights}
    left_out = "" if every == 1 else f" (one time in {every}; all are among the readings)"
    return Table(
        caption=f"The weighings that stand: grams, and loss in % of the green weight{left_out}",
        head=("When", *(piece or "the piece" for piece in pieces), "Entered by"),
        rows=[(shown.at(at), *(_weighed(said.get((at, piece))) for piece in pieces), actors[at]) for at in kept],
        numbers=tuple(range(1, 1 + len(pieces))),
        wide=True,
    )


def _weighed(row: dict[str, Any] | None) -> str:
    return "" if row is None else f"{row['grams']:g} g; {number(row['loss_pct'])} %{', out' if row['out'] else ''}"
