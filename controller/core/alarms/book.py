"""Raise alarms, keep them up to date, and end them: one call a tick.

A condition that has no alarm yet waits for its on-delay, or is hidden behind its cause. A cause that is gone is over
after the row's off-delay; one that came back within ten minutes has to be gone for ten minutes the next time, so that
a loose contact calls three times at most and then is one alarm that lasts. What is over leaves the list once somebody
has seen it, unless it is latched.
"""

from collections.abc import Iterable
from typing import Final

from msgspec.structs import replace

from controller.core.alarms.calling import AGAIN_S, count_flood, is_due
from controller.core.alarms.cause import cause_of, causes_first, explains, stands
from controller.core.alarms.condition import Condition
from controller.core.alarms.entries import bounded, event_of, how_bad, latches, locks, off_delay_s, quietly, stays
from controller.core.alarms.memory import Alarm, Calling, Over, Pending
from controller.core.alarms.message import ANSWER_S, full, over, said_of
from controller.core.fault_table import ROWS
from controller.core.memory import Memory
from controller.core.values import Event

LATELY_S: Final = 600.0
"""What comes back within this time is the same occurrence. Common practice, no source."""
SETTLES_S: Final = 900.0
"""What was hidden behind a cause has so long to pass by itself once the cause is gone; not where it is urgent."""
FOLLOWED_S: Final = 600.0
"""What came up so long before its cause could be noticed followed from it."""
LOOKS_AGAIN_S: Final = 7200.0
"""So long at most an alarm outlasts a restart without its rule having seen its cause again."""
ONE_SENSOR: Final = frozenset({"S1", "S2", "S3", "S4", "S5", "S7", "S8"})
"""One sensor, one alarm, in whatever way it fails just now."""

Key = tuple[str, str, str]


def settle(
    memory: Memory, conditions: Iterable[Condition], now_s: float, wall_s: float
) -> tuple[Memory, tuple[Event, ...]]:
    """Return the memory with the alarms after this tick, and the events that tell what changed.

    Args:
        memory: with the alarms before.
        conditions: all that is wrong in this tick.
        now_s: the monotonic clock.
        wall_s: the clock on the wall, for people.
    """
    wrong = _by_key(conditions)
    if not wrong and not memory.alarms and memory.calling.idle:
        return memory, ()
    tick = _Tick(memory, now_s, wall_s)
    tick.renew_and_end(wrong)
    tick.raise_new(causes_first(wrong.values()))
    tick.mark_what_follows()
    tick.call_again()
    return tick.result()


def _by_key(conditions: Iterable[Condition]) -> dict[Key, Condition]:
    """Return the worst condition of each key."""
    wrong: dict[Key, Condition] = {}
    for condition in conditions:
        other = wrong.get(condition.key)
        if other is None or how_bad(condition) > how_bad(other):
            wrong[condition.key] = condition
    return wrong


class _Tick:
    """Work out one tick; it lives for one call of `settle`."""

    __slots__ = ("alarms", "counts", "events", "hidden", "lately", "memory", "new", "now_s", "pending", "wall_s")

    def __init__(self, memory: Memory, now_s: float, wall_s: float) -> None:
        self.memory, self.now_s, self.wall_s = memory, now_s, wall_s
        self.alarms: dict[Key, Alarm] = {alarm.key: alarm for alarm in memory.alarms}
        self.counts = memory.counts
        self.events: list[Event] = []
        self.new: list[Alarm] = []
        self.hidden: dict[str, tuple[str, ...]] = {}
        self.pending: list[Pending] = []
        self.lately = [one for one in memory.calling.lately if now_s - one.over_s < LATELY_S]

    def tell(self, kind: str, alarm: Alarm, text: str) -> None:
        """Note an event of an alarm."""
        self.events.append(event_of(kind, alarm, text))

    def renew_and_end(self, wrong: dict[Key, Condition]) -> None:
        """Renew the alarms whose cause is there, taking their conditions out of `wrong`; end the others.

        What had been over, and would call again, is left to `raise_new`: it may follow from something else by now.
        """
        for key, alarm in list(self.alarms.items()):
            if key in wrong and not alarm.active and not alarm.latched and alarm.quiet_until_s is None:
                continue
            condition = wrong.pop(key, None) or self._in_another_way(alarm, wrong)
            after = self._without_cause(alarm) if condition is None else self._renewed(alarm, condition)
            if after is None:
                del self.alarms[key]
            else:
                self.alarms[key] = after

    def _in_another_way(self, alarm: Alarm, wrong: dict[Key, Condition]) -> Condition | None:
        """Return the condition of the same sensor, where it fails in another way now, or minutes later."""
        is_old = not alarm.active and (alarm.gone_s is None or self.now_s - alarm.gone_s >= LATELY_S)
        if alarm.row not in ONE_SENSOR or is_old:
            return None
        same = next((one for one in wrong.values() if one.about == alarm.about and one.row in ONE_SENSOR), None)
        if same is not None and same.key not in self.alarms:
            return wrong.pop(same.key)
        return None

    def _renewed(self, alarm: Alarm, condition: Condition) -> Alarm:
        """Return an alarm whose condition is there (again), with what is wrong now in its words.

        It calls again where it got worse, and where it had been over: what comes again is news to the person who has
        seen it end. While it lasts the words are kept up to date in silence.
        """
        row, now_s = ROWS[condition.row], self.now_s
        priority = condition.priority or row.priority
        worse = condition.level > alarm.level or priority < alarm.priority
        calls = worse or not (alarm.active or alarm.quiet_until_s is not None or alarm.follows)
        came_back = not alarm.active
        lately = alarm.gone_s is not None and now_s - alarm.gone_s < LATELY_S
        if came_back and not lately:
            alarm = replace(alarm, since_s=now_s, since_wall_s=self.wall_s)
        after = replace(
            self._worded(alarm, condition, since=calls),
            priority=priority,
            level=condition.level,
            active=True,
            gone_s=None,
            unproved=False,
            unsure=condition.unsure,
            warns=condition.warns,
            latched=alarm.latched or latches(condition),
            locks=alarm.locks or locks(condition),
            off_delay_s=off_delay_s(condition),
            times_back=alarm.times_back if not came_back else alarm.times_back + 1 if lately else 0,
        )
        if not calls:
            if came_back:
                self.tell("quiet" if alarm.quiet_until_s is not None else "follows", after, quietly(after))
            return after
        after = replace(after, seen=False, quiet_until_s=None, follows="", called_s=now_s)
        self.tell("alarm again", after, after.text)
        if came_back:
            self.new.append(after)
        return after

    def _worded(self, alarm: Alarm, condition: Condition, *, since: bool) -> Alarm:
        """Return the alarm with the words of the condition; with a new deadline where it calls."""
        did = said_of(condition.row, condition.text, condition.did)
        first = condition.first or ROWS[condition.row].first
        priority = condition.priority or ROWS[condition.row].priority
        by_wall_s = condition.by_wall_s
        if by_wall_s is None:
            by_wall_s = self._answer_by(priority) if since or alarm.by_wall_s is None else alarm.by_wall_s
        same = (condition.text, did, first, by_wall_s) == (alarm.what, alarm.did, alarm.first, alarm.by_wall_s)
        if same and alarm.active:  # What had been over has the words of that.
            return alarm
        text = full(condition.text, did, first, alarm.since_wall_s, by_wall_s, self.wall_s)
        return replace(alarm, text=text, what=condition.text, did=did, first=first, by_wall_s=by_wall_s)

    def _answer_by(self, priority: str) -> float | None:
        within_s = ANSWER_S.get(priority)
        return None if within_s is None else self.wall_s + within_s

    def _without_cause(self, alarm: Alarm) -> Alarm | None:
        """Return an alarm whose condition is not there in this tick; None where it leaves the list."""
        if not alarm.active:
            return self._kept(alarm)
        row, now_s = ROWS[alarm.row], self.now_s
        if row.until_seen and not alarm.seen:
            return alarm
        looks_again_s = min(max(row.notice_s, 60.0), LOOKS_AGAIN_S)
        if alarm.unproved and now_s - self.memory.started_s < looks_again_s:
            return alarm
        gone_s = now_s if alarm.gone_s is None else alarm.gone_s
        wait_s = max(alarm.off_delay_s, LATELY_S if alarm.times_back else 0.0)
        if now_s - gone_s < wait_s:
            return alarm if alarm.gone_s is not None else replace(alarm, gone_s=gone_s)
        said = "The cause is gone; it stays until it is cleared." if alarm.latched else "Over by itself."
        self.tell("returned", alarm, f"{row.title}: {said}")
        silently = alarm.seen or (bool(alarm.follows) and not alarm.latched)  # Nobody need see what only followed.
        text = over(alarm, self.wall_s - (now_s - gone_s))
        return self._kept(
            replace(alarm, active=False, gone_s=now_s, unproved=False, hides=(), seen=silently, text=text)
        )

    def _kept(self, alarm: Alarm) -> Alarm | None:
        """Return an alarm that is over, or None where it leaves the list."""
        if stays(alarm):
            return alarm
        self._off_the_list(alarm)
        return None

    def _off_the_list(self, alarm: Alarm) -> None:
        """Take an alarm off the list, and remember it for minutes."""
        gone_s = self.now_s if alarm.gone_s is None else alarm.gone_s
        if self.now_s - gone_s < LATELY_S:
            self.lately.append(Over(replace(alarm, follows=""), gone_s))

    def raise_new(self, conditions: Iterable[Condition]) -> None:
        """Raise what is news; hide what follows from an alarm that is there; let wait what is too new."""
        waited = {(one.row, one.batch, one.about): one for one in self.memory.calling.pending}
        for condition in conditions:
            cause = cause_of(self.alarms.values(), condition)
            if cause is not None:
                self.hidden[cause.id] = (*self.hidden.get(cause.id, ()), condition.row)
                self.pending.append(Pending(*condition.key, self.now_s, SETTLES_S))
                continue
            row, before, had = ROWS[condition.row], waited.get(condition.key), self.alarms.get(condition.key)
            wait_s = row.on_delay_s if had is None else 0.0
            if before is not None and (condition.priority or row.priority) != "1":
                wait_s = max(wait_s, before.wait_s)
            since_s = self.now_s if before is None else before.since_s
            if self.now_s - since_s < wait_s:
                self.pending.append(Pending(*condition.key, since_s, wait_s))
            elif had is None:
                self._raise(condition)
            else:
                self.alarms[condition.key] = self._renewed(had, condition)

    def _raise(self, condition: Condition) -> None:
        came_back = next((one for one in self.lately if one.alarm.key == condition.key), None)
        if came_back is not None:
            self.lately.remove(came_back)
            self.alarms[condition.key] = self._renewed(came_back.alarm, condition)
            return
        row = ROWS[condition.row]
        number = self.counts.get(row.id, 0) + 1
        self.counts = {**self.counts, row.id: number}
        alarm = Alarm(
            id=f"{row.id}-{number}",
            row=row.id,
            priority=condition.priority or row.priority,
            text="",
            since_wall_s=self.wall_s,
            batch=condition.batch,
            about=condition.about,
            level=condition.level,
            latched=latches(condition),
            locks=locks(condition),
            warns=condition.warns,
            off_delay_s=off_delay_s(condition),
            since_s=self.now_s,
            called_s=self.now_s,
        )
        alarm = self._worded(alarm, condition, since=True)
        self.alarms[alarm.key] = alarm
        self.new.append(alarm)
        self.tell("alarm", alarm, alarm.text)

    def mark_what_follows(self) -> None:
        """Mark what came up just before its cause was found; what outlasts its cause is an alarm again."""
        for cause in self.new:
            for key, alarm in list(self.alarms.items()):
                if not self._follows(alarm, cause):
                    continue
                after = replace(alarm, follows=cause.id)
                said = f"{ROWS[alarm.row].title}: follows from {cause.id} ({ROWS[cause.row].title})."
                self.tell("follows", after, said)
                if after.active or after.latched:
                    self.alarms[key] = after
                else:  # It is over, and nobody need see what followed from something else.
                    del self.alarms[key]
                    self._off_the_list(after)
        causes = {alarm.id: alarm for alarm in self.alarms.values()}
        for key, alarm in self.alarms.items():
            hides = self.hidden.get(alarm.id, ())
            if alarm.hides != hides:
                self.alarms[key] = alarm = replace(alarm, hides=hides)  # noqa: PLW2901 - looked at once more
            is_ending = alarm.active and alarm.gone_s is not None
            first = causes.get(alarm.follows)
            if alarm.follows and not is_ending and (first is None or not stands(first, alarm.row, alarm.level)):
                self.alarms[key] = self._freed(alarm)

    def _freed(self, alarm: Alarm) -> Alarm:
        """Return an alarm that has outlasted its cause: what is urgent calls at once, else it may pass by itself."""
        if alarm.active and alarm.priority == "1":
            return self._called(replace(alarm, follows="", seen=False))
        wait_s = AGAIN_S.get(alarm.priority, SETTLES_S) - SETTLES_S if alarm.active else 0.0
        return replace(alarm, follows="", called_s=self.now_s - wait_s)

    def _follows(self, alarm: Alarm, cause: Alarm) -> bool:
        within_s = ROWS[cause.row].notice_s + FOLLOWED_S
        is_fresh = alarm.active or (alarm.gone_s is not None and self.now_s - alarm.gone_s < LATELY_S)
        return (
            is_fresh
            and alarm.id != cause.id
            and not alarm.follows
            and cause.since_s - alarm.since_s <= within_s
            and explains(cause, alarm.row, alarm.batch, alarm.about, alarm.priority, locks=alarm.locks)
        )

    def call_again(self) -> None:
        """End what was quieted for long enough, and call again what has been left alone for too long."""
        waits = any(batch.state == "held" and not batch.held_by_person for batch in self.memory.batches)
        for key, alarm in list(self.alarms.items()):
            if alarm.quiet_until_s is not None and self.now_s >= alarm.quiet_until_s:
                loud = replace(alarm, quiet_until_s=None, seen=alarm.seen and not alarm.active)
                self.tell("quiet", loud, f"{ROWS[alarm.row].title}: it is quiet no longer.")
                if loud.active:
                    self.alarms[key] = self._called(loud)
                elif stays(loud):
                    self.alarms[key] = loud
                else:
                    del self.alarms[key]
            elif is_due(alarm, self.now_s, waits=waits):
                self.alarms[key] = self._called(alarm)

    def _called(self, alarm: Alarm) -> Alarm:
        """Return an alarm that has called again; what should have been done by now says so."""
        if alarm.active and alarm.what:
            said = (alarm.what, alarm.did, alarm.first, alarm.since_wall_s, alarm.by_wall_s, self.wall_s)
            alarm = replace(alarm, text=full(*said))
        self.tell("alarm again", alarm, alarm.text)
        return replace(alarm, called_s=self.now_s)

    def result(self) -> tuple[Memory, tuple[Event, ...]]:
        """Return the memory after the tick; the very one it was where nothing has changed."""
        memory, alarms = self.memory, bounded(tuple(self.alarms.values()))
        raised, flood, event = count_flood(memory.calling, self.new, alarms, self.now_s)
        if event is not None:
            self.events.append(event)
        calling = Calling(tuple(self.pending), tuple(self.lately), raised, flood, memory.calling.test_until_s)
        if alarms == memory.alarms and calling == memory.calling:
            return memory, tuple(self.events)
        return replace(memory, alarms=alarms, counts=self.counts, calling=calling), tuple(self.events)
