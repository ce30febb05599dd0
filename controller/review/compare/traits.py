"""What one batch was like, in figures that can stand beside those of another one, and its curves from hanging on.

Stages, degree-hours, loss and alarms are those of `hangroom review`. What lies between two readings is taken from the
line between them, and nothing beyond the last one is guessed.
"""

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from msgspec import Struct

from controller.food.degree_hours import TARGET_PH
from controller.records.batch_folder import BatchCard
from controller.review.batch import BatchRecord, read_batch
from controller.review.compare.curves import Points, crossing, value_at
from controller.review.compare.recipe import family_of
from controller.review.figures import review_of
from controller.review.forecast.losing import losses_of
from controller.review.logs.scan import NO_HINTS
from controller.review.logs.spreadsheet import Hints
from controller.review.page.stages import humid_share
from controller.review.readings import measured_ph, standing

HOUR_S: Final = 3600.0
DAY_H: Final = 24.0
EQUAL_HOURS: Final = (12, 24, 36, 48, 72)
EQUAL_LOSSES: Final = (10, 20, 30, 40)
SKIPPED_KINDS: Final = frozenset({"warm-up"})
"""It is over when the meat is hung, and lasts as long as people are stuffing."""
OVER: Final = frozenset({"complete", "stopped", "aborted"})


class Figure(Struct, frozen=True):
    """Name one quantity: its key, its group on the page, its words, its unit, how many decimals it is told with."""

    key: str
    group: str
    words: str
    unit: str
    decimals: int


class Traits(Struct, frozen=True, kw_only=True):
    """Hold one batch.

    Attributes:
        batch: its name.
        folder: where it lies.
        card: as it was frozen.
        state: the standard's word.
        begin_s: when the meat was hung, or the ferment's first row.
        counted_from: "hang" or "first row"; None where neither is on record.
        damage: what of the record is damaged or missing, a sentence each.
        figures: by key; None where it is not known.
        so_far: keys of figures that may still change.
        curves: points of pH (hours), loss (days), air and humidity (hourly means, hours), all from begin_s on.
        ferment_missing: the climate does not cover the ferment.
        gap_share: share of the record in gaps (0..1).
    """

    batch: str
    folder: Path
    card: BatchCard
    state: str
    begin_s: float | None
    counted_from: str | None
    damage: tuple[str, ...]
    named: Mapping[str, Figure]
    figures: Mapping[str, float | None]
    so_far: frozenset[str]
    curves: Mapping[str, Points]
    damaged_readings: int
    ferment_missing: bool
    gap_share: float

    @property
    def family(self) -> tuple[str, str, tuple[str, ...]]:
        """Return what kind of sausage it is."""
        return family_of(self.card)


class _Found:
    """Gather figures."""

    def __init__(self) -> None:
        self.named: dict[str, Figure] = {}
        self.values: dict[str, float | None] = {}
        self.so_far: set[str] = set()

    def add(
        self, key: str, group: str, words: str, unit: str, decimals: int, value: float | None, *, over: bool = True
    ) -> None:
        """Add one; `over` says that it will not change any more."""
        self.named[key] = Figure(key, group, words, unit, decimals)
        self.values[key] = value
        if not over and value is not None:
            self.so_far.add(key)


def traits_of(folder: Path, hints: Hints = NO_HINTS) -> Traits:
    """Return what a batch was like; the hints are what a person says about times that a spreadsheet has saved again.

    Raises:
        NoInputError: there is no such folder, or no batch card in it.
        DataError: the card is damaged.
    """
    record = read_batch(folder, hints=hints)
    told = review_of(record)
    begin_s, counted_from = _begin(record)
    curves = {} if begin_s is None else _curves(record, begin_s)
    found = _Found()
    over = told["state"] in OVER
    _acid(found, told, curves.get("ph", []))
    _drying(found, told, curves.get("loss", []), over=over)
    _climate(found, told["stages"], over=over)
    _alarms(found, told["alarms"], over=over)
    rows_h = max(len(record.rows) * record.every_s / HOUR_S, 1e-9)
    gaps_h = sum(gap["hours"] for gap in told["gaps"])
    return Traits(
        batch=told["batch"],
        folder=folder,
        card=record.card,
        state=told["state"],
        begin_s=begin_s,
        counted_from=counted_from,
        damage=tuple(told["damage"]),
        named=found.named,
        figures=found.values,
        so_far=frozenset(found.so_far),
        curves=curves,
        damaged_readings=record.damaged.get("readings.csv", 0) + record.damaged.get("events.csv", 0),
        ferment_missing=bool(told["ferment"]["climate_missing"]),
        gap_share=gaps_h / (gaps_h + rows_h),
    )


def _begin(record: BatchRecord) -> tuple[float | None, str | None]:
    """Return where the axis begins: hanging, else the first row of the ferment."""
    hung_s = next((event.time_s for event in record.events if event.kind == "hang"), None)
    if hung_s is not None:
        return hung_s, "hang"
    ferments = {stage.name for stage in record.card.profile.stages if stage.kind == "ferment"}
    first_s = next((row.time_s - record.every_s for row in record.rows if row.stage in ferments), None)
    return first_s, None if first_s is None else "first row"


def _curves(record: BatchRecord, begin_s: float) -> dict[str, Points]:
    ph = [((at_s - begin_s) / HOUR_S, value) for at_s, value in measured_ph(standing(record.readings))]
    last_s = max((row.time_s for row in record.readings), default=begin_s)
    loss = [((at_s - begin_s) / HOUR_S / DAY_H, value) for at_s, value in losses_of(record, last_s)]
    return {
        "ph": _rising(ph),
        "loss": _rising(loss),
        "air_temp_c": _hourly(((row.time_s - begin_s) / HOUR_S, row.air_temp_c) for row in record.rows),
        "rh_pct": _hourly(((row.time_s - begin_s) / HOUR_S, row.rh_pct) for row in record.rows),
    }


def _rising(points: Points) -> Points:
    """Return the points by rising time; of two at the same instant the later entry stands."""
    return sorted({at: (at, value) for at, value in points}.values())


def _hourly(rows: Iterable[tuple[float, float | None]]) -> Points:
    """Return the mean of each hour, at its middle; an hour without a good value has no point."""
    sums: dict[int, tuple[float, int]] = {}
    for hours, value in rows:
        if value is not None and hours > 0.0:
            total, count = sums.get(int(hours - 1e-9), (0.0, 0))
            sums[int(hours - 1e-9)] = (total + value, count + 1)
    return [(hour + 0.5, total / count) for hour, (total, count) in sorted(sums.items())]


def _acid(found: _Found, told: Mapping[str, Any], ph: Points) -> None:
    over = _is_over(told["stages"], "ferment")
    reached = crossing(ph, TARGET_PH, falling=True)
    words = f"hours to pH {TARGET_PH:g}, between readings"
    found.add("hours_to_ph_5_3", "acid", words, "h", 1, None if reached is None else reached[0])
    for hours in EQUAL_HOURS:
        found.add(f"ph_at_{hours}_h", "acid", f"pH after {hours} h", "", 2, value_at(ph, float(hours)))
    found.add("ph_lowest", "acid", "lowest pH", "", 2, told["ph"]["lowest"], over=over)
    ended = told["ferment"]["hours_to_ph_5_3"] is not None
    for unit, base in (("c", "15.6 °C"), ("f", "60 °F")):
        known = told["ferment"][f"limit_{unit}"] is not None and not told["ferment"]["climate_missing"]
        total = told["ferment"][f"degree_hours_{unit}"] if known else None
        words = f"degree-hours above {base}"
        found.add(f"degree_hours_{unit}", "acid", words, f"°{unit.upper()}·h", 0, total, over=ended)


def _drying(found: _Found, told: Mapping[str, Any], loss: Points, *, over: bool) -> None:
    reached = {level: crossing(loss, float(level), falling=False) for level in EQUAL_LOSSES}
    for level, at in reached.items():
        found.add(f"days_to_{level}_pct", "drying", f"days to {level} % loss", "d", 1, None if at is None else at[0])
    for level, at in reached.items():
        words = f"% a day when {level} % were lost"
        found.add(f"rate_at_{level}_pct", "drying", words, "%/d", 2, None if at is None else at[1])
    found.add("weight_loss_pct", "drying", "loss at the end", "%", 1, told["weight_loss_pct"], over=over)


def like_names(stages: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return a name for each stage by which like ones are found: its kind, and which one of that kind."""
    seen: dict[str, int] = {}
    names = []
    for stage in stages:
        seen[stage["kind"]] = seen.get(stage["kind"], 0) + 1
        names.append(stage["kind"] if seen[stage["kind"]] == 1 else f"{stage['kind']} {seen[stage['kind']]}")
    return names


def _climate(found: _Found, stages: Sequence[Mapping[str, Any]], *, over: bool) -> None:
    for name, stage in zip(like_names(stages), stages, strict=True):
        if stage["kind"] in SKIPPED_KINDS:
            continue
        ended = stage["ended"] is not None or over
        key, air, humid = name.replace(" ", "_"), stage["air_temp_c"], stage["rh_pct"]
        hours = None if stage["over"] and stage["ended"] is None else stage["hours"]  # Over; when, nobody knows.
        found.add(f"{key}_hours", "stages", f"{name}: hours", "h", 1, hours, over=ended)
        found.add(f"{key}_air_mean_c", "climate", f"{name}: air, mean", "°C", 2, air["mean"], over=ended)
        found.add(
            f"{key}_air_within_pct", "climate", f"{name}: air within 0.5 K", "%", 0, air["within_pct"], over=ended
        )
        found.add(f"{key}_rh_mean_pct", "climate", f"{name}: humidity, mean", "%", 1, humid["mean"], over=ended)
        share, is_at_least = humid_share(stage)
        key, words = (
            (f"{key}_rh_at_least_pct", "at most 4 %RH below")
            if is_at_least
            else (f"{key}_rh_within_pct", "within 4 %RH")
        )
        found.add(key, "climate", f"{name}: {words}", "%", 0, share, over=ended)


def _alarms(found: _Found, alarms: Mapping[str, Any], *, over: bool) -> None:
    found.add("alarms", "alarms", "alarms", "", 0, float(alarms["total"]), over=over)
    for priority in ("1", "2"):
        count = float(alarms["by_priority"].get(priority, 0))
        found.add(f"alarms_{priority}", "alarms", f"of priority {priority}", "", 0, count, over=over)


def _is_over(stages: Sequence[Mapping[str, Any]], kind: str) -> bool:
    return all(stage["ended"] is not None for stage in stages if stage["kind"] == kind)
