"""The person at the chamber: the simulator's maker, who types into the real request box, and what else people do.

He starts batches, hangs, measures and confirms as the maker does; he reads the answers, says again what was refused
because of a power cut, comes by a few times a day, clears what is latched and resumes what waits for him. Besides he
types notes, wrong figures and commands at any time, sends the same file twice, and rubbish.
"""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

from collections.abc import Callable
from math import inf
from pathlib import Path
from random import Random
from typing import Any, Final

import msgspec
from msgspec.structs import replace

from controller.core.plan import Chamber, Profile
from controller.core.requests import (
    Clear,
    Confirm,
    CoreTemp,
    End,
    Hang,
    Hold,
    Look,
    Next,
    Note,
    Ph,
    Request,
    Resume,
    Start,
    Weigh,
)  # fmt: skip
from controller.core.values import Answer
from controller.errors import SettingsError, StorageError
from controller.records import asking
from controller.records.request_box import answer_file, requests_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from controller.simulator.maker import Maker
from tests.campaigns.facts import Facts

HOUR_S: Final = 3600.0
AGAIN: Final = (Start, Hang, Confirm, Next, Resume, End, Clear)
"""What he says again where it was refused: nobody else will."""
LEAVES: Final = 0.1
TWICE: Final = 0.08
PROFILES: dict[str, Profile] = {}


class Person:
    """Do what people do, once a minute."""

    def __init__(
        self, facts: Facts, state_dir: Path, random: Random, profiles: tuple[str, ...], chamber: Chamber
    ) -> None:
        self._facts, self._state_dir, self._random = facts, state_dir, random
        self._profiles, self._chamber = list(profiles), chamber
        self._maker = Maker(facts.world)
        self._asked = 0
        self._waiting: dict[str, Request] = {}
        self._again: list[tuple[float, Request]] = []
        self._sent: list[tuple[Request, float, float]] = []  # Request, and the clocks when it was typed.
        self._next_visit_s = random.uniform(2.0, 8.0) * HOUR_S
        self._next_whim_s = random.uniform(0.2, 2.0) * HOUR_S
        self._next_batch_s = 0.0
        self.on_answer: Callable[[str, Request, Answer], None] = _ignore

    def look(self) -> None:
        """Look at answers and at the batch, and type what there is to type."""
        if not self._facts.world._powered:
            return
        self._fetch()
        now_s = self._facts.now_s
        memory = self._facts.memory
        if memory is not None and self._facts.runs:
            self._maker.look(memory, now_s)
            for request in self._maker.take():
                self._post(request)
            self._begin_batch(memory)
            if now_s >= self._next_visit_s:
                self._next_visit_s = now_s + self._random.uniform(1.5, 7.0) * HOUR_S
                self._visit(memory)
        if now_s >= self._next_whim_s:
            self._next_whim_s = now_s + self._random.uniform(0.3, 5.0) * HOUR_S
            self._whim(memory)
        for due_s, request in [one for one in self._again if one[0] <= now_s]:
            self._again.remove((due_s, request))
            self._post(request)

    # Typing and reading.

    def _post(self, request: Request) -> None:
        self._asked += 1
        name = f"p{self._asked}"
        request = replace(request, id=name, actor=name)
        clock = self._facts.world.clock
        self._waiting[name] = request
        self._sent.append((request, clock.monotonic_s(), clock.wall_s()))
        self._facts.counts["requests"] += 1
        if isinstance(request, Resume | Start):
            self._facts.resumed_s = self._facts.now_s
        if isinstance(request, Clear):
            self._facts.cleared_s = self._facts.now_s
            self._facts.clears_s.append(self._facts.now_s)
        self._send(request, clock.monotonic_s(), clock.wall_s())
        if self._random.random() < TWICE and len(self._sent) > 1:
            self._facts.counts["the same file twice"] += 1
            self._send(*self._random.choice(self._sent[-4:]))

    def _send(self, request: Request, boottime_s: float, wall_s: float) -> None:
        try:
            asking.post(
                self._state_dir,
                request,
                boot_id=self._facts.world.clock.boot_id(),
                boottime_s=boottime_s,
                typed_wall_s=wall_s,
            )
        except StorageError:
            self._waiting.pop(request.id, None)
            self._facts.counts["could not type"] += 1
            if isinstance(request, AGAIN):
                self._again.append((self._facts.now_s + 900.0, request))

    def _fetch(self) -> None:
        for name, request in list(self._waiting.items()):
            path = answer_file(self._state_dir, name)
            try:
                answer = msgspec.json.decode(path.read_bytes(), type=Answer)
            except FileNotFoundError:
                continue
            del self._waiting[name]
            self.on_answer(name, request, answer)
            self._facts.counts["answers fetched"] += 1
            if self._random.random() >= LEAVES:
                try:
                    path.unlink()
                except OSError:
                    self._facts.counts["answers left behind"] += 1
            if not answer.done and isinstance(request, AGAIN) and "say it again" in answer.text:
                self._facts.counts["said again"] += 1
                self._again.append((self._facts.now_s + self._random.uniform(60.0, 900.0), request))

    # What he does.

    def _begin_batch(self, memory: Any) -> None:
        now_s = self._facts.now_s
        if now_s < self._next_batch_s or any(batch.in_chamber for batch in memory.batches) or not self._profiles:
            return
        if any(isinstance(request, Start) for request in (*self._waiting.values(), *(one for _, one in self._again))):
            return
        self._next_batch_s = now_s + 1800.0
        try:
            profile, _ = adapt(_profile(self._profiles.pop(0)), self._chamber)
        except SettingsError:
            return  # This chamber cannot; the next one may.
        number = 8 - len(self._profiles)
        self._post(
            Start(
                id="",
                batch=f"2026-01-05-{profile.name}-{number}",
                profile=profile,
                meat_kg=self._facts.chamber.model.meat_kg * self._random.uniform(0.5, 1.0),
            )
        )

    def _visit(self, memory: Any) -> None:
        """Come by, and put right what waits for a person."""
        self._facts.counts["visits"] += 1
        latched = [alarm for alarm in memory.alarms if alarm.latched]
        for alarm in latched:
            if not alarm.active:
                self._post(Clear(id="", alarm=alarm.id, sure=True))
        for batch in memory.batches:
            if batch.state == "held":
                if self._random.random() < 0.06:
                    self._post(End(id="", batch=batch.id, because="given up", aborted=True, sure=True))
                elif not any(alarm.active for alarm in latched):
                    soon_s = self._facts.now_s + 120.0
                    self._again.append((soon_s, Resume(id="", batch=batch.id, because="looked at it, smells well")))
            elif batch.state == "complete" and not batch.closed:
                self._post(End(id="", batch=batch.id))

    def _whim(self, memory: Any) -> None:
        random, world = self._random, self._facts.world
        batch = next((batch.id for batch in memory.batches), "") if memory is not None else ""
        wall_s = world.clock.wall_s()
        choices: list[Request | str] = [
            Note(id="", batch=batch, at_wall_s=wall_s, text='He said: "firm", and, well\nbrushed'),
            Ph(id="", batch=batch, at_wall_s=wall_s, value=round(random.uniform(4.0, 9.0), 2), instrument="meter"),
            CoreTemp(id="", batch=batch, at_wall_s=wall_s, value_c=round(random.uniform(-5.0, 90.0), 1)),
            Weigh(id="", batch=batch, at_wall_s=wall_s, pieces_g={"A": random.uniform(-5.0, 900.0)}),
            Look(id="", batch=batch, at_wall_s=wall_s, looks={"look": random.choice(["dry", "wet", "blue"])}),
            Hold(id="", batch=batch, because="guests"),
            Confirm(id="", batch=batch),
            Next(id="", batch=batch, because="in a hurry"),
            "rubbish",
        ]
        chosen = random.choice(choices)
        if isinstance(chosen, str):
            self._rubbish()
            return
        self._post(chosen)
        if isinstance(chosen, Hold):
            self._again.append((self._facts.now_s + random.uniform(300.0, 2 * HOUR_S), Resume(id="", batch=batch)))

    def _rubbish(self) -> None:
        """Put a file into the box that is none."""
        path = requests_of(self._state_dir) / "new" / f"rubbish{self._asked}.json"
        try:
            path.write_bytes(self._random.randbytes(60))
        except OSError:
            self._facts.counts["could not type"] += 1

    @property
    def unanswered_s(self) -> float:
        """Return how long the oldest request has been waiting; for the look at the end."""
        return inf if self._waiting else 0.0

    @property
    def waiting(self) -> tuple[str, ...]:
        """Return the requests without an answer."""
        return tuple(self._waiting)


def _profile(name: str) -> Profile:
    if name not in PROFILES:
        PROFILES[name] = read_profile(find_profile(name))
    return PROFILES[name]


def _ignore(name: str, request: Request, answer: Answer) -> None:
    """Do nothing."""
