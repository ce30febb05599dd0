"""Leave what takes minutes, or a virtual machine, to its own command: `pytest -m long`, `pytest -m rig`."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

from tests.helpers.in_browser import CHROMIUM, FLAGS

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


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Start Chromium once for the stories of a file."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield running
        running.close()
