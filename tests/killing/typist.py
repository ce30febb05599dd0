"""People who type while the program is being killed, and the list they keep of what was answered.

One goes through the request box with the functions that every verb uses, again and again; the other types the real
command. The list is written by the typists alone: what they asked, and every answer that they got.
"""

import os
import random
import re
import subprocess
import sysconfig
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from controller.core.requests import Calibrate, CoreTemp, Hold, Look, Note, Ph, Report, Resume, Smoker, Start, Weigh
from controller.core.requests import Request as Asked
from controller.core.values import InstrumentCheck
from controller.errors import TryAgainError, UnavailableError
from controller.records.asking import post, wait_for_answer
from controller.records.request_box import this_boot
from controller.settings.chamber_file import plan_of, read_chamber
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.killing.chamber import ChamberOnDisk

COMMAND: Final = Path(sysconfig.get_path("scripts")) / "hangroom"
_ENTRY: Final = re.compile(r"[Ee]ntry\s+([0-9a-f]{8})")


@dataclass(slots=True)
class Typed:
    """Hold one request: its id, what it is to leave, and the answers that came."""

    id: str
    kind: str
    readings: tuple[tuple[str, str, str], ...] = ()  # Kind, value and piece of each row in readings.csv.
    check: bool = False  # It is to leave a row in instruments.csv.
    words: str = ""  # It is to leave these words in events.csv.
    answers: list[tuple[bool, str]] = field(default_factory=list)
    promised: bool = False  # Its command said that it waits in the box and will be taken.


class Ledger:
    """Keep what was typed."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._lock = threading.Lock()
        self.typed: list[Typed] = []

    def add(self, typed: Typed) -> Typed:
        """Take one more."""
        with self._lock:
            self.typed.append(typed)
        return typed

    def all(self) -> list[Typed]:
        """Return everything so far."""
        with self._lock:
            return list(self.typed)


class AtTheBox(threading.Thread):
    """Type one request after another through the box, each only after the answer to the last one."""

    def __init__(self, chamber: ChamberOnDisk, ledger: Ledger, seed: str) -> None:
        """Start nothing yet."""
        super().__init__(name=f"typist {seed}", daemon=True)
        self._state = chamber.state
        self._chamber = chamber.file
        self._ledger = ledger
        self._rng = random.Random(seed)
        self._name = seed.replace(" ", "-")
        self._ended = threading.Event()
        self.wrong: list[str] = []

    def end(self) -> None:
        """Type nothing more; what was typed is still waited for."""
        self._ended.set()

    def run(self) -> None:
        """Type until told to end."""
        number = 0
        while not self._ended.wait(self._rng.uniform(0.0, 0.15)):
            number += 1
            request, typed = self._next(f"{self._name}-{number}")
            self._ledger.add(typed)
            boot_id, boottime_s = this_boot()
            post(self._state, request, boot_id=boot_id, boottime_s=boottime_s, typed_wall_s=time.time())
            self.fetch(typed)

    def type_start(self) -> Typed:
        """Ask for a batch, and wait for nothing."""
        profile, _ = adapt(read_profile(find_profile("tangy")), plan_of(read_chamber(self._chamber)))
        typed = self._ledger.add(Typed(self._name, "start", words="started: "))
        start = Start(id=self._name, batch="2026-01-05-tangy-1", profile=profile, meat_kg=5.0)
        boot_id, boottime_s = this_boot()
        post(self._state, start, boot_id=boot_id, boottime_s=boottime_s, typed_wall_s=time.time())
        return typed

    def fetch(self, typed: Typed) -> None:
        """Wait for the answer, over however many ends of the program, and book it."""
        ends_s = time.monotonic() + 60.0
        while time.monotonic() < ends_s:
            try:
                answer = wait_for_answer(self._state, typed.id, 5.0)
            except (TryAgainError, UnavailableError):
                continue  # It has just been killed.
            typed.answers.append((answer.done, answer.text))
            return
        self.wrong.append(f"{typed.id}: {typed.kind} was never answered")

    def _next(self, id: str) -> tuple[Asked, Typed]:
        rng, now_s = self._rng, time.time()
        kind = rng.choice(("ph", "ph", "weigh", "weigh", "note", "core", "smoker", "look", "calibrate", "hold"))
        if kind == "ph":
            value = round(rng.uniform(5.40, 5.95), 2)
            return (
                Ph(id=id, at_wall_s=now_s, value=value, instrument="meter", sure=True),
                Typed(id, kind, (("ph", f"{value:g}", ""),)),
            )
        if kind == "weigh":
            grams = {piece: float(rng.randint(380, 420)) for piece in rng.sample("ABCDE", rng.randint(1, 4))}
            rows = tuple(("weight", f"{value:g}", piece) for piece, value in grams.items())
            return Weigh(id=id, at_wall_s=now_s, pieces_g=grams, sure=True), Typed(id, kind, rows)
        request, rows = _other(kind, id, now_s, round(rng.uniform(18.0, 24.0), 1), rng)
        words = f"typed as {id}!" if isinstance(request, Note | Hold) else ""
        return request, Typed(id, kind, rows, isinstance(request, Calibrate), words)


def _other(
    kind: str, id: str, now_s: float, temp_c: float, rng: random.Random
) -> tuple[Report | Hold | Resume, tuple[tuple[str, str, str], ...]]:
    match kind:
        case "core":
            request: Report | Hold | Resume = CoreTemp(id=id, at_wall_s=now_s, value_c=temp_c, piece="A", sure=True)
            return request, (("core_temp", f"{temp_c:g}", "A"),)
        case "smoker":
            return Smoker(id=id, at_wall_s=now_s, value_c=temp_c, sure=True), (("smoker_temp", f"{temp_c:g}", ""),)
        case "look":
            return Look(id=id, at_wall_s=now_s, piece="B", looks={"look": "tacky"}), (("look", "tacky", "B"),)
        case "calibrate":
            points = (("ice", 0.0, round(rng.uniform(-0.3, 0.3), 2)),)
            check = InstrumentCheck(instrument="probe 1", method="ice", points=points, unit="Cel")
            return Calibrate(id=id, at_wall_s=now_s, check=check, sure=True), ()
        case "hold":
            if rng.random() < 0.5:
                return Resume(id=id, because=f"typed as {id}!"), ()
            return Hold(id=id, because=f"typed as {id}!"), ()
    return Note(id=id, at_wall_s=now_s, text=f"typed as {id}!"), ()


class AtTheCommand:
    """Type one line with the real command, in a process of its own."""

    def __init__(self, chamber: ChamberOnDisk, ledger: Ledger) -> None:
        """Type nothing yet."""
        self._chamber = chamber
        self._ledger = ledger
        self._running: list[tuple[subprocess.Popen[str], str]] = []

    def type_line(self, *words: str) -> subprocess.Popen[str]:
        """Start the command with these words and the chamber."""
        return subprocess.Popen(
            [str(COMMAND), *words, "--chamber", str(self._chamber.file)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"HANGROOM_CHAMBER": ""},
        )

    def begin_ph(self, value: str) -> None:
        """Start to report a pH, and go on."""
        self._running.append((self.type_line("ph", value, "--by", "meter", "--sure"), value))

    def look(self, *, wait: bool = False) -> list[str]:
        """Book what commands that have ended said; return what was wrong with them."""
        wrong, left = [], []
        for process, value in self._running:
            if not wait and process.poll() is None:
                left.append((process, value))
                continue
            out, err = process.communicate(timeout=90.0)
            found = _ENTRY.search(err)
            if process.returncode != 0 or found is None or "Traceback" in err:
                wrong.append(f"hangroom ph {value} ended with {process.returncode}: {out}{err}")
                continue
            typed = Typed(found[1], "ph", (("ph", value, ""),))
            if out:
                typed.answers.append((True, out))
            typed.promised = True
            self._ledger.add(typed)
        self._running = left
        return wrong
