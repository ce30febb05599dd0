"""Score the forecasts that were told during a batch against what came.

`forecasts.csv` of the batch holds what was told; nothing is forecast anew here, so nothing numeric is loaded. The pH or
the loss came somewhere between two measurements; the instant is taken from the straight line between them. The loss is
that of the slowest piece: it came when the last of those that hang had it.
"""

import csv
from collections.abc import Iterator, Sequence
from datetime import datetime
from math import isfinite
from pathlib import Path
from statistics import fmean, median
from typing import Any, Final, Literal

from msgspec import Struct

from controller.core.people.desk import LATEST_WALL_S
from controller.records.csv_text import printable, time_text
from controller.review.batch import ReadingRow
from controller.review.forecast.told import FILE
from controller.review.readings import OUT, measured_ph
from controller.review.story.measured import MOST_GAIN_PCT

HOUR_S: Final = 3600.0
HAIR: Final = 1e-9
LEADS_H: Final = (336.0, 168.0, 72.0, 24.0, 12.0, 6.0)
"""So long before it came the forecast of then is shown: two weeks to six hours."""
LIKELY: Final = 0.5
KINDS: Final = ("ph", "weight_loss")
LEVELS: Final = ("q10", "q25", "q50", "q75", "q90")

Fate = Literal["inside", "early", "late", "open", "never", "reached"]
"""Came within the told 80 %, before them, after them; cannot be known yet; told never to come; told as reached."""


class Told(Struct, frozen=True, kw_only=True):
    """Hold one forecast as it was kept; `quantiles_s` is None where it named no instant."""

    made_s: float
    kind: str
    target: float
    basis: str
    quantiles_s: tuple[float, ...] | None
    p_never: float


class Came(Struct, frozen=True, kw_only=True):
    """Hold what came: between which measurements, and the instant by the straight line; None while it has not come."""

    at_s: float | None
    after_s: float | None  # The last measurement before it came.
    by_s: float | None  # The first one at which it had come.


class Scored(Struct, frozen=True, kw_only=True):
    """Hold the kept forecasts and their scores as plain values for JSON."""

    told: tuple[Told, ...]
    fates: tuple[tuple[Told, Fate, float | None], ...]  # With the hours by which it came later than the middle told.
    figures: dict[str, Any]


def scored(folder: Path, readings: Sequence[ReadingRow], end_s: float) -> Scored:
    """Return how the kept forecasts of a batch held.

    Args:
        folder: of the batch.
        readings: those that stand.
        end_s: until when anything is known of the batch.
    """
    told, damaged = read_told(folder)
    fates: list[tuple[Told, Fate, float | None]] = []
    scores = []
    for kind, target in dict.fromkeys((one.kind, one.target) for one in told):
        came = came_of(kind, target, readings)
        mine = [(one, *fate_of(one, came)) for one in told if (one.kind, one.target) == (kind, target)]
        fates += mine
        scores.append(_score(kind, target, came, mine))
    figures = {"kept": len(told), "damaged": damaged, "until": time_text(end_s) if told else None, "scores": scores}
    return Scored(told=tuple(told), fates=tuple(fates), figures=figures)


def read_told(folder: Path) -> tuple[list[Told], int]:
    """Return the kept forecasts in their order, and how many lines cannot be read. A doubled line counts once."""
    try:
        text = (folder / FILE).read_bytes().decode("utf-8", "replace")
    except OSError:
        return [], 0
    whole, _, rest = text.rpartition("\n")
    header, *lines = [line.removesuffix("\r") for line in whole.split("\n")]
    found: dict[tuple[float, str, float], Told] = {}
    damaged = int(bool(rest))
    for line in lines:
        try:
            one = next(_told_of(header, printable(line)))
        except (KeyError, TypeError, ValueError, StopIteration, csv.Error):
            damaged += 1
            continue
        found[(one.made_s, one.kind, one.target)] = one
    return list(found.values()), damaged


def _told_of(header: str, line: str) -> Iterator[Told]:
    for fields in csv.DictReader([header, line]):
        if None in fields or None in fields.values() or "\0" in line:
            raise ValueError("another number of fields than the header")
        if fields["kind"] not in KINDS:
            raise ValueError("no target that is known here")
        times = [fields[level] for level in LEVELS]
        yield Told(
            made_s=_instant(fields["time"]),
            kind=fields["kind"],
            target=_finite(fields["target"]),
            basis=fields["basis"],
            quantiles_s=tuple(_instant(text) for text in times) if all(times) else None,
            p_never=_finite(fields["p_never"]),
        )


def _instant(text: str) -> float:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a time without a zone")
    at_s = moment.timestamp()
    if not 0.0 <= at_s <= LATEST_WALL_S:
        raise ValueError("no clock that works shows this")
    return at_s


def _finite(text: str) -> float:
    value = float(text)
    if not isfinite(value):
        raise ValueError(text)
    return value


def came_of(kind: str, target: float, readings: Sequence[ReadingRow]) -> Came:
    """Return when a pH or a loss came, by what was measured.

    Args:
        kind: `ph` or `weight_loss`.
        target: the pH, or the loss in per cent of the green weight.
        readings: those that stand, by their time.
    """
    if kind == "ph":
        return _crossed([(at_s, -ph) for at_s, ph in measured_ph(readings)], -target)
    pieces: dict[str, list[tuple[float, float]]] = {}
    out: set[str] = set()
    for row in readings:
        if row.kind == "weight" and row.value is not None and row.value > 0.0:
            (out.add if row.note.split(";")[0] == OUT else out.discard)(row.piece)
            pieces.setdefault(row.piece, []).append((row.time_s, row.value))
    weighed = {
        piece: [(at_s, max(100.0 * (1.0 - grams / rows[0][1]), MOST_GAIN_PCT)) for at_s, grams in rows]
        for piece, rows in pieces.items()
    }
    hang = [course for piece, course in weighed.items() if piece not in out] or list(weighed.values())
    each = [_crossed(course, target) for course in hang]
    lack = [one for one in each if one.at_s is None]
    if lack or not each:
        return Came(at_s=None, after_s=min((one.after_s for one in lack if one.after_s), default=None), by_s=None)
    return max(each, key=_instant_of)


def _instant_of(came: Came) -> float:
    return came.at_s or 0.0


def _crossed(course: Sequence[tuple[float, float]], target: float) -> Came:
    """Return when a rising course first came to a target."""
    before: tuple[float, float] | None = None
    for at_s, value in course:
        if value >= target - HAIR:
            if before is None:
                return Came(at_s=at_s, after_s=None, by_s=at_s)
            share = (target - before[1]) / (value - before[1])
            return Came(at_s=before[0] + min(share, 1.0) * (at_s - before[0]), after_s=before[0], by_s=at_s)
        before = (at_s, value)
    return Came(at_s=None, after_s=None if before is None else before[0], by_s=None)


def fate_of(told: Told, came: Came) -> tuple[Fate, float | None]:
    """Return what became of one forecast, and by how many hours it came later than the middle told (None: unknown)."""
    if told.quantiles_s is None:
        return ("never" if told.p_never > LIKELY else "reached"), None
    low_s, middle_s, high_s = told.quantiles_s[0], told.quantiles_s[2], told.quantiles_s[-1]
    if came.at_s is None:
        return ("late" if came.after_s is not None and came.after_s > high_s else "open"), None
    off_h = (came.at_s - middle_s) / HOUR_S
    if told.p_never > LIKELY:
        return "never", off_h
    return ("early" if came.at_s < low_s else "late" if came.at_s > high_s else "inside"), off_h


def _score(kind: str, target: float, came: Came, fates: Sequence[tuple[Told, Fate, float | None]]) -> dict[str, Any]:
    judged = [(told, fate, off_h) for told, fate, off_h in fates if fate in {"inside", "early", "late"}]
    offs_h = [off_h for _, _, off_h in judged if off_h is not None]
    counted = {fate: sum(one == fate for _, one, _ in fates) for fate in ("inside", "early", "late", "open", "never")}
    return {
        "kind": kind,
        "target": target,
        "unit": "pH" if kind == "ph" else "%",
        "came": None if came.at_s is None else time_text(came.at_s),
        "came_after": None if came.after_s is None else time_text(came.after_s),
        "came_by": None if came.by_s is None else time_text(came.by_s),
        "told": sum(fate != "reached" for _, fate, _ in fates),
        "judged": len(judged),
        **counted,
        "inside_pct": round(100.0 * counted["inside"] / len(judged), 1) if judged else None,
        "median_late_h": round(median(offs_h), 2) if offs_h else None,
        "mean_off_h": round(fmean(abs(off_h) for off_h in offs_h), 2) if offs_h else None,
        "steps": [_step(one) for one in _steps(judged, came.at_s)],
    }


def _steps(
    judged: Sequence[tuple[Told, Fate, float | None]], came_s: float | None
) -> list[tuple[Told, Fate, float | None]]:
    """Return the first forecast, and those that were the newest so long before it came."""
    if not judged:
        return []
    chosen = [judged[0]]
    for lead_h in LEADS_H:
        if came_s is not None:
            chosen += [one for one in judged if one[0].made_s <= came_s - lead_h * HOUR_S][-1:]
    unlike = [one for place, one in enumerate(chosen) if one not in chosen[:place]]
    return unlike if came_s is not None else [*unlike, judged[-1]]


def _step(one: tuple[Told, Fate, float | None]) -> dict[str, Any]:
    told, fate, off_h = one
    quantiles_s = told.quantiles_s or ()
    return {
        "made": time_text(told.made_s),
        "basis": told.basis,
        **{level: time_text(at_s) for level, at_s in zip(LEVELS, quantiles_s, strict=False)},
        "fate": fate,
        "late_h": None if off_h is None else round(off_h, 2),
    }
