"""The rooms in which reach is judged: the coldest and the warmest, or all hours of a year's weather.

A chamber does not follow an hour: loaded it takes the better part of a day. So the share of hours within reach is the
share in which the room asks for no more than there is, as if each hour lasted; short cold is bridged by what is stored.
"""

from collections.abc import Callable, Iterable
from typing import Final

from msgspec import Struct

from controller.core.plan import Stage
from controller.planning.reach.balance import Room, kg_m3_of, rh_of
from controller.planning.reach.stage import InRoom, Stands, is_asked, reach_in, within

ROOM_RH_PCT: Final = 50.0
"""Of a room of which only the temperature is known; common practice, no source."""
BIN_K: Final = 1.0
"""Hours whose temperatures lie in the same kelvin are judged as one, with their mean vapour."""


class Rooms(Struct, frozen=True, kw_only=True):
    """Hold the coldest and the warmest room, which may be one, and where there is weather its hours by temperature.

    `hours` are pairs of a room and how many hours are like it.
    """

    coldest: Room
    warmest: Room
    hours: tuple[tuple[Room, int], ...] = ()
    said: str = ""


class StageReach(Struct, frozen=True, kw_only=True):
    """Hold what a stage comes to: in the coldest and in the warmest room, and the shares of hours (0..1) within reach.

    A share is None where there is no weather, or where it is not known.
    """

    name: str
    kind: str
    air_temp_c: float
    rh_pct: float | None
    rooms: tuple[InRoom, ...]
    temp_share: float | None = None
    rh_share: float | None = None
    both_share: float | None = None

    @property
    def within(self) -> bool:
        """Say whether nothing is known to be out of reach in any room."""
        told = all(room.temp_within is not False and room.rh_within is not False for room in self.rooms)
        return told and self.both_share in {None, 1.0}


def rooms_of(coldest_c: float, warmest_c: float, rh_pct: float | None = None) -> Rooms:
    """Return the rooms of which only temperatures, and maybe the humidity, are known."""
    humid = ROOM_RH_PCT if rh_pct is None else rh_pct
    return Rooms(coldest=Room(coldest_c, humid), warmest=Room(warmest_c, humid))


def rooms_of_hours(hours: Iterable[tuple[float, float]], said: str = "") -> Rooms:
    """Return the rooms of weather: (°C, %RH) of each hour.

    Raises:
        ValueError: there are no hours.
    """
    all_hours = sorted(hours)
    if not all_hours:
        message = "no hours: weather without a row is none"
        raise ValueError(message)
    bins: dict[int, list[tuple[float, float]]] = {}
    for temp_c, rh_pct in all_hours:
        bins.setdefault(round(temp_c / BIN_K), []).append((temp_c, rh_pct))
    return Rooms(
        coldest=Room(*all_hours[0]),
        warmest=Room(*all_hours[-1]),
        hours=tuple((_mean(those), len(those)) for those in bins.values()),
        said=said,
    )


def reach_of(what: Stands, stages: Iterable[Stage], rooms: Rooms) -> tuple[StageReach, ...]:
    """Return what each stage that is asked of this chamber comes to in these rooms."""
    return tuple(_reach(what, stage, rooms) for stage in stages if is_asked(stage))


def _reach(what: Stands, stage: Stage, rooms: Rooms) -> StageReach:
    ends = (rooms.coldest,) if rooms.coldest == rooms.warmest else (rooms.coldest, rooms.warmest)
    temp = humid = both = None
    if rooms.hours:
        judged = [(within(what, stage, room), count) for room, count in rooms.hours]
        temp = _share(judged, lambda pair: pair[0])
        humid = _share(judged, lambda pair: pair[1])
        both = _share(judged, _both)
    return StageReach(
        name=stage.name,
        kind=stage.kind,
        air_temp_c=stage.air_temp_c or 0.0,
        rh_pct=stage.rh_pct,
        rooms=tuple(reach_in(what, stage, room) for room in ends),
        temp_share=temp,
        rh_share=humid,
        both_share=both,
    )


Pair = tuple[bool | None, bool | None]


def _both(pair: Pair) -> bool | None:
    known = [said for said in pair if said is not None]
    return all(known) if known else None


def _share(judged: list[tuple[Pair, int]], pick: Callable[[Pair], bool | None]) -> float | None:
    known = [(said, count) for pair, count in judged if (said := pick(pair)) is not None]
    hours = sum(count for _, count in known)
    return sum(count for said, count in known if said) / hours if hours else None


def _mean(hours: list[tuple[float, float]]) -> Room:
    """Return the room with the mean temperature and the mean vapour of these hours."""
    temp_c = sum(temp_c for temp_c, _ in hours) / len(hours)
    kg_m3 = sum(kg_m3_of(one_c, rh_pct) for one_c, rh_pct in hours) / len(hours)
    return Room(temp_c, min(rh_of(temp_c, kg_m3), 100.0))
