"""Tell of each alarm what a page and a program need of it: every instant by the clock on the wall."""

from typing import Final, Literal

from msgspec import Struct

from controller.core.alarms.memory import Alarm
from controller.core.alarms.message import SEVERITY, short, short_over
from controller.core.fault_table import ROWS
from controller.records.csv_text import time_text

LATEST_WALL_S: Final = 253_402_300_799.0  # 9999-12-31: no clock shows more.

AlarmState = Literal[
    "unacknowledged",
    "acknowledged",
    "returned unacknowledged",
    "latched unacknowledged",
    "latched acknowledged",
    "shelved",
    "suppressed",
]
"""The states of IEC 62682, their names as OPC UA part 9 tells them apart; from memory. An alarm in the state normal is
not listed, and one that is out of service does not exist: nothing turns a rule off."""


class Follower(Struct, frozen=True):
    """Hold a row of the fault table that is there only because of an alarm."""

    row: str
    title: str


class AlarmStatus(Struct, frozen=True):
    """Hold one alarm. Instants are RFC 3339 in UTC; those in `_wall_s` seconds since 1970 UTC.

    Attributes:
        id: as `A3-2`.
        row: of the fault table.
        priority: 1, 2, 3 or E.
        text: the whole message.
        since_wall_s: since when.
        batch: which one it concerns; empty: the chamber.
        active: its cause is there.
        latched: it stays until it is cleared.
        locks: while it stays, no heat.
        about: which sensor or output.
        level: how far it has gone.
        seen: a person has seen it.
        title: what is wrong, in a few words.
        severity: 1 to 1000, as OPC UA has it.
        state: the standard's word for how it stands.
        since: since when.
        by: until when somebody should have answered; None: it asks for nothing.
        what: what is wrong, the value against its limit.
        did: what the program did.
        first: what a person does first.
        quiet_until: a person has quieted it until then.
        suppressed_by: the alarm that it follows from, and does not call because of.
        hides: what is there only because of this one, and is no alarm of its own.
        unproved: it was there before a restart, and its rule has not been able to look again yet.
        short: the message in at most 140 letters.
        overdue: somebody should have answered by now.
    """

    id: str
    row: str
    priority: str
    text: str
    since_wall_s: float
    batch: str = ""
    active: bool = True
    latched: bool = False
    locks: bool = False
    about: str = ""
    level: int = 0
    seen: bool = False
    title: str = ""
    severity: int = 0
    state: AlarmState = "unacknowledged"
    since: str = ""
    by: str | None = None
    by_wall_s: float | None = None
    what: str = ""
    did: str = ""
    first: str = ""
    quiet_until: str | None = None
    quiet_until_wall_s: float | None = None
    suppressed_by: str = ""
    hides: tuple[Follower, ...] = ()
    unproved: bool = False
    short: str = ""
    overdue: bool = False


def state_of(alarm: Alarm) -> AlarmState:
    """Return the standard's word for how an alarm stands."""
    if alarm.quiet_until_s is not None:
        return "shelved"
    if alarm.follows:
        return "suppressed"
    if alarm.active:
        return "acknowledged" if alarm.seen else "unacknowledged"
    if alarm.latched:
        return "latched acknowledged" if alarm.seen else "latched unacknowledged"
    return "returned unacknowledged"


def alarm_status(alarm: Alarm, now_s: float, wall_s: float) -> AlarmStatus:
    """Return an alarm as it is shown.

    Args:
        alarm: as it is remembered.
        now_s: the monotonic clock, by which its quiet ends.
        wall_s: the clock on the wall at the same instant.
    """
    row = ROWS[alarm.row]
    quiet_s = None if alarm.quiet_until_s is None else wall_s + alarm.quiet_until_s - now_s
    first = alarm.first or row.first
    what = alarm.what or alarm.text
    return AlarmStatus(
        id=alarm.id,
        row=alarm.row,
        priority=alarm.priority,
        text=alarm.text,
        since_wall_s=alarm.since_wall_s,
        batch=alarm.batch,
        active=alarm.active,
        latched=alarm.latched,
        locks=alarm.locks,
        about=alarm.about,
        level=alarm.level,
        seen=alarm.seen,
        title=row.title,
        severity=SEVERITY.get(alarm.priority, 0),
        state=state_of(alarm),
        since=_text(alarm.since_wall_s) or "",
        by=_text(alarm.by_wall_s),
        by_wall_s=alarm.by_wall_s,
        what=what,
        did=alarm.did,
        first=first,
        quiet_until=_text(quiet_s),
        quiet_until_wall_s=quiet_s,
        suppressed_by=alarm.follows,
        hides=tuple(Follower(name, ROWS[name].title) for name in alarm.hides),
        unproved=alarm.unproved,
        overdue=alarm.active and alarm.by_wall_s is not None and wall_s > alarm.by_wall_s,
        short=short(alarm.id, alarm.row, what, first) if alarm.active else short_over(alarm),
    )


def _text(wall_s: float | None) -> str | None:
    return None if wall_s is None or not 0.0 <= wall_s <= LATEST_WALL_S else time_text(wall_s)
