"""The checkpoint: torn, swapped, of another version, or whole by its check sum and wrong all the same."""

import random
import zlib
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct

from controller.app.beginning import begin
from controller.core.memory import Memory
from controller.core.requests import Note, Ph, Seen
from controller.records.checkpoint import FILE, encode_memory, load_checkpoint
from controller.records.durable import previous_of
from controller.records.keeper import Keeper
from controller.settings.chamber_file import plan_of
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.fuzz.harness import Target, require_readable
from tests.fuzz.mutate import spoil_bytes, spoil_tree
from tests.fuzz.of_files import TODAY
from tests.fuzz.ticks import WALL_S, Run, grown_memory
from tests.fuzz.welltyped import builtins_of, spoil_typed
from tests.helpers.shipped_chambers import shipped_chamber


class Now:
    """Be a clock that stands."""

    def monotonic_s(self) -> float:
        """Return an instant of this boot."""
        return 90_000.0

    def wall_s(self) -> float:
        """Return a time somewhat after the last tick."""
        return WALL_S + 40_000.0

    def wall_trusted(self) -> bool:
        """Believe it."""
        return True

    def boot_id(self) -> str:
        """Name the same boot."""
        return "boot-1"

    def sleep_until(self, monotonic_s: float) -> bool:
        """Do not sleep."""
        del monotonic_s
        return True


class Written(Struct, frozen=True):
    """Hold the two files; None where there is none. `right` says that the check sum of the newest is right."""

    newest: bytes | None
    previous: bytes | None
    right: bool
    seed: int
    falls_back: bool = False  # The previous one is whole, and the newest is torn.


class Checkpoints(Target):
    """Begin with a spoiled checkpoint, and let the daemon tick."""

    name = "checkpoint"
    share = 4.0

    def prepare(self, folder: Path) -> None:
        """Make memories of batches in several stages."""
        self._path = folder / FILE
        self._state = folder / "state"
        self._file = shipped_chamber("old-fridge", TODAY)
        self._memories = []
        for number, name in enumerate(("tangy", "mild", "cooked-semi-dry")):
            profile, _ = adapt(read_profile(find_profile(name)), plan_of(self._file))
            self._memories.append(grown_memory(self._file, profile, random.Random(number)))

    def make(self, rng: random.Random) -> Written:
        """Return two files."""
        memory = rng.choice(self._memories)
        good = encode_memory(memory)
        seed = rng.randrange(1000)
        if rng.random() < 0.3:
            newest = rng.choice((spoil_bytes(rng, good), None))
            previous = rng.choice((good, good, spoil_bytes(rng, good), None))
            return Written(newest, previous, right=False, seed=seed, falls_back=good == previous != newest)
        tree: Any = builtins_of(memory)
        if rng.random() < 0.75:
            spoil_typed(rng, Memory, tree)
        else:
            tree = spoil_tree(rng, tree)
        body = msgspec.msgpack.encode(tree, enc_hook=str) if fits_msgpack(tree) else good.partition(b"\n")[2]
        if rng.random() < 0.15:
            body = spoil_bytes(rng, body)
        return Written(sealed(body), rng.choice((good, good, None)), right=True, seed=seed)

    def of_bytes(self, data: bytes) -> Written:
        """Return them as a memory with the right check sum."""
        return Written(sealed(data), encode_memory(self._memories[0]), right=True, seed=0)

    def feed(self, made: Written) -> bool:
        """Begin, and let ticks pass in which people type."""
        for aside in self._path.parent.glob("*.damaged-*"):  # Of the inputs before: a name is looked for among them.
            aside.unlink()
        for path, data in ((self._path, made.newest), (previous_of(self._path), made.previous)):
            path.unlink(missing_ok=True)
            if data is not None:
                path.write_bytes(data)
        rng = random.Random(made.seed)
        plan = plan_of(self._file)
        memory, told = begin(self._path, plan, Now())
        for event in told:
            require_readable(event.text or "-")
        if made.falls_back and not (memory.batches and any(FILE in event.text for event in told)):
            raise AssertionError(f"the copy before it was whole, and this came of it: {[event.text for event in told]}")
        run = Run(self._file, memory, now_s=90_000.0)
        run.wall_s = WALL_S + 40_000.0
        keeper = Keeper(self._state, self._file, force=False, threaded=False, status_every_s=0.0)
        for number in range(8):
            requests = (
                (Ph(id=f"q{number}", at_wall_s=None, value=5.25, instrument="meter", sure=True),
                 Note(id=f"n{number}", at_wall_s=run.wall_s, text="x"), Seen(id=f"s{number}", alarm="A2-1"))
                if number in {2, 5} else ()
            )  # fmt: skip
            outcome = run.tick(rng, *requests, summary=number == 4)
            keeper.keep(run.memory, outcome)
            run.look()
        keeper.close()
        for line in told_by(self._state):
            if "fault of the program" in line:
                raise AssertionError(line)
        return made.right and load_checkpoint(self._path).memory is not None


def told_by(state: Path) -> list[str]:
    """Return the lines of the chamber's own diary, and take it away."""
    path = state / "events.csv"
    lines = path.read_text("utf-8").splitlines() if path.exists() else []
    path.unlink(missing_ok=True)
    return lines


def sealed(body: bytes) -> bytes:
    """Return a checkpoint with this body and the right check sum."""
    return b'{"version":1,"crc32":%d}\n%b' % (zlib.crc32(body), body)


def fits_msgpack(tree: Any, depth: int = 200) -> bool:  # noqa: ANN401 - any tree
    """Say whether MessagePack can hold this tree: its integers have 64 bits, and it is no thousand lists deep."""
    if depth == 0:
        return False
    if isinstance(tree, dict):
        return all(isinstance(key, str) and fits_msgpack(item, depth - 1) for key, item in tree.items())
    if isinstance(tree, list):
        return all(fits_msgpack(item, depth - 1) for item in tree)
    return not isinstance(tree, int) or -(2**63) <= tree < 2**64
