"""Say of a disk that refused something which row of the fault table speaks for it, and how long it has lasted."""

import errno
from typing import Final

from controller.core.values import FAILS, Trouble

READ_ONLY: Final = frozenset({errno.EROFS})
"""ext4 mounted with errors=remount-ro becomes so by itself after an error (ext4(5)): the card is dying."""
NO_ROOM: Final = frozenset({errno.ENOSPC, errno.EDQUOT})
SAID: Final[dict[int, tuple[str, str]]] = {
    errno.ENOSPC: ("The disk is full", "The disk was full"),
    errno.EDQUOT: ("The disk is full", "The disk was full"),
    errno.EROFS: ("The disk can only be read", "The disk could only be read"),
    errno.EIO: ("The disk gives errors", "The disk gave errors"),
}
"""What is said of an error while it lasts, and afterwards; of any other one the system's own words."""


def trouble_of(error: BaseException, what: str) -> Trouble:
    """Return what is said of an error of the disk.

    Args:
        error: what was raised; one that only wraps another is looked through.
        what: what of the records suffers, in words, as "records of 3 min wait in memory".

    Returns:
        C7 where the file system has become read-only, else C6 with the priority of the table.
    """
    row = "C7" if errno_of(error) in READ_ONLY else "C6"
    said = SAID.get(errno_of(error) or 0)
    return Trouble(row, f"{error if said is None else said[0]}; {what}.", level=FAILS)


def was_refused(error: BaseException | None) -> str:
    """Return what is said afterwards of a disk that refused something; None: it did not answer at all."""
    if error is None:
        return "The disk did not answer"
    said = SAID.get(errno_of(error) or 0)
    return f"The disk refused ({error})" if said is None else said[1]


def errno_of(error: BaseException | None) -> int | None:
    """Return the number of the error, of the innermost one that has one; None where none has."""
    number = None
    while error is not None:
        number = getattr(error, "errno", None) or number
        error = error.__cause__
    return number


def spoken(seconds: float) -> str:
    """Return a duration as it is said: 40 s, 3 min, 2.5 h."""
    if seconds < 120.0:  # noqa: PLR2004 - two minutes are still told in seconds
        return f"{max(seconds, 0.0):.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 2 * 3600.0 else f"{seconds / 3600.0:.1f} h"
