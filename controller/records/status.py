"""Tell what the daemon last knew, for whoever asks: one small file that is replaced every few seconds."""

import time
from pathlib import Path
from typing import Final

import msgspec
from msgspec import Struct

from controller.core.batch.care import overdue
from controller.core.batch.reminders import is_weighing_due, next_due_s, weighed_wall_s
from controller.core.batch.stages import cooler_to_come_c, cools_to, is_let_cool
from controller.core.batch.waits import still_wanted
from controller.core.learn.course import left_s
from controller.core.learn.watch import WORDS
from controller.core.memory import Batch, Memory, Outcome, State
from controller.core.plan import Chamber, StageKind, Where
from controller.core.values import Channel, FaultKind, Role
from controller.errors import AccessError, DataError, StorageError, UnavailableError
from controller.records.alarm_status import AlarmStatus, alarm_status
from controller.records.counting_status import CountingStatus, counting_of
from controller.records.durable import replace_whole, write_over
from controller.records.refused import NO_ROOM, errno_of
from controller.records.untrusted import clean, require_sane, why_not
from controller.settings.chamber_file import ChamberFile, plan_of
from controller.settings.instrument_care import care_of

VERSION: Final = 1
FILE: Final = "status.json"
EVERY_S: Final = 5.0
SPARE: Final = b" " * 4096
"""Room for some alarms more, should there be none on the disk."""
ALIVE_S: Final = 30.0
"""A status file that is older belongs to a daemon that does not run any more."""


class PhNow(Struct, frozen=True):
    """Hold the newest pH."""

    value: float
    wall_s: float
    error: float = 0.0  # What the instrument may be wrong by: it is added before the pH counts.
    from_sausage: bool = False


class BatchStatus(Struct, frozen=True, kw_only=True):
    """Hold what is known of one open batch."""

    id: str
    profile: str
    title: str
    state: State
    held_because: str
    stage: str
    kind: StageKind
    where: Where
    leads: bool
    began_wall_s: float
    hung_wall_s: float | None
    elapsed_h: float
    stage_elapsed_h: float
    stage_at_conditions_h: float
    ph: PhNow | None
    ph_overdue: bool
    weight_loss_pct: float | None
    core_temp_c: float | None
    degree_hours_f: float
    degree_hours_c: float
    highest_air_temp_c: float | None
    asks_confirm: bool
    confirmed: bool = False  # A person has confirmed the stage,
    still_wanted: tuple[str, ...] = ()  # which waits for this besides, in words.
    note: str = ""  # What the profile says to whoever does this stage.
    weighed_wall_s: float | None = None  # When a piece was weighed last,
    weigh_now: bool = False  # which is too long ago for a stage that ends on weight.
    cools_to: str = ""  # How far a ferment that is let cool can come down, in words.
    asks_sausage: bool = False  # The wrapped sample has reached the end; one of the sausage itself is wanted.
    ph_next_wall_s: float | None = None  # When the next pH is due.
    cool_from_wall_s: float | None = None  # From then on the ferment is let cool,
    cools: bool = False  # or is so already.
    waits_for_you: bool = False  # The program has paused it, and it goes on by a person only.
    found_out: bool = False  # It waits until it is found out how long a cut was, and may go on by itself.
    counting: CountingStatus | None = None


class SounderStatus(Struct, frozen=True):
    """Hold when the sounder was last tried and by whom, and whether it was heard; None: never."""

    tried_wall_s: float | None = None
    by: str = ""
    heard: bool = False


class LearningStatus(Struct, frozen=True):
    """Hold where a step test stands."""

    name: str
    phase: str
    words: str  # What the phase is.
    phase_left_min: float
    left_min: float
    loaded_kg: float


class Status(Struct, frozen=True, kw_only=True):
    """Hold what `hangroom status` shows. Instants in seconds since 1970 UTC, temperatures in °C, humidity in %RH."""

    version: int = VERSION
    time_wall_s: float
    wall_trusted: bool
    boot_id: str
    chamber: str
    units: str
    air_temp_c: float | None
    air_temp_set_c: float | None
    rh_pct: float | None
    rh_set_pct: float | None
    core_temp_c: float | None
    ambient_temp_c: float | None
    door_open: bool
    door_guessed: bool = False  # No contact says so, but the air does.
    doubtful: dict[Channel, FaultKind]
    on: tuple[Role, ...]
    closings: dict[Role, int]
    interlocks: tuple[str, ...]
    batches: tuple[BatchStatus, ...]
    alarms: tuple[AlarmStatus, ...]
    trouble: tuple[str, ...]
    checks_overdue: tuple[str, ...] = ()  # Instruments that should have been checked by now, in words.
    flood: str = ""  # The first of too many alarms at once, while there are too many.
    sounder: SounderStatus | None = None  # None: the chamber has none.
    learning: LearningStatus | None = None  # A step test, while one runs: no batch can begin meanwhile.
    running: bool = True  # False in the last one that a daemon writes.


def status_of(
    memory: Memory,
    outcome: Outcome,
    *,
    chamber: ChamberFile | None = None,
    trouble: tuple[str, ...] = (),
    running: bool = True,
) -> Status:
    """Return the status after a tick."""
    known, wanted = outcome.known, outcome.wanted
    opened = [batch for batch in memory.batches if batch.open]
    plan = None if chamber is None else plan_of(chamber)
    leading = next((batch.id for batch in opened if batch.in_chamber), "")
    return Status(
        time_wall_s=outcome.wall_s,
        wall_trusted=outcome.wall_trusted,
        boot_id=memory.boot_id,
        chamber="" if chamber is None else chamber.name,
        units="C" if chamber is None else chamber.units,
        air_temp_c=known.air_temp_c,
        air_temp_set_c=_wanted_c(opened, plan, wanted.air_temp_c),
        rh_pct=known.rh_pct,
        rh_set_pct=wanted.rh_pct,
        core_temp_c=known.core_temp_c,
        ambient_temp_c=known.ambient_temp_c,
        door_open=known.door_open,
        door_guessed=known.door_open and "door" not in known.contacts,
        doubtful=known.faults,
        on=tuple(role for role in outcome.commands.on_until_s if outcome.commands.is_on(role, outcome.now_s)),
        closings={role: output.closings for role, output in memory.outputs.items()},
        interlocks=outcome.interlocks,
        batches=tuple(
            _batch_status(batch, plan, memory, outcome.wall_s, leads=batch.id == leading) for batch in opened
        ),
        alarms=tuple(alarm_status(alarm, outcome.now_s, outcome.wall_s) for alarm in memory.alarms),
        trouble=trouble,
        checks_overdue=_overdue(memory, outcome, chamber),
        flood=memory.calling.flood,
        sounder=_sounder(memory, plan),
        learning=_learning(memory, plan, outcome.now_s),
        running=running,
    )


def _learning(memory: Memory, plan: Chamber | None, now_s: float) -> LearningStatus | None:
    learning = memory.learning
    if plan is None or learning is None or learning.ended:
        return None
    phase_s, all_s = left_s(learning, plan, now_s)
    name, phase = learning.name, learning.phase
    return LearningStatus(name, phase, WORDS.get(phase, ""), phase_s / 60.0, all_s / 60.0, learning.loaded_kg)


def _sounder(memory: Memory, plan: Chamber | None) -> SounderStatus | None:
    if plan is None or plan.output("sounder") is None:
        return None
    last = memory.heard
    return SounderStatus() if last is None else SounderStatus(last.at_wall_s, last.by, last.heard)


def _wanted_c(opened: list[Batch], plan: Chamber | None, wanted_c: float | None) -> float | None:
    """Return what is wanted of the air; nothing of a ferment that is let cool where nothing can cool it."""
    leading = next((batch for batch in opened if batch.in_chamber), None)
    if plan is None or leading is None or not is_let_cool(leading):
        return wanted_c
    return wanted_c if cooler_to_come_c(leading, plan) is not None else None


def _overdue(memory: Memory, outcome: Outcome, chamber: ChamberFile | None) -> tuple[str, ...]:
    """Name what is overdue; nobody knows where the clock cannot be believed."""
    if chamber is None or not outcome.wall_trusted:
        return ()
    return overdue(memory, care_of(chamber), outcome.wall_s)


def _batch_status(batch: Batch, plan: Chamber | None, memory: Memory, wall_s: float, *, leads: bool) -> BatchStatus:
    stage, air_temp_c = batch.stage, memory.air_temp_c
    due_s, cool_s = next_due_s(batch), batch.cool_from_s
    may_go_on = batch.held_by_gap and memory.back is not None  # It is being found out how long the cut was.
    found_out = may_go_on and batch.state == "held" and not batch.held_by_person
    return BatchStatus(
        id=batch.id,
        profile=batch.profile.name,
        title=batch.profile.title,
        state=batch.state,
        held_because=batch.held_because,
        stage=stage.name,
        kind=stage.kind,
        where=stage.where,
        leads=leads,
        began_wall_s=batch.began_wall_s,
        hung_wall_s=batch.hung_wall_s,
        elapsed_h=batch.elapsed_s / 3600.0,
        stage_elapsed_h=batch.stage_elapsed_s / 3600.0,
        stage_at_conditions_h=batch.stage_at_conditions_s / 3600.0,
        ph=_ph_now(batch),
        ph_overdue=batch.overdue,
        weight_loss_pct=batch.weight_loss_pct,
        core_temp_c=batch.core_temp_c,
        degree_hours_f=batch.degree_hours_f,
        degree_hours_c=batch.degree_hours_c,
        highest_air_temp_c=batch.highest_air_c,
        asks_confirm=stage.until.confirm and not batch.confirmed and batch.state != "complete",
        confirmed=stage.until.confirm and batch.confirmed and batch.state != "complete",
        still_wanted=still_wanted(batch),
        note="" if batch.state == "complete" else stage.note,
        weighed_wall_s=weighed_wall_s(batch),
        weigh_now=is_weighing_due(batch, wall_s),
        cools_to="" if plan is None or cool_s is None else cools_to(batch, plan),
        asks_sausage=batch.asks_sausage,
        ph_next_wall_s=None if due_s is None else wall_s + due_s - batch.elapsed_s,
        cool_from_wall_s=None if cool_s is None else _whole_minute_s(wall_s + cool_s - batch.elapsed_s),
        cools=is_let_cool(batch),
        waits_for_you=batch.state == "held" and not batch.held_by_person and not may_go_on,
        found_out=found_out,
        counting=None if plan is None else counting_of(batch, plan, air_temp_c, wall_s),
    )


def _whole_minute_s(wall_s: float) -> float:
    """Return the nearest full minute: 23:00 was typed, and a sum of ticks would show 22:59."""
    return 60.0 * round(wall_s / 60.0)


def _ph_now(batch: Batch) -> PhNow | None:
    if not batch.ph:
        return None
    at_s, value = batch.ph[-1]
    last = batch.ph_readings[-1] if batch.ph_readings else None
    return PhNow(value, at_s) if last is None else PhNow(value, at_s, last.error, last.from_sausage)


def write_status(state_dir: Path, status: Status) -> None:
    """Replace the status file. It is never forced to disk: after a power cut it is old anyway.

    Where the disk has no room for a new one it is written over the old one, so that whoever looks is told of the full
    disk, and not that no daemon runs. What is to be told then is longer, so the file has blanks at its end.

    Raises:
        StorageError: it could not be written.
    """
    path, data = state_dir / FILE, msgspec.json.encode(status)
    try:
        replace_whole(path, data + SPARE, force=False, keep_previous=False)
    except StorageError as error:
        if errno_of(error) not in NO_ROOM or not write_over(path, data):
            raise


def read_status(state_dir: Path) -> Status:
    """Return what the daemon last knew. `is_alive` says whether it still runs.

    Raises:
        UnavailableError: no daemon has written here.
        AccessError: it may not be read.
        DataError: the file is damaged.
    """
    path = state_dir / FILE
    try:
        tree = msgspec.json.decode(path.read_bytes())
        require_sane(tree)
        return msgspec.convert(clean(tree), type=Status)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise UnavailableError(
            f"{path}: is not there, so no daemon has run for this chamber; start it with: systemctl start hangroom"
        ) from error
    except PermissionError as error:
        group = _group_of(state_dir)
        raise AccessError(f"{path}: you may not read it; members of the group {group} may.") from error
    except (ValueError, RecursionError) as error:
        raise DataError(
            f"{path}: the status is damaged ({why_not(error)}); a running daemon replaces it soon"
        ) from error


def _group_of(state_dir: Path) -> str:
    try:
        return state_dir.group()
    except (OSError, KeyError):
        return "of its folder"


class _Running(Struct, frozen=True):
    """Hold the one field that says whether the writer of a status has ended on purpose."""

    running: bool = True


def is_alive(state_dir: Path, within_s: float = ALIVE_S) -> bool:
    """Say whether a daemon has replaced its status file within so many seconds, and has not ended on purpose since."""
    path = state_dir / FILE
    try:
        is_new = time.time() - path.stat().st_mtime <= within_s
        return is_new and msgspec.json.decode(path.read_bytes(), type=_Running).running
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return False
