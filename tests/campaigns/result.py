"""What is left of a run when it is over: small, and fit to be sent from one process to another."""

import shutil
import tempfile
import time
from pathlib import Path
from typing import Final

from msgspec import Struct

from tests.campaigns.draw import Case
from tests.campaigns.facts import Violation
from tests.campaigns.machine import Machine

MEMORY: Final = Path("/dev/shm")  # noqa: S108 - a folder in memory; what lies in it has a name nobody knows


class FaultResult(Struct, frozen=True):
    """Hold what became of one fault; times in seconds after its begin."""

    kind: str
    what: str
    lasted_s: float
    detected_s: float | None
    by: str
    passed: bool | None


class Result(Struct, frozen=True):
    """Hold what became of one seed."""

    line: str
    chamber: str
    cpu_s: float
    violations: tuple[Violation, ...]
    rules: dict[str, int]
    faults: tuple[FaultResult, ...]
    texts: tuple[str, ...]
    states_s: dict[str, float]
    came_back: str
    held_at_end: bool
    lamp_share: float
    counts: dict[str, int]


def run(case: Case) -> Result:
    """Run one seed, in a folder of its own that is taken away afterwards."""
    root = Path(tempfile.mkdtemp(prefix="campaign-", dir=MEMORY if MEMORY.is_dir() else None))
    began_s = time.process_time()
    try:
        machine = Machine(case, root / "state").go()
    finally:
        shutil.rmtree(root, ignore_errors=True)
    return result_of(machine, time.process_time() - began_s)


def result_of(machine: Machine, cpu_s: float) -> Result:
    """Return what is kept of a run."""
    facts, checkers = machine.facts, machine.checkers
    return Result(
        line=machine.case.line,
        chamber=f"{facts.chamber.name}, {facts.chamber.tick_s:g} s",
        cpu_s=cpu_s,
        violations=tuple(facts.violations),
        rules=dict(facts.rules),
        faults=tuple(
            FaultResult(
                one.fault.kind, one.fault.what, one.fault.until_s - one.fault.at_s, one.detected_s, one.by, one.passed
            )
            for one in checkers.detection.seen
        ),
        texts=tuple(fault.text for fault in machine.faults),
        states_s=checkers.batches.states,
        came_back=checkers.batches.came_back,
        held_at_end=checkers.batches.held_at_end,
        lamp_share=facts.counts["lamp s"] / max(facts.now_s, 1.0),
        counts=dict(facts.counts),
    )
