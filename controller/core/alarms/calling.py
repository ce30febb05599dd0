"""Call again, and let the sounder sound.

An alarm of priority 1 calls every 15 minutes until somebody has seen it, also when it is over by itself; then every two
hours while its cause is there, or a batch waits for it to be cleared. Priority 2 calls every four hours, priority 3
daily, while the cause is there. What is quieted, or follows from another alarm, does not call. More than five in ten
minutes are a flood: the first of them is named, and besides it only what is of priority 1 and unseen sounds. These
times are common practice, no source; IEC 62682 knows the thing as re-annunciation.

The sounder tells two things apart. Priority 1: five seconds on, five off for five minutes, then five seconds in each
minute until somebody has seen it, and the five minutes again at each call. Priority 2, and 1 once it was seen: two
tones of five seconds at each call. It is never one long tone, and never a whole night of it: who sleeps beside a steady
tone pulls its plug.
"""

from collections.abc import Iterable
from typing import Final

from controller.core.alarms.memory import NEVER_S, Alarm, Calling
from controller.core.values import Event

FLOOD_S: Final = 600.0
FLOOD: Final = 5
UNSEEN_AGAIN_S: Final = 900.0
AGAIN_S: Final[dict[str, float]] = {"1": 2 * 3600.0, "2": 4 * 3600.0, "3": 86_400.0}

TONE_S: Final = 5.0
LOUD_S: Final = 300.0
MINUTE_S: Final = 60.0
TWO_TONES: Final = (1, 3)
TEST_S: Final = 10.0


def again_after_s(alarm: Alarm) -> float | None:
    """Return after how many seconds since its last call an alarm calls again; None: never as it is now."""
    if alarm.quiet_until_s is not None or alarm.follows:
        return None
    if alarm.priority == "1" and not alarm.seen:
        return UNSEEN_AGAIN_S
    return AGAIN_S.get(alarm.priority) if alarm.active else None


def is_due(alarm: Alarm, now_s: float, *, waits: bool = False) -> bool:
    """Say whether an alarm has to call again now.

    Args:
        alarm: one that is on the list.
        now_s: the monotonic clock.
        waits: a batch that the program has paused waits for a person: what locks the heat goes on calling for it.
    """
    after_s = again_after_s(alarm)
    if after_s is None and waits and alarm.latched and alarm.locks and not (alarm.follows or alarm.active):
        after_s = AGAIN_S.get(alarm.priority) if alarm.quiet_until_s is None else None
    return after_s is not None and now_s - alarm.called_s >= after_s


def sounds(alarms: Iterable[Alarm], calling: Calling, now_s: float, tick_s: float) -> bool:
    """Say whether the sounder is to be on from now to the next tick."""
    if now_s < calling.test_until_s:
        return True
    tone_s = max(TONE_S, tick_s)
    return any(_sounds(alarm, now_s, tone_s, flood=calling.flood) for alarm in alarms)


def _sounds(alarm: Alarm, now_s: float, tone_s: float, *, flood: str) -> bool:
    """Say whether one alarm wants the sounder; the tick after its call is the first that can.

    Time is counted in tones, to the nearest, for no tick comes to the millisecond.
    """
    if alarm.quiet_until_s is not None or alarm.follows or alarm.called_s == NEVER_S:
        return False
    since_s = now_s - alarm.called_s
    tones = round(since_s / tone_s)
    if alarm.priority == "1" and not alarm.seen:
        return tones % 2 == 1 if since_s <= LOUD_S else tones % round(MINUTE_S / tone_s) == 1
    return alarm.priority in {"1", "2"} and tones in TWO_TONES and (not flood or alarm.id == flood)


def count_flood(
    calling: Calling, new: Iterable[Alarm], alarms: Iterable[Alarm], now_s: float
) -> tuple[tuple[tuple[float, str], ...], str, Event | None]:
    """Return the alarms of the last ten minutes, the first of a flood, and the event where one begins or ends."""
    raised = (
        *(one for one in calling.raised if now_s - one[0] < FLOOD_S),
        *((now_s, alarm.id) for alarm in new),
    )
    if not calling.flood and len(raised) > FLOOD:
        first = raised[0][1]
        what = next((alarm.what for alarm in alarms if alarm.id == first), "it is over by itself")
        text = f"{len(raised)} alarms in {FLOOD_S / 60:.0f} min. The first was {first}: {what} Look at that one first."
        return raised, first, Event("flood", text, first, "2")
    if calling.flood and len(raised) < FLOOD:
        return raised, "", Event("flood", f"No flood of alarms any more; it began with {calling.flood}.", calling.flood)
    return raised, calling.flood, None
