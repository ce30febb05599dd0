"""What a forecast says: its numbers, its words, and its row in the batch folder. Light: nothing numeric is imported.

`forecasts.csv` gets a row for each target each time a forecast is kept. It is for people: the daemon never reads it.
"""

import csv
import datetime as dt
import fcntl
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final, Literal
from zoneinfo import ZoneInfo

from msgspec import Struct

from controller.errors import AccessError, StorageError
from controller.records.csv_text import printable, row_of, time_text
from controller.records.durable import AppendFile

FILE: Final = "forecasts.csv"
COLUMNS: Final = (
    "time", "kind", "target", "unit", "basis", "readings", "q10", "q25", "q50", "q75", "q90", "p_never",
    "measure_next", "text",
)  # fmt: skip
HEADER: Final = row_of(COLUMNS)
WORTH_TELLING: Final = 0.05
"""A probability of "never" above this is told."""
LIKELY: Final = 0.5
SUREST_IN_100: Final = 99
"""No draw of a few hundred shows that a thing never comes."""
DAY_S: Final = 86_400.0
NEAR_DAYS: Final = 6
KINDS_OF_STAGE: Final = {"ph": ("warm-up", "ferment"), "weight_loss": ("dry", "rest")}
"""In which stages a kept forecast still means something."""
Kind = Literal["ph", "weight_loss"]
Basis = Literal["recipe", "readings"]


class Forecast(Struct, frozen=True, kw_only=True):
    """Hold when a batch is expected to reach one target. Instants are wall seconds.

    Attributes:
        batch: its name.
        made_s: when this was reckoned.
        kind: of the target.
        target: pH, or loss in % of the green weight.
        basis: whether it rests mainly on the recipe, or on readings.
        readings: how many were used.
        reached_s: when a reading was at the target already; then there is no forecast.
        quantiles_s: 10, 25, 50, 75 and 90 % of the instants, in case it comes at all; None where it never does.
        p_never: probability (0..1) that it never comes.
        measure_next_s: when the next reading tells most.
        why_never: in a maker's words, what would keep it from coming, and what would help.
        batches: on how many of the maker's own finished batches its prior stands.
    """

    batch: str
    made_s: float
    kind: Kind
    target: float
    basis: Basis
    readings: int
    reached_s: float | None = None
    quantiles_s: tuple[float, float, float, float, float] | None = None
    p_never: float = 0.0
    measure_next_s: float | None = None
    why_never: str = ""
    batches: int = 0

    @property
    def unit(self) -> str:
        """Return the unit of the target."""
        return "pH" if self.kind == "ph" else "%"


def words_of(forecast: Forecast, timezone: str) -> str:
    """Return a forecast in a sentence or two, its times in this time zone."""
    name = f"pH {forecast.target:g}" if forecast.kind == "ph" else f"{forecast.target:g} % loss"
    now_s = forecast.made_s
    if forecast.reached_s is not None:
        return f"{name} is reached: measured {moment(forecast.reached_s, now_s, timezone, forecast.kind)}."
    share = f"{min(max(round(100.0 * forecast.p_never), 1), SUREST_IN_100)} in 100"
    if forecast.quantiles_s is None:
        return f"{name} is not expected at all. {forecast.why_never}".strip()
    low_s, *_, high_s = forecast.quantiles_s
    band = f"{_band(low_s, high_s, now_s, timezone, forecast.kind)} (80 %)"
    if forecast.p_never > LIKELY:
        # No instant beside it: whoever reads a day waits for it.
        said = f"{name} is unlikely to come ({share} that it never does), {_basis(forecast)}. {forecast.why_never}"
    else:
        said = f"{name} {'was ' if high_s < now_s else ''}expected {band}, {_basis(forecast)}."
        if forecast.p_never > WORTH_TELLING:
            said += f" It may never come ({share}). {forecast.why_never}"
    said = said.strip()
    if forecast.measure_next_s is not None:
        verb = "Measure" if forecast.kind == "ph" else "Weigh"
        due = forecast.measure_next_s <= now_s
        said += f" {verb} next: {'now' if due else moment(forecast.measure_next_s, now_s, timezone, forecast.kind)}."
    return said


def as_object(forecast: Forecast, timezone: str) -> dict[str, object]:
    """Return a forecast as one object for programs: instants as RFC 3339 in UTC, its words beside them."""
    levels = ("q10", "q25", "q50", "q75", "q90")
    times = (None,) * 5 if forecast.quantiles_s is None else tuple(time_text(at_s) for at_s in forecast.quantiles_s)
    reached_s, next_s = forecast.reached_s, forecast.measure_next_s
    return {
        "batch": forecast.batch,
        "time": time_text(forecast.made_s),
        "kind": forecast.kind,
        "target": forecast.target,
        "unit": forecast.unit,
        "basis": forecast.basis,
        "readings": forecast.readings,
        "batches": forecast.batches,
        "reached": None if reached_s is None else time_text(reached_s),
        **dict(zip(levels, times, strict=True)),
        "p_never": round(forecast.p_never, 3),
        "measure_next": None if next_s is None else time_text(next_s),
        "text": words_of(forecast, timezone),
    }


def _basis(forecast: Forecast) -> str:
    batches = f"{forecast.batches} of your batches"
    if forecast.basis == "recipe":
        return f"based mainly on {f'the recipe, and stands on {batches}' if forecast.batches else 'the recipe'}"
    thing = "reading" if forecast.kind == "ph" else "weighing"
    said = f"from {forecast.readings} {thing}{'' if forecast.readings == 1 else 's'}"
    return f"{said}; stands on {batches}" if forecast.batches else said


def _band(low_s: float, high_s: float, now_s: float, timezone: str, kind: Kind) -> str:
    """Return from when to when: Tue 14:10 to 19:40, Tue 23:10 to Wed 05:20, Sat 31 Jan to Tue 3 Feb."""
    low, high = moment(low_s, now_s, timezone, kind), moment(high_s, now_s, timezone, kind)
    day, _, clock = high.rpartition(" ")
    same_day = ":" in clock and low.startswith(f"{day} ")
    return low if low == high else f"{low} to {clock if same_day else high}"


def moment(at_s: float, now_s: float, timezone: str, kind: Kind) -> str:
    """Return an instant as people say it: Tue 14:10 for a pH this week, Tue 3 Feb for days of drying."""
    at = dt.datetime.fromtimestamp(at_s, ZoneInfo(timezone))
    clock = kind == "ph" or abs(at_s - now_s) < DAY_S
    if clock:
        minute = at.minute - at.minute % 10  # To ten minutes: no forecast is better than that.
        near = abs(at_s - now_s) <= NEAR_DAYS * DAY_S
        return f"{at:%a}{'' if near else f' {at.day} {at:%b}'} {at.hour:02d}:{minute:02d}"
    year = f" {at.year}" if abs(at_s - now_s) > 300 * DAY_S else ""
    return f"{at:%a} {at.day} {at:%b}{year}"


def row(forecast: Forecast, timezone: str) -> bytes:
    """Return the row of one forecast, line end included."""
    times = [""] * 5 if forecast.quantiles_s is None else [time_text(at_s) for at_s in forecast.quantiles_s]
    next_s = forecast.measure_next_s
    return row_of(
        (
            time_text(forecast.made_s),
            forecast.kind,
            f"{forecast.target:g}",
            forecast.unit,
            forecast.basis,
            str(forecast.readings),
            *times,
            f"{forecast.p_never:.3f}",
            "" if next_s is None else time_text(next_s),
            words_of(forecast, timezone),
        )
    )


def keep(folder: Path, forecasts: Sequence[Forecast], timezone: str, *, force: bool = True) -> None:
    """Append a row for each forecast to the batch's file, each whole and on disk.

    Raises:
        AccessError: this person may not write there.
        StorageError: the disk failed.
    """
    try:
        with _alone(folder):
            file = AppendFile(folder / FILE, header=HEADER, force=force)
            try:
                for forecast in forecasts:
                    file.append(row(forecast, timezone))
            finally:
                file.close()
    except PermissionError as error:
        raise AccessError(f"{folder}: you may not write there; without --keep the forecast is only shown.") from error
    except StorageError as error:
        if isinstance(error.__cause__, PermissionError):
            raise AccessError(
                f"{folder / FILE}: you may not write there; without --keep the forecast is only shown."
            ) from error
        raise


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep a person and the timer from writing at the same time."""
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        fcntl.flock(fd, fcntl.LOCK_EX)
        yield
    finally:
        os.close(fd)


class Kept(Struct, frozen=True):
    """Hold what `status` shows of a kept forecast."""

    made_s: float
    kind: str
    text: str


def newest(folder: Path) -> list[Kept]:
    """Return the rows that were kept last, one for each target; none where nothing readable is kept."""
    try:
        lines = (folder / FILE).read_bytes().decode("utf-8", "replace").splitlines()
    except OSError:
        return []
    header, *rows = [line.replace("\0", "") for line in lines] or [""]
    kept: list[Kept] = []
    for row in rows:
        try:
            fields = next(csv.DictReader([header, printable(row)]))
            made_s = dt.datetime.fromisoformat(fields["time"]).timestamp()
            told = Kept(made_s, fields["kind"], fields["text"])
        except (KeyError, TypeError, ValueError, StopIteration, csv.Error):
            continue  # A damaged row; the others still count.
        if told.text:
            kept = [*(before for before in kept if before.made_s == made_s), told]
    return kept


def forecast_lines(folder: Path, stage_kind: str, now_s: float) -> list[str]:
    """Return what `status` says of the forecast that was kept last: each clearly a forecast, with its age.

    Args:
        folder: of the batch.
        stage_kind: of the stage the batch is in; a forecast of another part of the batch is left out.
        now_s: the wall clock.
    """
    return [
        f"forecast, {_age(now_s - told.made_s)} old: {told.text}"
        for told in newest(folder)
        if stage_kind in KINDS_OF_STAGE.get(told.kind, ())
    ]


def _age(age_s: float) -> str:
    minutes = int(max(age_s, 0.0) // 60)
    hours, days = minutes // 60, minutes // 1440
    return f"{days} d" if days >= 2 else f"{hours} h" if hours else f"{minutes} min"  # noqa: PLR2004 - two days
