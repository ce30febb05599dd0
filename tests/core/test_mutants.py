"""The mutation run names files that exist, and what is argued of a survivor is argued of code that is still there."""

import re
import tomllib
from pathlib import Path

TOP = Path(__file__).parents[2]
ARGUED = (Path(__file__).parent / "mutants_argued.md").read_text("utf-8")
ROW = re.compile(r"^\| `(\w+)\.(\w+)` \| (.+?) \| (.+) \|$", re.MULTILINE)


def test_every_file_of_the_mutation_run_is_there() -> None:
    run = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["tool"]["mutmut"]
    for path in (*run["only_mutate"], *run["pytest_add_cli_args_test_selection"], *run["also_copy"]):
        assert (TOP / path).exists(), f"{path} has moved: name its new place in [tool.mutmut]"


def test_every_survivor_is_argued_of_a_function_that_the_run_changes() -> None:
    run = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["tool"]["mutmut"]
    source = {Path(path).stem: (TOP / path).read_text("utf-8") for path in run["only_mutate"]}
    rows = ROW.findall(ARGUED)
    assert len(rows) == ARGUED.count("\n| `")
    for module, function, _change, reason in rows:
        assert f"def {function}(" in source[module], f"{module}.{function} is gone, and with it its row"
        assert reason.endswith(".")
