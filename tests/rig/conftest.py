"""The guest in which the stories happen: booted once, put back to a burning lamp before each of them."""

from collections.abc import Iterator

import pytest

from tests.rig.guest_chamber import Chamber
from tests.rig.guest_tools import why_no_guest
from tests.rig.table import BURNING, begin_ferment, chamber_in_guest


@pytest.fixture(scope="session")
def _booted() -> Iterator[Chamber]:
    if why_not := why_no_guest():
        pytest.skip(f"THE RIG DID NOT RUN: {why_not}")
    with chamber_in_guest() as chamber:
        yield begin_ferment(chamber).pass_(5.0).keep(BURNING)


@pytest.fixture
def chamber(_booted: Chamber) -> Chamber:
    """Be a chamber that warms up at the begin of a fast batch; its lamp burns."""
    return _booted.back_to(BURNING)
