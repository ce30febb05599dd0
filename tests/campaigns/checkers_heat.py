"""What must hold of heat and of the compressor, whatever goes wrong. All figures are written down here anew."""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

from bisect import bisect_right
from itertools import pairwise
from math import exp, inf
from typing import Any, Final

from tests.campaigns.facts import Facts, Life
from tests.campaigns.kinds import HOUR_S, SHOWN_AT_ONCE, Planned

FRESH_S: Final = 12.0
"""Heat burns only while the newest good air temperature is at most 12 s old (the design, section 2.6)."""
OFF_WITHIN_S: Final = 15.0
"""A fault that can be seen in a reading has the lamp off within 15 s (the same)."""
AGREE_K: Final = 3.0
JUMP_K: Final = 5.0
LEVEL_K: Final = 1.0
LEVEL: Final = 3
"""A jump of more than 5 K is not believed until three readings in a row agree within 1 K (fault table, S7)."""
RANGE_C: Final = (-10.0, 60.0)
"""What air of this chamber can have (S8)."""
CODES_C: Final = frozenset({85.0, 127.9375, -127.0})
"""What a DS18B20 and its driver give in place of a reading (S5, S8; data sheet, w1_therm)."""
WITNESSES: Final = ("air_temp", "air_temp_2", "rh_temp")
HOTTEST_BELIEVED_C: Final = 120.0
SILENT_S: Final = 60.0
"""Who has measured nothing new for a minute says nothing of now."""
SETTLE_S: Final = 30.0
SETTLE_READINGS: Final = 3
"""After each start of the program heat waits for three good readings and 30 s (the design)."""
SLOWEST_S: Final = 120.0
"""Of a thermometer in a steel sleeve: probes of different speed are compared at the speed of the slowest."""
RESPONSE_S: Final = {"ds18b20": 120.0, "sht4x": 8.0, "sht3x": 8.0, "bme280": 8.0, "dht22": 10.0, "contact": 1.0}
CLOSE_K: Final = 0.3
"""So much may two ways of slowing a probe differ by."""
REST_S: Final = 300.0
"""A small compressor rests five minutes so that its pressures equalise (the design; common practice)."""
CRASHES: Final = 3
REFUSES: Final = frozenset({"full", "read-only", "io-error"})
LOOP_S: Final = 590.0
UNCLEAN: Final = frozenset({"kill", "exception", "hang", "error"})
"""Three crashes in ten minutes lock heat out until a person clears it (the design)."""
NEAR_S: Final = 0.01
LONG_S: Final = 8 * 3600.0
"""After a longer time without the program nothing heats by itself (fault table, 2.7)."""
TRIP_LATE_K: Final = 3.0
"""A probe shows two thirds of a change after 120 s; with its error of 0.5 K no trip is later than this at 1 K/min."""


def _was_never_written(life: Life) -> bool:
    """Say whether the power failed in the first write of this run, which was to say that the one before had crashed."""
    return life.how in {"cut", "cut-in-write"} and not life.saved


class HeatChecker:
    """Watch heat at the coil, the lamp, and the compressor's rests."""

    def __init__(self, facts: Facts) -> None:
        self._facts, self._world = facts, facts.world
        self._relays = facts.world.relays
        chamber = facts.chamber
        self._trip_c = chamber.limits.trip_c
        self._agree_k = chamber.limits.agree_k or AGREE_K
        response: dict[str, float] = {
            entry.channel: entry.response_s or RESPONSE_S[entry.kind] for entry in chamber.sensor
        }
        if "rh" in response:
            response["rh_temp"] = response["rh"]
        self._witnesses = [name for name in WITNESSES if name in response]
        slowest_s = max(SLOWEST_S, *(response[name] for name in self._witnesses))
        self._lag_s = {name: slowest_s - response[name] for name in self._witnesses}
        self._has_master = any(entry.role == "master" for entry in chamber.output)
        self._hottest_allowed_c = self._trip_c + coasting_k(facts)
        self.edges: dict[str, list[tuple[float, bool]]] = {}
        self._fresh_until_s = -inf
        self._times: list[float] = []
        self._check_state = False
        self._waits_for_person_s = self._locked_s = self._waits_until_s = -inf
        self._begin()

    def _begin(self) -> None:
        self._taken: dict[str, float] = {}
        self._slowed: dict[str, float] = {}
        self._air: tuple[float, float] | None = None  # (taken, value) of the newest air temperature that is believed.
        self._odd: list[float] = []
        self._believed = 0
        self._hottest_c: float | None = None
        self._apart_since_s: float | None = None
        self._began_s = self._facts.now_s

    def program_begins(self) -> None:
        """Begin anew: what the program knew of readings is gone."""
        self._begin()
        facts = self._facts
        crashed = [
            place
            for place, (life, following) in enumerate(pairwise(facts.lives))
            if life.how in UNCLEAN and facts.now_s - life.ended_s < LOOP_S and not _was_never_written(following)
        ]
        if len(crashed) >= CRASHES:
            if facts.disk.trouble in REFUSES or sum(map(self._is_written, crashed)) < CRASHES:
                self._waits_until_s = facts.now_s + LOOP_S  # Not all can be counted: it has to outlive a loop.
            else:
                self._locked_s = facts.now_s
        if len(facts.lives) > 1 and facts.now_s - facts.lives[-2].ended_s > LONG_S:
            self._waits_for_person_s = facts.now_s

    def _is_written(self, place: int) -> bool:
        """Say whether the disk can tell that this run ended in a crash: the next one was noted, and a run before it.

        Where none of this boot was noted, the next one cannot be told from the first after a cut of the power.
        """
        lives = self._facts.lives
        noted = (life.saved for life in lives[: place + 1] if life.began_s >= self._world.boot_s)
        is_newest = place + 2 == len(lives)  # It is just beginning, before a disk that takes what it notes.
        return (is_newest or lives[place + 1].saved) and any(noted)

    def watch_relays(self) -> None:
        """Be told of each edge of each coil."""
        relays = self._relays
        count = relays._count

        def noted(before: Any, after: Any) -> None:
            count(before, after)
            now_s = self._world.elapsed_s
            for role in after.keys() - before.keys():
                self._edge(role, now_s, on=True)
            for role in before.keys() - after.keys():
                self._edge(role, now_s, on=False)

        relays._count = noted  # type: ignore[method-assign]

    def _edge(self, role: str, now_s: float, *, on: bool) -> None:
        edges = self.edges.setdefault(role, [])
        if role in {"cooler", "dehumidifier"} and on:
            last_s = edges[-1][0] if edges else self._began_s
            rests_s = now_s - max(last_s, self._began_s, self._world.boot_s)
            if rests_s < REST_S - NEAR_S:
                self._facts.complain("rest", f"the {role} rested {rests_s:.1f} s only")
        if role == "heater":
            if on and (now_s - self._began_s < SETTLE_S - NEAR_S or self._believed < SETTLE_READINGS):
                self._facts.complain(
                    "settling", f"heat {now_s - self._began_s:.1f} s after the start, {self._believed} good readings"
                )
            if not on and now_s > self._fresh_until_s + NEAR_S and self._facts.runs:
                self._stale(now_s)
            if on:
                self._check_state = True
                if self._locked_s > self._facts.cleared_s or now_s < self._waits_until_s - NEAR_S:
                    self._facts.complain("crash loop", "heat after three crashes in ten minutes, and nobody cleared it")
                if self._waits_for_person_s > self._facts.resumed_s:
                    self._facts.complain("long gap", "heat by itself after more than eight hours without the program")
        edges.append((now_s, on))

    def _stale(self, now_s: float) -> None:
        age_s = now_s - self._fresh_until_s + FRESH_S
        self._facts.complain("fresh", f"heat with a newest good air temperature of {age_s:.1f} s ago")

    def readings(self, readings: Any) -> None:
        """Look at what is handed over, before the program decides; heat may not have outlived the readings before."""
        world = self._world
        now_s = world.elapsed_s
        if now_s > self._fresh_until_s + NEAR_S and "heater" in self._relays.ends_s:
            self._stale(now_s)
        shift_s = world.monotonic_less_elapsed_s
        hottest, low, high = None, None, None
        taken_before, slowed = self._taken, self._slowed
        for name in self._witnesses:
            reading = readings.get(name)
            value = getattr(reading, "value", None)
            if value is None:
                continue
            if value not in CODES_C and abs(value) <= HOTTEST_BELIEVED_C and (hottest is None or value > hottest):
                hottest = value
            taken_s = reading.taken_s
            before_s = taken_before.get(name)
            if taken_s != before_s:
                taken_before[name] = taken_s
                if not RANGE_C[0] <= value <= RANGE_C[1]:
                    slowed.pop(name, None)
                    continue
                if name == "air_temp":
                    self._look_at_air(value, taken_s - shift_s)
                lag_s = self._lag_s[name]
                last = slowed.get(name)
                if last is None or before_s is None or lag_s <= 0.0:
                    slowed[name] = value
                else:
                    slowed[name] = last + (value - last) * (1.0 - exp((before_s - taken_s) / lag_s))
            elif not RANGE_C[0] <= value <= RANGE_C[1] or now_s - (taken_s - shift_s) > SILENT_S:
                continue
            same = value if abs(value - slowed[name]) < CLOSE_K else slowed[name]
            near = min(value, same), max(value, same)
            low = near if low is None or near[1] < low[1] else low
            high = near if high is None or near[0] > high[0] else high
        self._hottest_c = hottest
        if low is None or high is None or high[0] - low[1] <= self._agree_k + CLOSE_K:
            self._apart_since_s = None
        elif self._apart_since_s is None:
            self._apart_since_s = now_s

    def _look_at_air(self, value: float, taken_s: float) -> None:
        """Take over the time of a reading that can be believed."""
        if value in CODES_C:
            return
        air = self._air
        if air is not None and abs(value - air[1]) > JUMP_K and taken_s - air[0] <= 60.0:
            if any(abs(value - other) > LEVEL_K for other in self._odd):
                self._odd = []
            self._odd.append(value)
            if len(self._odd) < LEVEL:
                return
        self._odd = []
        self._air = (taken_s, value)
        self._believed += 1
        self._fresh_until_s = taken_s + FRESH_S

    def see(self) -> None:
        """Look at the coils after the program has decided."""
        ends_s = self._relays.ends_s
        facts = self._facts
        plant = facts.plant
        if "heater" in ends_s:
            if self._check_state:
                self._check_who_is_heated()
            hottest_c = self._hottest_c
            if hottest_c is not None and hottest_c >= self._trip_c:
                facts.complain("trip", f"heat is commanded although a thermometer shows {hottest_c:.2f} °C")
            apart_s = self._apart_since_s
            if apart_s is not None and self._world.elapsed_s - apart_s > OFF_WITHIN_S:
                facts.complain("agreeing", f"heat although thermometers disagree: {self._slowed}")
            if plant.air_c > self._trip_c + TRIP_LATE_K and self._sees():
                facts.complain("trip", f"heat is commanded in air of {plant.air_c:.1f} °C")
        if plant.air_c > self._hottest_allowed_c and self._has_master and self._sees():
            if facts.is_stuck("master", facts.now_s - HOUR_S, facts.now_s):
                return
            facts.complain("master", f"the air has {plant.air_c:.1f} °C in spite of the second contactor")

    def _check_who_is_heated(self) -> None:
        """Only a batch in the chamber that goes on is heated: what waits for a person, or is complete, is not."""
        self._check_state = False
        states = [batch.state for batch in self._facts.memory.batches if batch.in_chamber]
        if not {"running", "suspended"} & set(states):
            self._facts.complain("state", f"heat is commanded, and the batches in the chamber are {states or 'none'}")

    def _sees(self) -> bool:
        """Say whether a thermometer has been well for ten minutes: no program can act on what no sensor shows."""
        facts = self._facts
        return any(facts.is_well(name, facts.now_s - 600.0) for name in self._witnesses)

    def at_end(self) -> None:
        """Look at the lamp in each fault that a single reading of the leading thermometer shows."""
        for fault in self._facts.faults:
            if fault.kind in SHOWN_AT_ONCE and fault.what == "air_temp":
                for at_s, until_s in fault.windows:
                    self._check_dark(fault, at_s + OFF_WITHIN_S, until_s)
        self._facts.counts["lamp s"] = round(self.burned_s(0.0, self._facts.now_s))

    def _check_dark(self, fault: Planned, from_s: float, until_s: float) -> None:
        if until_s <= from_s or (fault.kind == "jump" and not self._has_other(from_s, until_s)):
            return
        burned_s = self.burned_s(from_s, until_s)
        if burned_s > NEAR_S and not self.may_be_welded(from_s, until_s):
            self._facts.complain("dark", f"the lamp burned for {burned_s:.0f} s in: {fault.text}")

    def _has_other(self, from_s: float, until_s: float) -> bool:
        """Say whether another thermometer was well: a level that is new and steady is seen only beside another one."""
        others = [name for name in self._witnesses if name != "air_temp"]
        return any(
            not any(
                f.what == name and f.at_s < until_s and f.until_s > from_s - 600.0
                for f in self._facts.faults
            )
            for name in others
        )  # fmt: skip

    def may_be_welded(self, from_s: float, until_s: float) -> bool:
        """Say whether no program could have put the lamp out then: it stays on, and so does its second contactor."""
        facts = self._facts
        alone = not self._has_master or facts.is_stuck("master", from_s, until_s)
        return alone and facts.is_stuck("heater", from_s, until_s)

    def burned_s(self, from_s: float, until_s: float) -> float:
        """Return for how long the lamp really burned between two instants."""
        edges = self._world.lamp.edges
        times = self._edge_times(len(edges))
        begin = max(bisect_right(times, from_s) - 1, 0)
        burned_s = 0.0
        for place in range(begin, len(times)):
            at_s, on = edges[place]
            if at_s >= until_s:
                break
            ends_s = times[place + 1] if place + 1 < len(times) else inf
            if on:
                burned_s += max(min(ends_s, until_s) - max(at_s, from_s), 0.0)
        return burned_s

    def _edge_times(self, number: int) -> list[float]:
        if len(self._times) != number:
            self._times = [at_s for at_s, _ in self._world.lamp.edges]
        return self._times

    def starts_of(self, role: str) -> int:
        """Return how often an output was switched on."""
        return sum(1 for before, after in pairwise([(0.0, False), *self.edges.get(role, [])]) if after[1] > before[1])


def coasting_k(facts: Facts) -> float:
    """Return by how much the air may be above the trip when the lamp has gone dark, in K.

    From the trip in the air to the dark lamp pass the response of a thermometer in a sleeve, 15 s, and two ticks. In
    that time the lamp warms air and walls together, and the air alone by what a lamp that has just been lit lifts it
    above its walls. Half a kelvin is the thermometer's own error (data sheet of the DS18B20).
    """
    parameters = facts.plant.parameters
    late_s = SLOWEST_S + OFF_WITHIN_S + 2.0 * facts.chamber.tick_s
    together_k = parameters.lamp_w * late_s / (parameters.air_j_per_k + parameters.wall_j_per_k)
    above_walls_k = parameters.lamp_w * (1.0 - parameters.lamp_radiant) / parameters.air_wall_w_per_k
    alone_k = above_walls_k * (1.0 - exp(-late_s * parameters.air_wall_w_per_k / parameters.air_j_per_k))
    return together_k + alone_k + 0.5
