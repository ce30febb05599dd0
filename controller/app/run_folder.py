"""The folder of a simulated run: one run in it at a time, and no batch of an earlier one dropped without a word."""

from pathlib import Path
from typing import Final

from controller.errors import AccessError, DataError, UnavailableError
from controller.hardware.single import OnlyCopy
from controller.records.status import BatchStatus, read_status
from controller.records.time_box import FOLDER as BY_HAND

TAKEN: Final = (
    "a simulation already runs in this folder ({holder}); nothing was changed.\n"
    "End that one (Ctrl-C where it runs), or name another folder: --out DIR"
)
DENIED: Final = "this user may not write it; name another folder: --out DIR"


def take_folder(out: Path, *, by_person: bool, anew: bool) -> OnlyCopy:
    """Return the lock of the folder, which holds as long as it is open.

    What a modelled maker led can be had again by typing the same line; what a person led by hand cannot.

    Args:
        out: the folder; it is made where it is not there.
        by_person: whether a person leads the run that is to begin.
        anew: whether a batch that an earlier run left open may be dropped.

    Raises:
        UnavailableError: another run has the folder.
        DataError: an earlier run left a batch open there, and nobody said that it may be dropped.
        AccessError, StorageError: the folder is not to be had.
    """
    lock = OnlyCopy(out, taken=TAKEN, denied=DENIED)
    left = _left_open(out) if by_person or (out / BY_HAND).is_dir() else None
    if left is not None and not anew:
        lock.close()
        raise DataError(
            f"{out}: an earlier simulation left the batch {left.id} here, in its stage {left.stage}. It cannot be gone "
            "on with: the modelled meat is gone.\n"
            "Name another folder (--out DIR), or let it lie as it is and begin anew here: --anew"
        )
    return lock


def _left_open(out: Path) -> BatchStatus | None:
    """Return the batch that was not at its end when the last run here ended; None where there is none."""
    try:
        batches = read_status(out).batches
    except (UnavailableError, AccessError, DataError):  # Never written, or of no use to anybody.
        return None
    return next((batch for batch in batches if batch.state != "complete"), None)
