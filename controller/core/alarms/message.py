"""The words of an alarm: what, since when, what the program did, what to do first, by when; and a short form of it."""

from datetime import UTC, datetime
from typing import Final

from controller.core.alarms.memory import Alarm
from controller.core.fault_table import ROWS

SHORT: Final = 140
"""So many letters has the short form at most."""
ANSWER_S: Final[dict[str, float]] = {"1": 1800.0, "2": 4 * 3600.0, "3": 86_400.0}
"""Until when somebody has to answer, by priority. Common practice, no source."""
OF_COMPUTER: Final = "C"
"""Rows with this letter are of the computer: no batch shows what was wrong."""
SEVERITY: Final[dict[str, int]] = {"1": 800, "2": 500, "3": 200, "E": 100}
"""The severities of OPC UA (1 to 1000) for the priorities; the bands are from memory."""


def clock_utc(wall_s: float) -> str:
    """Return date and clock in UTC: `core` knows no other; what shows it makes local time of it."""
    try:
        return f"{datetime.fromtimestamp(wall_s, UTC):%Y-%m-%d %H:%M} UTC"
    except (OverflowError, ValueError, OSError):
        return "a time that no clock can show"


def said_of(row: str, what: str, did: str) -> str:
    """Return what the program did, in a sentence; empty where `what` says it already."""
    did = did or ROWS[row].did
    return "" if did and did.rstrip(".").lower() in what.lower() else did


def full(
    what: str, did: str, first: str, since_wall_s: float, by_wall_s: float | None, now_wall_s: float | None = None
) -> str:
    """Return the whole message in sentences; instants in UTC. What should have been done before now is overdue."""
    parts = [_sentence(what), f"Since {clock_utc(since_wall_s)}.", did, first]
    if by_wall_s is not None:
        late = now_wall_s is not None and now_wall_s > by_wall_s
        by = clock_utc(by_wall_s)
        parts.append(f"This was to be done by {by}: it is overdue." if late else f"Do this by {by}.")
    return " ".join(part for part in parts if part)


def over(alarm: Alarm, over_wall_s: float) -> str:
    """Return the whole message of an alarm whose cause is gone: nothing in it is said as if it were so now.

    Args:
        alarm: its words are those of what was wrong.
        over_wall_s: since when it is over; instants in UTC.
    """
    was, gone = f"It was: {_sentence(alarm.what)}", clock_utc(over_wall_s)
    if alarm.latched:
        return f"The cause is gone since {gone}. {was} {alarm.first} Then unlock it: hangroom clear {alarm.id}."
    look = "Know of it? Say" if alarm.row.startswith(OF_COMPUTER) else "Look at the batch, then"
    return f"Over since {gone}. {was} {look}: hangroom seen {alarm.id}."


def short_over(alarm: Alarm) -> str:
    """Return the same in at most 140 letters."""
    then = f"{alarm.first} Then: hangroom clear {alarm.id}" if alarm.latched else f"Then: hangroom seen {alarm.id}"
    head = _sentence((alarm.what or alarm.text).partition(". ")[0])
    said = (f"{alarm.id}: over; it was: {head} {then}", f"{alarm.id}: over; it was: {ROWS[alarm.row].title}. {then}")
    return next((one for one in said if len(one) <= SHORT), _cut(said[-1]))


def short(name: str, row: str, what: str, first: str) -> str:
    """Return the message in at most 140 letters: name, value and first thing to do; what does not fit is cut."""
    title = ROWS[row].title
    head = _sentence(what.partition(". ")[0])
    for said in (f"{name}: {head} {first}", f"{name}: {title}. {first}"):
        if len(said) <= SHORT:
            return said
    return _cut(f"{name}: {title}. {first}")


def _cut(text: str) -> str:
    if len(text) <= SHORT:
        return text
    return f"{text[: SHORT - 1].rpartition(' ')[0] or text[: SHORT - 1]}…"


def _sentence(text: str) -> str:
    """Return a text that ends as a sentence does."""
    text = text.strip()
    return text if text.endswith((".", "?", "!", "…")) or not text else f"{text}."
