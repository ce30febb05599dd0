"""What deserves an alarm though no actuator is at fault: sensors that stay bad, and a batch that runs out of time.

The gate has taken the heat away long before; here only the words are found, and how long to wait before saying them.
"""

from math import floor, inf
from typing import Final

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.batch.asks import damper_air
from controller.core.batch.blind import tell_uncounted
from controller.core.batch.care import found_overdue
from controller.core.batch.margin import (
    OVER,
    air_now_c,
    binding,
    hours_to_limit,
    is_over_limit,
    tell_limit_time,
    tell_margin,
)
from controller.core.batch.reminders import PAIR_LASTS_S, weighed_wall_s
from controller.core.batch.stages import lacks_ph
from controller.core.chamber.judge import DAMAGED, READ_EVERY_S
from controller.core.fault_table import ROWS
from controller.core.fault_words import FAULT_WORDS, ROW_OF_FAULT, SENSOR_NAMES
from controller.core.memory import Batch, Inputs, Memory
from controller.core.outage.rules import is_told
from controller.core.plan import Care, Chamber, Stage
from controller.core.values import WITNESSES, Channel, FaultKind, Known
from controller.food.degree_hours import TARGET_PH

SENSOR_PATIENCE_S: Final = 20.0
WARN_SHARE: Final = 0.7
WARN_HARD_SHARE: Final = 0.9
LATE_SHARE: Final = 0.5
"""From this share of the degree-hours on a late pH is a matter of hours. Common practice, no source."""
OVER_FIRST: Final = (
    "Do not taste. Keep the batch cold and apart, and mark it; a laboratory and a competent person decide."
)
DECIDED_FIRST: Final = "Mark it, and do not taste until a laboratory and a competent person have decided."
"""No pH that is measured now makes good what is over: only who knows what grew in it can say."""
LONGER: Final = 1.5
LEAST_LATE_H: Final = 2.0

YOUNG_S: Final = 60.0
"""A jump, or a read that hangs, has so long to be over; then the sensor counts as lost."""
YOUNG: Final[frozenset[FaultKind]] = frozenset({"jump", "rate", "hung"})
MAY_BE_DOOR_S: Final = 300.0
"""A fall that is too fast has so long to be over where nobody can know whether the door is open."""
MOVED: Final[frozenset[FaultKind]] = frozenset({"jump", "rate"})
"""What a core probe shows that a person puts into cold meat, or takes out of it."""
CARE_EVERY_S: Final = 600.0
BACK_READINGS: Final = 3
NOTHING_DEPENDS: Final = frozenset(ROWS["S15"].needs[0])
LOST: Final = frozenset({"S1", "S2", "S3", "S4", "S5", "S7", "S8", "S15"})
DID: Final[dict[Channel, str]] = {
    "air_temp": "Heat, mist and cold are off; the air is stirred.",
    "air_temp_2": "The heat goes by the other thermometer.",
    "rh_temp": "The heat goes by the other thermometer.",
    "rh": "Mist and drying are off.",
}


def sensor_concerns(memory: Memory, known: Known, chamber: Chamber, now_s: float) -> list[Condition]:
    """Raise the row of each sensor that has given nothing good for a while; a single bad reading raises none.

    It lasts until three good readings in a row have come.
    """
    if not known.faults and not memory.alarms:
        return []
    found = [_comes_back(alarm, memory) for alarm in memory.alarms if alarm.active and alarm.row in LOST]
    conditions = [condition for condition in found if condition is not None]
    if not known.faults or now_s - memory.started_s <= SENSOR_PATIENCE_S:
        return conditions
    damaged_patience_s = chamber.thresholds.damaged_in_a_row * max(chamber.tick_s, READ_EVERY_S)
    knows_no_door = "door" not in chamber.channels and "rh" not in chamber.channels
    for channel, kind in known.faults.items():
        if channel == "rh_temp" and "rh" in known.faults:
            continue  # One device, one cause, one alarm.
        remembered = memory.judge.channels.get(channel)
        good = None if remembered is None else remembered.good
        lost_s = now_s - (memory.started_s if good is None else good.taken_s)
        patience_s = {"hung": 0.0, "frozen": 0.0}.get(kind, SENSOR_PATIENCE_S)
        if kind in DAMAGED:
            patience_s = min(patience_s, damaged_patience_s)
        elif (kind == "rate" and knows_no_door) or (kind in MOVED and channel == "core_temp"):
            patience_s = MAY_BE_DOOR_S
        if lost_s > patience_s:
            conditions.append(_lost(memory, chamber, channel, kind, lost_s))
    return conditions


def _comes_back(alarm: Alarm, memory: Memory) -> Condition | None:
    """Return the condition of a sensor that gives good readings again, but not three in a row yet."""
    channel = memory.judge.channels.get(alarm.about)  # type: ignore[call-overload] # It may be about no sensor.
    if channel is None or channel.fault is not None or channel.in_a_row >= BACK_READINGS or alarm.warns:
        return None
    return Condition(
        alarm.row,
        alarm.what,
        alarm.batch,
        alarm.priority,
        alarm.about,
        alarm.level,
        alarm.locks,
        did=alarm.did,
        first=alarm.first,
    )


def _told(channel: Channel, kind: FaultKind, chamber: Chamber) -> str:
    """Return what is said of a faulty sensor; of one that stands still against which limit."""
    if kind != "frozen":
        return FAULT_WORDS[kind]
    limits = chamber.thresholds
    for_s = limits.frozen_rh_s if channel == "rh" else chamber.limits.frozen_s
    another = "a thermometer" if channel == "rh" else "another"
    return f"has not changed for {for_s / 60.0:.0f} min although {another} moved by {limits.frozen_move_k:g} K"


def _lost(memory: Memory, chamber: Chamber, channel: Channel, kind: FaultKind, lost_s: float) -> Condition:
    """Return the condition of a lost sensor, by what depends on it."""
    name, is_young = SENSOR_NAMES[channel], kind in YOUNG and lost_s <= YOUNG_S
    text = f"{name} {_told(channel, kind, chamber)}."
    if channel in NOTHING_DEPENDS:
        waits = channel == "core_temp" and any(batch.stage.until.core_temp_c is not None for batch in memory.batches)
        did = "The stage that it ends waits." if waits else ""
        return Condition("S15", text, priority="2" if waits else "", about=channel, locks=False, did=did)
    row = ROW_OF_FAULT[kind]
    if any(channel == doubtful for doubtful, _ in memory.watch.damage.doubtful) and row in LOST:
        row = "S2"  # It has an alarm already.
    did = "" if row == "S6" and channel in WITNESSES else DID[channel]
    if row == "S6":
        priority = "" if channel in WITNESSES else "2"
    elif is_young:
        priority = "3"
    else:
        priority = "1" if channel == "air_temp" else "2" if channel == "rh" else "3"
    return Condition(
        row, text, priority=priority, about=channel, level=0 if is_young else 1, locks=channel in WITNESSES, did=did
    )


def care_concerns(memory: Memory, care: Care, inputs: Inputs) -> list[Condition]:
    """Raise S14 for each instrument whose last good check has become too old, where the clock on the wall is known.

    Looked at every ten minutes and when somebody has asked for something; what was found stands in between.
    """
    looks = inputs.requests or int(inputs.now_s / CARE_EVERY_S) != int(memory.last_s / CARE_EVERY_S)
    if not looks or not inputs.wall_trusted:
        return [
            Condition("S14", alarm.what, about=alarm.about)
            for alarm in memory.alarms
            if alarm.row == "S14" and alarm.active
        ]
    found = found_overdue(memory, care, inputs.wall_s)
    return [Condition("S14", f"{words[0].upper()}{words[1:]}.", about=name) for name, words in found]


def batch_concerns(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> list[Condition]:
    """Raise what is wrong with the batch itself: too long a stage, a pH that has not come, degree-hours running out."""
    found: list[Condition] = []
    stage, hung_s = batch.stage, batch.hung_s
    if batch.state == "complete":
        return _degree_hours_concerns(batch, chamber, air_temp_c, wall_s)
    planned_h = _planned_h(stage)
    if planned_h is not None and batch.stage_elapsed_s > planned_h * 3600.0:
        hours = batch.stage_elapsed_s / 3600.0
        found.append(
            Condition("P10", f"Stage {stage.name} lasts {hours:.1f} h, planned at most {planned_h:g} h.", batch.id)
        )
    if batch.too_fast and not _is_old_pair(batch, wall_s):
        found.append(
            Condition(
                "P8",
                f"Drying too fast: {batch.too_fast}",
                batch.id,
                level=batch.too_fast_level,
                first=damper_air(stage.rh_pct if stage.where == "chamber" else None),
                off_delay_s=0.0,
            )
        )
    if batch.stalled:
        found.append(Condition("P13", f"Drying stands still: {batch.stalled}", batch.id))
    if batch.ph_due_since_s is not None and stage.kind == "ferment":
        late_s = batch.elapsed_s - batch.ph_due_since_s
        if late_s > chamber.thresholds.ph_late_s:
            text = f"The pH that was due {late_s / 3600:.1f} h ago has not been entered."
            found.append(Condition("H2", text, batch.id, priority=_urgency_of_ph(batch, chamber)))
    if hung_s is not None:
        found += _degree_hours_concerns(batch, chamber, air_temp_c, wall_s)
    return found


def _planned_h(stage: Stage) -> float | None:
    """Return after how many hours a stage has lasted too long; None where nobody has said how long it should.

    A stage of minutes that waits for a person is not late after 1.5 times that: two hours are given at least. An empty
    chamber that is kept warm is late for nothing.
    """
    hours = stage.until.hours
    if stage.at_most_h is not None or hours is None or stage.kind == "warm-up":
        return stage.at_most_h
    return max(LONGER * hours, hours + LEAST_LATE_H)


def _urgency_of_ph(batch: Batch, chamber: Chamber) -> str:
    """Return how urgent a pH is that has not come: the more of the degree-hours is used, the more."""
    if batch.passed_5_3:
        return "3"
    share = binding(batch, chamber).share
    return "1" if share >= WARN_HARD_SHARE else "2" if share >= LATE_SHARE else "3"


def _is_old_pair(batch: Batch, wall_s: float) -> bool:
    """Say whether the weighings that told of the rate are so old that it is not known any more."""
    newest_s = weighed_wall_s(batch)
    return newest_s is not None and wall_s - newest_s > PAIR_LASTS_S


def _degree_hours_concerns(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> list[Condition]:
    """Raise P9 by the guarded figure of the rule that binds: at 70 %, at 90 % and over.

    What is over stays so, whatever is measured or decided later; decided it calls less loudly. A batch that waited for
    a pH and has none any more is in the same case.
    """
    over, lacking = is_over_limit(batch, chamber), lacks_ph(batch)
    if not over and batch.passed_5_3:
        return []
    margin = binding(batch, chamber)
    if margin.share < WARN_SHARE and not over and not lacking:
        return []
    last = f"last pH {batch.ph[-1][1]:.2f}" if batch.ph else "no pH yet"
    limit = "" if over else tell_limit_time(batch, chamber, air_now_c(batch, air_temp_c), wall_s)
    lacks = tell_uncounted(batch)
    parts = [tell_margin(margin), *([lacks] if lacks else []), *([limit] if limit else []), last]
    text = "; ".join(parts) + "." + (" Over the limit." if over else "")
    if lacking:
        text += f" No pH that stands is at or below {TARGET_PH:g}: hold the batch; nothing ends by itself."
    decided = over and batch.over_accepted
    if decided:
        text += " A person has said go on."
    level = 1 + (margin.share >= WARN_HARD_SHARE or over or lacking) + over
    did = "Heat and mist are off in the whole chamber; the batch is paused."
    if not batch.in_chamber:
        did = "The batch is paused. It is not in this chamber: cool it yourself, now."
    return [
        Condition(
            "P9",
            text,
            batch.id,
            priority="1" if level > 1 and not decided else "2",
            level=level,
            warns=not over,
            did=did if over and not decided else "",
            first=DECIDED_FIRST if decided else OVER_FIRST if over else "",
            by_wall_s=None if over else _limit_wall_s(batch, chamber, air_temp_c, wall_s),
        )
    ]


def _limit_wall_s(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> float | None:
    """Return the minute in which the limit is reached if nothing changes; None where it is not to come."""
    hours = hours_to_limit(batch, chamber, air_now_c(batch, air_temp_c))
    return 60.0 * floor((wall_s + hours * 3600.0) / 60.0) if 0.0 < hours < inf else None


def chamber_concerns(memory: Memory) -> list[Condition]:
    """Raise what concerns batches together: one that the program paused in silence, and two that want the chamber."""
    found = []
    if not any(alarm.row != "P11" and says_why(alarm) for alarm in memory.alarms):
        found = [
            Condition("P11", f"{batch.id} is paused: {batch.held_because}.", batch.id)
            for batch in memory.batches
            if batch.state == "held"
            and not batch.held_by_person
            and OVER not in batch.held_because  # P9 speaks.
            and not (batch.held_by_gap and memory.back is not None)  # It may go on by itself within minutes.
            and not is_told(batch)
        ]
    here = [batch for batch in memory.batches if batch.in_chamber and batch.state != "complete"]
    others = [batch for batch in here if batch.id != memory.leader] if memory.leader else []
    return found + [
        Condition("P12", f"{batch.id} ({batch.stage.name}) hangs in a climate that {memory.leader} leads.", batch.id)
        for batch in others
    ]


def says_why(alarm: Alarm) -> bool:
    """Say whether this alarm tells of something urgent that is there still.

    One that is over, though nobody has seen it, does not say that a batch waits because of it.
    """
    return alarm.priority == "1" and (alarm.active or alarm.latched)
