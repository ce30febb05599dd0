"""What the daemon last knew, in a maker's plain words."""

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import msgspec

from controller.cli.asking import Desk
from controller.cli.local import in_local_words, in_units
from controller.cli.pages.counting_lines import tell_counting, tell_ph
from controller.cli.pages.duty import Duty, read_duty
from controller.cli.pages.stage_lines import tell_waits, tell_weights
from controller.cli.say import PRIORITY_WORDS, STATE_WORDS, fold, show_maybe, show_span, show_time
from controller.core.fault_words import FAULT_WORDS
from controller.core.memory import Alarm
from controller.core.values import Channel
from controller.records.batch_folder import batches_of
from controller.records.status import FILE, BatchStatus, Status, is_alive, read_status
from controller.review.forecast.told import forecast_lines
from controller.settings.units import Units

HOUR_S: Final = 3600.0
SENSOR_WORDS: Final[dict[Channel, str]] = {
    "air_temp": "the air thermometer",
    "air_temp_2": "the second air thermometer",
    "rh": "the humidity sensor",
    "rh_temp": "the thermometer in the humidity sensor",
    "core_temp": "the core probe",
    "ambient_temp": "the room thermometer",
    "rh_2": "the second humidity sensor",
    "evaporator_temp": "the evaporator's thermometer",
    "door": "the door contact",
    "heater_live": "the voltage contact of the lamp",
    "heater_current": "the current contact of the lamp",
    "cooler_current": "the current contact of the compressor",
    "cutout": "the contact of the thermal cut-out",
    "fan_turns": "the speed signal of the fan",
}
OUTPUT_WORDS: Final = {
    "heater": "lamp",
    "humidifier": "humidifier",
    "cooler": "cooler",
    "dehumidifier": "dehumidifier",
    "fan": "fan",
    "fresh_air": "fresh air",
    "sounder": "sounder",
}
"""The master contactor is left out: it is on whenever all is well, and nobody asks for it."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Hold what the daemon last knew, how old that is, and whether it still runs."""

    status: Status
    timezone: str
    age_s: float
    alive: bool
    duty: Duty | None
    forecasts: dict[str, list[str]] = field(default_factory=dict)  # By batch, what was kept last.


def look(desk: Desk) -> Seen:
    """Read the status file and the newest rows of the batch that leads the chamber."""
    status = read_status(desk.state_dir)
    age_s = max(time.time() - (desk.state_dir / FILE).stat().st_mtime, 0.0)
    leading = next((batch.id for batch in status.batches if batch.leads), None)
    duty = None if leading is None else read_duty(batches_of(desk.state_dir) / leading)
    folder = batches_of(desk.state_dir)
    forecasts = {one.id: forecast_lines(folder / one.id, one.kind, desk.now_s) for one in status.batches}
    return Seen(status, desk.chamber.timezone, age_s, is_alive(desk.state_dir), duty, forecasts)


def as_object(seen: Seen) -> dict[str, object]:
    """Return the status as one object for programs: as the daemon wrote it, with its age and the outputs' shares."""
    told: dict[str, object] = msgspec.to_builtins(seen.status)
    on_pct = {} if seen.duty is None else seen.duty.on_pct
    return {
        **told,
        "age_s": round(seen.age_s, 1),
        "daemon_running": seen.alive,
        "on_pct": on_pct,
        "forecasts": seen.forecasts,
    }


def tell_page(seen: Seen) -> Iterator[str]:
    """Yield the lines of the page, at most 80 columns wide."""
    status = seen.status
    yield f"{status.chamber}, {show_time(status.time_wall_s, seen.timezone)} ({show_span(seen.age_s)} ago)"
    if not seen.alive:
        yield from fold("NO DAEMON IS RUNNING. This is what the last one knew; nothing leads the chamber now.")
    urgent = [alarm for alarm in sorted(status.alarms, key=_urgency) if _is_urgent(alarm)]
    for alarm in urgent:
        yield from fold(_describe_alarm(alarm, seen), "    ", "! ")
    if not status.wall_trusted:
        yield "The clock of this machine has not been set by anything that knows."
    yield ""
    yield from _tell_climate(seen)
    for batch in status.batches:
        yield ""
        yield from _tell_batch(batch, _units(status), seen.timezone)
        yield from (line for kept in seen.forecasts.get(batch.id, ()) for line in fold(kept, "    ", "  "))
    if not status.batches:
        yield ""
        yield "No batch is open."
    yield ""
    others = [alarm for alarm in sorted(status.alarms, key=_urgency) if not _is_urgent(alarm)]
    yield from _tell_rest(others, seen, after_urgent=bool(urgent))
    if status.checks_overdue:
        yield from fold(f"Check overdue: {', '.join(status.checks_overdue)}. See: hangroom check", "    ", "")
    for trouble in status.trouble:
        yield from fold(f"Records: {trouble}", "    ", "")


def _tell_rest(alarms: list[Alarm], seen: Seen, *, after_urgent: bool) -> Iterator[str]:
    """Yield the alarms that do not stand on top already."""
    for alarm in alarms:
        yield from fold(_describe_alarm(alarm, seen), "    ", "")
    if not alarms:
        yield "No other alarms." if after_urgent else "No alarms."


def _is_urgent(alarm: Alarm) -> bool:
    """Say whether somebody has to act now: what is over, or can wait, stands below."""
    return alarm.active and alarm.priority == "1"


def _units(status: Status) -> Units:
    return "F" if status.units == "F" else "C"


def _tell_climate(seen: Seen) -> Iterator[str]:
    status = seen.status
    units = _units(status)
    yield _figure("air", show_maybe(status.air_temp_c, units), _wanted(status.air_temp_set_c, units))
    rh_set = None if status.rh_set_pct is None else f"{status.rh_set_pct:.0f} %"
    yield _figure("humidity", "unknown" if status.rh_pct is None else f"{status.rh_pct:.0f} % RH", rh_set)
    if status.core_temp_c is not None:
        yield _figure("core", show_maybe(status.core_temp_c, units), None)
    if status.ambient_temp_c is not None:
        yield _figure("room", show_maybe(status.ambient_temp_c, units), None)
    if status.door_open:
        yield "The door is open."
    for channel, fault in status.doubtful.items():
        yield from fold(in_units(f"Doubtful: {SENSOR_WORDS[channel]} {FAULT_WORDS[fault]}.", units), "    ", "")
    yield from fold(_describe_outputs(seen), "    ", "")


def _figure(name: str, value: str, wanted: str | None) -> str:
    return f"{name:<9}{value:>10}" + ("" if wanted is None else f"   wanted {wanted}")


def _wanted(temp_c: float | None, units: Units) -> str | None:
    return None if temp_c is None else show_maybe(temp_c, units)


def _describe_outputs(seen: Seen) -> str:
    on = [OUTPUT_WORDS[role] for role in seen.status.on if role in OUTPUT_WORDS]
    now = f"On now: {', '.join(on) or 'nothing'}."
    if seen.duty is None or not seen.duty.on_pct:
        return now
    shares = ", ".join(f"{OUTPUT_WORDS[role]} on {pct:.0f} % of the time" for role, pct in seen.duty.on_pct.items())
    lately = "recorded minute" if seen.duty.rows == 1 else f"{seen.duty.rows} recorded minutes"
    return f"{now} In the last {lately}: {shares}."


def _tell_batch(batch: BatchStatus, units: Units, timezone: str) -> Iterator[str]:
    yield from fold(f"{batch.id}: {batch.title}", "    ", "")
    state = STATE_WORDS[batch.state]
    because = (
        f" ({in_local_words(batch.held_because, timezone, units)})"
        if batch.state == "held" and batch.held_because
        else ""
    )
    place = "" if batch.where == "chamber" else ", elsewhere"
    yield from fold(f"{state}{because}; stage {batch.stage}{place}", "    ", "  ")
    span = show_span(batch.stage_elapsed_h * HOUR_S)
    right = show_span(batch.stage_at_conditions_h * HOUR_S)
    yield from fold(f"in this stage for {span}; hours at the right climate: {right}", "    ", "  ")
    if batch.hung_wall_s is not None:
        yield f"  hung {show_time(batch.hung_wall_s, timezone)}"
    elif batch.kind in {"warm-up", "ferment"}:
        yield "  not hung yet: say `hangroom hang` when the meat is in"
    yield from tell_ph(batch, timezone, units)
    yield from tell_weights(batch, timezone)
    if batch.core_temp_c is not None:
        yield f"  core {show_maybe(batch.core_temp_c, units)} (measured)"
    yield from tell_counting(batch, units, timezone)
    yield from tell_waits(batch, units)


def tell_alarms(seen: Seen) -> list[str]:
    """Return the lines of each alarm, the most urgent first; the newest of these first. At most 80 columns."""
    alarms = sorted(seen.status.alarms, key=_urgency)
    return [line for alarm in alarms for line in fold(_describe_alarm(alarm, seen), "    ", "")] or ["No alarms."]


def _urgency(alarm: Alarm) -> tuple[bool, str, float]:
    return not alarm.active, alarm.priority, -alarm.since_wall_s


def _describe_alarm(alarm: Alarm, seen: Seen) -> str:
    notes = []
    if not alarm.active:
        over = f"over; hangroom seen {alarm.id} takes it off"
        notes.append(f"over, but locked until you clear it: hangroom clear {alarm.id}" if alarm.latched else over)
    if alarm.seen:
        notes.append("seen")
    state = f" [{', '.join(notes)}]" if notes else ""
    urgency = PRIORITY_WORDS.get(alarm.priority, f"priority {alarm.priority}")
    text = in_local_words(alarm.text, seen.timezone, _units(seen.status))
    return f"{alarm.id}  {show_time(alarm.since_wall_s, seen.timezone)}  {urgency}{state}: {text}"
