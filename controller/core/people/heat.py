"""Smoke, cook and chill: what the core and the smoker have, how far a cook has come, how a chill stands.

Of several pieces or probes the lowest counts (in a chill the highest), never a mean; between two readings the lower
one. A reading at or above the wanted figure ends a cook, an interpolation never does.
"""

from collections.abc import Sequence
from math import inf
from typing import Final

from msgspec.structs import replace

from controller.core.batch.blind import tell_uncounted
from controller.core.batch.margin import HOUR_S, is_over_limit
from controller.core.batch.waits import ends_words
from controller.core.figures import degrees
from controller.core.memory import Batch, Inputs, Memory
from controller.core.people.chill import chill_words
from controller.core.people.core_checks import odd_core
from controller.core.people.desk import Done, Refused, batch_of, check_replaced, do, entry_of, put
from controller.core.people.scale import asked_back
from controller.core.plan import Chamber, StageKind
from controller.core.requests import CoreTemp, Smoker
from controller.core.values import Known
from controller.food.germs.chilling import ways_down
from controller.food.germs.lethality import COME_UP_H, TARGETS, come_up, lowest
from controller.food.germs.measured import TYPED_APART_S, Log, broken, celsius, time_words

CORE_C: Final = (-30.0, 120.0)
SMOKER_C: Final = (-10.0, 250.0)
CORE_RANGES_C: Final[dict[StageKind, tuple[float, float, str]]] = {
    "warm-up": (-2.0, 46.0, "the meat is cold, and no air is hotter"),
    "ferment": (-2.0, 46.0, "it hangs cold, and the chamber cuts the heat at 45 °C"),
    "smoke": (-2.0, 75.0, "hot smoke ends near 70 °C in the core"),
    "cook": (0.0, 95.0, "it comes from the fridge, and moist heat ends below 100 °C"),
    "chill": (-2.0, 85.0, "it comes from the cook and goes down to the fridge"),
    "dry": (-2.0, 40.0, "it comes from the ferment and dries cool, cooler than the air"),
    "equalise": (-2.0, 30.0, "it is kept cold"),
    "rest": (-2.0, 30.0, "it is kept cool"),
}
"""What a core can have in each stage, and why. Beyond it the person is asked back. Common practice, no source."""
SMOKER_HOT_C: Final[dict[str, float]] = {"smoke": 110.0, "cook": 150.0}
SMOKER_NEAR_K: Final = 8.0
SURFACE_H: Final = 24.0
JUST_NOW_S: Final = 120.0
SENSED_EVERY_S: Final = 300.0
KEPT: Final = 600
"""Readings of one stage: fifty hours of a fixed probe. Common practice, no source."""
PAST_IDS: Final = 100
FIXED: Final = "core_temp"
BY_FIXED_PROBE: Final = frozenset({"smoke", "chill"})


@do.register
def _core(request: CoreTemp, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:
    batch = batch_of(memory, request.batch)
    check_replaced(request.replaces, (*batch.core_past, *(name for name in batch.core_ids if name)))
    _check_core(request, batch)
    at_s = _when(batch, request, inputs.wall_s)
    _check_odd(request, batch, at_s)
    entry = entry_of(
        request.id, batch, at_s, "core_temp", f"{request.value_c:g}", "Cel", request.actor, inputs,
        piece=request.piece, instrument=request.instrument, replaces=request.replaces, note=request.note,
    )  # fmt: skip
    if request.replaces in batch.core_past:
        text = (
            f"core {request.value_c:.1f} °C is noted for the stage that is over. It moves no stage back: if that stage "
            "ended on the wrong figure, heat again and measure."
        )
        past = replace(batch, core_past=(*batch.core_past, request.id)[-PAST_IDS:])
        return Done(put(memory, past), f"{batch.id}: {text}", (), (entry,))
    batch = with_core(batch, request.id, at_s, request.value_c, _name_of(request), request.replaces)
    lines = [_core_words(batch, request)]
    if batch.stage.kind == "cook":
        lines += cook_words(batch, chamber)
    elif batch.stage.kind == "chill":
        lines += chill_words(batch, logs_of(batch), inputs.wall_s)
    ends = ends_words(batch, chamber, inputs.wall_s)
    return Done(put(memory, batch), f"{batch.id}: " + "\n".join([*lines, *([ends] if ends else [])]), (), (entry,))


def _check_core(request: CoreTemp, batch: Batch) -> None:
    value_c, kind = request.value_c, batch.stage.kind
    if not CORE_C[0] <= value_c <= CORE_C[1]:
        raise Refused(f"core {degrees(value_c)}: this cannot be; type it again")
    low_c, high_c, why = CORE_RANGES_C[kind]
    if request.sure or low_c <= value_c <= high_c:
        return
    meant_c = celsius(value_c)
    hint = f" Did you mean {value_c:g}F ({meant_c:.1f} °C)?" if low_c <= meant_c <= high_c else ""
    question = f"core {degrees(value_c)} in a {kind} stage lies between {low_c:g} and {degrees(high_c)}: {why}.{hint}"
    raise asked_back(question.removesuffix("."), request, batch)


def _check_odd(request: CoreTemp, batch: Batch, at_s: float) -> None:
    if request.sure or request.replaces in batch.core_past:
        return
    question = odd_core(replace(request, at_wall_s=at_s), batch, _name_of(request))
    if question:
        raise asked_back(question, request, batch)


def _when(batch: Batch, request: CoreTemp, wall_s: float) -> float:
    """Return when it was measured: a correction that is typed now, without a time, keeps that of the reading."""
    old = [at_s for name, (at_s, _) in zip(batch.core_ids, batch.core_temps, strict=True) if name == request.replaces]
    return old[0] if request.replaces and old and request.at_wall_s > wall_s - JUST_NOW_S else request.at_wall_s


def _name_of(request: CoreTemp) -> str:
    """Return of what the reading is: the piece, else the probe where it has a number, else nothing."""
    return request.piece or (request.instrument if " " in request.instrument else "")


def with_core(batch: Batch, name: str, at_s: float, value_c: float, of: str, replaces: str = "") -> Batch:
    """Return the batch with one more reading of a core, in the order of time.

    Of the newest of each piece the lowest counts, in a chill the highest.
    """
    rows = zip(batch.core_temps, batch.core_ids, batch.core_of, strict=True)
    kept = [row for row in rows if not replaces or row[1] != replaces]
    kept.append(((at_s, value_c), name, of))
    kept = sorted(kept, key=_by_time)[-KEPT:]
    batch = replace(
        batch,
        core_temps=tuple(row[0] for row in kept),
        core_ids=tuple(row[1] for row in kept),
        core_of=tuple(row[2] for row in kept),
    )
    newest = [log[-1][1] for log in logs_of(batch).values()]
    return replace(batch, core_temp_c=max(newest) if batch.stage.kind == "chill" else min(newest))


def _by_time(row: tuple[tuple[float, float], str, str]) -> float:
    return row[0][0]


def sensed(batch: Batch, known: Known, wall_s: float) -> Batch:
    """Return the batch with what the fixed core probe shows, every five minutes of a smoke or chill in the chamber.

    In the other stages nothing hangs on the core, and the climate log has it every minute.
    """
    stage = batch.stage
    if stage.where != "chamber" or stage.kind not in BY_FIXED_PROBE or known.core_temp_c is None:
        return batch
    low_c, high_c, _ = CORE_RANGES_C[stage.kind]
    if not low_c <= known.core_temp_c <= high_c:
        return batch
    if batch.core_sensed_s is not None and batch.elapsed_s - batch.core_sensed_s < SENSED_EVERY_S:
        return batch
    after = with_core(batch, "", wall_s, known.core_temp_c, FIXED)
    return replace(after, core_sensed_s=batch.elapsed_s)


def logs_of(batch: Batch) -> dict[str, Log]:
    """Return the readings of this stage by piece or probe, each (wall seconds, °C) by rising time.

    In a chill each piece that was read in it begins at its readings of the cook, else at the last one of any piece. A
    reading without a name gives way to later ones with a name.
    """
    rows = list(zip(batch.core_temps, batch.core_of, strict=True))
    carried = [row for row in rows if batch.stage.kind == "chill" and row[0][0] <= batch.stage_began_wall_s]
    logs = _by_name(rows[len(carried) :])
    if batch.stage.kind != "chill":
        return dict(logs) if logs else {"": ()}
    return ways_down(_by_name(carried), logs) or {"": [reading for reading, _ in carried[-1:]]}


def _by_name(rows: Sequence[tuple[tuple[float, float], str]]) -> dict[str, Log]:
    logs: dict[str, list[tuple[float, float]]] = {}
    for reading, of in rows:
        if of and of != FIXED:
            logs.pop("", None)
        logs.setdefault(of, []).append(reading)
    return dict(logs)


def _core_words(batch: Batch, request: CoreTemp) -> str:
    until_c, counts_c = batch.stage.until.core_temp_c, batch.core_temp_c
    of = f" in {request.piece}" if request.piece else ""
    aim = "" if until_c is None else f" (the stage ends at {degrees(until_c)})"
    if counts_c is not None and counts_c != request.value_c:
        which = "highest" if counts_c > request.value_c else "lowest"
        return f"core {request.value_c:.1f} °C{of}; {counts_c:.1f} °C, the {which}, counts{aim}."
    return f"core {request.value_c:.1f} °C{of}{aim}."


def target_log(batch: Batch) -> float:
    """Return the powers of ten of Salmonella that are wanted: 7 with any poultry in it, else 6.5."""
    meats = () if batch.sheet is None else batch.sheet.formula.meats
    return TARGETS[1] if any(meat.species == "poultry" for meat in meats) else TARGETS[0]


def cook_words(batch: Batch, chamber: Chamber) -> list[str]:
    """Return how far the cook has come by its readings, how long it still takes, and what is said of the come-up."""
    target = target_log(batch)
    found = lowest({piece: broken(log, TYPED_APART_S) for piece, log in logs_of(batch).items()}, target)
    if found is None:
        return []
    piece, progress = found
    of = f" in {piece}" if piece else ""
    if progress.reached:
        lines = [f"Salmonella: {target:g} of {target:g} log{of} by the printed table and the readings."]
    else:
        left = (
            "at this temperature nothing is counted yet (54.4 °C, 130 °F)"
            if progress.minutes_left == inf
            else f"{progress.minutes_left:.0f} min more at this temperature"
        )
        lines = [f"Salmonella: {progress.log:.1f} of {target:g} log so far{of}; {left}."]
        if progress.minutes_left != inf:
            lines.append("Between two readings the lower one counts: measure again then.")
    met = batch.passed_5_3 and not is_over_limit(batch, chamber) and not tell_uncounted(batch)
    rule = come_up(min(logs_of(batch).values(), key=_last_temp), degree_hours_met=met)
    if rule.condition.verdict == "not met":
        lines.append(
            f"Come-up: {time_words(rule.hours or 0.0)} from 10 to 54.4 °C is more than {COME_UP_H:g} h: hold the batch."
        )
    elif not met:
        lines.append(f"Come-up: 10 to 54.4 °C (50 to 130 °F) in {COME_UP_H:g} h or less, as the degree-hours are open.")
    return lines


def _last_temp(log: Log) -> float:
    return log[-1][1]


@do.register
def _smoker(request: Smoker, memory: Memory, inputs: Inputs, chamber: Chamber) -> Done:  # noqa: ARG001
    batch = batch_of(memory, request.batch)
    stage, value_c = batch.stage, request.value_c
    if stage.kind not in SMOKER_HOT_C:
        raise Refused(f"{batch.id} is in {stage.name}: a smoker's or oven's temperature belongs to a smoke or a cook")
    if not SMOKER_C[0] <= value_c <= SMOKER_C[1]:
        raise Refused(f"smoker {degrees(value_c)}: this cannot be; type it again")
    if value_c > SMOKER_HOT_C[stage.kind] and not request.sure:
        meant = f"did you mean {value_c:g}F ({celsius(value_c):.0f} °C)?"
        raise asked_back(f"smoker {degrees(value_c)} is hotter than a {stage.kind} is; {meant}", request, batch)
    check_replaced(request.replaces, tuple(name for name, _, _ in batch.smoker))
    entry = entry_of(
        request.id, batch, request.at_wall_s, "smoker_temp", f"{value_c:g}", "Cel", request.actor, inputs,
        instrument=request.instrument, replaces=request.replaces, note=request.note,
    )  # fmt: skip
    kept = tuple(row for row in batch.smoker if row[0] != request.replaces)
    batch = replace(batch, smoker=(*kept, (request.id, request.at_wall_s, value_c))[-KEPT:])
    lines = [f"smoker {value_c:.1f} °C.", *_smoker_words(batch, value_c, request.at_wall_s)]
    return Done(put(memory, batch), f"{batch.id}: " + "\n".join(lines), (), (entry,))


def _smoker_words(batch: Batch, value_c: float, at_s: float) -> list[str]:
    stage, lines = batch.stage, list[str]()
    if stage.air_temp_c is not None and abs(value_c - stage.air_temp_c) > SMOKER_NEAR_K:
        more = "hotter" if value_c > stage.air_temp_c else "cooler"
        lines.append(f"The profile has {degrees(stage.air_temp_c)}: {abs(value_c - stage.air_temp_c):.0f} K {more}.")
    dry_s = batch.surface_dry_wall_s
    if stage.kind == "smoke" and (dry_s is None or at_s - dry_s > SURFACE_H * HOUR_S):
        lines.append(
            "Is the surface dry? Nobody has said so: a wet casing takes streaks and soot. hangroom look --look tacky"
        )
    done_h = batch.stage_elapsed_s / HOUR_S
    if stage.at_least_h > done_h:
        lines.append(f"{time_words(stage.at_least_h - done_h)} more in this stage at least.")
    return lines
