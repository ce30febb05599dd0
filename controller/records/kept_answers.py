"""What was answered in an interview, kept beside the file that will come of it, so that nothing is typed twice."""

from pathlib import Path
from typing import Final

import msgspec

from controller.errors import AccessError, StorageError
from controller.records.durable import replace_whole

SUFFIX: Final = ".answers.json"
LARGEST: Final = 100_000


class Kept(msgspec.Struct, frozen=True):
    """Hold the answers as they were typed, by key, and on which day."""

    day: str
    answers: dict[str, str]


def answers_beside(path: Path) -> Path:
    """Return the file of the answers that belong to this one."""
    return path.with_name(path.name + SUFFIX)


def read_answers(path: Path) -> Kept | None:
    """Return what was kept; None where there is nothing, or nothing that can be understood."""
    try:
        with path.open("rb") as file:
            return msgspec.json.decode(file.read(LARGEST), type=Kept)
    except (OSError, msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None


def keep_answers(path: Path, kept: Kept) -> None:
    """Keep the answers, whole or not at all. Raises AccessError, StorageError."""
    try:
        replace_whole(path, msgspec.json.format(msgspec.json.encode(kept)) + b"\n", force=True, keep_previous=False)
    except StorageError as error:
        if isinstance(error.__cause__, PermissionError):
            raise AccessError(
                f"{path.parent}: this user may not write there. With sudo, or another place: --out FILE"
            ) from error
        raise


def put_in_place(path: Path, text: str) -> Path | None:
    """Write a file, whole or not at all; return where the one that was there before is kept now, or None.

    Raises:
        StorageError: it could not be written; the old one is where it was.
    """
    old = None
    if path.exists():
        old = _free_name(path)
        try:
            replace_whole(old, path.read_bytes(), force=True, keep_previous=False)
        except OSError as error:
            raise StorageError(f"{path}: the old file could not be kept, so nothing was written: {error}") from error
    replace_whole(path, text.encode(), force=True, keep_previous=False)
    return old


def _free_name(path: Path) -> Path:
    """Return a name beside this file that nobody has yet: NAME.before-1 and so on."""
    number = 1
    while (old := path.with_name(f"{path.name}.before-{number}")).exists():
        number += 1
    return old
