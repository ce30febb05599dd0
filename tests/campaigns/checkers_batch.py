"""What must hold of a batch: its clocks, its degree-hours, and that it comes back when the faults have stopped."""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

from collections import deque
from math import inf
from typing import Any, Final

from msgspec import Struct

from tests.campaigns.facts import Facts, Life
from tests.campaigns.kinds import HOUR_S

SLACK_S: Final = 2.0
"""Of two clocks."""
RESPONSE_S: Final = 120.0
"""A probe in a steel sleeve lags: over a warm-up it misses so many seconds of the rise."""
US_PER_CANADA: Final = 1.8
TAKES_NOTHING: Final = frozenset({"disk-full", "disk-read-only", "disk-io-error"})
OF_A_THERMOMETER: Final = frozenset({"S6", "S7", "S9", "H9"})
TOLERANCE_K: Final = 2.0
"""Of the air in a ferment or a drying (fault table, P4)."""


class Mark(Struct):
    """Hold where a batch stood when it was looked at last, and when that was."""

    at_s: float
    elapsed_s: float
    stage_elapsed_s: float
    conditions_s: float
    stage: int
    ran_s: float


class Count(Struct):
    """Hold the truth of one batch's degree-hours since a moment at which both were known, in K·s."""

    canada_ks: float
    us_ks: float
    guarded_c: float
    guarded_f: float
    lowest_c: float
    highest_c: float


class BatchChecker:
    """Watch each batch, once a minute of true time."""

    def __init__(self, facts: Facts) -> None:
        self._facts = facts
        self._slack_s = SLACK_S
        self._first: dict[str, Mark] = {}
        self._marks: dict[str, Mark] = {}
        self._counts: dict[str, Count] = {}
        self._was_wrong = False
        self._lately_c: deque[float] = deque(maxlen=10)  # By the minute: a probe lags what has been, too.
        self._hour_c: deque[float] = deque(maxlen=60)  # A compressor swings the air by two kelvin.
        self._seen_s = 0.0
        self.states: dict[str, float] = {}
        self.came_back = ""
        self.held_at_end = False

    def program_begins(self, memory: Any) -> None:
        """Begin anew after a break: the clocks may have gone on by no more than it lasted."""
        facts = self._facts
        facts.take(memory)
        self._seen_s = facts.now_s
        for batch in memory.batches:
            self._look_at_clocks(batch)

    def minute(self) -> None:
        """Look at every open batch."""
        facts = self._facts
        if not facts.runs or facts.memory is None:
            self._seen_s = facts.now_s
            return
        since_s = facts.now_s - max(self._seen_s, facts.lives[-1].began_s)
        self._seen_s = facts.now_s
        self._lately_c.append(facts.tick_air_c)
        self._hour_c.append(facts.tick_air_c)
        for batch in facts.memory.batches:
            self.states[batch.state] = self.states.get(batch.state, 0.0) + since_s
            self._look_at_clocks(batch)
            self._look_at_degree_hours(batch)

    def _look_at_clocks(self, batch: Any) -> None:
        facts = self._facts
        now_s = facts.tick_s
        mark = Mark(
            now_s,
            batch.elapsed_s,
            batch.stage_elapsed_s,
            batch.stage_at_conditions_s,
            batch.stage_index,
            facts.ran_s - (facts.now_s - now_s),
        )
        first = self._first.setdefault(batch.id, mark)
        gone_s = batch.elapsed_s - first.elapsed_s
        if gone_s > now_s - first.at_s + self._slack_s + self._lost_s():
            facts.complain(
                "elapsed", f"{batch.id}: {gone_s:.0f} s have passed for it, truly {now_s - first.at_s:.0f} s"
            )
            self._first[batch.id] = mark
        before = self._marks.get(batch.id)
        if before is None or before.stage != mark.stage:
            self._marks[batch.id] = mark
            return
        true_s = now_s - before.at_s
        more_s = mark.stage_elapsed_s - before.stage_elapsed_s
        if more_s > true_s + self._slack_s + self._lost_s():
            facts.complain("stage", f"{batch.id}: the stage went on by {more_s:.0f} s in {true_s:.0f} s")
        more_s = mark.conditions_s - before.conditions_s
        if more_s > mark.ran_s - before.ran_s + self._slack_s:
            facts.complain(
                "stage", f"{batch.id}: {more_s:.0f} s at conditions in {mark.ran_s - before.ran_s:.0f} s of running"
            )

    def _lost_s(self) -> float:
        """Return by how much the clock was set forward without a word of it on the disk when the power failed.

        It was stepped in the last moment; or the disk took nothing from before the step until the program was gone; or
        it was set forward before it was known how long a cut had been. Then the cut looks as much longer, to anybody.
        """
        return sum(
            max(fault.step_s, 0.0)
            for fault in self._facts.faults
            if fault.kind == "clock-step" and (self._was_unset(fault.at_s) or self._was_lost(fault.at_s))
        )

    def _was_unset(self, step_s: float) -> bool:
        """Say whether the clock had not been set yet after a cut."""
        return any(
            cut.kind == "cut-without-clock" and cut.at_s <= step_s <= cut.trusted_s for cut in self._facts.faults
        )

    def _was_lost(self, step_s: float) -> bool:
        return any(self._was_unwritten(step_s, life) for life in self._facts.lives)

    def _was_unwritten(self, step_s: float, life: Life) -> bool:
        if not life.began_s <= step_s <= life.ended_s < inf:
            return False
        return life.ended_s - step_s <= SLACK_S or any(
            fault.kind in TAKES_NOTHING and fault.at_s <= step_s and fault.until_s >= life.ended_s - SLACK_S
            for fault in self._facts.faults
        )

    # Degree-hours.

    def _look_at_degree_hours(self, batch: Any) -> None:
        facts, counts = self._facts, self._counts
        if batch.hung_s is None or batch.passed_5_3 or batch.state == "complete" or not batch.in_chamber:
            counts.pop(batch.id, None)
            return
        if facts.now_s - facts.lives[-1].began_s < facts.chamber.tick_s:
            return  # A gap counts at what is warmest at its end too, and no thermometer has spoken yet.
        if self._hides_length():
            return  # Nobody can know yet how long the cut was; it has to be in the count when the clock is believed.
        old = counts.get(batch.id)
        air_c = facts.tick_air_c
        was_wrong, self._was_wrong = self._was_wrong, self._is_wrong_unseen()
        if old is None or batch.gap_lost or was_wrong or self._was_wrong:  # The minute of its detection began unseen.
            counts[batch.id] = Count(
                facts.tick_canada_ks,
                facts.tick_us_ks,
                batch.guarded_c,
                batch.guarded_f,
                min(self._lately_c),
                max(self._lately_c),
            )
            return
        old.lowest_c, old.highest_c = min(old.lowest_c, air_c), max(old.highest_c, air_c)
        lag_ks = RESPONSE_S * (old.highest_c - old.lowest_c)
        canada = (facts.tick_canada_ks - old.canada_ks - lag_ks) / HOUR_S
        us = US_PER_CANADA * (facts.tick_us_ks - old.us_ks - lag_ks) / HOUR_S
        if canada > batch.guarded_c - old.guarded_c + 0.01 or us > batch.guarded_f - old.guarded_f + 0.02:
            facts.complain(
                "degree-hours",
                f"{batch.id}: {batch.guarded_c - old.guarded_c:.2f} °C·h counted, truly {canada:.2f} at least",
            )
            counts.pop(batch.id)

    def _hides_length(self) -> bool:
        """Say whether a cut is not long over whose length no clock can tell yet."""
        now_s = self._facts.now_s
        return any(
            fault.kind == "cut-without-clock" and fault.at_s <= now_s <= fault.trusted_s + 600.0
            for fault in self._facts.faults
        )

    def _is_wrong_unseen(self) -> bool:
        """Say whether the leading thermometer may show too little by more than its stated error, and nobody knows.

        A value that stands still, and a probe that hangs outside, go unseen for a while; what comes and goes is news
        each time that no alarm tells of it.
        """
        facts = self._facts
        told = any(alarm.active and alarm.row in OF_A_THERMOMETER for alarm in facts.memory.alarms)
        return any(
            fault.at_s <= facts.now_s <= fault.until_s + 600.0
            and (fault.index not in facts.detected or (len(fault.windows) > 1 and not told))
            and ((fault.kind == "frozen" and fault.what == "air_temp") or fault.kind == "probe-out")
            for fault in facts.faults
        )

    # After the faults.

    def at_end(self) -> None:
        """Look whether the chamber has come back, or says why it has not."""
        facts = self._facts
        memory = facts.memory
        batch = facts.leading
        if batch is not None and batch.state == "held":
            self.held_at_end = True
            if not batch.held_by_person and not any(alarm.active or alarm.latched for alarm in memory.alarms):
                facts.complain("silent", f"{batch.id} is held, and no alarm says why")
        self.came_back = self._comes_back(batch)

    def _comes_back(self, batch: Any) -> str:
        facts = self._facts
        if batch is None or batch.state != "running":
            return "" if batch is None else batch.state
        wanted_c, kind = batch.stage.air_temp_c, batch.stage.kind
        if wanted_c is None or batch.stage_elapsed_s < batch.stage.ramp_h * HOUR_S:
            return "on its way"
        quiet_s = facts.now_s - max((fault.until_s for fault in facts.faults), default=0.0)
        begun_s = min(
            quiet_s,
            *(one.stage_elapsed_s for one in facts.memory.batches if one.in_chamber),  # Cold meat may have come in.
            facts.now_s - facts.resumed_s,  # A chamber that a person paused went its own way meanwhile.
            facts.now_s - facts.lives[-2 if len(facts.lives) > 1 else -1].began_s,
        )
        if kind == "ferment" and batch.hung_s is not None:
            begun_s = min(begun_s, batch.elapsed_s - batch.hung_s)
        needs_s = back_s(facts, wanted_c)
        if begun_s < needs_s:
            return "on its way"
        mean_c = sum(self._hour_c) / len(self._hour_c) if self._hour_c else facts.plant.air_c
        if abs(mean_c - wanted_c) <= TOLERANCE_K:
            return "back"
        now = f"the air has had {mean_c:.1f} °C in the last hour, wanted {wanted_c:g}"
        facts.complain("back", f"{batch.id}: {now}, {begun_s / HOUR_S:.1f} h after all faults")
        return "not back"


def back_s(facts: Facts, wanted_c: float) -> float:
    """Return how long the chamber needs to come to a temperature with meat and walls as cold as its room; inf: never.

    From the plant's own figures: the lamp's power less what goes to the room has to warm all that is in the box; a
    cooler is taken at a quarter of its power (it rests, and its plate is cold); half as much again for the way in
    which a controller comes near, and an hour for what waits: settling, trials, a rest.
    """
    parameters, plant = facts.plant.parameters, facts.plant
    room_c = plant.room_c
    meat_j_per_k = plant.meat_j_per_k or facts.chamber.model.meat_kg * 3300.0
    capacity = parameters.air_j_per_k + parameters.wall_j_per_k + meat_j_per_k
    spare_w = parameters.lamp_w - parameters.room_w_per_k * 1.2 * (wanted_c - room_c)
    if wanted_c < room_c + 1.0:
        cooling_w = 0.25 * parameters.cooling_w - parameters.room_w_per_k * 1.2 * (room_c - wanted_c)
        if cooling_w <= 0.0:
            return inf
        return HOUR_S + 1.5 * capacity * 25.0 / cooling_w
    if spare_w <= 0.1 * parameters.lamp_w:
        return inf
    return HOUR_S + 1.5 * capacity * max(wanted_c - room_c, 5.0) / spare_w
