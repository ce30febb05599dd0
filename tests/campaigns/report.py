"""What a campaign comes to: whether it has passed, and the tables."""

from collections import Counter
from pathlib import Path
from statistics import median
from typing import Final

from msgspec import Struct, field, json
from rich.console import Console
from rich.table import Table

from tests.campaigns.kinds import KINDS
from tests.campaigns.result import FaultResult, Result

LEAST_FAULTS: Final = 5
LEAST_PASSED: Final = 0.95
LEAST_OF_A_KIND: Final = 200
LONG_RUN: Final = 1000
"""From so many seeds on each kind must have come often enough."""


class Totals(Struct):
    """Add up results."""

    seeds: int = 0
    cpu_s: float = 0.0
    held: int = 0
    lamp_share: float = 0.0
    back: Counter[str] = field(default_factory=Counter)
    states_s: Counter[str] = field(default_factory=Counter)
    counts: Counter[str] = field(default_factory=Counter)
    faults_per_seed: list[int] = []
    by_kind: dict[str, list[FaultResult]] = {}
    failing: list[Result] = []
    judged: int = 0
    passed: int = 0

    def add(self, result: Result) -> None:
        """Add one seed."""
        self.seeds += 1
        self.cpu_s += result.cpu_s
        self.held += result.held_at_end
        self.lamp_share += result.lamp_share
        self.back[result.came_back or "no batch in the chamber"] += 1
        self.states_s.update(result.states_s)
        self.counts.update(result.counts)
        self.faults_per_seed.append(len(result.faults))
        for fault in result.faults:
            self.by_kind.setdefault(fault.kind, []).append(fault)
            if fault.passed is not None:
                self.judged += 1
                self.passed += fault.passed
        if result.violations:
            self.failing.append(result)

    @staticmethod
    def read(path: Path) -> "Totals":
        """Return what another run wrote."""
        return json.decode(path.read_bytes(), type=Totals, dec_hook=lambda kind, counted: kind(counted))

    def write(self, path: Path) -> None:
        """Write it for a run that goes on with it."""
        path.write_bytes(json.encode(self))

    def join(self, other: "Totals") -> None:
        """Add what another run of the same code came to."""
        self.seeds += other.seeds
        self.cpu_s += other.cpu_s
        self.held += other.held
        self.lamp_share += other.lamp_share
        self.back.update(other.back)
        self.states_s.update(other.states_s)
        self.counts.update(other.counts)
        self.faults_per_seed += other.faults_per_seed
        for kind, faults in other.by_kind.items():
            self.by_kind.setdefault(kind, []).extend(faults)
        self.failing += other.failing
        self.judged += other.judged
        self.passed += other.passed

    def problems(self) -> list[str]:
        """Return why this campaign has not passed; empty where it has."""
        found = []
        if self.failing:
            found.append(f"{len(self.failing)} seeds break what must hold")
        if self.faults_per_seed and median(self.faults_per_seed) < LEAST_FAULTS:
            found.append(f"the median of faults per seed is {median(self.faults_per_seed):g}, less than {LEAST_FAULTS}")
        found += self.shares()
        if self.seeds >= LONG_RUN:
            rare = [name for name in KINDS if len(self.by_kind.get(name, [])) < LEAST_OF_A_KIND]
            if rare:
                found.append(f"less than {LEAST_OF_A_KIND} times came: {', '.join(rare)}")
        return found

    def shares(self) -> list[str]:
        """Return what the shares say against the program: it never heats, or gives up where it need not."""
        found = []
        if self.lamp_share <= 0.0:
            found.append("nothing was ever heated")
        if self.judged and self.passed < LEAST_PASSED * self.judged:
            found.append(f"only {self.passed} of {self.judged} sensor faults that passed were over by themselves")
        return found


def show(totals: Totals, console: Console, real_s: float) -> None:
    """Print the tables of a campaign."""
    console.print(_detection(totals))
    seeds = max(totals.seeds, 1)
    all_s = sum(totals.states_s.values()) or 1.0
    states = ", ".join(f"{state} {100 * lasted_s / all_s:.1f} %" for state, lasted_s in totals.states_s.most_common())
    often = totals.faults_per_seed or [0]
    lines = [
        f"seeds                      {totals.seeds}, each {totals.cpu_s / seeds:.1f} s of CPU, {real_s / 60:.1f} min",
        f"faults per seed            median {median(often):g}, {sum(often)} in all",
        f"held at the end            {100 * totals.held / seeds:.1f} % of seeds",
        f"time heating               {100 * totals.lamp_share / seeds:.1f} % (the lamp itself)",
        f"time in each state         {states}",
        f"after the faults           {', '.join(f'{what}: {number}' for what, number in totals.back.most_common())}",
        f"passing sensor faults      {totals.passed} of {totals.judged} were over by themselves",
        f"ends of the program        {_of(totals, 'end:')}",
        f"requests                   {totals.counts['requests']}, {totals.counts['the same file twice']} of them twice",
        f"seeds with violations      {len(totals.failing)}",
    ]
    for line in lines:
        console.print(line, highlight=False)


def _of(totals: Totals, prefix: str) -> str:
    return ", ".join(
        f"{name.removeprefix(prefix)} {number}"
        for name, number in totals.counts.most_common()
        if name.startswith(prefix)
    )


def _detection(totals: Totals) -> Table:
    table = Table(title="Faults by kind")
    for name in ("kind", "injected", "long enough", "detected", "median", "worst", "said by"):
        table.add_column(name, justify="left" if name in {"kind", "said by"} else "right")
    for kind in KINDS.values():
        faults = totals.by_kind.get(kind.name, [])
        at_once = kind.place in {"program", "supply", "clock"}
        long_enough = [fault for fault in faults if at_once or fault.lasted_s >= kind.within_s]
        seen = [fault.detected_s for fault in faults if fault.detected_s is not None]
        detected_long = sum(fault.detected_s is not None for fault in long_enough)
        said = Counter(fault.by for fault in faults if fault.by)
        table.add_row(
            kind.name,
            str(len(faults)),
            str(len(long_enough)),
            f"{detected_long} ({100 * detected_long / max(len(long_enough), 1):.0f} %)",
            f"{median(seen):.0f} s" if seen else "",
            f"{max(seen):.0f} s" if seen else "",
            " ".join(f"{name} {number}" for name, number in said.most_common(3)),
        )
    return table


def tell(result: Result, console: Console) -> None:
    """Print a failing seed: its one-line replay, what is broken, and the faults."""
    console.print(f"FAILED  python -m tests.campaigns --replay {result.line}   ({result.chamber})", highlight=False)
    for violation in result.violations:
        console.print(f"   {violation.rule} at {violation.at_h:.3f} h: {violation.text}", highlight=False, markup=False)
    for text in result.texts:
        console.print(f"   . {text}", highlight=False, markup=False)
