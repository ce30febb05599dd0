"""When the program saw each fault: in its alarms, its events, in what it calls doubtful, or in what it takes away."""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

from typing import Any, Final

from msgspec import Struct

from tests.campaigns.facts import Facts
from tests.campaigns.kinds import HOUR_S, KINDS, Planned

BACK_WITHIN_S: Final = 300.0
"""A sensor fault that has passed is over by itself within so much: three good readings, and the loop's own pace."""
PATIENCE_S: Final = 840.0
AGES_READINGS: Final = frozenset({"overrun", "loop-late"})
"""A loop that stands still has old readings when it goes on: so a batch waits by itself for them, too."""
DAY_S: Final = 86_400.0


class Seen(Struct):
    """Hold what became of one fault."""

    fault: Planned
    detected_s: float | None = None  # After its begin.
    by: str = ""
    passed: bool | None = None  # Over by itself; None where that is not asked of it.


class Detection:
    """Watch what the program says."""

    def __init__(self, facts: Facts) -> None:
        self._facts = facts
        self.seen = [Seen(fault) for fault in facts.faults]
        self._open: list[Seen] = []
        self._waiting = list(self.seen)
        self._to_pass = [
            one
            for one in self.seen
            if KINDS[one.fault.kind].passes
            and one.fault.what == "air_temp"
            and len(one.fault.windows) == 1
            and one.fault.until_s - one.fault.at_s <= PATIENCE_S
        ]
        self._state_before = ""
        self._next_s = min((fault.at_s for fault in facts.faults), default=float("inf"))

    def _begin(self) -> None:
        now_s = self._facts.now_s
        self._open += [one for one in self._waiting if one.fault.at_s <= now_s]
        self._waiting = [one for one in self._waiting if one.fault.at_s > now_s]
        self._next_s = min((one.fault.at_s for one in self._waiting), default=float("inf"))

    def see(self, memory: Any, outcome: Any) -> None:
        """Look at a tick that has something to say."""
        del memory
        if self._facts.now_s >= self._next_s:
            self._begin()
        if not self._open:
            return
        said = set(outcome.interlocks)
        if not outcome.wall_trusted:
            said.add("clock")  # Each row of the record is marked so.
        for event in outcome.events:
            said.add(event.kind)
            if event.id:
                said.add(event.id.split("-", maxsplit=1)[0])
        # What has not been read since the start is unknown, and no doubt of this fault.
        doubtful = {channel for channel, fault in outcome.known.faults.items() if fault != "unread"}
        now_s = self._facts.now_s
        for one in list(self._open):
            fault = one.fault
            kind = KINDS[fault.kind]
            if kind.place in {"supply", "program"} and fault.kind != "overrun":
                if fault.index not in self._facts.met_s:
                    continue
                from_s = until_s = self._facts.met_s[fault.index]
            else:
                from_s, until_s = fault.at_s, fault.until_s
            if now_s > until_s + max(kind.within_s, 60.0):
                self._open.remove(one)
                continue
            spoke = (
                "doubtful"
                if kind.doubt and fault.what in doubtful
                else next((row for row in kind.rows if row in said), "")
            )
            if spoke:
                self._facts.detected.add(fault.index)
                one.detected_s, one.by = now_s - from_s, spoke
                self._open.remove(one)

    def minute(self) -> None:
        """Look whether what has passed is over by itself."""
        facts = self._facts
        now_s, state = facts.now_s, self._state()
        for one in [one for one in self._to_pass if one.fault.at_s <= now_s]:
            fault = one.fault
            if fault.at_s > now_s - 60.0 and self._state_before != "running":
                self._to_pass.remove(one)  # It was paused before, for reasons of its own.
            elif now_s >= fault.until_s + BACK_WITHIN_S:
                self._to_pass.remove(one)
                if facts.runs and self._is_alone(fault) and not self._waits_for_more():
                    one.passed = state in {"running", "complete", ""}
        self._state_before = state

    def _state(self) -> str:
        leading = self._facts.leading
        return "" if leading is None else leading.state

    def _waits_for_more(self) -> bool:
        """Say whether the batch waits for what no sensor brings back: its degree-hours, or whoever has paused it."""
        leading = self._facts.leading
        over = any(alarm.row == "P9" and alarm.active for alarm in self._facts.memory.alarms)
        return over or (leading is not None and leading.held_by_person)

    def _is_alone(self, fault: Planned) -> bool:
        """Say whether nothing else was wrong around it, and it was at most the second of a day."""
        others = [other for other in self._facts.faults if other is not fault]
        beside = any(
            other.at_s < fault.until_s + BACK_WITHIN_S + 60.0 and other.until_s > fault.at_s - 1800.0
            for other in others
        )
        before = [
            other
            for other in others
            if (KINDS[other.kind].place in {"sensor", "door"} or other.kind in AGES_READINGS)
            and 0.0 <= fault.at_s - other.until_s < DAY_S
        ]
        return not beside and sum(len(other.windows) for other in before) <= 1

    def at_end(self) -> None:
        """Nothing is left to do."""
        self._facts.counts["faults"] = len(self.seen)
        self._facts.counts["hours"] = round(self._facts.now_s / HOUR_S)
