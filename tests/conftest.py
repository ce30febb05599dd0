"""Leave what takes minutes, or a virtual machine, to its own command: `pytest -m long`, `pytest -m rig`."""

import os

import pytest
from hypothesis import settings

# How long a case takes is no matter of a test: the machine may be busy.
settings.register_profile("behaviour", deadline=None)
settings.load_profile("behaviour")

# Small matrices, and a process for each processor already: more threads would only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


OWN_COMMAND = ("long", "rig")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.option.markexpr:
        return
    left_out = [item for item in items if any(item.get_closest_marker(name) for name in OWN_COMMAND)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if not config.option.markexpr and config.args == config.getini("testpaths"):
        terminalreporter.line("Left out: the long tests (pytest -m long), and those on a machine (pytest -m rig).")
