"""The planted bugs: what is changed in the program's source, and what it stands for.

Each change is a text that must stand in the source exactly once; it is made while the module is imported, in a process
of its own. No file is changed.
"""

import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from pathlib import Path
from types import ModuleType
from typing import Final

from msgspec import Struct


class Mutant(Struct, frozen=True):
    """Hold one planted bug.

    Attributes:
        name: what it is.
        by: the rules of the campaign that may find it; `shares` are those of the whole campaign.
        module: where it is planted.
        changes: pairs of what stands there and what is to stand there instead.
        days: how long the runs are in which it is looked for.
        often: kinds of faults that are drawn `OFTEN` times as often there: what is rare, or hidden but for a tick.
    """

    name: str
    by: tuple[str, ...]
    module: str
    changes: tuple[tuple[str, str], ...]
    days: float = 1.0
    often: tuple[str, ...] = ()


GATE: Final = "controller.core.chamber.gate"
TIMING: Final = "controller.core.chamber.timing"
JUDGE: Final = "controller.core.chamber.judge"
STEP: Final = "controller.core.step"
DRIVE: Final = "controller.core.drive"
DURABLE: Final = "controller.records.durable"

MUTANTS: Final[tuple[Mutant, ...]] = (
    Mutant(
        "the gate's trip is turned round",
        ("trip",),
        GATE,
        (("known.highest_c >= limits.trip_c", "known.highest_c <= -limits.trip_c"),),
        days=3.0,
        often=("jump",),  # Only one that the heat meets shows it, before S9 or the latch of A2 puts out the lamp.
    ),
    Mutant(
        "the gate does not wait after a start",
        ("settling",),
        GATE,
        (("if since_start_s < limits.settle_s or known.good_in_a_row < limits.settle_readings:", "if False:"),),
    ),
    Mutant(
        "disagreeing thermometers are let pass",
        ("agreeing",),
        GATE,
        (("if apart or (known.spread_k is not None and known.spread_k > limits.agree_k):", "if False:"),),
        days=2.0,
    ),
    Mutant(
        "the lease is one tick too long",
        ("fresh", "dark"),
        DRIVE,
        (
            (
                "heat_until_s = known.good_air_taken_s + chamber.limits.fresh_s",
                "heat_until_s = known.good_air_taken_s + chamber.limits.fresh_s + chamber.tick_s",
            ),
        ),
    ),
    Mutant(
        "a failed read is taken for the last value, with a new time",
        ("fresh", "dark"),
        JUDGE,
        (
            (
                'return _failed(before, "missing" if reading is None else reading.kind, before.newest_s)',
                "return replace(before, good=before.good and Reading(before.good.value, now_s), newest_s=now_s)",
            ),
        ),
    ),
    Mutant(
        "the other witnesses are ignored",
        ("trip", "agreeing"),
        "controller.core.chamber.known",
        (
            (
                "    for witness in WITNESSES:\n        channel = channels.get(witness)",
                "    for witness in WITNESSES[:1]:\n        channel = channels.get(witness)",
            ),
            ("spread_k=max(values) - min(values) if len(slowed) > 1 else None", "spread_k=None"),
        ),
        days=2.0,
    ),
    Mutant(
        "the second contactor stays on while heat is forbidden",
        ("dark", "slow", "master"),
        DRIVE,
        (
            ('duty["master"] = 1.0 if climate.heat else 0.0', 'duty["master"] = 1.0'),
            ("    return blocked\n", '    return blocked - {"master"}\n'),
        ),
        days=2.0,
    ),
    Mutant(
        "the compressor need not rest after a start",
        ("rest",),
        TIMING,
        (("            off_since_s=now_s,\n            on_total_s", "            on_total_s"),),
        days=2.0,
    ),
    Mutant(
        "a row is not forced",
        ("answered too early", "row lost"),
        DURABLE,
        (("        if self._force:\n            self._sync(fd)\n", ""),),
    ),
    Mutant(
        "a folder's names are not forced",
        ("answered too early", "row lost", "forgotten", "stage lost"),
        DURABLE,
        (
            (
                "    try:\n        os.fsync(fd)\n    finally:\n        os.close(fd)\n\n\ndef recover_tail",
                "    os.close(fd)\n\n\ndef recover_tail",
            ),
        ),
    ),
    Mutant(
        "the checkpoint is written over itself",
        ("answered too early", "checkpoint"),
        DURABLE,
        (
            (
                "            self._write_aside(data)\n",
                (
                    '            if self._now.endswith(".msgpack"):\n'
                    "                fd = os.open(self._now, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, FILE_MODE)\n"
                    "                write_all(fd, data)\n"
                    "                os.fsync(fd)\n"
                    "                os.close(fd)\n"
                    "                return\n"
                    "            self._write_aside(data)\n"
                ),
            ),
        ),
        days=2.0,
    ),
    Mutant(
        "an answer is given before the state is on disk",
        ("answered too early",),
        "controller.records.writer",
        (
            (
                "        if hand_over.state is not None:\n            if self._done(hand_over.state):",
                (
                    "        for answer in hand_over.answers:\n            self._done(partial(answer.give, False))\n"
                    "        hand_over.answers.clear()\n"
                    "        if hand_over.state is not None:\n            if self._done(hand_over.state):"
                ),
            ),
        ),
    ),
    Mutant(
        "a request is done again when it comes again",
        ("answered twice", "done twice"),
        "controller.core.people.desk",
        (("if request.id in memory.answered:", "if False:"),),
    ),
    Mutant(
        "degree-hours are lost in a gap",
        ("degree-hours",),
        "controller.core.restart",
        (("after = _lived(after, gap_s, highest_c, error_k)", "pass"),),
    ),
    Mutant(
        "stages go on by the clock on the wall",
        ("elapsed", "stage"),
        STEP,
        (("dt_s = max(now_s - memory.last_s, 0.0)", "dt_s = max(inputs.wall_s - memory.wall_s, 0.0)"),),
    ),
    Mutant(
        "the thermometer's error is not added to degree-hours",
        ("degree-hours",),
        "controller.core.batch.counting",
        (
            (
                "    if batch.passed_5_3:\n        if guarded_f == guarded_c",
                (
                    "    guarded_f, guarded_c = fahrenheit, celsius\n"
                    "    if batch.passed_5_3:\n        if guarded_f == guarded_c"
                ),
            ),
        ),
    ),
    Mutant(
        "a paused batch is heated",
        ("state",),
        "controller.core.batch.stages",
        (
            (
                'return Climate(coolest_to_come_c(batch), None, kind="rest", fan=GENTLE_FAN)',
                'return Climate(coolest_to_come_c(batch), None, kind="rest", fan=GENTLE_FAN, heat=True)',
            ),
        ),
        days=2.0,
    ),
    Mutant(
        "a long gap does not make the batch wait",
        ("long gap",),
        "controller.core.outage.rules",
        (("LONG_S: Final = 8 * 3600.0", "LONG_S: Final = 800 * 3600.0"),),
        days=2.0,
        often=("power-cut",),  # One in four of them is so long.
    ),
    Mutant(
        "what is wrong becomes no alarm",
        ("silent", "slow", "crash loop"),
        STEP,
        (("settle(memory, conditions, inputs", "settle(memory, [], inputs"),),
        days=2.0,
    ),
    Mutant(
        "nothing is ever heated",
        ("shares", "back"),
        GATE,
        (("    blocks = []\n", '    blocks = ["state"]\n'),),
    ),
    Mutant(
        "the first sensor fault makes the batch wait for a person",
        ("shares",),
        "controller.core.batch.states",
        (("PER_DAY: Final = 3", "PER_DAY: Final = 1"),),
    ),
)


class Planter(MetaPathFinder):
    """Change a module's source while it is imported."""

    def __init__(self, mutant: Mutant) -> None:
        self._mutant = mutant

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        del target
        if fullname != self._mutant.module:
            return None
        spec = PathFinder.find_spec(fullname, path)
        if spec is not None and spec.origin is not None:
            spec.loader = _Changed(fullname, spec.origin, self._mutant)
        return spec


class _Changed(SourceFileLoader):
    """Load the changed source, and no compiled file of the true one."""

    def __init__(self, fullname: str, path: str, mutant: Mutant) -> None:
        super().__init__(fullname, path)
        self._mutant = mutant

    def get_data(self, path: str) -> bytes:
        if not path.endswith(".py"):
            raise OSError(path)
        return changed(Path(path).read_text("utf-8"), self._mutant).encode()

    def set_data(self, path: str, data: object, *, _mode: int = 0o666) -> None:
        """Keep nothing."""


def changed(source: str, mutant: Mutant) -> str:
    """Return the source with the bug in it.

    Raises:
        LookupError: what is to be changed does not stand there exactly once.
    """
    for old, new in mutant.changes:
        if source.count(old) != 1:
            raise LookupError(f"{mutant.name}: {mutant.module} has {source.count(old)} times: {old!r}")
        source = source.replace(old, new)
    return source


def plant(mutant: Mutant) -> None:
    """Let this process have the bug; nothing of the program may have been imported yet."""
    if mutant.module in sys.modules:
        raise RuntimeError(f"{mutant.module} has been imported already")
    sys.meta_path.insert(0, Planter(mutant))
