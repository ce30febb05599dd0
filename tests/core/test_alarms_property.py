"""Whatever goes wrong and whatever people ask: nothing that is wrong is ever out of sight, or silent for too long.

The checker keeps its own books from the events and the list alone: it knows the promised times, not the code.
"""

import random
from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.asked import Cannot
from controller.core.alarms.memory import Alarm
from controller.core.fault_table import ROWS
from tests.helpers.alarm_story import AlarmStory

AGAIN_S = {"1": 2 * 3600.0, "2": 4 * 3600.0, "3": 86_400.0}
UNSEEN_AGAIN_S = 900.0
SETTLES_S = 900.0
LONGEST_QUIET_S = {"1": 3600.0, "2": 8 * 3600.0, "3": 8 * 3600.0}
MINUTE_S = 60.0
CAUSES = tuple(
    Condition(row, f"{row} is wrong.", batch, priority, about)
    for row, batch, priority, about in (
        ("S1", "", "", "air_temp"), ("S3", "", "", "air_temp"), ("S1", "", "2", "rh"), ("A1", "", "", ""),
        ("A2", "", "", ""), ("A3", "", "", ""), ("A4", "", "", ""), ("A5", "", "", ""), ("P1", "", "", ""),
        ("P2", "", "", ""), ("P4", "", "", "air_temp"), ("P4", "", "3", "rh"), ("P6", "", "", ""), ("P9", "b", "2", ""),
        ("H2", "b", "1", ""), ("C5", "", "", ""), ("C16", "b", "", ""), ("P10", "b", "", ""),
    )
)  # fmt: skip
WARNING = replace(CAUSES[4], priority="2", warns=True)
SENSOR = {"S1", "S3"}


def urgency(condition: Condition) -> str:
    return condition.priority or ROWS[condition.row].priority


def stands_for(alarm: Alarm, condition: Condition) -> bool:
    """Say whether this alarm is the one of this condition: one sensor is one alarm."""
    if alarm.about == condition.about == "air_temp" and {alarm.row, condition.row} <= SENSOR:
        return True
    return (alarm.row, alarm.batch, alarm.about) == (condition.row, condition.batch, condition.about)


@dataclass
class Checker:
    """Keep books of what was told, and compare them with the list."""

    story: AlarmStory
    read: int = 0
    called_s: dict[str, float] = field(default_factory=dict)
    may_call_s: dict[str, float] = field(default_factory=dict)  # It was quiet, or followed from another, until then.
    quiet_for_s: dict[str, tuple[float, float]] = field(default_factory=dict)  # Since when, and for how long.
    out_of_sight_s: dict[Condition, float] = field(default_factory=dict)
    listed: dict[str, Alarm] = field(default_factory=dict)
    ids: dict[str, tuple[str, str, str]] = field(default_factory=dict)
    locked: set[str] = field(default_factory=set)  # Alarms of which a latching condition was there.

    def check(self, tick_s: float = MINUTE_S) -> None:
        new = self.story.events[self.read :]
        self.read = len(self.story.events)
        for event in new:
            assert event.text
            if event.kind in {"alarm", "alarm again", "seen"}:
                self.called_s[event.id] = self.story.now_s
        self._in_sight(tick_s)
        self._latched({event.id for event in new if event.kind == "cleared"})
        self._called(tick_s)
        self._told({event.id for event in new})
        self.listed = {alarm.id: alarm for alarm in self.story.alarms}

    def restarted(self) -> None:
        """Count from here: the monotonic clock may have begun anew."""
        self.called_s = dict.fromkeys(self.called_s, self.story.now_s)
        still = {alarm.id for alarm in self.story.alarms if alarm.quiet_until_s is not None}
        self.quiet_for_s = {
            name: (self.story.now_s, for_s) for name, (_, for_s) in self.quiet_for_s.items() if name in still
        }
        self.may_call_s.clear()
        self.out_of_sight_s.clear()

    def _in_sight(self, tick_s: float) -> None:
        """What is wrong is an alarm, or stands beside one, once it has been there for its on-delay."""
        now_s, alarms = self.story.now_s, self.story.alarms
        for condition in self.story.wrong:
            if any(
                (alarm.active and stands_for(alarm, condition)) or self._hides(alarm, condition) for alarm in alarms
            ):
                self.out_of_sight_s.pop(condition, None)
                continue
            since_s = self.out_of_sight_s.setdefault(condition, now_s)
            longest_s = 0.0 if urgency(condition) == "1" else SETTLES_S
            assert now_s - since_s <= longest_s + tick_s, f"{condition.row} is out of sight"
        for condition in set(self.out_of_sight_s).difference(self.story.wrong):
            del self.out_of_sight_s[condition]

    def _hides(self, alarm: Alarm, condition: Condition) -> bool:
        """Say whether a condition stands beside this alarm; not where a person has quieted what is less urgent.

        What is over stands for others only as long as it goes on locking the heat.
        """
        is_quieter = alarm.quiet_until_s is not None and urgency(condition) < alarm.priority
        is_there = alarm.active or (alarm.latched and alarm.locks)
        return is_there and condition.row in alarm.hides and not is_quieter

    def _latched(self, cleared: set[str]) -> None:
        self.locked -= cleared
        for condition in self.story.wrong:
            if ROWS[condition.row].latches and not condition.warns:
                self.locked |= {
                    alarm.id for alarm in self.story.alarms if stands_for(alarm, condition) and alarm.active
                }
        latched = {alarm.id for alarm in self.story.alarms if alarm.latched}
        assert self.locked == latched, "what is latched is what was, less what a person has cleared"

    def _called(self, tick_s: float) -> None:
        """What is wrong has called within its time, unless it is quiet or stands behind another one; quiet ends."""
        now_s = self.story.now_s
        for alarm in self.story.alarms:
            if alarm.quiet_until_s is not None:
                began_s, for_s = self.quiet_for_s[alarm.id]
                assert now_s - began_s <= for_s + tick_s, f"{alarm.id} is quiet for too long"
                self.may_call_s[alarm.id] = now_s
            elif alarm.follows:
                causes = [one for one in self.story.alarms if one.active or (one.latched and one.locks)]
                cause = next((one for one in causes if one.id == alarm.follows), None)
                assert cause is not None or alarm.gone_s is not None, f"{alarm.id} follows from nothing"
                self.may_call_s[alarm.id] = now_s + SETTLES_S
            elif alarm.active or (alarm.priority == "1" and not alarm.seen):
                unseen = alarm.priority == "1" and not alarm.seen
                longest_s = UNSEEN_AGAIN_S if unseen else AGAIN_S[alarm.priority]
                until_s = max(self.called_s[alarm.id] + longest_s, self.may_call_s.get(alarm.id, 0.0))
                assert now_s <= until_s + tick_s, f"{alarm.id} was silent for too long"

    def _told(self, told: set[str]) -> None:
        """Each change was told; one occurrence has one id; one cause has one alarm."""
        now = {alarm.id: alarm for alarm in self.story.alarms}
        for name in set(self.listed).symmetric_difference(now):
            assert name in told, f"{name} came or left and nobody was told"
        for name, alarm in now.items():
            assert self.ids.setdefault(name, alarm.key) == alarm.key, f"{name} is two things"
            before = self.listed.get(name, alarm)
            changed = (alarm.active, alarm.seen, alarm.quiet_until_s is None)
            was = (before.active, before.seen, before.quiet_until_s is None)
            assert changed == was or name in told, f"{name} changed from {was} to {changed} and nobody was told"
        keys = [alarm.key for alarm in self.story.alarms]
        assert len(keys) == len(set(keys)), "one cause, two alarms"


def pass_time(story: AlarmStory, checker: Checker, minutes: int) -> None:
    tick_s = MINUTE_S if minutes <= 70 else 5.0 * MINUTE_S
    for _ in range(round(minutes * 60.0 / tick_s)):
        story.tick(tick_s)
        checker.check(tick_s)


def ask(story: AlarmStory, checker: Checker, rng: random.Random) -> None:
    """Ask something of an alarm; what cannot be done changes nothing."""
    name = rng.choice(story.names or ["A1-1"])
    before = story.memory
    alarm = next((alarm for alarm in story.alarms if alarm.id == name), None)
    hours = rng.choice((0.0, 0.4, 1.0, 1.5, 5.0, 8.0, 9.0))
    try:
        match rng.choice(("see", "see", "clear", "quiet", "quiet")):
            case "see":
                story.see(name)
            case "clear":
                story.clear(name)
                assert alarm is not None
                assert not alarm.active, "its cause is there still"
            case _:
                story.quiet(name, hours=hours)
                assert alarm is not None
                assert hours * 3600.0 <= LONGEST_QUIET_S[alarm.priority]
                assert hours == 0.0 or alarm.priority != "1" or alarm.seen
                checker.quiet_for_s[name] = (story.now_s, hours * 3600.0)
    except Cannot:
        assert story.memory is before


@settings(max_examples=80, derandomize=True)
@given(st.integers(0, 2**32 - 1))
def test_what_is_wrong_is_in_sight_and_calls_and_every_change_is_told(seed: int) -> None:
    rng = random.Random(seed)
    story = AlarmStory()
    checker = Checker(story)
    kinds = rng.sample(CAUSES, rng.choice((2, 3, 5))) + [WARNING] * rng.choice((0, 1))
    for _ in range(40):
        match rng.choice(("wrong", "wrong", "time", "time", "ask", "ask", "ask", "restart")):
            case "wrong":
                story.wrong = tuple(rng.sample(kinds, rng.randint(0, len(kinds))))
            case "time":
                pass_time(story, checker, rng.choice((1, 2, 5, 9, 11, 16, 31, 65, 130, 250, 500)))
            case "ask":
                ask(story, checker, rng)
            case _ if rng.random() < 0.3:
                gap_s, same_boot = rng.choice(((30.0, True), (600.0, True), (3600.0, False), (None, False)))
                story.restart(gap_s, same_boot=same_boot)
                checker.restarted()
        story.tick(MINUTE_S)
        checker.check()
    story.wrong = ()
    pass_time(story, checker, 12 * 60)
    assert not any(alarm.active for alarm in story.alarms if not ROWS[alarm.row].until_seen), "all is over in the end"
    assert not any(alarm.quiet_until_s is not None for alarm in story.alarms), "quiet ends"
    for alarm in story.alarms:
        story.see(alarm.id)
    assert all(alarm.latched for alarm in story.alarms)
    for alarm in story.alarms:
        story.clear(alarm.id)
    assert story.alarms == ()
