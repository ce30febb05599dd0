"""Forecasts on the page: what was told, beside what came."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from controller.review.page.tables import Column, table
from controller.review.page.words import Look, lasted, many, times


def forecasts(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the score of each target, and the forecasts of some instants before it came."""
    told = figures["forecasts"]
    if not told["kept"]:
        return ["Forecasts: none kept with this batch (hangroom forecast --keep, or its timer, keeps them)"]
    lines = [f"Forecasts that were told, beside what came: {told['kept']} kept"]
    for score in told["scores"]:
        lines += _score(score, look)
    return lines


def _score(score: Mapping[str, Any], look: Look) -> list[str]:
    name = f"pH {score['target']:g}" if score["kind"] == "ph" else f"{score['target']:g} % loss"
    came = "has not come" if score["came"] is None else f"came about {look.minute(score['came'])}"
    lines = [f"  {name} {came}; told {times(score['told'])}"]
    if score["came"] is not None and score["came_after"] is not None:
        lines[0] += f" (by the measurements of {look.short(score['came_after'])} and {look.short(score['came_by'])})"
    if score["judged"]:
        held = f"    {score['inside']} of {score['judged']} held it in the range they told for 8 in 10"
        wide = [f"it came too {word} for {score[word]}" for word in ("early", "late") if score[word]]
        lines.append("; ".join([held, *wide]))
    if score["mean_off_h"] is not None:
        late = score["median_late_h"]
        side = "later" if late >= 0.0 else "earlier"
        off = f"    the middle of the range was off by {lasted(score['mean_off_h'])} on average"
        lines.append(f"{off}; in the median it came {lasted(abs(late))} {side}")
    if score["never"]:
        lines.append(f"    {many(score['never'], 'forecast')} told that it would hardly ever come")
    if score["open"]:
        lines.append(f"    {many(score['open'], 'forecast')} cannot be judged: it had not come when last measured")
    rows = [
        [f"  {look.short(step['made'])}", _lead(step, score), _range(step, look), _off(step)] for step in score["steps"]
    ]
    if rows:
        columns = [
            Column("  made"),
            Column("before", "right"),
            Column("told for 8 in 10"),
            Column("it came, by the middle"),
        ]
        lines += table(columns, rows)
    return lines


def _lead(step: Mapping[str, Any], score: Mapping[str, Any]) -> str:
    if score["came"] is None:
        return "-"
    lead_s = (datetime.fromisoformat(score["came"]) - datetime.fromisoformat(step["made"])).total_seconds()
    return lasted(lead_s / 3600.0)


def _range(step: Mapping[str, Any], look: Look) -> str:
    """Return the range, its second day only where it is another one."""
    low, high = look.short(step["q10"]), look.short(step["q90"])
    same_day = low.rpartition(" ")[0] == high.rpartition(" ")[0]
    return f"{low} to {high.rpartition(' ')[2] if same_day else high}"


def _off(step: Mapping[str, Any]) -> str:
    held = "inside" if step["fate"] == "inside" else f"too {step['fate']}"
    if step["late_h"] is None:
        return held
    return f"{held}, {lasted(abs(step['late_h']))} {'late' if step['late_h'] >= 0.0 else 'early'}"
