"""What the daemon last knew, in a maker's plain words."""

import os
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import msgspec

from controller.cli.asking import Desk
from controller.cli.local import in_local_words, in_units
from controller.cli.pages.alarm_lines import describe_alarm, is_urgent, tell_alarm, tell_flood, urgency
from controller.cli.pages.counting_lines import tell_counting, tell_ph
from controller.cli.pages.duty import Duty, read_duty
from controller.cli.pages.sounder_lines import tell_sounder
from controller.cli.pages.stage_lines import tell_waits, tell_weights
from controller.cli.pages.waiting_lines import tell_waiting
from controller.cli.say import STATE_WORDS, fold, show_maybe, show_span, show_time
from controller.core.fault_words import FAULT_WORDS, bare_name
from controller.records.alarm_status import AlarmStatus
from controller.records.batch_folder import batches_of
from controller.records.status import FILE, BatchStatus, LearningStatus, Status, is_alive, read_status
from controller.review.forecast.told import forecast_lines
from controller.settings.units import Units

HOUR_S: Final = 3600.0
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


NOT_RUNNING: Final = "NO DAEMON IS RUNNING. This is what the last one knew; nothing leads the chamber now."
READ_ONLY: Final = (
    "THE DISK TAKES NOTHING ANY MORE: it is read-only, so nobody can tell here what is done now. The daemon may still"
    " run and heat: systemctl status hangroom. Nothing is recorded. This is what was known last."
)
"""A kernel makes a disk read-only when the card fails; the daemon goes on, and cannot renew its status."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Hold what the daemon last knew, how old that is, and whether it still runs."""

    status: Status
    timezone: str
    age_s: float
    alive: bool
    duty: Duty | None
    read_only: bool = False  # The disk on which the daemon would tell what it does.
    forecasts: dict[str, list[str]] = field(default_factory=dict)  # By batch, what was kept last.


def look(desk: Desk) -> Seen:
    """Read the status file and the newest rows of the batch that leads the chamber."""
    status = read_status(desk.state_dir)
    age_s = max(time.time() - (desk.state_dir / FILE).stat().st_mtime, 0.0)
    leading = next((batch.id for batch in status.batches if batch.leads), None)
    duty = None if leading is None else read_duty(batches_of(desk.state_dir) / leading)
    folder = batches_of(desk.state_dir)
    forecasts = {one.id: forecast_lines(folder / one.id, one.kind, desk.now_s) for one in status.batches}
    read_only = bool(os.statvfs(desk.state_dir).f_flag & os.ST_RDONLY)
    return Seen(status, desk.chamber.timezone, age_s, is_alive(desk.state_dir), duty, read_only, forecasts)


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
        yield from fold(READ_ONLY if seen.read_only else NOT_RUNNING)
    yield from tell_flood(status.flood, status.alarms)
    yield from tell_waiting(status.batches, status.alarms, seen.timezone, _units(status))
    urgent = [alarm for alarm in sorted(status.alarms, key=urgency) if is_urgent(alarm)]
    for alarm in urgent:
        yield from fold(describe_alarm(alarm, seen.timezone, _units(status)), "    ", "! ")
    if not status.wall_trusted:
        yield "The clock of this machine has not been set by anything that knows."
    yield ""
    yield from _tell_climate(seen)
    for batch in status.batches:
        yield ""
        yield from _tell_batch(batch, _units(status), seen.timezone)
        yield from (line for kept in seen.forecasts.get(batch.id, ()) for line in fold(kept, "    ", "  "))
    if status.learning is not None:
        yield ""
        yield from tell_test(status.learning)
    if not status.batches:
        yield ""
        yield "No batch is open."
    yield ""
    others = [alarm for alarm in sorted(status.alarms, key=urgency) if not is_urgent(alarm)]
    yield from _tell_rest(others, seen, after_urgent=bool(urgent))
    if status.checks_overdue:
        yield from fold(f"Check overdue: {', '.join(status.checks_overdue)}. See: hangroom check", "    ", "")
    yield from (
        fold(tell_sounder(status.sounder, status.time_wall_s, seen.timezone), "    ", "") if status.sounder else ()
    )
    for trouble in status.trouble:
        yield from fold(f"Records: {trouble}", "    ", "")


def tell_test(test: LearningStatus) -> Iterator[str]:
    """Yield the lines of a step test that runs."""
    load = f", {test.loaded_kg:g} kg in it" if test.loaded_kg else ", the chamber empty"
    yield from fold(f"Step test {test.name}{load}: {test.words}, {test.phase_left_min:.0f} min more at most.")
    yield from fold(
        f"{test.left_min:.0f} min in all are left at most. No batch can begin meanwhile; leave the door shut.",
        "  ",
        "  ",
    )


def _tell_rest(alarms: list[AlarmStatus], seen: Seen, *, after_urgent: bool) -> Iterator[str]:
    """Yield the alarms that do not stand on top already."""
    for alarm in alarms:
        yield from fold(describe_alarm(alarm, seen.timezone, _units(seen.status)), "    ", "")
    if not alarms:
        yield "No other alarms." if after_urgent else "No alarms."


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
        guessed = "The door seems to be open: the air says so, and there is no contact that could tell."
        yield from fold(guessed if status.door_guessed else "The door is open.", "    ", "")
    for channel, fault in status.doubtful.items():
        yield from fold(in_units(f"Doubtful: the {bare_name(channel)} {FAULT_WORDS[fault]}.", units), "    ", "")
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
    state = STATE_WORDS["suspended" if batch.found_out else batch.state]
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
    status = seen.status
    alarms = sorted(status.alarms, key=urgency)
    lines = list(tell_waiting(status.batches, alarms, seen.timezone, _units(status)))
    lines += tell_flood(status.flood, alarms)
    for alarm in alarms:
        lines += [*([""] if lines else []), *tell_alarm(alarm, seen.timezone, _units(status))]
    return lines or ["No alarms."]
