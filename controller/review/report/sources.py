"""Name every file that a report was made from, with the SHA-256 of its bytes, so that another can be told from it."""

import hashlib
from pathlib import Path
from typing import Final

from msgspec import Struct

from controller.errors import DataError
from controller.records.batch_folder import BATCHES
from controller.records.instruments import FILE as CHECKS_FILE

PIECE_BYTES: Final = 1 << 20


class Source(Struct, frozen=True):
    """Hold one file: its name as seen from the folder, how many bytes it had, the sum of these."""

    name: str
    bytes: int
    sha256: str


def sources_of(folder: Path, without: Path | None = None) -> list[Source]:
    """Return the files of a batch folder by their names, and the chamber's checks where they lie beside it.

    A file of a batch that still runs grows on: the sum is that of its first so many bytes.

    Args:
        folder: of the batch.
        without: a file that is no source, as the report itself. Pages (.html) are none either.

    Raises:
        DataError: a file cannot be read.
    """
    resolved = None if without is None else without.resolve()
    paths = [
        path
        for path in sorted(folder.iterdir())
        if path.is_file() and path.suffix != ".html" and path.resolve() != resolved and not path.name.startswith(".")
    ]
    found = [_source(path.name, path) for path in paths]
    checks = folder.resolve().parent.parent / CHECKS_FILE
    if folder.resolve().parent.name == BATCHES and checks.is_file():
        found.append(_source(f"../../{CHECKS_FILE}", checks))
    return found


def _source(name: str, path: Path) -> Source:
    total, read = hashlib.sha256(), 0
    try:
        with path.open("rb") as file:
            while piece := file.read(PIECE_BYTES):
                total.update(piece)
                read += len(piece)
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror or error}") from error
    return Source(name, read, total.hexdigest())
