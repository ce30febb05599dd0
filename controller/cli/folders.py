"""Find the folder of the batch that a person means: by its path, by the batch's name, or the only one there is."""

import os
from pathlib import Path

from controller.cli.asking import find_desk
from controller.errors import AccessError, NoInputError, UsageError
from controller.records.asking import who_may
from controller.records.batch_folder import CARD, batches_of
from controller.settings.shipped import ENVIRONMENT


def find_folder(batch: str, chamber: Path | None, verb: str) -> Path:
    """Return the folder of a batch.

    Args:
        batch: a folder, or the name of a batch of the chamber; empty for the only one.
        chamber: as it was typed, or None.
        verb: who asks, for the message.

    Raises:
        NoInputError: there is no such batch or folder, or a folder without a batch card.
        AccessError: the batches may not be read.
        UsageError: there are several, and nobody said which.
    """
    if batch and ("/" in batch or Path(batch).exists()):
        return _with_card(Path(batch))
    home = _home(batch, chamber, verb)
    there = names_in(home)
    if batch:
        if batch not in there:
            raise NoInputError(
                f"{batch}: is no batch of this chamber; there are {', '.join(there) or 'none'}. A folder goes too."
            )
        return _with_card(home / batch)
    if not there:
        raise NoInputError(f"{home}: holds no batch yet; name a batch or its folder.")
    if len(there) > 1:
        raise UsageError(f"which batch? There are {', '.join(there)}.\nSay: hangroom {verb} BATCH")
    return home / there[0]


def _home(batch: str, chamber: Path | None, verb: str) -> Path:
    """Return the folder of all batches of the chamber that is meant."""
    try:
        return batches_of(find_desk(chamber).state_dir)
    except NoInputError as error:
        if not batch or chamber is not None or os.environ.get(ENVIRONMENT):
            raise
        raise NoInputError(
            f"{batch}: is no folder here, and there is no chamber to look in for a batch of that name.\n"
            f"Name its folder, as hangroom {verb} runs/batches/{batch}, or the chamber: --chamber FILE"
        ) from error


def names_in(home: Path) -> list[str]:
    """Return the names of the batches, in order. Raises AccessError where they may not be read."""
    try:
        return sorted(path.name for path in home.iterdir() if (path / CARD).is_file())
    except (FileNotFoundError, NotADirectoryError):
        return []
    except PermissionError as error:
        raise AccessError(f"{home}: you may not read it; {who_may(home)}") from error


def _with_card(folder: Path) -> Path:
    try:
        there, whole = folder.is_dir(), (folder / CARD).is_file()
    except PermissionError as error:
        raise AccessError(f"{folder}: you may not read it; {who_may(folder)}") from error
    if folder.is_file():
        raise NoInputError(
            f"{folder}: is a file. Name the batch folder it lies in; a CSV of another logger goes with\n"
            "hangroom review FILE --columns MAP"
        )
    if not there:
        raise NoInputError(f"{folder}: there is no such folder; name a batch folder, as batches/2026-01-05-tangy-1")
    if not whole:
        raise NoInputError(f"{folder / CARD}: there is no batch card; a batch folder holds one.")
    return folder
