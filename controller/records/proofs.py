"""The record of first light: which safety layer was seen to work, when and by whom. Appended, never rewritten."""

import os
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Final, Literal, cast, get_args

from msgspec import Struct

from controller.core.people.desk import LATEST_WALL_S
from controller.errors import AccessError, StorageError
from controller.records.csv_text import read_rows, row_of, time_text
from controller.records.durable import AppendFile

Outcome = Literal["yes", "no", "not done"]
COLUMNS: Final = ("time", "layer", "outcome", "temp_c", "actor", "note")
HEADER: Final = row_of(COLUMNS)
FILE: Final = "first-light.csv"
GROUP_WRITES: Final = 0o664


class Proof(Struct, frozen=True, kw_only=True):
    """Hold what one try of one layer showed.

    Attributes:
        wall_s: when.
        layer: which.
        outcome: whether what must happen was seen; "not done": nobody has tried.
        temp_c: at which temperature, where that was asked; by a thermometer of the maker's own.
        actor: who saw it.
        note: a remark.
    """

    wall_s: float
    layer: str
    outcome: Outcome
    actor: str
    temp_c: float | None = None
    note: str = ""


class Standing(Struct, frozen=True):
    """Hold how a layer stands: when it was last proven, and the last try, where that went wrong."""

    proven: Proof | None = None
    failed: Proof | None = None


def keep_proof(state_dir: Path, proof: Proof) -> None:
    """Append one row and have it on disk. Raises AccessError, StorageError."""
    path = state_dir / FILE
    temp = "" if proof.temp_c is None else f"{proof.temp_c:.1f}"
    row = row_of((time_text(proof.wall_s), proof.layer, proof.outcome, temp, proof.actor, proof.note))
    file = AppendFile(path, header=HEADER, force=True)
    try:
        file.append(row)
        _share(path, state_dir)
    except StorageError as error:
        if isinstance(error.__cause__, PermissionError):
            raise AccessError(
                f"{path}: this user may not write it; the group of its folder may, or use sudo."
            ) from error
        raise
    finally:
        file.close()


def _share(path: Path, folder: Path) -> None:
    """Let the file belong to whom the folder belongs, so that the next one need not be the superuser."""
    if os.geteuid() == 0:
        owner = folder.stat()
        os.chown(path, owner.st_uid, owner.st_gid)
        path.chmod(GROUP_WRITES)


def read_proofs(state_dir: Path) -> list[Proof]:
    """Return all rows that can be read, in their order; none where there is no file yet.

    Raises:
        AccessError: it may not be read.
        DataError: the disk does not give it.
    """
    return read_rows(state_dir / FILE, _proof_of)


def _proof_of(row: dict[str, str]) -> Proof:
    wall_s = datetime.strptime(row["time"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC).timestamp()
    temp_c = float(row["temp_c"]) if row["temp_c"] else None
    if row["outcome"] not in get_args(Outcome) or not 0.0 <= wall_s <= LATEST_WALL_S:
        raise ValueError(row)
    if temp_c is not None and not isfinite(temp_c):
        raise ValueError(temp_c)
    return Proof(
        wall_s=wall_s,
        layer=row["layer"],
        outcome=cast("Outcome", row["outcome"]),
        temp_c=temp_c,
        actor=row["actor"],
        note=row["note"],
    )


def standing_of(proofs: list[Proof], layer: str) -> Standing:
    """Return how a layer stands. What was not done tells nothing; the newest of the others decides."""
    tries = [proof for proof in proofs if proof.layer == layer and proof.outcome != "not done"]
    proven = [proof for proof in tries if proof.outcome == "yes"]
    failed = tries[-1] if tries and tries[-1].outcome == "no" else None
    return Standing(proven[-1] if proven else None, failed)
