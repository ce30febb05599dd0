"""A plan as one object of plain figures, for other programs."""

import datetime as dt
from math import isinf
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from controller.planning.hours.day import HOUR_S
from controller.planning.sheet import Plan


def as_object(plan: Plan) -> dict[str, Any]:
    """Return the plan as one object of plain values, with the keys of the outside contract and more."""
    formula, zone = plan.sheet.formula, ZoneInfo(plan.timezone)

    def when(wall_s: float | None) -> str | None:
        return None if wall_s is None else dt.datetime.fromtimestamp(wall_s, zone).isoformat(timespec="minutes")

    window = plan.window_wall_s
    return {
        "profile": plan.profile.name,
        "chamber": plan.chamber,
        "meat_kg": formula.meat_kg,
        "mix_kg": formula.mix_kg,
        "diameter_mm": plan.sheet.diameter_mm,
        "meats": [msgspec.to_builtins(meat) for meat in formula.meats],
        "ingredients": [msgspec.to_builtins(line) for line in formula.ingredients],
        "ingoing": {
            "nitrite_ppm_us": formula.nitrite_ppm_us,
            "nitrite_ppm_eu_ion": formula.nitrite_ppm_eu_ion,
            "nitrate_ppm": formula.nitrate_ppm,
            "nitrite_ppm_ca": formula.nitrite_ppm_ca,
        },
        "limits": [msgspec.to_builtins(limit) for limit in formula.limits],
        "cure": formula.cure,
        "salt_pct": formula.salt_pct,
        "end_ph": list(formula.end_ph),
        "steps": [{"when": when(step.wall_s), "what": step.what} for step in plan.sheet.steps],
        "stuffed": when(plan.times.stuffed_s),
        "hung": when(plan.times.hung_s),
        "latest_hour_for_ph_5_3": when(plan.sheet.latest_5_3_wall_s),
        "hours_allowed_to_ph_5_3": {} if plan.allowed is None else _finite(plan.allowed.hours),
        "expected_ph_window": None
        if window is None or plan.course is None
        else {
            "ph": plan.course.aim_ph,
            "ph_on_the_meter": plan.course.meter_ph,
            **dict(zip(("fast", "expected", "slow"), map(when, window), strict=True)),
        },
        "expected_5_3": None
        if plan.course is None
        else {
            name: None if case.to_5_3 is None else when(plan.times.hung_s + case.to_5_3 * HOUR_S)
            for name, case in (
                ("fast", plan.course.fast),
                ("expected", plan.course.expected),
                ("slow", plan.course.slow),
            )
        },
        "window_in_waking_hours": plan.awake_share,
        "warm_up_min": None if plan.warm_up_s is None else round(plan.warm_up_s / 60.0),
        "criteria": list(plan.sheet.criteria),
        "warnings": list(plan.sheet.warnings),
        "accepted": list(plan.sheet.accepted),
    }


def _finite(hours: tuple[tuple[str, float], ...]) -> dict[str, float | None]:
    return {name.lower(): None if isinf(value) else value for name, value in hours}
