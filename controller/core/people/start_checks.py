"""Whether a batch can be begun with what was asked: the box takes what anybody wrote into it.

A profile that `hangroom check` has passed lies well within these bounds. What lies beyond them would count nothing, or
bring the deciding part down in each tick to come.
"""

from collections.abc import Iterator
from typing import Final

from controller.core.figures import degrees
from controller.core.people.desk import HEAVIEST_KG, Refused
from controller.core.plan import BELOW_TRIP_K, Chamber, Profile, Stage
from controller.core.requests import Start
from controller.core.values import Fault, Reading

COLDEST_C: Final = -5.0
HOTTEST_C: Final = 120.0
WIDEST_MM: Final = 300.0
LONGEST_H: Final = 10_000.0
MOST_STAGES: Final = 50
"""What cannot be, whoever typed it; the verbs ask back much earlier. Common practice, no source."""
ROOM_BELOW_K: Final = 1.0
"""Fan and meat warm a chamber by so much: a room that is cooler by it is cold enough. Common practice, no source."""
LOSS_PCT: Final = (0.0, 75.0)
PH_AT_MOST: Final = (4.0, 5.3)
RECIPE: Final[dict[str, tuple[float, float]]] = {
    "salt_pct": (0.5, 10.0),
    "cure_pct": (0.0, 10.0),
    "dextrose_pct": (0.0, 5.0),
    "starter_g_per_kg": (0.0, 100.0),
}


def check_start(request: Start, chamber: Chamber) -> None:
    """Refuse what no checked profile can be. Raises Refused with the first thing that is wrong."""
    profile = request.profile
    if not profile.stages:
        raise Refused("the profile has no stage")
    if len(profile.stages) > MOST_STAGES:
        raise Refused(f"the profile has {len(profile.stages)} stages; take {MOST_STAGES} or fewer")
    if not (0.0 < request.meat_kg < HEAVIEST_KG and 0.0 < request.diameter_mm < WIDEST_MM):
        raise Refused(f"{round(request.meat_kg, 2):g} kg of meat in {request.diameter_mm:.0f} mm: this cannot be")
    _within(_recipe_numbers(profile))
    for stage in profile.stages:
        _check_stage(stage, chamber)
        _within(_stage_numbers(stage))


def doubt_of_room(first: Stage, chamber: Chamber, room: Reading | Fault | None) -> str:
    """Return why the first stage cannot be had in a room that is as warm as its thermometer shows now; else empty.

    What the chamber file says of the room has been judged when the profile was fitted to the chamber.
    """
    wanted_c = first.air_temp_c
    if wanted_c is None or first.where != "chamber" or chamber.output("cooler") is not None:
        return ""
    if not isinstance(room, Reading) or not wanted_c - ROOM_BELOW_K <= room.value <= HOTTEST_C:
        return ""
    return (
        f"the room is at {room.value:.1f} °C, {first.name} wants {wanted_c:g} °C, and this chamber has no cooling: it "
        "cannot be held. Move the chamber, or wait for another day."
    )


def tell_first(first: Stage) -> str:
    """Return what climate is wanted from now on, so that a wrong profile is seen before the meat is in."""
    wanted = [f"{first.air_temp_c:g} °C"] if first.air_temp_c is not None else []
    wanted += [f"{first.rh_pct:g} % humidity"] if first.rh_pct is not None else []
    return f"Wanted: {' and '.join(wanted)}." if wanted and first.where == "chamber" else ""


def _within(numbers: Iterator[tuple[str, float | None, float, float]]) -> None:
    for name, value, low, high in numbers:
        if value is not None and not low <= value <= high:  # Also what is no number.
            raise Refused(f"{name} = {value:g}; take {low:g} to {high:g}")


def _recipe_numbers(profile: Profile) -> Iterator[tuple[str, float | None, float, float]]:
    for name, (low, high) in RECIPE.items():
        yield f"per_kg: {name}", getattr(profile.per_kg, name), low, high
    for temp_c in profile.starter_temp_c:
        yield "starter_temp_c", temp_c, COLDEST_C, 60.0


def _stage_numbers(stage: Stage) -> Iterator[tuple[str, float | None, float, float]]:
    until, name = stage.until, stage.name
    yield f"{name}: air_temp_c", stage.air_temp_c, COLDEST_C, HOTTEST_C
    yield f"{name}: rh_pct", stage.rh_pct, 0.0, 100.0
    yield f"{name}: fan_min_per_h", stage.fan_min_per_h, 0.0, 60.0
    yield f"{name}: fresh_air_min_per_day", stage.fresh_air_min_per_day, 0.0, 1440.0
    yield f"{name}: ramp_h", stage.ramp_h, 0.0, LONGEST_H
    yield f"{name}: at_least_h", stage.at_least_h, 0.0, LONGEST_H
    yield f"{name}: at_most_h", stage.at_most_h, 0.0, LONGEST_H
    yield f"{name}: hours", until.hours, 0.0, LONGEST_H
    yield f"{name}: weight_loss_pct", until.weight_loss_pct, *LOSS_PCT
    yield f"{name}: core_temp_c", until.core_temp_c, 0.0, 100.0
    yield f"{name}: ph_at_most", until.ph_at_most, *PH_AT_MOST
    for due_h in stage.ph_due_h:
        yield f"{name}: ph_due_h", due_h, 0.0, LONGEST_H


def _check_stage(stage: Stage, chamber: Chamber) -> None:
    """Refuse what this chamber cannot do, and a ferment of which nothing would be counted."""
    temp_c, high_c = stage.air_temp_c, chamber.limits.trip_c - BELOW_TRIP_K
    here = stage.where == "chamber"
    if here and temp_c is not None and not COLDEST_C <= temp_c <= high_c:
        raise Refused(f"{stage.name}: {degrees(temp_c)}; take {COLDEST_C:g} to {degrees(high_c)}")
    if stage.kind == "cook" and here:
        raise Refused(f"{stage.name}: a chamber does not cook; it is done elsewhere")
    if stage.kind == "smoke" and here and not chamber.smoke_here:
        raise Refused(f"{stage.name}: no smoke is let into {chamber.name}; it is done elsewhere")
    if stage.kind == "ferment" and stage.until.ph_at_most is None:
        raise Refused(f"{stage.name}: a ferment ends on its pH; its until lacks ph_at_most")
    if stage.kind == "ferment" and temp_c is None:
        raise Refused(
            f"{stage.name}: a ferment needs air_temp_c wherever it stands; without it no degree-hours are counted"
        )
