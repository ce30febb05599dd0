"""What deserves an alarm though no actuator is at fault: sensors that stay bad, and a batch that runs out of time.

The gate has taken the heat away long before; here only the words are found, and how long to wait before saying them.
"""

from typing import Final

from controller.core.alarms import Condition
from controller.core.alarms.memory import Alarm
from controller.core.batch.blind import tell_uncounted
from controller.core.batch.margin import OVER, air_now_c, binding, is_over_limit, tell_limit_time, tell_margin
from controller.core.batch.reminders import PAIR_LASTS_S, weighed_wall_s
from controller.core.batch.stages import lacks_ph
from controller.core.fault_words import FAULT_WORDS, ROW_OF_FAULT
from controller.core.memory import Batch, Memory
from controller.core.plan import Chamber
from controller.core.values import WITNESSES, Channel, Known
from controller.food.degree_hours import TARGET_PH

SENSOR_PATIENCE_S: Final = 20.0
PH_PATIENCE_S: Final = 2 * 3600.0
WARN_SHARE: Final = 0.7
WARN_HARD_SHARE: Final = 0.9

SENSOR_NAMES: Final[dict[Channel, str]] = {
    "air_temp": "The air thermometer",
    "air_temp_2": "The second air thermometer",
    "rh": "The humidity sensor",
    "rh_temp": "The thermometer in the humidity sensor",
    "core_temp": "The core probe",
    "ambient_temp": "The room thermometer",
    "door": "The door contact",
    "rh_2": "The second humidity sensor",
    "evaporator_temp": "The evaporator's thermometer",
    "heater_live": "The voltage contact of the lamp",
    "heater_current": "The current contact of the lamp",
    "cooler_current": "The current contact of the compressor",
    "cutout": "The contact of the thermal cut-out",
    "fan_turns": "The contact of the fan",
}


def sensor_concerns(memory: Memory, known: Known, now_s: float) -> list[Condition]:
    """Raise the row of each sensor that has given nothing good for a while; a single bad reading raises none."""
    found: list[Condition] = []
    if now_s - memory.started_s <= SENSOR_PATIENCE_S:
        return found
    for channel, kind in known.faults.items():
        remembered = memory.judge.channels.get(channel)
        good = None if remembered is None else remembered.good
        since_s = memory.started_s if good is None else good.taken_s
        if now_s - since_s <= SENSOR_PATIENCE_S and kind != "frozen":
            continue
        if channel == "rh_temp" and "rh" in known.faults:
            continue  # One device, one cause, one alarm.
        leads = channel == "air_temp"
        effect = (
            "Heat is off."
            if leads
            else "Humidifier is off."
            if channel == "rh"
            else "The heat goes by the other sensor."
        )
        text = f"{SENSOR_NAMES[channel]} {FAULT_WORDS[kind]}. {effect}"
        found.append(
            Condition(
                ROW_OF_FAULT[kind], text, priority="" if leads else "2", locks=channel in WITNESSES, about=channel
            )
        )
    return found


def batch_concerns(batch: Batch, chamber: Chamber, air_temp_c: float | None, wall_s: float) -> list[Condition]:
    """Raise what is wrong with the batch itself: too long a stage, a pH that has not come, degree-hours running out."""
    found: list[Condition] = []
    stage, hung_s = batch.stage, batch.hung_s
    if batch.state == "complete":
        return _degree_hours_concerns(batch, chamber, air_temp_c, wall_s)
    if stage.at_most_h is not None and batch.stage_elapsed_s > stage.at_most_h * 3600.0:
        hours = batch.stage_elapsed_s / 3600.0
        found.append(
            Condition(
                "P10", f"Stage {stage.name} lasts {hours:.1f} h, planned at most {stage.at_most_h:g} h.", batch.id
            )
        )
    if batch.too_fast and not _is_old_pair(batch, wall_s):
        found.append(
            Condition("P8", f"Drying too fast: {batch.too_fast}", batch.id, level=batch.too_fast_level, off_delay_s=0.0)
        )
    if batch.stalled:
        found.append(Condition("P13", f"Drying stands still: {batch.stalled}", batch.id))
    if batch.ph_due_since_s is not None and stage.kind == "ferment":
        late_s = batch.elapsed_s - batch.ph_due_since_s
        if late_s > PH_PATIENCE_S:
            text = f"The pH that was due {late_s / 3600:.1f} h ago has not been entered."
            found.append(Condition("H2", text, batch.id))
    if hung_s is not None:
        found += _degree_hours_concerns(batch, chamber, air_temp_c, wall_s)
    return found


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
    text = "; ".join(parts) + "." + (f" Over the limit: {OVER}." if over else "")
    if lacking:
        text += f" No pH that stands is at or below {TARGET_PH:g}: hold the batch; nothing ends by itself."
    decided = over and batch.over_accepted
    if decided:
        text += " A person has said go on."
    level = 1 + (margin.share >= WARN_HARD_SHARE or over or lacking) + over
    return [Condition("P9", text, batch.id, priority="1" if level > 1 and not decided else "2", level=level)]


def chamber_concerns(memory: Memory) -> list[Condition]:
    """Raise what concerns batches together: one that the program paused in silence, and two that want the chamber."""
    found = []
    if not any(alarm.row != "P11" and calls_or_holds(alarm) for alarm in memory.alarms):
        found = [
            Condition("P11", f"{batch.id} is paused: {batch.held_because}.", batch.id)
            for batch in memory.batches
            if batch.state == "held" and not batch.held_by_person and OVER not in batch.held_because  # P9 speaks.
        ]
    here = [batch for batch in memory.batches if batch.in_chamber and batch.state != "complete"]
    others = [batch for batch in here if batch.id != memory.leader] if memory.leader else []
    return found + [
        Condition("P12", f"{batch.id} ({batch.stage.name}) hangs in a climate that {memory.leader} leads.", batch.id)
        for batch in others
    ]


def calls_or_holds(alarm: Alarm) -> bool:
    """Say whether this alarm already calls for a person because something is paused or may have to be."""
    return alarm.priority == "1" and (alarm.active or alarm.latched or not alarm.seen)
