"""Slow adaptation: what finished batches show of the chamber, beside what is used. Nothing is changed by looking.

While a ferment is held, the lamp's mean power makes good what leaves through the walls, and what the meat still takes:
P = UA (air - room) + a e^(-t/tau), with the tau of the meat by its mass. UA is found by least squares over hourly means
of each batch; how far batches differ says how sure it is. How fast the empty chamber rose shows in its warm-up. Both
are moved towards what was found by how sure the old and the new figure are, and never by more than a fifth at a time.
"""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import exp, sqrt
from pathlib import Path
from typing import Final

import numpy as np
from msgspec.structs import replace

from controller.errors import DataError, HangroomError
from controller.records.batch_folder import BatchCard, batches_of, read_card
from controller.review.learning.learned import gains_of_response, in_file
from controller.settings.chamber_file import ChamberFile
from controller.settings.chamber_plan import MEAT_M2_PER_KG
from controller.settings.learned_file import (
    Figure,
    Learned,
    Made,
    heater_of,
    lamp_w_of,
    mist_ml_per_h_of,
    thermometer_of,
)
from controller.settings.model_figures import MEAT_J_PER_KG_K

HOUR_S: Final = 3600.0
AFTER_HANG_S: Final = 3.0 * HOUR_S
LEAST_HOURS: Final = 8
LEAST_ROWS: Final = 50
"""Of an hour's 60 rows."""
LEAST_K: Final = 3.0
"""So much warmer than its room the chamber has to be: below it the room's own error is all."""
STEADY_K: Final = 0.5
SLOPE_S: Final = 300.0
FULL_PCT: Final = 99.0
METHOD_SHARE: Final = 0.1
"""Water that is evaporated and leaks out takes heat that this sum does not know. Common practice, no source."""
MOST: Final = 0.2
"""No figure moves by more than this share at a time."""
FILE_SHARE: Final = 0.3
"""A figure of the chamber file that nobody has measured is taken to be right within this; common practice."""
SAME: Final = "as in the chamber file: running does not show it"


@dataclass(frozen=True, slots=True)
class Shown:
    """Hold what one batch shows; None where it shows nothing of it."""

    batch: str
    hours: int
    ua_w_per_k: float | None
    ua_error: float | None
    slope_k_per_min: float | None


@dataclass(frozen=True, slots=True)
class Adapted:
    """Hold what all batches show together, and the learned file that would follow from it."""

    shown: tuple[Shown, ...]
    learned: Learned

    @property
    def hours(self) -> int:
        """Return how many hours all of it rests on."""
        return sum(one.hours for one in self.shown)


@dataclass(frozen=True, slots=True)
class _Row:
    time_s: float
    stage: str
    air_c: float
    room_c: float | None
    heater_pct: float
    quiet: bool  # Nothing but the lamp acted, and nothing was doubtful.


def adapt(state_dir: Path, chamber: ChamberFile, used: Learned | None, leave_out: Sequence[str] = ()) -> Adapted:
    """Return what the finished batches below a state folder show, and what would be used then.

    Args:
        state_dir: where the batches lie.
        chamber: the chamber as its file says; batches of another lamp or thermometer are left out.
        used: what was learned before and is used.
        leave_out: batches that are open.

    Raises:
        DataError: they show nothing.
    """
    shown = []
    for folder in sorted(batches_of(state_dir).glob("*/")):
        if folder.name in leave_out:
            continue
        try:
            card = read_card(folder)
        except HangroomError:
            continue
        if lamp_w_of(card.chamber) == lamp_w_of(chamber) and thermometer_of(card.chamber) == thermometer_of(chamber):
            shown.append(_look_at(folder, card))
    told = tuple(one for one in shown if one.ua_w_per_k is not None or one.slope_k_per_min is not None)
    if not told:
        raise DataError(
            f"{batches_of(state_dir)}: no finished batch of this chamber shows anything; wanted is a ferment of a day "
            f"that is held {LEAST_K:g} K above its room"
        )
    return Adapted(told, _learned_of(told, chamber, used))


def _look_at(folder: Path, card: BatchCard) -> Shown:
    rows = list(_rows(folder, card))
    hung_s = _hung_s(folder)
    ua, error, hours = _holding(rows, hung_s, card)
    return Shown(folder.name, hours, ua, error, _warm_up_slope(rows, hung_s, card))


def _rows(folder: Path, card: BatchCard) -> Iterator[_Row]:
    """Yield the rows that can be read; a damaged one is no row."""
    middle_c = sum(card.chamber.room_temp_c) / 2.0 if not _measures_room(card) else None
    for path in sorted(folder.glob("climate-*.csv")):
        with path.open(encoding="utf-8", errors="replace", newline="") as file:
            for row in csv.DictReader(file):
                try:
                    room = row["ambient_temp_c"]
                    yield _Row(
                        datetime.fromisoformat(row["time"]).timestamp(),
                        row["stage"],
                        float(row["air_temp_c"]),
                        float(room) if room else middle_c,
                        float(row["heater_pct"]),
                        row["state"] == "running"
                        and not (row["quality"] or row["interlocks"])
                        and not any(float(row[f"{role}_pct"] or 0.0) for role in ("cooler", "dehumidifier")),
                    )
                except (KeyError, TypeError, ValueError):
                    continue


def _measures_room(card: BatchCard) -> bool:
    return any(sensor.channel == "ambient_temp" for sensor in card.chamber.sensor)


def _hung_s(folder: Path) -> float | None:
    try:
        with (folder / "events.csv").open(encoding="utf-8", errors="replace", newline="") as file:
            for row in csv.DictReader(file):
                if row.get("kind") == "hang":
                    return datetime.fromisoformat(row["time"]).timestamp()
    except (OSError, ValueError, TypeError):
        return None
    return None


def _holding(rows: Sequence[_Row], hung_s: float | None, card: BatchCard) -> tuple[float | None, float | None, int]:
    """Return watts per kelvin of the ferment with its standard error, and of how many hours."""
    ferments = {stage.name for stage in card.profile.stages if stage.kind == "ferment" and stage.where == "chamber"}
    hours: dict[int, list[_Row]] = {}
    for row in rows:
        if hung_s is not None and row.stage in ferments and row.quiet and row.time_s >= hung_s + AFTER_HANG_S:
            hours.setdefault(int((row.time_s - hung_s) // HOUR_S), []).append(row)
    meat_w = card.chamber.model.meat_w_per_m2_k * MEAT_M2_PER_KG
    tau_s = MEAT_J_PER_KG_K / meat_w  # Per kilogram: it does not hang on how many there are.
    found = []
    for hour, of_hour in hours.items():
        air = [row.air_c for row in of_hour]
        rooms = [row.room_c for row in of_hour if row.room_c is not None]
        if len(of_hour) < LEAST_ROWS or len(rooms) < len(of_hour) or max(air) - min(air) > 2.0 * STEADY_K:
            continue
        above_k = float(np.mean(air) - np.mean(rooms))
        if above_k >= LEAST_K:
            power_w = lamp_w_of(card.chamber) * float(np.mean([row.heater_pct for row in of_hour])) / 100.0
            found.append((power_w, above_k, exp(-(hour + 0.5) * HOUR_S / tau_s)))
    if len(found) < LEAST_HOURS:
        return None, None, len(found)
    power, above, meat = (np.array(column) for column in zip(*found, strict=True))
    design = np.column_stack((above, meat * card.batch.meat_kg))
    solved, *_ = np.linalg.lstsq(design, power, rcond=None)
    left = power - design @ solved
    variance = float(left @ left) / (len(found) - 2)
    error = sqrt(variance * float(np.linalg.pinv(design.T @ design)[0, 0]))
    room_k = 0.5 if _measures_room(card) else 0.5 * (card.chamber.room_temp_c[1] - card.chamber.room_temp_c[0])
    ua = float(solved[0])
    share = sqrt(METHOD_SHARE**2 + (room_k / float(np.mean(above))) ** 2)
    return ua, sqrt(error**2 + (share * ua) ** 2), len(found)


def _warm_up_slope(rows: Sequence[_Row], hung_s: float | None, card: BatchCard) -> float | None:
    """Return the steepest rise in K/min of the empty chamber under the full lamp, over five minutes."""
    first = card.profile.stages[0]
    if first.kind != "warm-up" or hung_s is None:
        return None
    full = [row for row in rows if row.stage == first.name and row.time_s < hung_s and row.heater_pct >= FULL_PCT]
    slopes = [
        60.0 * (later.air_c - row.air_c) / SLOPE_S
        for row in full
        for later in full
        if later.time_s - row.time_s == SLOPE_S
    ]
    return max(slopes) if slopes else None


def _learned_of(shown: Sequence[Shown], chamber: ChamberFile, used: Learned | None) -> Learned:
    """Return the learned file that would follow: the old figures, moved towards what the batches show."""
    base = _from_file(chamber) if used is None else used
    ua = _together([(one.ua_w_per_k, one.ua_error) for one in shown])
    slopes = [one.slope_k_per_min for one in shown if one.slope_k_per_min is not None]
    if ua is not None:
        base = replace(base, ua_w_per_k=_moved(base.ua_w_per_k, ua))
    if slopes:
        spread = float(np.std(slopes, ddof=1)) / sqrt(len(slopes)) if len(slopes) > 1 else 0.0
        slope = float(np.mean(slopes))
        base = replace(base, slope_k_per_min=_moved(base.slope_k_per_min, (slope, max(spread, METHOD_SHARE * slope))))
    slope_s, dead_s = (base.slope_k_per_min.value or 0.0) / 60.0, base.dead_s.value or 0.0
    made = replace(
        base.made,
        batches=len(shown),
        on=datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
    )
    return replace(base, made=made, gains=gains_of_response(slope_s, dead_s, chamber))


def _together(found: Sequence[tuple[float | None, float | None]]) -> tuple[float, float] | None:
    """Return the mean by how sure each is; its error is no smaller than their scatter makes it."""
    known = [(value, error) for value, error in found if value is not None and error]
    if not known:
        return None
    values, errors = np.array([value for value, _ in known]), np.array([error for _, error in known])
    weights = 1.0 / errors**2
    mean = float(weights @ values / weights.sum())
    scatter = float(np.std(values, ddof=1)) / sqrt(len(values)) if len(values) > 1 else 0.0
    return mean, max(float(errors.min()) / sqrt(2.0), scatter)


def _moved(old: Figure, new: tuple[float, float]) -> Figure:
    """Return the old figure, moved towards the new one by how sure both are, by a fifth at most."""
    value, error = new
    if old.value is None:
        return Figure(value=round(value, 4), error=round(error, 4), in_file=old.in_file)
    old_error = old.error or FILE_SHARE * abs(old.value)
    share = old_error**2 / (old_error**2 + error**2)
    moved = old.value + share * (value - old.value)
    moved = min(max(moved, (1.0 - MOST) * old.value), (1.0 + MOST) * old.value)
    together = sqrt(1.0 / (1.0 / old_error**2 + 1.0 / error**2))
    return Figure(value=round(moved, 4), error=round(max(together, abs(moved - value) / 2.0), 4), in_file=old.in_file)


def _from_file(chamber: ChamberFile) -> Learned:
    """Return what the chamber file says, as the old figures of a chamber that nobody has tested."""
    beside, heater = in_file(chamber), heater_of(chamber)
    figures = {name: Figure(value=value, in_file=value, because=SAME) for name, value in beside.items()}
    slope_s = beside["slope_k_per_min"] / 60.0
    made = Made(
        test="none",
        on="",
        chamber=chamber.name,
        lamp_w=lamp_w_of(chamber),
        switch="mechanical" if heater is None else heater.switch,
        thermometer=thermometer_of(chamber),
        volume_l=chamber.model.volume_l,
        ml_per_h=mist_ml_per_h_of(chamber),
        room_c=sum(chamber.room_temp_c) / 2.0,
        room_is="as the batches had it",
    )
    learned = Learned(
        made=made,
        dead_s=figures["dead_s"],
        slope_k_per_min=figures["slope_k_per_min"],
        gains=gains_of_response(slope_s, beside["dead_s"], chamber),
    )
    return replace(learned, **{name: figures[name] for name in ("ua_w_per_k", "air_wall_w_per_k", "wall_j_per_k")})
