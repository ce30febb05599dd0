"""A slice of the campaign: few seeds, few hours. The long run is `python -m tests.campaigns --seeds 2000`."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.simulator.faults import KINDS as OF_THE_WORLD
from tests.campaigns.draw import Case, draw_faults, setting_of
from tests.campaigns.kinds import KINDS, Planned
from tests.campaigns.mutants import MUTANTS, changed
from tests.campaigns.report import Totals
from tests.campaigns.result import run
from tests.campaigns.shrink import shrink

HERE = Path(__file__).parent
DAYS = 0.15


@pytest.mark.parametrize("seed", [*range(3), *(pytest.param(seed, marks=pytest.mark.long) for seed in (3, 4, 5))])
def test_what_must_hold_holds_whatever_goes_wrong(seed: int) -> None:
    result = run(Case(seed=seed, days=DAYS))
    told = "\n".join(f"{one.rule} at {one.at_h:.3f} h: {one.text}" for one in result.violations)
    assert not result.violations, f"python -m tests.campaigns --replay {result.line}\n{told}"
    assert result.lamp_share > 0.0


def test_the_same_seed_is_the_same_run_whatever_the_order_of_its_sets() -> None:
    code = (
        "from tests.campaigns.draw import Case; from tests.campaigns.result import run; "
        "r = run(Case(seed=11, days=0.1)); print(r.texts, r.states_s, r.lamp_share, sorted(r.counts.items()))"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": number},
            cwd=HERE.parents[1],
            capture_output=True,
            check=True,
        ).stdout
        for number in ("1", "2")
    }
    assert len(told) == 1


def test_a_line_that_was_printed_is_the_run_again_with_the_faults_it_names() -> None:
    case = Case(seed=11, days=3.0)
    faults = draw_faults(case, setting_of(case).chamber)
    chosen = tuple(fault.index for fault in faults[::2])
    again = Case.of(Case(seed=11, days=3.0, kept=chosen).line)
    assert draw_faults(again, setting_of(again).chamber) == faults[::2]
    assert Case.of(case.line) == case


def test_runs_of_the_same_code_add_up(tmp_path: Path) -> None:
    results = [run(Case(seed=seed, days=0.03)) for seed in (21, 22, 23)]
    whole, first, rest = Totals(), Totals(), Totals()
    for result in results:
        whole.add(result)
    first.add(results[0])
    rest.add(results[1])
    rest.add(results[2])
    first.write(tmp_path / "first.json")
    joined = Totals.read(tmp_path / "first.json")
    joined.join(rest)
    for total in (joined, whole):  # Sums of fractions, in whatever order they were added.
        total.lamp_share, total.cpu_s = round(total.lamp_share, 9), round(total.cpu_s, 9)
    assert joined == whole
    assert joined.seeds == 3


def test_a_failing_list_is_shrunk_to_what_it_needs() -> None:
    case = Case(seed=4, days=3.0)
    faults = draw_faults(case, setting_of(case).chamber)
    first, last = faults[0].index, faults[-1].index

    def fails(one: Case) -> bool:
        return one.kept is not None and {first, last} <= set(one.kept)

    assert set(shrink(case, fails).kept or ()) == {first, last}


def test_every_fault_that_the_world_knows_is_injected() -> None:
    assert OF_THE_WORLD.keys() <= KINDS.keys()


def test_in_three_days_there_are_five_faults_or_more_of_every_kind_and_often_several_at_once() -> None:
    lists = [draw_faults(case, setting_of(case).chamber) for case in (Case(seed=seed, days=3.0) for seed in range(300))]
    assert sorted(len(faults) for faults in lists)[150] >= 5
    assert {fault.kind for faults in lists for fault in faults} == KINDS.keys()
    assert sum(_overlap(faults) for faults in lists) > 150


def _overlap(faults: tuple[Planned, ...]) -> bool:
    return any(a is not b and a.at_s < b.at_s < a.until_s for a in faults for b in faults)


@pytest.mark.parametrize("path", sorted(HERE.glob("checkers*.py")), ids=lambda path: path.stem)
def test_no_checker_takes_anything_from_what_it_judges(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    names = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    assert not [name for name in names if name.startswith("controller")]


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_each_bug_that_is_planted_can_be_planted(mutant: object) -> None:
    module = next(one for one in MUTANTS if one is mutant)
    path = HERE.parents[1].joinpath(*module.module.split(".")).with_suffix(".py")
    source = changed(path.read_text("utf-8"), module)
    compile(source, str(path), "exec")


def _hunt(name: str, lines: list[str]) -> str:
    """Return what a campaign of these runs says of a program with this bug."""
    code = (
        "from tests.campaigns.mutants import MUTANTS, plant\n"
        f"plant(next(one for one in MUTANTS if one.name == {name!r}))\n"
        "from tests.campaigns.draw import Case\n"
        "from tests.campaigns.report import Totals\n"
        "from tests.campaigns.result import run\n"
        "totals = Totals()\n"
        f"for line in {lines!r}:\n"
        "    totals.add(run(Case.of(line)))\n"
        "print(totals.shares())\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=HERE.parents[1], capture_output=True, text=True, check=True)
    return done.stdout


def test_a_program_that_never_heats_fails() -> None:
    assert "nothing was ever heated" in _hunt("nothing is ever heated", ["0/0.1d/none", "1/0.1d/none"])


def test_a_program_that_gives_up_at_the_first_fault_fails() -> None:
    """The runs have one short fault of the leading thermometer each, and nothing else."""
    lines = _with_a_passing_fault(1)
    name = "the first sensor fault makes the batch wait for a person"
    assert "over by themselves" in _hunt(name, lines)
    totals = Totals()
    for line in lines:
        totals.add(run(Case.of(line)))
    assert totals.judged == len(lines)
    assert not totals.shares()


def _with_a_passing_fault(number: int) -> list[str]:
    found: list[str] = []
    seed = 0
    while len(found) < number:
        case = Case(seed=seed, days=DAYS)
        for fault in draw_faults(case, setting_of(case).chamber):
            brief = KINDS[fault.kind].passes and fault.what == "air_temp" and 60.0 < fault.until_s - fault.at_s < 800.0
            if brief and len(fault.windows) == 1:
                found.append(replace(case, kept=(fault.index,)).line)
        seed += 1
    return found[:number]


@pytest.mark.long
def test_every_planted_bug_is_found() -> None:
    from tests.campaigns.planted import hunt_apart

    missed = [mutant.name for mutant in MUTANTS if not hunt_apart(mutant, 60).is_found]
    assert missed == []


@pytest.mark.long
def test_two_hundred_seeds_of_three_days() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.campaigns", "--seeds", "200", "--days", "3"], cwd=HERE.parents[1], check=False
    )
    assert done.returncode == 0
