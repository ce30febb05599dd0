"""Requests: anybody in the group may write a file into the box of a running daemon."""

import contextlib
import os
import random
import shutil
import socket
from pathlib import Path
from typing import Any, Final

import msgspec
from msgspec import Struct

from controller.core.requests import Note, Ph, Request, Start, Weigh
from controller.records.asking import post
from controller.records.keeper import Keeper
from controller.records.request_box import Envelope, RequestBox, answer_file, requests_of
from controller.settings.chamber_file import plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.fuzz.harness import Target
from tests.fuzz.mutate import nested, spoil_bytes, spoil_tree
from tests.fuzz.of_files import TODAY, dumped
from tests.fuzz.of_records import JSON_FLOATS, JSON_VALUES, read_all
from tests.fuzz.ticks import WALL_S, Run, grown_memory
from tests.fuzz.welltyped import any_value, builtins_of, spoil_typed
from tests.helpers.shipped_chambers import shipped_chamber

NAMES: Final = (
    b"r1.json", b"r1.json", b"r1.json", b"r1.json", b"r1", b".json", b"..json", b"r1.json.json", b"r 1.json",
    b"r1\n.json", b"\xff\xfe.json", b"-r1.json", b"x" * 240 + b".json", b"r1.JSON", "é.json".encode(), b".r1.json",
)  # fmt: skip


class Laid(Struct, frozen=True):
    """Hold what somebody lays into the box: a file of this name, or something that is no file."""

    name: bytes
    data: bytes
    kind: str = "file"


class RequestFiles(Target):
    """Lay anything into the box of a daemon with a batch under way, and let it tick."""

    name = "request"
    share = 5.0

    def prepare(self, folder: Path) -> None:
        """Make a daemon's memory and a few good requests."""
        self._folder = folder
        self._file = shipped_chamber("old-fridge", TODAY)
        profile, _ = adapt(read_profile(find_profile("tangy")), plan_of(self._file))
        self._memories = [grown_memory(self._file, profile, random.Random(5)), Run(self._file).memory]
        self._number = 0
        self._goods: list[Request] = [
            Start(id="r1", batch="2026-01-05-tangy-2", profile=profile, meat_kg=5.0),
            Ph(id="r1", at_wall_s=WALL_S, value=5.2, instrument="meter", sure=True),
            Weigh(id="r1", at_wall_s=WALL_S, pieces_g={"A": 390.0}, sure=True),
            Note(id="r1", at_wall_s=WALL_S, text="x"),
        ]

    def make(self, rng: random.Random) -> tuple[int, int, tuple[Laid, ...]]:
        """Return which memory, a seed for the sensors, and one to three things."""
        laid = tuple(self._laid(rng) for _ in range(rng.choice((1, 1, 1, 2, 3))))
        return rng.randrange(len(self._memories)), rng.randrange(1000), laid

    def _laid(self, rng: random.Random) -> Laid:
        if rng.random() < 0.02:
            kind = rng.choice(("folder", "full folder", "pipe", "nowhere", "loop", "zeros", "sparse", "socket"))
            return Laid(rng.choice(NAMES), b"", kind)
        tree = {
            "version": 1, "boot_id": "boot-1", "boottime_s": 1000.0, "typed_wall_s": WALL_S,
            "request": builtins_of(rng.choice(self._goods)),
        }  # fmt: skip
        chance = rng.random()
        if chance < 0.45:
            info: Any = msgspec.inspect.type_info(Request)
            verb = rng.choice(info.types)
            made = any_value(rng, verb, JSON_FLOATS)
            made |= {"id": "r1"} if rng.random() < 0.95 else {}
            for name in ("batch", "replaces"):
                if name in made and rng.random() < 0.7:
                    made[name] = rng.choice(("", "2026-01-05-fuzz-1", "p1", "r5"))
            if "at_wall_s" in made and rng.random() < 0.7:
                made["at_wall_s"] = WALL_S
            tree["request"] = made
        elif chance < 0.8:
            spoil_typed(rng, Envelope, tree, JSON_FLOATS)
        else:
            values = (*JSON_VALUES, nested(400, list), "x" * 100_000)
            tree = spoil_tree(rng, tree, values)
        data = dumped(tree)
        if rng.random() < 0.2:
            data = spoil_bytes(rng, data)
        if rng.random() < 0.01:
            data = rng.choice((b"[" * 200_000, b'{"a":' * 100_000, b" " * 3_000_000, b'"' + b"x" * 3_000_000))
        return Laid(rng.choice(NAMES) if rng.random() < 0.1 else b"r1.json", data)

    def of_bytes(self, data: bytes) -> tuple[int, int, tuple[Laid, ...]]:
        """Return them as a request."""
        return 0, 0, (Laid(b"r1.json", data),)

    def feed(self, made: tuple[int, int, tuple[Laid, ...]]) -> bool:
        """Lay it there, let the daemon tick, and require an answer or a file that is set aside; the box goes on."""
        memory, seed, laid = made
        state = self._folder / "state"
        shutil.rmtree(state, ignore_errors=True)
        state.mkdir()
        rng = random.Random(seed)
        run = Run(self._file, self._memories[memory], now_s=max(self._memories[memory].last_s, 1000.0))
        run.wall_s = max(self._memories[memory].wall_s, WALL_S)
        keeper = Keeper(state, self._file, force=False, threaded=False, status_every_s=0.0)
        box = RequestBox(state, boot_id="boot-1", boottime_s=lambda: 1010.0, force=False)
        for one in laid:
            lay(requests_of(state) / "new", one)
        post(
            state, Note(id="good", at_wall_s=WALL_S, text="y"), boot_id="boot-1", boottime_s=1005.0, typed_wall_s=WALL_S
        )
        done = 0
        for _ in range(3):
            requests = box.take()
            outcome = run.tick(rng, *requests)
            done += sum(answer.done for answer in outcome.answers)
            keeper.keep(run.memory, outcome)
            run.look()
        box.take()
        left = sorted(path.name for path in (requests_of(state) / "new").iterdir())
        if left or box.trouble():
            raise AssertionError(f"left in the box: {left}, {box.trouble()}")
        if b'"done":true' not in answer_file(state, "good").read_bytes():
            raise AssertionError("the good request was not done")
        keeper.close()
        for folder in (state / "batches").glob("*/"):
            if done > 1:
                read_all(folder)
        return done > 1


def lay(new: Path, one: Laid) -> None:
    """Make this thing in the box."""
    path = os.path.join(os.fsencode(new), one.name)  # noqa: PTH118 - a name that is no text
    if os.path.lexists(path):
        return  # Something else has this name already.
    match one.kind:
        case "file":
            with open(path, "wb") as file:  # noqa: PTH123
                file.write(one.data)
        case "folder":
            os.makedirs(path, exist_ok=True)  # noqa: PTH103
        case "full folder":
            os.makedirs(os.path.join(path, b"inside"), exist_ok=True)  # noqa: PTH103, PTH118
        case "pipe":
            with contextlib.suppress(FileExistsError):
                os.mkfifo(path)
        case "nowhere" | "loop" | "zeros":
            to = {"nowhere": b"/nowhere/at/all", "loop": path, "zeros": b"/dev/zero"}[one.kind]
            with contextlib.suppress(FileExistsError):
                os.symlink(to, path)  # noqa: PTH211
        case "sparse":
            with contextlib.suppress(IsADirectoryError), open(path, "wb") as file:  # noqa: PTH123
                file.truncate(3_000_000_000)
        case "socket":
            with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as made:
                made.bind(path)
