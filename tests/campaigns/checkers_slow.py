# ruff: noqa: ANN401 - what the program remembers is looked at as plain data
"""What takes its time to be seen: a value that stands still, a relay that has welded, a chamber that is off in silence.

Once a minute the truth is written down; what follows from it is judged when the run is over. Where the fault table
gives a threshold, half as much again is asked for, so that the program is judged by the table and not by a hair.
"""

from itertools import pairwise
from typing import Any, Final

from msgspec import Struct

from tests.campaigns.checkers_heat import NEAR_S, OFF_WITHIN_S, HeatChecker
from tests.campaigns.facts import Facts
from tests.campaigns.kinds import Planned

FROZEN_S: Final = 1800.0
FROZEN_K: Final = 1.5
"""The same number for 30 min while another sensor has moved by 0.5 K (S6); the other one lags, and so three times."""
STEADY: Final = 5
"""So many minutes it has to be that far away."""
IDLE_MINUTES: Final = 10
ABOVE_K: Final = 3.0
RISE_K: Final = 0.6
"""Ten minutes without heat, 2 K above what is wanted and 0.3 K more than before them (A1)."""
LATE_S: Final = 180.0
"""From what the table asks for to the dark lamp: the next look at the minutes, and 15 s."""
LIVE_S: Final = 5.0
"""Voltage at a lamp that has been switched off for 5 s (A1, where the chamber has the contact)."""
SILENT_K: Final = 3.0
SILENT_MINUTES: Final = 90
"""A deviation of 2 K for 15 min is an alarm (P4)."""
MADE_UP: Final = 1.0 / 3.0
"""Air that has made up so much of what was missing at worst is on its way."""
REACHED_K: Final = 2.0
"""Too cold is told of what has been reached (fault table, P4): meat that got cold in a long cut, or while it waited for
a person, takes the lamp hours."""
LONG_CUT_S: Final = 900.0
SETTLED_S: Final = 2 * 3600.0


class Minute(Struct, frozen=True):
    """Hold what was true in one minute."""

    at_s: float
    air_c: float
    room_c: float
    wanted_c: float | None
    commanded: bool
    runs_since_s: float
    door_open: bool


class SlowChecker:
    """Write down minutes, and judge them at the end."""

    def __init__(self, facts: Facts, heat: HeatChecker) -> None:
        self._facts, self._heat = facts, heat
        self._minutes: list[Minute] = []
        self._off_minutes = 0
        self._off_k = 0.0
        self._reached_s = 0.0
        channels = {entry.channel for entry in facts.chamber.sensor}
        self._has_live = "heater_live" in channels
        self._has_master = any(entry.role == "master" for entry in facts.chamber.output)

    def minute(self) -> None:
        """Write down this minute."""
        facts = self._facts
        if not facts.runs or facts.memory is None:
            self._off_minutes = 0
            return
        batch = facts.leading
        plant = facts.plant
        wanted_c = None if batch is None or batch.state == "complete" else batch.stage.air_temp_c
        self._minutes.append(
            Minute(
                facts.now_s,
                plant.air_c,
                plant.room_c,
                wanted_c,
                "heater" in facts.world.relays.ends_s,
                facts.lives[-1].began_s,
                plant.door_open,
            )
        )
        self._listen(batch, wanted_c)

    def _listen(self, batch: Any, wanted_c: float | None) -> None:
        """Look whether a chamber that has long been off says so."""
        facts = self._facts
        alarms = facts.memory.alarms
        settled = (
            batch is not None
            and batch.state == "running"
            and batch.arrived
            and batch.hung_s is not None  # Of an empty box only that it is too hot is told.
            and wanted_c is not None
            and batch.stage_elapsed_s > max(batch.stage.ramp_h * 3600.0, SETTLED_S)
            and facts.now_s - facts.resumed_s > SETTLED_S  # A paused chamber went its own way meanwhile.
            and self._reached_s > max(facts.resumed_s, self._back_s())
            and not any(alarm.active for alarm in alarms)
        )
        off_k = abs(facts.plant.air_c - (wanted_c or 0.0))
        if wanted_c is not None and off_k <= REACHED_K:
            self._reached_s = facts.now_s
        if not settled or off_k <= SILENT_K:
            self._off_minutes = 0
            return
        if self._off_minutes == 0 or off_k <= (1.0 - MADE_UP) * self._off_k:
            self._off_minutes, self._off_k = 0, off_k
        self._off_k = max(self._off_k, off_k)
        self._off_minutes += 1
        if self._off_minutes == SILENT_MINUTES:
            facts.complain("silent", f"{facts.plant.air_c:.1f} °C for 90 min, wanted {wanted_c:g}, and no alarm")

    def _back_s(self) -> float:
        """Return when the program came back from the last long time without it."""
        lives = pairwise(self._facts.lives)
        return max((after.began_s for life, after in lives if after.began_s - life.ended_s > LONG_CUT_S), default=0.0)

    def at_end(self) -> None:
        """Look at each fault that takes its time."""
        for fault in self._facts.faults:
            if fault.kind == "frozen" and fault.what == "air_temp" and len(fault.windows) == 1:
                self._check_frozen(fault)
            if fault.kind == "relay-welded" and fault.what == "heater" and self._may_be_dark(fault):
                self._check_welded(fault)
                if self._has_live:
                    self._check_live(fault)

    def _may_be_dark(self, fault: Planned) -> bool:
        """Say whether a second contactor could put the lamp out."""
        return self._has_master and not self._facts.is_stuck("master", fault.at_s, fault.until_s)

    def _is_alone(self, fault: Planned, names: set[str], from_s: float, until_s: float) -> bool:
        """Say whether nothing else was wrong with these sensors, and the program ran all the time."""
        others = [one for one in self._facts.faults if one is not fault]
        if any(
            (one.what in names or one.kind in {"probe-out", "door-open"})
            and one.at_s < until_s
            and one.until_s > from_s - 600.0
            for one in others
        ):
            return False
        return any(life.began_s < from_s and life.ended_s > until_s for life in self._facts.lives)

    def _check_frozen(self, fault: Planned) -> None:
        minutes = [one for one in self._minutes if fault.at_s <= one.at_s <= fault.until_s]
        away = 0
        for one in minutes:
            moved_k = abs(one.air_c - minutes[0].air_c)
            away = away + 1 if moved_k >= FROZEN_K else 0
            if away < STEADY or one.at_s < fault.at_s + FROZEN_S:
                continue
            from_s = one.at_s + LATE_S
            if self._is_alone(fault, {"rh_temp", "rh"}, fault.at_s, fault.until_s):
                self._check_dark(fault, from_s)
            return

    def _check_welded(self, fault: Planned) -> None:
        minutes = [one for one in self._minutes if fault.at_s <= one.at_s <= fault.until_s]
        for place in range(IDLE_MINUTES, len(minutes)):
            window = minutes[place - IDLE_MINUTES : place + 1]
            last = window[-1]
            warm = all(
                not one.commanded
                and one.wanted_c is not None
                and one.air_c > one.wanted_c + ABOVE_K
                and one.air_c > one.room_c + 1.0
                and not one.door_open
                and one.runs_since_s < window[0].at_s - 60.0
                for one in window
            )
            if not warm or last.air_c - window[0].air_c < RISE_K or self._was_commanded(window[0].at_s, last.at_s):
                continue
            if self._is_alone(fault, {"air_temp"}, fault.at_s, fault.until_s):
                self._check_dark(fault, last.at_s + LATE_S)
            return

    def _was_commanded(self, from_s: float, until_s: float) -> bool:
        return any(from_s <= at_s <= until_s for at_s, on in self._heat.edges.get("heater", []) if on)

    def _check_live(self, fault: Planned) -> None:
        """Look at a chamber with a contact that tells of voltage at the lamp."""
        needs_s = LIVE_S + OFF_WITHIN_S + 2.0 * self._facts.chamber.tick_s
        edges = [edge for edge in self._heat.edges.get("heater", []) if fault.at_s < edge[0] < fault.until_s]
        for (off_s, on), (again_s, _) in pairwise([*edges, (fault.until_s, True)]):
            if not on and again_s - off_s > needs_s + 1.0:
                if self._is_alone(fault, {"air_temp", "heater_live"}, off_s, again_s):
                    self._check_dark(fault, off_s + needs_s, again_s)
                return

    def _check_dark(self, fault: Planned, from_s: float, until_s: float | None = None) -> None:
        ends_s = fault.until_s if until_s is None else until_s
        ends_s = min((at_s for at_s in self._facts.clears_s if fault.at_s < at_s < ends_s), default=ends_s)
        if ends_s <= from_s:
            return
        burned_s = self._heat.burned_s(from_s, ends_s)
        if burned_s > NEAR_S and not self._heat.may_be_welded(from_s, ends_s):
            self._facts.complain(
                "slow", f"the lamp burned for {burned_s:.0f} s after {from_s - fault.at_s:.0f} s of: {fault.text}"
            )
