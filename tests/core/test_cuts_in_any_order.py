"""Cuts, crashes, clocks and what people say in any order: what must hold whatever comes after what.

Each story is drawn from its number. The air of the box falls toward its room faster than its figures would have it, so
that what the cooling bounds a cut by is never less than the truth.
"""

import math
from random import Random

import pytest

from controller.core.batch.blind import tell_uncounted
from controller.core.requests import Hang, Hold, Ph, Request, Resume, Seen
from controller.core.restart import after_restart
from controller.food.degree_hours import US, accumulate
from tests.helpers.bench_chamber import Bench
from tests.helpers.outages import HOURS_S, clock_set, crash, hung, leaking, waiting

LONG_H = 8.0
SHORT_H = 0.25
FALLS_IN_S = 3600.0
LAMP_LIFTS_K = 28.0
CALLED_IN_S = 360.0
"""Five minutes for the network, and one for the readings after the start."""
MOVED_H = 30.0 / HOURS_S
"""A clock that nobody has set goes on by so much over a cut."""
STEPS = 9


class Story:
    """Live through one story, and look at each tick whether something is not as it must be."""

    def __init__(self, number: int) -> None:
        self.random = Random(number)
        self.bench: Bench = self.random.choice((hung, waiting))()
        self.room_c = 20.0
        if self.random.random() < 0.7:
            leaking(self.bench)
            self.room_c = 10.5
        self.air_c = 36.0
        self.asks = 0
        self.alone = False  # It was alone for longer than eight hours, and nobody has let it go on since.
        self.behind_h = 0.0  # So much the clock on the wall is behind.
        self.was_called = False
        self.least_f = self.bench.batch.guarded_f
        self.told: list[str] = []

    def live(self) -> None:
        """Live through it to its end."""
        self.run(1.0)
        for _ in range(STEPS):
            step = self.random.choice(
                (self.fail, self.fail, self.crash, self.clock, self.resume, self.see, self.say, self.blind, self.warm)
            )
            self.told.append(step.__name__)
            step()
            self.run(self.random.choice((0.5, 2.0, 7.0, 30.0)))
        self.run(CALLED_IN_S / 60.0 + 1.0)

    def run(self, minutes: float, *requests: Request, blind: bool = False) -> None:
        for _ in range(round(minutes * 12)):
            self.tick(*requests, blind=blind)

    def tick(self, *requests: Request, blind: bool = False) -> None:
        """Let one tick pass: the air follows the lamp."""
        bench, hangs = self.bench, self.bench.batch.hung_s is not None
        goal_c = self.room_c + LAMP_LIFTS_K * bench.heat_on
        self.air_c += (goal_c - self.air_c) * bench.chamber.tick_s / FALLS_IN_S
        flutter_k = 0.06 * (round(bench.now_s) // 15 % 2)
        bench.tick(*requests, air_temp="missing", rh_temp="missing") if blind else bench.tick(
            *requests, air_temp=self.air_c + flutter_k, rh_temp=self.air_c + flutter_k + 0.02
        )
        if hangs:
            self.least_f += accumulate(US, self.air_c, bench.chamber.tick_s / HOURS_S)
        self.look()

    def look(self) -> None:
        """See whether all is as it must be."""
        bench, batch = self.bench, self.bench.batch
        assert not (bench.heat_on and self.alone), f"heat, and nobody has decided: {self.told}"
        since_s = bench.now_s - bench.memory.started_s
        self.was_called |= any(alarm.row in {"C16", "P11"} for alarm in bench.memory.alarms)
        if batch.state == "held" and (batch.held_by_gap or batch.away.asks) and since_s > CALLED_IN_S:
            assert self.was_called or batch.held_by_person, f"it waits, and nobody is called: {self.told}"
        if batch.hung_s is not None and not tell_uncounted(batch):
            assert batch.guarded_f >= self.least_f - 0.01, f"degree-hours are missing: {self.told}"

    # What happens.

    def fail(self) -> None:
        """Let the power fail, for seconds or for a night; the wall clock goes on meanwhile, or is not believed."""
        hours, told = self.random.choice((0.01, 0.1, 1.0, 9.0, 20.0)), self.random.random() < 0.5
        self.told.append(f"{hours} h, {'told' if told else 'not told'}")
        self.count_away(hours)
        bench, kept = self.bench, self.bench.memory
        # Who has been called, and lets the batch wait, need not be called for some minutes more.
        self.was_called &= hours <= SHORT_H and self.bench.batch.state == "held"
        number = int(kept.boot_id.rsplit("-", 1)[1])
        true_s = bench.wall_s + (self.behind_h + hours) * HOURS_S
        self.behind_h = 0.0 if told else self.behind_h + hours - MOVED_H
        bench.now_s, bench.wall_s, bench.wall_trusted = 50.0, true_s if told else bench.wall_s + MOVED_H * HOURS_S, told
        bench.memory, _ = after_restart(
            kept, bench.chamber, bench.now_s, bench.wall_s, f"boot-{number + 1}", wall_trusted=told
        )

    def crash(self) -> None:
        hours = self.random.choice((5.0 / HOURS_S, 0.3))
        self.count_away(hours)
        crash(self.bench, hours * HOURS_S)

    def count_away(self, hours: float) -> None:
        """Let the box cool; what the meat was given meanwhile is at least what it is as cold as in the end."""
        if self.bench.batch.hung_s is not None:
            self.least_f += accumulate(US, self.air_c, 0.0)
        self.air_c = self.room_c + (self.air_c - self.room_c) * math.exp(-hours * HOURS_S / FALLS_IN_S)
        if self.bench.batch.hung_s is not None:
            self.least_f += accumulate(US, self.air_c, hours)
        self.alone |= hours > LONG_H

    def clock(self) -> None:
        """Let the network tell the time: rightly, or as it was before the cut."""
        if self.behind_h:
            clock_set(self.bench, self.behind_h + MOVED_H if self.random.random() < 0.7 else -30.0)
            self.behind_h = 0.0

    def blind(self) -> None:
        self.run(3.0, blind=True)

    def warm(self) -> None:
        """Let the sun warm the box; not before the thermometers were looked at, which would tell a lie of the cut."""
        back = self.bench.memory.back
        while self.air_c < 36.0 and (back is None or back.looked):
            self.air_c += 0.08
            self.tick()

    # What people say.

    def ask(self, request: Request) -> bool:
        self.tick(request)
        outcome = self.bench.outcome
        assert outcome is not None
        return outcome.answers[-1].done

    def name(self) -> str:
        self.asks += 1
        return f"r{self.asks}"

    def resume(self) -> None:
        self.ask(Ph(id=self.name(), at_wall_s=None, value=5.6, instrument="meter"))
        request = Resume(id=self.name(), because="looked and smelled")
        self.bench.tick()  # Whatever heat comes in the tick of the answer is by a person's word.
        alone, self.alone = self.alone, False
        self.alone = alone and not self.ask(request)

    def see(self) -> None:
        for alarm in [alarm for alarm in self.bench.memory.alarms if not alarm.seen]:
            self.ask(Seen(id=self.name(), alarm=alarm.id))

    def say(self) -> None:
        self.ask(self.random.choice((Hold(id=self.name()), Hang(id=self.name(), pieces_g={"A": 400.0}))))


@pytest.mark.parametrize("hundred", [0, *(pytest.param(hundred, marks=pytest.mark.long) for hundred in range(1, 11))])
def test_nothing_goes_on_that_nobody_has_let_go_on_and_nothing_waits_in_silence(hundred: int) -> None:
    for number in range(100 * hundred, 100 * hundred + (15 if hundred == 0 else 100)):
        story = Story(number)
        story.live()
