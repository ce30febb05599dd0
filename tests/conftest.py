"""Leave what takes minutes to its own command, `pytest -m long`."""

import os

import pytest
from hypothesis import settings

# How long a case takes is no matter of a test: the machine may be busy.
settings.register_profile("behaviour", deadline=None)
settings.load_profile("behaviour")

# Small matrices, and a process for each processor already: more threads would only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.option.markexpr:
        return
    long = [item for item in items if item.get_closest_marker("long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
