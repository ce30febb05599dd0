"""Somebody who may do nothing here."""

import contextlib
import os
from collections.abc import Iterator


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
