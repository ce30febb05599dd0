"""The page of a log from elsewhere, and the table of many batches; 80 columns, no colour."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from controller.cli.say import STATE_WORDS, fold

MOST_TOLD: Final = 10
HEAD: Final = ("batch", "state", "stages", "pH 5.3 h", "degree-h", "loss %", "alarms", "record")
WIDTHS: Final = (24, 8, 6, 8, 8, 6, 6)


def log_page(figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield the lines that tell what a log from elsewhere says."""
    (stage,) = figures["stages"]
    zone = ZoneInfo(figures["timezone"])
    yield f"{figures['log']}: {figures['rows']:,} rows, one every {figures['every_s']:g} s"
    yield f"from {_local(stage['began'], zone)} to {_local(stage['ended'], zone)} ({figures['timezone']})"
    yield ""
    yield from _climate("air", stage["air_temp_c"], "°C", "within 0.5 K of what was wanted")
    yield from _climate("humidity", stage["rh_pct"], "%", "within 4 % of what was wanted")
    told = stage["fluctuation"]
    for name, key, unit, count in (
        ("air", "air_temp_k", "K", told["intervals"]),
        ("humidity", "rh_pct", "%RH", told["rh_intervals"]),
    ):
        if count:
            yield from fold(
                f"fluctuation of {name} in {told['interval_min']:.0f} min: {told[key]['median']:g} {unit} (median), "
                f"{told[key]['largest']:g} {unit} at most, of {count} intervals",
                "  ",
            )
    for role, duty_pct in stage["duty_pct"].items():
        energy = stage["energy_kwh"].get(role)
        yield f"{role}: on {duty_pct:.1f} % of the time" + ("" if energy is None else f", {energy:.2f} kWh")
    if stage["water_l"] is not None:
        yield f"water given into the air: {stage['water_l']:.2f} l"
    yield ""
    yield from _record(figures, zone)


def _climate(name: str, spread: Mapping[str, Any], unit: str, band: str) -> Iterator[str]:
    if spread["mean"] is None:
        yield f"{name}: not recorded"
        return
    line = f"{name}: mean {spread['mean']:g} {unit}, {spread['min']:g} to {spread['max']:g} {unit}"
    if spread["within_pct"] is not None:
        line += f"; {spread['within_pct']:.1f} % of the rows {band}"
    yield from fold(line, "  ", "")


def _record(figures: Mapping[str, Any], zone: ZoneInfo) -> Iterator[str]:
    gaps = figures["gaps"]
    hours = sum(gap["hours"] for gap in gaps)
    yield f"gaps: {len(gaps)}, {hours:.1f} h in all" if gaps else "gaps: none"
    for gap in sorted(gaps, key=lambda gap: -gap["hours"])[:MOST_TOLD]:
        yield f"  {_local(gap['from'], zone)} to {_local(gap['to'], zone)}: {gap['hours']:.1f} h"
    if len(gaps) > MOST_TOLD:
        yield f"  and {len(gaps) - MOST_TOLD} shorter ones"
    for unread in figures["unread"]:
        rows = "1 line" if unread["rows"] == 1 else f"{unread['rows']} lines"
        yield from fold(f"not read: {rows} of {unread['file']} (line {unread['lines']}): {unread['why']}", "  ", "")
    for copy in figures["copies"]:
        yield f"left out as a copy: {copy['rows']} rows from {_local(copy['from'], zone)} to {_local(copy['to'], zone)}"
    for step in figures["clock_steps"]:
        yield f"the clock went back from {_local(step['from'], zone)} to {_local(step['to'], zone)}"


def _local(text: str, zone: ZoneInfo) -> str:
    return datetime.fromisoformat(text).astimezone(zone).strftime("%Y-%m-%d %H:%M")


def table_head() -> str:
    """Return the line above the table of many batches."""
    return _line(HEAD)


def table_rows(folder: str, figures: Mapping[str, Any]) -> Iterator[str]:
    """Yield one batch in a line, by the name of its folder, and below it the name on its card where that differs."""
    ferment, loss = figures["ferment"], figures["weight_loss_pct"]
    sour_h = ferment["hours_to_ph_5_3"]
    over = sum(stage["over"] for stage in figures["stages"])
    yield _line(
        (
            folder,
            STATE_WORDS.get(figures["state"], figures["state"]).split(",")[0],
            f"{over}/{len(figures['stages'])}",
            "-" if sour_h is None else f"{sour_h:.1f}",
            ferment["guarded_verdict"],
            "-" if loss is None else f"{loss:.1f}",
            str(figures["alarms"]["total"]),
            "damaged" if figures["damage"] else "whole",
        )
    )
    if figures["batch"] != folder:
        yield from fold(f"its card says: batch {figures['batch']}", "    ", "  ")


def _line(values: tuple[str, ...]) -> str:
    cells = [f"{value[:width]:<{width}}" for value, width in zip(values, WIDTHS, strict=False)]
    return " ".join([*cells, values[-1]]).rstrip()
