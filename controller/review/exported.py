"""Write the figures of a review as plain CSV files, one for each kind of row: for a spreadsheet, or another program.

RFC 4180, UTF-8, decimal point, empty for missing, times RFC 3339 in UTC, temperatures in °C whatever a page shows.
"""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from controller.errors import AccessError, StorageError, UsageError
from controller.records.batch_folder import CARD
from controller.records.csv_text import row_of, time_text
from controller.records.durable import replace_whole
from controller.review.batch import ReadingRow
from controller.review.readings import standing
from controller.review.story.scored import LEVELS, scored

Rows = Sequence[Mapping[str, Any]]
FLAT: Final = ("ferment", "ph", "alarms")
"""Objects of which every plain value becomes a line of figures.csv."""
LISTS: Final = {
    "ph": "ph_course",
    "weight": "weight_course",
    "alarms": "alarm_history",
    "gaps": "gaps",
    "pauses": "pauses",
    "breaks": "breaks",
    "corrections": "corrections",
    "notes": "notes",
    "decisions": "decisions",
}
COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "figures": ("name", "value"),
    "stages": (
        "name", "kind", "where", "began", "ended", "over", "by", "hours", "planned_h", "planned_least_h",
        "planned_most_h", "expected_h", "beside", "air_temp_wanted_c", "air_temp_mean_c", "air_temp_min_c",
        "air_temp_max_c", "air_temp_within_pct", "rh_wanted_pct", "rh_mean_pct", "rh_min_pct", "rh_max_pct",
        "rh_within_pct", "rh_at_least_pct", "rows", "rows_counted", "fluctuation_interval_min",
        "air_temp_fluctuation_median_k", "air_temp_fluctuation_largest_k", "rh_fluctuation_median_pct",
        "rh_fluctuation_largest_pct", "water_l",
    ),
    "switches": ("stage", "output", "closings", "duty_pct", "energy_kwh"),
    "ph": ("time", "hours", "ph", "counts", "instrument", "note", "actor"),
    "weight": ("time", "hours", "piece", "grams", "loss_pct", "out", "actor"),
    "alarms": (
        "id", "title", "priority", "raised", "called", "seen_time", "seen_by", "seen_after_h", "cleared_time",
        "cleared_by", "cleared_after_h", "returned", "follows", "active_h", "open", "quieted", "text",
    ),
    "gaps": ("from", "to", "hours"),
    "pauses": ("from", "until", "hours", "waits_for", "actor", "text"),
    "breaks": ("back", "why", "length", "text"),
    "corrections": (
        "id", "replaces", "kind", "piece", "unit", "old", "new", "old_time", "new_time", "entered", "old_actor",
        "actor", "note",
    ),
    "entered": ("actor", "what", "count"),
    "checks": (
        "time", "when", "instrument", "method", "unit", "error", "offset", "slope_pct", "verdict", "actor", "note",
    ),
    "notes": ("time", "about", "text", "actor"),
    "decisions": ("time", "kind", "text", "actor"),
    "forecasts": ("time", "kind", "target", "basis", *LEVELS, "p_never", "fate", "late_h"),
    "damage": ("said",),
}  # fmt: skip
"""The columns of each file, in their order; new ones are appended."""


def write_csv(figures: Mapping[str, Any], folder: Path, readings: Sequence[ReadingRow], into: Path) -> list[Path]:
    """Write all files; those of the same names that are there already are replaced.

    Args:
        figures: of `review`.
        folder: of the batch; its kept forecasts are scored one by one.
        readings: of the batch, all of them.
        into: the folder to write to; it is made where it is not there.

    Returns:
        The files, in the order of COLUMNS; those without rows hold their header.

    Raises:
        UsageError: it is the folder of a batch: nothing is written beside its record, where a file has such a name.
        AccessError: it may not be written there.
        StorageError: the disk failed.
    """
    if (into / CARD).exists():
        raise UsageError(
            f"{into}: is the folder of a batch, whose record nothing may replace; name another one: --csv figures"
        )
    rows = _tables(figures, folder, readings)
    try:
        into.mkdir(parents=True, exist_ok=True)
        return [_write(into / f"{name}.csv", columns, rows[name]) for name, columns in COLUMNS.items()]
    except PermissionError as error:
        raise AccessError(f"{into}: you may not write there; name another folder: --csv figures") from error
    except OSError as error:
        if isinstance(error, StorageError):
            raise
        raise StorageError(f"{into}: cannot be written: {error.strerror or error}") from error


def _write(path: Path, columns: Sequence[str], rows: Rows) -> Path:
    lines = [row_of(columns), *(row_of([_text(row.get(name)) for name in columns]) for row in rows)]
    replace_whole(path, b"".join(lines), force=False, keep_previous=False)
    return path


def _text(value: object) -> str:
    """Return a value as it stands in a field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    return str(value)


def _tables(figures: Mapping[str, Any], folder: Path, readings: Sequence[ReadingRow]) -> dict[str, Rows]:
    tables: dict[str, Rows] = {name: figures[key] for name, key in LISTS.items()}
    planned = {one["name"]: one for one in figures["planned"]}
    tables["alarms"] = [_alarm(one) for one in figures["alarm_history"]]
    tables["checks"] = figures["checks"]["list"]
    tables["stages"] = [_stage(one, planned.get(one["name"], {})) for one in figures["stages"]]
    tables["switches"] = [
        {
            "stage": one["name"],
            "output": role,
            "closings": count,
            "duty_pct": one["duty_pct"].get(role),
            "energy_kwh": one["energy_kwh"].get(role),
        }
        for one in figures["stages"]
        for role, count in one["switches"].items()
    ]
    tables["entered"] = [
        {"actor": one["actor"], "what": what, "count": count}
        for one in figures["entered_by"]
        for what, count in {**one["readings"], **one["diary"]}.items()
    ]
    tables["damage"] = [{"said": said} for said in figures["damage"]]
    tables["forecasts"] = _forecasts(folder, readings)
    tables["figures"] = list(_flat(figures))
    return tables


def _alarm(one: Mapping[str, Any]) -> dict[str, Any]:
    row = dict(one)
    for what in ("seen", "cleared"):
        row |= {f"{what}_{key}": value for key, value in (one[what] or {}).items()}
    return row | {"quieted": len(one["quieted"])}


def _stage(one: Mapping[str, Any], planned: Mapping[str, Any]) -> dict[str, Any]:
    row = dict(one) | {
        "planned_h": planned.get("hours"),
        "planned_least_h": planned.get("least_h"),
        "planned_most_h": planned.get("most_h"),
        "expected_h": planned.get("expected_h"),
        "beside": planned.get("beside"),
        "air_temp_wanted_c": planned.get("air_temp_c"),
        "rh_wanted_pct": planned.get("rh_pct"),
    }
    swing = one["fluctuation"]
    row["fluctuation_interval_min"] = swing["interval_min"]
    row |= {f"air_temp_fluctuation_{name}_k": value for name, value in swing["air_temp_k"].items()}
    row |= {f"rh_fluctuation_{name}_pct": value for name, value in swing["rh_pct"].items()}
    row |= {f"air_temp_{name}{'' if name.endswith('pct') else '_c'}": it for name, it in one["air_temp_c"].items()}
    return row | {f"rh_{name}{'' if name.endswith('pct') else '_pct'}": it for name, it in one["rh_pct"].items()}


def _forecasts(folder: Path, readings: Sequence[ReadingRow]) -> list[dict[str, Any]]:
    rows = []
    for told, fate, late_h in scored(folder, standing(readings), 0.0).fates:
        times = (None,) * len(LEVELS) if told.quantiles_s is None else tuple(time_text(at) for at in told.quantiles_s)
        rows.append(
            {
                "time": time_text(told.made_s),
                "kind": told.kind,
                "target": told.target,
                "basis": told.basis,
                **dict(zip(LEVELS, times, strict=True)),
                "p_never": told.p_never,
                "fate": fate,
                "late_h": late_h,
            }
        )
    return rows


def _flat(figures: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield every single value of the review: `ferment.guarded.verdict`, within."""
    for name, value in figures.items():
        if name in FLAT:
            yield from _below(name, value)
        elif not isinstance(value, dict | list):
            yield {"name": name, "value": value}


def _below(name: str, value: object) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        for key, one in value.items():
            yield from _below(f"{name}.{key}", one)
    elif isinstance(value, list):
        yield {"name": name, "value": " ".join(str(one) for one in value)}
    else:
        yield {"name": name, "value": value}
