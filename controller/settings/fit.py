"""Whether a chamber can do what a profile asks, and what becomes of the stages that it cannot."""

from collections.abc import Iterator
from math import ceil
from typing import Final

from msgspec.structs import asdict, replace

from controller.core.plan import BELOW_TRIP_K, Chamber, DegreeHoursRule, Profile, Stage, StageKind
from controller.food.degree_hours import BINDING, OVERSHOOT_K, Rule, in_unit, limit_for, nearest_edge
from controller.settings.problems import Problem, raise_problems

WET_BY_ITSELF_PCT: Final = 90.0
"""A chamber full of fresh meat is that wet by itself: 91 %RH in a modelled fridge that is only cooled, 96 % in a tight
box. Common practice, no source."""
NO_SMOKE: Final = (
    'take where = "elsewhere". Soot and tar foul relays, sensors and the humidifier, fat that drips burns, smoke is '
    "carbon monoxide; the trip ends all heat. Who has read that and means it writes smoke_in_chamber = true into the "
    "chamber file"
)
LOSING_KINDS: Final[set[StageKind]] = {"dry", "equalise", "rest", "smoke"}
"""Kinds in which humidity is not "at least" but what the meat is to lose its water to."""


class ChosenProfile(Profile, frozen=True, kw_only=True):
    """Hold a profile as it was read, with its file, and the stages that may go on elsewhere."""

    file: str
    movable: tuple[str, ...] = ()
    typed_f: tuple[str, ...] = ()  # The stages whose temperature stands in °F in the file.


def fits(profile: Profile, chamber: Chamber) -> list[Problem]:
    """Return what this chamber cannot do of the stages that are to be in it, one problem for each reason.

    A stage that may go on elsewhere is no exception here; `adapt` is.
    """
    return [
        problem
        for number, stage in enumerate(profile.stages, start=1)
        for problem in _unfit(profile, number, stage, chamber)
    ]


def adapt(profile: Profile, chamber: Chamber) -> tuple[Profile, tuple[str, ...]]:
    """Return the profile as this chamber can do it, and what a person must know about it, a sentence each.

    A stage with `elsewhere_if_unfit` that the chamber cannot do becomes one that is done elsewhere.

    Raises:
        SettingsError: the chamber cannot do a stage that must be in it; one line for each reason.
    """
    movable = profile.movable if isinstance(profile, ChosenProfile) else ()
    problems: list[Problem] = []
    stages: list[Stage] = []
    sentences: list[str] = []
    moved: dict[str, list[str]] = {}  # For each reason the stages that it sends elsewhere.
    for number, stage in enumerate(profile.stages, start=1):
        unfit = list(_unfit(profile, number, stage, chamber))
        if unfit and stage.name in movable:
            reasons = "; ".join(_reason(problem) for problem in unfit)
            moved.setdefault(reasons, []).append(_called(stage))
            stages.append(replace(stage, where="elsewhere"))
            continue
        problems += unfit
        stages.append(stage)
        sentences += _left_out(stage, chamber)
        if stage.kind == "ferment" and stage.air_temp_c is not None:
            near = near_band_edge(stage.air_temp_c, chamber.air_error_k, chamber.degree_hours_rule)
            sentences += [f"Stage {stage.name}: {near}"] if near else []
    raise_problems(problems)
    sentences[:0] = [_moved(names, reasons) for reasons, names in moved.items()]
    plain = {name: value for name, value in asdict(profile).items() if name in Profile.__struct_fields__}
    return Profile(**{**plain, "stages": tuple(stages)}), tuple(sentences)


def _moved(names: list[str], reasons: str) -> str:
    if len(names) == 1:
        return f"Stage {names[0]} goes on elsewhere: {reasons}."
    return f"Stages {', '.join(names[:-1])} and {names[-1]} go on elsewhere: {reasons}."


def _called(stage: Stage) -> str:
    asks = [f"{stage.air_temp_c:g} °C"] if stage.air_temp_c is not None else []
    asks += [f"{stage.rh_pct:g} % RH"] if stage.rh_pct is not None else []
    return f"{stage.name} ({', '.join(asks)})" if asks else stage.name


def _reason(problem: Problem) -> str:
    """Return why, without the advice that follows it."""
    return problem.remedy.split("; ", maxsplit=1)[0]


def _unfit(profile: Profile, number: int, stage: Stage, chamber: Chamber) -> Iterator[Problem]:
    """Yield why this chamber cannot do this stage: a reason, then advice."""
    if stage.where != "chamber":
        return
    file = profile.file if isinstance(profile, ChosenProfile) else profile.name
    if stage.kind == "smoke" and not chamber.smoke_here:
        yield Problem(file, f"stage[{number}].where", '"chamber"', f"smoke is not let into {chamber.name}; {NO_SMOKE}")
    typed_f = isinstance(profile, ChosenProfile) and stage.name in profile.typed_f
    temp_c = stage.air_temp_c
    if temp_c is not None:
        key = f"stage[{number}].air_temp_{'f' if typed_f else 'c'}"
        value = f"{temp_c * 1.8 + 32.0:.1f}" if typed_f else f"{temp_c:g}"
        for remedy in _temp_reasons(temp_c, chamber):
            yield Problem(file, key, value, remedy)
    if stage.rh_pct is not None:
        for remedy in _rh_reasons(stage, stage.rh_pct, chamber):
            yield Problem(file, f"stage[{number}].rh_pct", f"{stage.rh_pct:g}", remedy)


def _temp_reasons(temp_c: float, chamber: Chamber) -> Iterator[str]:
    coldest_c, warmest_c = min(chamber.room_c), max(chamber.room_c)
    advice = 'take where = "elsewhere", elsewhere_if_unfit = true, or another chamber'
    if temp_c < warmest_c and chamber.output("cooler") is None:
        yield f"{chamber.name} has no cooler and its room gets up to {warmest_c:g} °C; {advice}"
    heater, figures = chamber.output("heater"), chamber.figures
    # Of dry air: the walls above the room, and the air above its walls. Mist takes some of it, which `check` reckons.
    rise_k_per_w = 1.0 / figures.ua_w_per_k + (1.0 - figures.lamp_radiant) / figures.air_wall_w_per_k
    if heater is None:
        if temp_c > coldest_c:
            yield (
                f"{chamber.name} has no heater and its room gets down to {coldest_c:g} °C; "
                f"a lamp of at least {_whole_w((temp_c - coldest_c) / rise_k_per_w):g} W, or {advice}"
            )
    else:
        highest_c = coldest_c + heater.w * rise_k_per_w
        if temp_c > highest_c:
            yield (
                f"{chamber.name} reaches {highest_c:.1f} °C at most with {heater.w:g} W in a room of {coldest_c:g} °C; "
                f"a lamp of at least {_whole_w((temp_c - coldest_c) / rise_k_per_w):g} W, a room of at least "
                f"{temp_c - heater.w * rise_k_per_w:.1f} °C, or more insulation"
            )
    trip_c = chamber.limits.trip_c
    if temp_c > trip_c - BELOW_TRIP_K:
        highest_c = trip_c - BELOW_TRIP_K
        yield f"{chamber.name} cuts all heat at {trip_c:g} °C, and 3 K must lie between; take {highest_c:g} °C or less"


def _whole_w(watts: float) -> float:
    """Return the power in steps of 5 W, upwards: finer ones are not sold."""
    return ceil(watts / 5.0) * 5.0


def _rh_reasons(stage: Stage, rh_pct: float, chamber: Chamber) -> Iterator[str]:
    if stage.kind in LOSING_KINDS and chamber.drying == "none" and rh_pct < WET_BY_ITSELF_PCT:
        yield (
            f"nothing in {chamber.name} dries the air, and meat alone keeps it near {WET_BY_ITSELF_PCT:g} % RH; "
            'give the chamber a way of drying, or take where = "elsewhere"'
        )


def _left_out(stage: Stage, chamber: Chamber) -> Iterator[str]:
    """Yield what is asked of a stage in the chamber and goes without: no reason to refuse it."""
    if stage.where != "chamber":
        return
    if stage.kind == "smoke":
        yield (
            f"Stage {stage.name} is smoked in {chamber.name}: mist stays off, all heat ends at "
            f"{chamber.limits.trip_c:g} °C. Smoke is carbon monoxide: never in a closed room. "
            "Clean relays, sensors and mister of tar afterwards."
        )
    if stage.fan_min_per_h > 0.0 and chamber.output("fan") is None:
        yield f"Stage {stage.name} asks for {stage.fan_min_per_h:g} min of fan an hour; {chamber.name} has no fan."
    if stage.fresh_air_min_per_day > 0.0 and chamber.output("fresh_air") is None:
        yield (
            f"Stage {stage.name} asks for {stage.fresh_air_min_per_day:g} min of fresh air a day; "
            f"{chamber.name} has no output for it: open the door for a moment."
        )
    if stage.rh_pct is not None and stage.kind == "ferment" and chamber.output("humidifier") is None:
        yield f"Stage {stage.name} asks for {stage.rh_pct:g} % RH; without a humidifier it comes from the meat alone."


def near_band_edge(temp_c: float, error_k: float, rule: DegreeHoursRule) -> str:
    """Return a sentence where a wanted temperature lies so near an edge of the degree-hours' bands that chance decides.

    The chamber goes above what is wanted by its overshoot, and the thermometer may be wrong by its error; the hottest
    minute decides the band of the whole ferment. Empty where both together reach no edge.

    Args:
        temp_c: wanted.
        error_k: of the leading thermometer.
        rule: which rule binds.
    """
    return " ".join(sentence for one in BINDING[rule] if (sentence := _near_edge(one, temp_c, error_k)))


def _near_edge(rule: Rule, temp_c: float, error_k: float) -> str:
    per_k = 1.8 if rule.unit == "F" else 1.0
    edge, above, beyond = nearest_edge(rule, temp_c)
    margin_k = OVERSHOOT_K + error_k
    if abs(above) / per_k >= margin_k:
        return ""
    wanted = f"{in_unit(rule, temp_c):.1f} °{rule.unit}"
    limit = limit_for(rule, temp_c)
    if beyond < limit:
        return (
            f"{wanted} lies {above / per_k:.1f} K below the edge at {edge:g} °{rule.unit} ({rule.name.split()[0]}); "
            f"overshoot and the thermometer's error are {margin_k:g} K together. Reckon with {beyond:g} degree-hours, "
            f"not {limit:g}, or take it lower."
        )
    return (
        f"{wanted} lies {abs(above) / per_k:.1f} K above the edge at {edge:g} °{rule.unit} ({rule.name.split()[0]}): "
        f"{limit:g} degree-hours; {margin_k - above / per_k:.1f} K cooler they would be {beyond:g}, whatever the error."
    )
