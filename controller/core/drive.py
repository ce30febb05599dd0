"""From what is wanted to commands: the loops, the slow rules, the gate, and timing behind them all.

Each hand on the way may take away from what the loops ask for. Added to it are the fan, the sounder, and the two
minutes of lamp or cold that show whether a thermometer answers; the gate has the last word on these too.
"""

from typing import Final

from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.calling import sounds
from controller.core.alarms.effect import lingering
from controller.core.batch.margin import forbids_heat as forbids_over
from controller.core.batch.stages import Climate, is_settling, ramp_share
from controller.core.chamber.climate import control
from controller.core.chamber.gate import heat_blocks
from controller.core.chamber.timing import time_outputs
from controller.core.fault_table import ROWS
from controller.core.learn.course import duty_of
from controller.core.learn.watch import held_to_course
from controller.core.memory import Batch, Inputs, Loops, Memory, OutputMemory
from controller.core.outage.starts import uncounted, watch_starts
from controller.core.plan import WET_PCT, Chamber
from controller.core.plant.cold import overcools
from controller.core.plant.look import urge
from controller.core.values import Commands, Known, Role
from controller.core.watch.agree import heat_goes_by_c
from controller.core.watch.door import after_door, excuses, is_resting
from controller.core.watch.frozen import switched_off, switched_on
from controller.core.watch.heat import is_trial
from controller.core.watch.machine import not_switched_on
from controller.core.watch.memory import Watch
from controller.core.watch.mist import mist_is_spent
from controller.core.watch.rounds import first_look, forbids_heat, look, taken_away
from controller.core.watch.seen import Seen
from controller.core.watch.sensors import distrusted

LONGEST_TICK_S: Final = 15.0
"""A loop that was blocked does not make the integrals jump: dt is capped at three ticks."""
BACK_K: Final = 1.0
"""So near after a door was open the air is back. Common practice, no source."""


def drive(
    memory: Memory, known: Known, climate: Climate, leading: Batch | None, chamber: Chamber, inputs: Inputs, dt_s: float
) -> tuple[Memory, Commands, tuple[str, ...], list[Condition]]:
    """Return the memory, until when each output is on, why no heat is given, and all that the rules have found.

    Args:
        memory: what was carried over, after people and stages.
        known: what the judge believes.
        climate: what is wanted now.
        leading: the batch that leads the climate.
        chamber: what is fixed while the daemon runs.
        inputs: of this tick.
        dt_s: seconds since the last tick.
    """
    now_s, opened = inputs.now_s, known.door_open
    ajar = excuses(memory.watch.door, now_s, chamber.thresholds, is_open=opened)
    told = known
    if opened and not ajar:
        known = replace(known, door_open=False)
    if memory.learning is None:
        loops, duty = _asked_for(memory, known, climate, leading, chamber, inputs, dt_s)
    else:
        loops, duty = Loops(), duty_of(memory.learning, chamber)
    seen = _seen(memory, known, climate, leading, chamber, inputs, duty, dt_s, opened=opened, ajar=ajar)
    watch, conditions = first_look(memory.watch, seen)
    starts = memory.starts
    if inputs.trouble or starts.untold:
        starts = replace(starts, untold=uncounted(memory, inputs.trouble, now_s))
    blocks = heat_blocks(
        known,
        chamber,
        memory.alarms,
        now_s - memory.started_s,
        now_s,
        apart=watch.agree.apart_since_s is not None,
        state_allows=climate.heat and climate.air_temp_c is not None,
        over=any(forbids_over(batch, chamber) for batch in memory.batches),
        uncounted=starts.untold,
    )
    watch, found = look(watch, replace(seen, blocks=blocks) if blocks else seen)
    found += watch_starts(memory, chamber, now_s)
    conditions += found
    still = lingering(memory.alarms, now_s) if memory.alarms else []
    cold = blocks
    if found or still:  # While the lamp is tried the batch still waits.
        cold = tuple(dict.fromkeys((*blocks, *forbids_heat([*found, *still]))))
        blocks = tuple(row for row in cold if row != "A3") if is_trial(watch, seen) else cold
    if conditions or still:
        urge(conditions, duty, known, climate, chamber)
    mist, spent = mist_is_spent(watch.mist, chamber, memory.outputs.get("humidifier"), now_s)
    watch = watch if mist is watch.mist else replace(watch, mist=mist)
    blocked = _refused(memory, seen, watch, blocks, [*conditions, *still], no_mist=spent or not climate.mist)
    if blocked and loops is not memory.loops:
        loops = _unlearnt(loops, memory.loops, blocked)
    forced = _whatever_is_wanted(memory, seen, watch, conditions)
    if memory.learning is not None:
        memory, blocked = held_to_course(memory, told, cold, blocked, leading, chamber, now_s)
    duty["fan"] = climate.fan
    duty["fresh_air"] = max(climate.fresh_air, duty.get("fresh_air", 0.0))
    duty["master"] = 1.0 if climate.heat else 0.0
    heat_until_s = known.good_air_taken_s + chamber.limits.fresh_s
    outputs, commands = time_outputs(memory.outputs, duty, blocked, memory.last_s, now_s, chamber, heat_until_s, forced)
    if inputs.disobedient:
        _rest_anew(outputs, inputs)
    return replace(memory, loops=loops, watch=watch, outputs=outputs, starts=starts), commands, cold, conditions


def _asked_for(
    memory: Memory, known: Known, climate: Climate, leading: Batch | None, chamber: Chamber, inputs: Inputs, dt_s: float
) -> tuple[Loops, dict[Role, float]]:
    """Return what the loops ask for; for a while after an open door no more heat than held the air before."""
    heat_by_c = heat_goes_by_c(memory.watch.agree, known)
    learnt_s = _remembered_s(memory, known, climate, chamber, dt_s)
    loops, duty = control(memory.loops, known, climate, climate.kind, chamber, inputs.now_s, learnt_s, heat_by_c)
    if "door" in chamber.channels and not is_settling(leading):
        held = after_door(memory.watch.door, memory.last_s, chamber.thresholds, loops.heat_holds)
        duty["heater"] = min(duty.get("heater", 0.0), held)
    return loops, duty


def _remembered_s(memory: Memory, known: Known, climate: Climate, chamber: Chamber, dt_s: float) -> float:
    """Return the seconds that the integrals learn from: none of an open door, nor of the way back from it.

    Only a contact is believed here: what is merely guessed from the air may be the lamp's own rhythm.
    """
    if "door" not in chamber.channels:
        return min(dt_s, LONGEST_TICK_S)
    if known.door_open:
        return 0.0
    air_c, wanted_c = known.air_temp_c, climate.air_temp_c
    far = air_c is not None and wanted_c is not None and abs(air_c - wanted_c) > BACK_K
    if far and is_resting(memory.watch.door, memory.last_s, chamber.thresholds):
        return 0.0
    return min(dt_s, LONGEST_TICK_S)


def _seen(
    memory: Memory,
    known: Known,
    climate: Climate,
    leading: Batch | None,
    chamber: Chamber,
    inputs: Inputs,
    duty: dict[Role, float],
    dt_s: float,
    *,
    opened: bool,
    ajar: bool,
) -> Seen:
    """Return this tick as the slow rules see it."""
    return Seen(
        known=known,
        wanted=climate,
        kind=climate.kind,
        chamber=chamber,
        duty=duty,
        outputs=memory.outputs,
        blocks=(),
        settling=is_settling(leading),
        opened=opened,
        ajar=ajar,
        arrived=leading is not None and leading.arrived,
        hung_kg=sum(batch.meat_kg for batch in memory.batches if batch.hung_s is not None and batch.in_chamber)
        + (0.0 if memory.learning is None else memory.learning.loaded_kg),
        hung_for_s=None if leading is None or leading.hung_s is None else leading.elapsed_s - leading.hung_s,
        ramp_share=None if leading is None else ramp_share(leading),
        batch="" if leading is None else leading.id,
        complete=leading is not None and leading.state == "complete",
        heats=climate.heat and not any(alarm.latched and alarm.locks for alarm in memory.alarms),
        health=inputs.health,
        disobedient=inputs.disobedient,
        strangers=inputs.strangers,
        trouble=(*memory.found_at_start, *inputs.trouble),
        since_start_s=inputs.now_s - memory.started_s,
        now_s=inputs.now_s,
        dt_s=dt_s,
    )


def _refused(
    memory: Memory, seen: Seen, watch: Watch, blocks: tuple[str, ...], wrong: list[Condition], *, no_mist: bool
) -> set[Role]:
    """Name the outputs that may not be on now.

    Args:
        memory: what was carried over.
        seen: this tick.
        watch: what the rules remember after it.
        blocks: why no heat may be given.
        wrong: all that was found, and what was found a moment ago.
        no_mist: the humidifier has given all that it may for now, or none is wanted.
    """
    known, now_s = seen.known, seen.now_s
    blocked: set[Role] = {"heater", "master"} if blocks else set()
    is_blind = now_s - known.good_air_taken_s > seen.chamber.limits.fresh_s
    if is_blind or known.door_open:
        blocked |= {"cooler", "dehumidifier", "humidifier"}
    is_wet = known.rh_pct is None or known.rh_pct >= WET_PCT
    if is_wet or no_mist or "P9" in blocks:
        blocked.add("humidifier")
    blocked |= not_switched_on(watch.machine, seen)
    if overcools(seen):
        blocked.add("cooler")
    if seen.disobedient:  # Whatever it is: no heat while the pins are not where they were set.
        blocked |= {"heater", "master", *seen.disobedient}
    if wrong:
        blocked |= taken_away(wrong, watch, now_s)
    if memory.alarms:
        blocked.update(distrusted(memory.alarms))
    if watch.frozen.pulse:
        blocked.update(switched_off(watch.frozen, now_s))
    return blocked


def _unlearnt(loops: Loops, before: Loops, blocked: set[Role]) -> Loops:
    """Return the loops without what they learnt of an output that was not allowed to answer."""
    if "heater" in blocked and loops.heat_integral > before.heat_integral:
        loops = replace(loops, heat_integral=before.heat_integral)
    if "cooler" in blocked and (loops.dry_integral > before.dry_integral or loops.cool_integral > before.cool_integral):
        dry, cool = min(loops.dry_integral, before.dry_integral), min(loops.cool_integral, before.cool_integral)
        loops = replace(loops, dry_integral=dry, cool_integral=cool)
    if "humidifier" in blocked and loops.mist_integral > before.mist_integral:
        loops = replace(loops, mist_integral=before.mist_integral)
    return loops


def _whatever_is_wanted(memory: Memory, seen: Seen, watch: Watch, conditions: list[Condition]) -> tuple[Role, ...]:
    """Name the outputs that are on now whatever the loops ask for; what is refused stays off all the same."""
    kind, now_s = seen.kind, seen.now_s
    forced: tuple[Role, ...] = ("fan",) if kind and "air_temp" in seen.known.faults else ()
    if kind and any(ROWS[condition.row].fan and not condition.warns for condition in conditions):
        forced = ("fan",)
    if watch.frozen.pulse:
        forced = (*forced, *switched_on(watch.frozen, now_s))
    is_tried = now_s < memory.calling.test_until_s
    if (memory.alarms or is_tried) and sounds(memory.alarms, memory.calling, now_s, seen.chamber.tick_s):
        forced = (*forced, "sounder")
    return forced


def _rest_anew(outputs: dict[Role, OutputMemory], inputs: Inputs) -> None:
    """Count the rest of an output from now on where its pin was not as it was set: it may have run a moment ago."""
    for role in inputs.disobedient:
        if role in outputs:
            outputs[role] = replace(outputs[role], off_since_s=inputs.now_s)
