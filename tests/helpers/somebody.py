"""Somebody who may do nothing here."""

import contextlib
import os
from collections.abc import Iterator

import controller.cli.tree  # noqa: F401 - the verbs, and what they import: nobody else may read the superuser's Python.


@contextlib.contextmanager
def somebody_else() -> Iterator[None]:
    """Be a user who owns nothing, where the tests run as the superuser, whom no folder refuses."""
    superuser = os.geteuid() == 0
    if superuser:
        os.seteuid(65_534)
    try:
        yield
    finally:
        if superuser:
            os.seteuid(0)
