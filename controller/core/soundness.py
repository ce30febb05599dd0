"""Whether a memory that was read back can be gone on with: a check sum proves that it is what was written, no more.

Looked for is only what no run of the program leaves behind, and what would end it in each tick to come. Whoever takes
a memory for damaged forgets open batches, so nothing that is merely odd counts.
"""

from collections.abc import Iterator
from math import inf, isfinite
from typing import Any, Final

from msgspec import to_builtins

from controller.core.alarms.memory import Alarm
from controller.core.memory import Batch, Memory
from controller.core.outage.warmth import Warmth

FIRST_WALL_S: Final = -60_000_000_000.0
LAST_WALL_S: Final = 250_000_000_000.0
"""In the years 68 and 9892: what lies beyond has no date."""
LARGEST: Final = 1e12
"""No clock and no sum of a chamber comes near it."""
PRIORITIES: Final = ("1", "2", "3", "E")


def why_unsound(memory: Memory) -> str:
    """Return in words the first thing of a memory that cannot be; empty where it can be gone on with."""
    return next(_wrongs(memory), "")


def _wrongs(memory: Memory) -> Iterator[str]:
    own: dict[str, Any] = {
        "started_s": memory.started_s,
        "last_s": memory.last_s,
        "wall_s": memory.wall_s,
        "gap_s": memory.gap_s,
    }
    own |= {"air_temp_c": memory.air_temp_c, "highest_c": memory.highest_c, "gap_highest_c": memory.gap_highest_c}
    own |= {"starts": to_builtins(memory.starts), "gap_open_wall_s": memory.gap_open_wall_s}
    own |= {"warmth": _finite_ones(memory.warmth)}
    if memory.back is not None:
        own |= {"back": {"known_s": memory.back.known_s, "older_s": memory.back.older_s}}
        own |= {"warmth before": _finite_ones(memory.back.warmth)}
    own |= {"checked_wall_s": memory.checked_wall_s}
    air = memory.watch.plant.air
    own |= {"air": {name: value for name, value in to_builtins(air).items() if name not in {"looked_s", "found"}}}
    yield from (
        f"what was found has the priority {priority[:40]}"
        for priority in (*(one.priority for one in air.found), *(one.priority for one in memory.found_at_start))
        if priority not in {"", *PRIORITIES}
    )
    yield from _odd_numbers(own, "")
    yield from (
        f"the last check of {name[:40]} left {check.error:g}"
        for name, check in memory.last_checks.items()
        if not (isfinite(check.error) and isfinite(check.off) and isfinite(check.at_wall_s))
    )
    yield from (f"counts of {row}: {count}" for row, count in memory.counts.items() if not 0 <= count <= LARGEST)
    names = [batch.id for batch in memory.batches]
    if len(set(names)) < len(names):
        yield f"two batches are called {next(name for name in names if names.count(name) > 1)}"
    for alarm in memory.alarms:
        yield from _wrongs_of_alarm(alarm)
    for told in (*memory.untold, *memory.found_at_start):
        if not all(is_readable(value) for value in to_builtins(told).values() if isinstance(value, str)):
            yield "what was not told yet has signs that no screen shows"
    for batch in memory.batches:
        yield from (f"batch {batch.id[:40]}: {wrong}" for wrong in _wrongs_of_batch(batch))


def _finite_ones(warmth: Warmth) -> dict[str, Any]:
    """Return what has to be finite of it; its instants may lie for ever ago."""
    return {name: value for name, value in to_builtins(warmth).items() if name not in {"at_s", "since_s"}}


def _odd_numbers(value: Any, name: str) -> Iterator[str]:  # noqa: ANN401 - a tree of dicts, lists and figures
    """Yield each number that is none, too large, or no time."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _odd_numbers(item, str(key))
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from _odd_numbers(item, name)
    elif isinstance(value, (int, float)):
        is_time = name.endswith("wall_s")
        if not abs(value) <= LARGEST or (is_time and not FIRST_WALL_S <= value <= LAST_WALL_S):
            yield f"{name} is {value:g}"


def _wrongs_of_alarm(alarm: Alarm) -> Iterator[str]:
    if alarm.priority not in PRIORITIES:
        yield f"alarm {alarm.id[:40]}: its priority is {alarm.priority[:40]}"
    if not is_a_folder(alarm.batch):
        yield f"alarm {alarm.id[:40]}: {alarm.batch[:40]} is no name of a batch"
    for name, value in to_builtins(alarm).items():
        if isinstance(value, str) and not is_readable(value):
            yield f"alarm {alarm.id[:40]}: its {name} has signs that no screen shows"
        if value != -inf:  # It has never called yet.
            yield from (f"alarm {alarm.id[:40]}: {wrong}" for wrong in _odd_numbers(value, name))


def is_readable(text: str) -> bool:
    """Say whether a screen can show it, line by line."""
    return all(line.isprintable() for line in text.split("\n"))


def is_a_folder(name: str) -> bool:
    """Say whether a batch may be called so: its folder has the same name."""
    return not name.startswith(".") and {"/", "\0"}.isdisjoint(name)


def _wrongs_of_batch(batch: Batch) -> Iterator[str]:
    if not is_a_folder(batch.id):
        yield "this is no name of a folder"
    if not 0 <= batch.stage_index <= len(batch.profile.stages):
        yield f"it has no stage {batch.stage_index}"
    if not batch.profile.stages:
        yield "its profile has no stage"
    for stage in batch.profile.stages:
        if stage.kind == "ferment" and (stage.air_temp_c is None or stage.until.ph_at_most is None):
            yield f"its ferment {stage.name[:40]} lacks air_temp_c or ph_at_most"
    yield from _odd_numbers(to_builtins(batch), "")
    readings = len(batch.ph)
    if len(batch.ph_ids) != readings or len(batch.ph_errors) > readings or len(batch.ph_sums) > readings:
        yield f"{readings} pH readings have {len(batch.ph_ids)} ids"
    if not len(batch.core_ids) == len(batch.core_temps) == len(batch.core_of):
        yield f"{len(batch.core_temps)} core temperatures have {len(batch.core_ids)} ids"
    yield from (
        f"{piece[:40]} was weighed and has no green weight" for piece in batch.now_g if not batch.green_g.get(piece)
    )
    grams = (*batch.green_g.values(), *batch.now_g.values())
    if not all(isfinite(weight) and weight > 0.0 for weight in grams):
        yield "a piece weighs nothing"
