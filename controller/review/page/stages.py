"""Stages on the page: planned and real length, climate, switching."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from controller.review.page.tables import Column, table
from controller.review.page.words import Look, lasted, meant_to_last, pct

ENDS: Final = {"until": "", "person": "ended by a person", "hang": "meat hung"}
BESIDE: Final = {"shorter": "shorter than meant", "as meant": "as meant", "longer": "LONGER than meant"}
DASH: Final = "-"


def lengths(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the table of what each stage was meant to last, and what it lasted."""
    if not figures["planned"]:
        return ["Stages: the batch card names none"]
    rows, told = [], {stage["name"]: stage for stage in figures["stages"]}
    for one in figures["planned"]:
        stage = told.get(one["name"])
        where = "" if one["where"] == "chamber" else ", elsewhere"
        kind = "" if one["name"] == one["kind"] else f" ({one['kind']})"
        rows.append([
            f"{one['name']}{kind}{where}",
            DASH if stage is None else look.short(stage["began"]),
            meant(one, look),
            DASH if one["real_h"] is None else lasted(one["real_h"]),
            _end(one, stage),
        ])  # fmt: skip
    columns = [
        Column("stage", most=17), Column("began"), Column("planned", most=26), Column("lasted", "right"), Column(""),
    ]  # fmt: skip
    return ["Stages, planned and real", *table(columns, rows)]


def meant(one: Mapping[str, Any], look: Look) -> str:
    """Return what a stage was to last, in a few words."""
    until = one["until"]
    ends = []
    if until["ph_at_most"] is not None:
        ends.append(f"pH {until['ph_at_most']:g}")
    if until["weight_loss_pct"] is not None:
        ends.append(f"{until['weight_loss_pct']:g} % loss")
    if until["core_temp_c"] is not None:
        ends.append(f"core {look.temp(until['core_temp_c'])}")
    if until["confirm"]:
        ends.append("your word")
    if one["hours"] is not None:
        return meant_to_last(one["hours"])
    if one["least_h"] is not None and one["most_h"] is not None:
        ends.append(f"{meant_to_last(one['least_h'])} to {meant_to_last(one['most_h'])}")
    elif one["least_h"] is not None:
        ends.append(f"at least {meant_to_last(one['least_h'])}")
    elif one["most_h"] is not None:
        ends.append(f"at most {meant_to_last(one['most_h'])}")
    if one["expected_h"] is not None:
        ends.append(f"forecast {lasted(one['expected_h'])}")
    return ", ".join(ends) or "open"


def _end(one: Mapping[str, Any], stage: Mapping[str, Any] | None) -> str:
    if stage is None:
        return "not reached"
    if not stage["over"]:
        late = f", {BESIDE['longer']}" if one["beside"] == "longer" else ""
        return f"goes on{late}"
    why = ENDS.get(stage["by"], stage["by"]) if stage["by"] else ""
    if stage["ended"] is None:
        why = "over; when, is on no record"
    said = [why] if why else []
    if one["beside"] in {"shorter", "longer"}:
        said.append(BESIDE[one["beside"]])
    return ", ".join(said)


def climate(figures: Mapping[str, Any], look: Look) -> list[str]:
    """Return the table of the climate of each stage that was in the chamber."""
    rows, notes = [], []
    wanted = {one["name"]: one for one in figures["planned"]}
    for stage in figures["stages"]:
        if stage["where"] != "chamber":
            continue
        if not stage["rows"]:
            notes.append(f"  {stage['name']}: no climate of it is on record")
            continue
        meant_here = wanted.get(stage["name"], {"air_temp_c": None, "rh_pct": None})
        rows.append(_row(stage, meant_here, look))
        notes += [*_left_out(stage), *_changed(stage, figures["decisions"]), *_swings(stage, look)]
    if not rows:
        return ["Climate: none is on record", *notes]
    columns = [
        Column("stage", most=16), Column(f"air °{look.units}", "right"), Column("mean", "right"),
        Column("lowest-highest", "right"), Column(f"±{look.band}", "right"), Column("RH %", "right"),
        Column("mean", "right"), Column("low-high", "right"), Column("±4 %", "right"),
    ]  # fmt: skip
    said = "Climate: wanted, as it was, and the share of minutes so near once it was there"
    if any(row[-1].endswith("*") for row in rows):
        notes.append("  * a ferment asks for at least so much: the share not more than 4 % below it")
    return [said, *table(columns, rows), *notes]


def _row(stage: Mapping[str, Any], wanted: Mapping[str, Any], look: Look) -> list[str]:
    air, humid = stage["air_temp_c"], stage["rh_pct"]
    share, is_at_least = humid_share(stage)
    return [
        stage["name"],
        look.temp(wanted["air_temp_c"], unit=False),
        look.temp(air["mean"], unit=False),
        f"{look.temp(air['min'], unit=False)} to {look.temp(air['max'], unit=False)}",
        _share(air["within_pct"]),
        _whole(wanted["rh_pct"]),
        _whole(humid["mean"]),
        f"{_whole(humid['min'])} to {_whole(humid['max'])}",
        _share(share) + ("*" if is_at_least else ""),
    ]


def humid_share(stage: Mapping[str, Any]) -> tuple[float | None, bool]:
    """Return the share of minutes that says how the humidity was kept, and whether it is that of "at least".

    A ferment asks for at least its humidity: a full box of fresh meat is wetter by itself.
    """
    is_at_least = stage["kind"] == "ferment"
    share = stage["rh_pct"]["at_least_pct" if is_at_least else "within_pct"]
    return share, is_at_least and share is not None


def _whole(value: float | None) -> str:
    return DASH if value is None else f"{value:.0f}"


def _share(value: float | None) -> str:
    return DASH if value is None else pct(value)


def _changed(stage: Mapping[str, Any], decisions: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    ended = stage["ended"] or "~"  # Later than every time.
    if any(one["kind"] == "set" and stage["began"] <= one["time"] <= ended for one in decisions):
        yield f"  {stage['name']}: what is wanted was changed meanwhile (below); each minute counts by its own"


def _left_out(stage: Mapping[str, Any]) -> Iterator[str]:
    left_out = stage["rows"] - stage["rows_counted"]
    if left_out:
        got = "before it got there, left out" if stage["rows_counted"] else "it did not get there"
        yield f"  {stage['name']}: {left_out} of {stage['rows']} minutes: {got}"


def _swings(stage: Mapping[str, Any], look: Look) -> Iterator[str]:
    """Yield by how much the climate went up and down, as the standard of climatic chambers has it."""
    swing = stage["fluctuation"]
    air, humid, minutes = swing["air_temp_k"], swing["rh_pct"], f"{swing['interval_min']:.0f} min"
    parts = []
    if air["median"] is not None:
        parts.append(f"air {look.apart(air['median'], 2)} and {look.apart(air['largest'], 2)}")
    if humid["median"] is not None:
        parts.append(f"humidity {humid['median']:.1f} % and {humid['largest']:.1f} %")
    if parts:
        yield f"  {stage['name']}, swings in {minutes}, usual and largest: {'; '.join(parts)}"


def switching(figures: Mapping[str, Any], look: Look) -> list[str]:  # noqa: ARG001 - all parts are called alike
    """Return how often each output was switched on and for which share of the time, energy and water, by stage."""
    stages = [stage for stage in figures["stages"] if stage["switches"]]
    roles = list(dict.fromkeys(role for stage in stages for role in stage["switches"]))
    if not roles:
        return ["Switching, energy and water: none is on record"]
    rows = [
        [stage["name"], *(_switched(stage, role) for role in roles), _kwh([stage]), _litres([stage])]
        for stage in stages
    ]
    if len(rows) > 1:
        rows.append(["in all", *(str(_sum(stages, role)) for role in roles), _kwh(stages), _litres(stages)])
    columns = [Column("stage", most=16), *(Column(role, "right") for role in roles)]
    lines = table([*columns, Column("kWh", "right"), Column("water", "right")], rows)
    return ["Switched on, times (share of the time); energy and water by the chamber file's figures", *lines]


def _switched(stage: Mapping[str, Any], role: str) -> str:
    count = stage["switches"].get(role)
    if count is None:
        return DASH
    duty_pct = stage["duty_pct"].get(role)
    return str(count) if duty_pct is None else f"{count} ({duty_pct:.0f} %)"


def _kwh(stages: Sequence[Mapping[str, Any]]) -> str:
    known = [kwh for stage in stages for kwh in stage["energy_kwh"].values()]
    return f"{sum(known):.2f}" if known else DASH


def _litres(stages: Sequence[Mapping[str, Any]]) -> str:
    known = [stage["water_l"] for stage in stages if stage["water_l"] is not None]
    return f"{sum(known):.2f} l" if known else DASH


def _sum(stages: Sequence[Mapping[str, Any]], role: str) -> int:
    return sum(int(stage["switches"].get(role, 0)) for stage in stages)
