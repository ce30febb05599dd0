"""Find the hours in the chamber that the diary knows of and the climate files do not: a file cut short, a day lost.

Between two rows a gap is counted at the warmer neighbour. Behind the last row, and before the first one, there is no
second neighbour: nobody knows how warm it was, so nothing is reckoned there and nothing is taken from the last row.
"""

from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from controller.review.batch import BatchRecord, EventRow

CUT_S: Final = 900.0
"""Less is what the program may have been away without a word; what it calls no outage is no hole in the record."""
TOLD: Final = " ended: "
"""Stands behind the name of the stage in what the diary says of its end."""


class Cut(Struct, frozen=True):
    """Hold the time without rows: seconds since 1970 UTC."""

    from_s: float
    until_s: float


def stage_ends(record: BatchRecord) -> list[EventRow]:
    """Return the end of each stage by the diary, in their order.

    Where the program was killed before it could remember an end, it stands twice: then the second one holds.
    """
    ends: dict[str, EventRow] = {}
    for event in record.events:
        if event.kind == "stage":
            stage, told, _ = event.text.partition(TOLD)
            name = stage if told else str(len(ends))  # Another program may say it in other words.
            ends.pop(name, None)
            ends[name] = event
    return list(ends.values())


def cuts_of(record: BatchRecord) -> list[Cut]:
    """Return what is missing before the first row and behind the last one, while the batch was in this chamber."""
    first_s, last_s = record.climate.first_s, record.climate.last_s
    in_chamber = _in_chamber(record)
    found = []
    if first_s is not None:
        found += _of([(begin_s, min(end_s, first_s)) for begin_s, end_s in in_chamber])
    if last_s is not None:
        found += _of([(max(begin_s, last_s), end_s) for begin_s, end_s in in_chamber])
    return found if record.climate.rows else _of(in_chamber)


def is_covered(record: BatchRecord, begin_s: float, end_s: float) -> bool:
    """Say whether there are rows at both ends of this time."""
    first_s, last_s = record.climate.first_s, record.climate.last_s
    return first_s is not None and last_s is not None and first_s - CUT_S <= begin_s and end_s <= last_s + CUT_S


def tell_cut(cut: Cut, timezone: str) -> str:
    """Return in words, in the chamber's local time, what is missing."""
    begin, until = (f"{datetime.fromtimestamp(at_s, ZoneInfo(timezone)):%Y-%m-%d %H:%M}" for at_s in (
        cut.from_s, cut.until_s,
    ))  # fmt: skip
    return (
        f"the climate record is missing from {begin} on; events.csv tells of the batch in the chamber until {until}: "
        "stages are taken from there, and how warm it was is not known"
    )


def last_told_s(record: BatchRecord) -> float | None:
    """Return until when the diary knows of the batch: its end, else its last line; None without a diary."""
    times = [event.time_s for event in record.events]
    ends = [event.time_s for event in record.events if event.kind == "end"]
    return max(ends or times, default=None)


def _in_chamber(record: BatchRecord) -> list[tuple[float, float]]:
    """Return the stretches of time that the batch spent in this chamber, by the diary."""
    until_s = last_told_s(record)
    if until_s is None:
        return []
    bounds_s = [record.events[0].time_s, *(end.time_s for end in stage_ends(record)), until_s]
    stages = record.card.profile.stages
    spans = zip(stages, bounds_s, bounds_s[1:], strict=False)
    return [(begin_s, end_s) for stage, begin_s, end_s in spans if stage.where == "chamber"]


def _of(stretches: list[tuple[float, float]]) -> list[Cut]:
    """Return one cut from the first to the last of these, where they are more than nothing in all."""
    real = [(begin_s, end_s) for begin_s, end_s in stretches if end_s - begin_s > CUT_S]
    return [Cut(real[0][0], real[-1][1])] if real else []
