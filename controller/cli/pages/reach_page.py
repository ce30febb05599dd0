"""The part of the page about a chamber that answers: can it do it?"""

from collections.abc import Callable, Iterator
from typing import Final

import msgspec

from controller.cli.local import in_units
from controller.cli.say import fold, show_span
from controller.core.plan import Chamber
from controller.planning.reach.judged import ALL, Judged
from controller.planning.reach.rooms import Rooms, StageReach
from controller.planning.reach.stage import FRESH_MEAT_C, InRoom
from controller.settings.units import Units, show_temp

WIDE: Final = 36
COLUMN: Final = 18


def tell_reach(judged: Judged, plan: Chamber, units: Units, said: str) -> Iterator[str]:
    """Yield the lines; `said` is where the rooms come from."""
    rooms = judged.rooms
    yield from fold(f"{_rooms(rooms, units)} ({said}). {_assumed(judged)}", "  ", "  ")
    if rooms.said:
        yield from fold(in_units(f"The {rooms.said}.", units), "  ", "  ")
    for stage in judged.stages:
        yield ""
        yield from fold(f"{_asked(stage, units)}: {_verdict(stage)}", "    ", "  ")
        yield from _table(stage, plan, units)
    if any((room.highest_c or 0.0) > plan.limits.trip_c for stage in judged.stages for room in stage.rooms):
        yield ""
        trip = show_temp(plan.limits.trip_c, units)
        text = (
            f"Whatever the lamp could reach: all heat is cut at {trip}. A lamp that is stuck on only the cut-out ends."
        )
        yield from fold(text, "  ", "  ")


def tell_lacking(judged: Judged, units: Units) -> Iterator[str]:
    """Yield what is out of reach, what the lamp is too strong for, and where stages are judged what is not known."""
    for sentence in (*judged.lacking, *(judged.unknown if judged.stages else ())):
        yield from fold(in_units(sentence, units), "    ", "  - ")


def tell_lamp(judged: Judged, units: Units) -> Iterator[str]:
    """Yield how far the air runs ahead of the thermometer under the full lamp."""
    lamp = judged.lamp
    if lamp is not None and not lamp.too_strong:
        ahead = f"At full lamp the air is {lamp.ahead_k:.1f} K ahead of the thermometer that leads it"
        yield from fold(in_units(f"{ahead} ({lamp.lamp_w:g} W, {lamp.response_s:g} s).", units), "  ", "  ")
    elif lamp is not None:
        yield "  THE LAMP IS TOO STRONG for its thermometer (see below)."


def as_object(judged: Judged) -> dict[str, object]:
    """Return the same for programs; temperatures in °C, shares 0 to 1, null for what is not known."""
    rooms = judged.rooms
    return {
        "rooms": {
            "coldest_c": rooms.coldest.temp_c,
            "warmest_c": rooms.warmest.temp_c,
            "coldest_rh_pct": rooms.coldest.rh_pct,
            "warmest_rh_pct": rooms.warmest.rh_pct,
            "hours": sum(count for _, count in rooms.hours),
            "weather": rooms.said,
        },
        "meat_kg": judged.meat_kg,
        "stages": [{**msgspec.to_builtins(stage), "within": stage.within} for stage in judged.stages],
        "lamp": None
        if judged.lamp is None
        else {**msgspec.to_builtins(judged.lamp), "too_strong": judged.lamp.too_strong},
        "lacking": list(judged.lacking),
        "unknown": list(judged.unknown),
    }


def _rooms(rooms: Rooms, units: Units) -> str:
    low, high = rooms.coldest, rooms.warmest
    if rooms.hours:
        cold, hot = show_temp(low.temp_c, units), show_temp(high.temp_c, units)
        return f"Coldest hour {cold}, {low.rh_pct:.0f} %; hottest {hot}, {high.rh_pct:.0f} %"
    if low == high:
        return f"Room at {show_temp(low.temp_c, units)}, {low.rh_pct:.0f} %"
    return f"Room at {show_temp(low.temp_c, units)} and at {show_temp(high.temp_c, units)}, {low.rh_pct:.0f} %"


def _assumed(judged: Judged) -> str:
    if not judged.stages:
        return "No stage of this profile asks this chamber for a temperature."
    return (
        f"Reckoned from the chamber's figures, with {judged.meat_kg:g} kg of fresh sausage of 55 mm, in a state that "
        "lasts; nothing of it is measured."
    )


def _asked(stage: StageReach, units: Units) -> str:
    humid = "" if stage.rh_pct is None else f", {stage.rh_pct:g} % humidity"
    return f"{stage.name} {show_temp(stage.air_temp_c, units)}{humid}"


def _verdict(stage: StageReach) -> str:
    share = stage.both_share
    if share is not None:
        hours = "all hours" if share >= 1.0 else f"{_percent(share)} of the hours"
        temp, humid = stage.temp_share, stage.rh_share
        parts = [] if temp is None else [f"temperature {_percent(temp)}"]
        parts += [] if humid is None else [f"humidity {_percent(humid)}"]
        return f"within reach in {hours} ({', '.join(parts)}), as if each hour lasted."
    unsure = any(
        room.temp_within is None or (stage.rh_pct is not None and room.rh_within is None) for room in stage.rooms
    )
    if not stage.within:
        return "NOT within reach (why: below)."
    return "not all of it is known (below)." if unsure else "within reach."


def _percent(share: float) -> str:
    if 0.0 < share < 1.0 - ALL:
        return "under 0.1 %"
    return "over 99.9 %" if ALL <= share < 1.0 else f"{100.0 * share:.1f} %"


def _table(stage: StageReach, plan: Chamber, units: Units) -> Iterator[str]:
    yield _row("", [f"room {show_temp(room.room_c, units)}" for room in stage.rooms])
    for name, show in _ROWS:
        cells = [show(room, stage, plan, units) for room in stage.rooms]
        if any(cells):
            yield _row(in_units(name, units), cells)


def _row(name: str, cells: list[str]) -> str:
    return f"    {name:<{WIDE}}{''.join(f'{cell:<{COLUMN}}' for cell in cells)}".rstrip()


Show = Callable[[InRoom, StageReach, Chamber, Units], str]


def _air(room: InRoom, _stage: StageReach, _plan: Chamber, units: Units) -> str:
    low = "?" if room.lowest_c is None else show_temp(room.lowest_c, units).split(" ", maxsplit=1)[0]
    high = "?" if room.highest_c is None else show_temp(room.highest_c, units).split(" ", maxsplit=1)[0]
    return f"{low} to {high} °{units}"


def _duty(share: float | None, role_is_there: bool) -> str:  # noqa: FBT001 - a plain fact beside the share
    if not role_is_there:
        return ""
    if share is None:
        return "not known"
    return f"{100.0 * share:.0f} %" if share <= 1.0 else f"{100.0 * share:.0f} %: too much"


def _lamp(room: InRoom, _stage: StageReach, plan: Chamber, _units: Units) -> str:
    return _duty(room.heater_duty, plan.output("heater") is not None)


def _cooler(room: InRoom, _stage: StageReach, plan: Chamber, _units: Units) -> str:
    return _duty(room.cooler_duty, plan.output("cooler") is not None)


def _dryer(room: InRoom, stage: StageReach, plan: Chamber, _units: Units) -> str:
    return _duty(room.dryer_duty, plan.drying in {"dehumidifier", "vent"} and stage.rh_pct is not None)


def _span(seconds: float | None) -> str:
    if seconds is None:
        return ""
    return "at once" if seconds <= 0.0 else show_span(seconds)


def _empty(room: InRoom, _stage: StageReach, _plan: Chamber, _units: Units) -> str:
    return _span(room.empty_warm_s)


def _hung_air(room: InRoom, _stage: StageReach, _plan: Chamber, _units: Units) -> str:
    return _span(room.hung_air_s)


def _hung_core(room: InRoom, _stage: StageReach, _plan: Chamber, _units: Units) -> str:
    return _span(room.hung_core_s)


def _humid(pick: Callable[[InRoom], float | None]) -> Show:
    def show(room: InRoom, stage: StageReach, _plan: Chamber, _units: Units) -> str:
        value = pick(room)
        return "" if value is None or stage.rh_pct is None else f"{value:.0f} %"

    return show


def _driest(room: InRoom, stage: StageReach, plan: Chamber, _units: Units) -> str:
    if stage.rh_pct is None or plan.drying == "none" or room.rh_lowest_pct == room.rh_by_itself_pct:
        return ""
    return f"{room.rh_lowest_pct:.0f} %"


def _wettest_empty(room: InRoom, stage: StageReach, _plan: Chamber, _units: Units) -> str:
    if stage.rh_pct is None or stage.kind == "warm-up" or room.rh_highest_empty_pct is None:
        return ""
    return f"{room.rh_highest_empty_pct:.0f} %"


def _water(room: InRoom, stage: StageReach, plan: Chamber, _units: Units) -> str:
    if stage.rh_pct is None or plan.output("humidifier") is None:
        return ""
    return f"{room.water_l_per_day:.2f}"


def _energy(room: InRoom, _stage: StageReach, _plan: Chamber, _units: Units) -> str:
    if room.kwh_per_day is None:
        return "not known"
    return f"{'over ' if room.kwh_lacks else ''}{room.kwh_per_day:.2f}"


_ROWS: Final[tuple[tuple[str, Show], ...]] = (
    ("the air can have", _air),
    ("lamp on", _lamp),
    ("compressor on", _cooler),
    ("what dries on", _dryer),
    ("empty, to warm at full lamp", _empty),
    (f"hung at {FRESH_MEAT_C:g} °C: air back after", _hung_air),
    ("middle of the meat warm after", _hung_core),
    ("humidity by itself", _humid(lambda room: room.rh_by_itself_pct)),
    ("humidity at most, with mist", _humid(lambda room: room.rh_highest_pct)),
    ("the same with nothing in it", _wettest_empty),
    ("humidity at least, dried", _driest),
    ("water for the mister, litres a day", _water),
    ("energy, kWh a day", _energy),
)
