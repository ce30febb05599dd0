"""Tell which rows stand in a file already, so that none is appended twice.

A request lies in the box until its answer is durable. Where the program is killed between the row and the checkpoint,
the next run does the request once more, and would append the row once more.
"""

import csv
import os
from collections.abc import Sequence
from pathlib import Path

from controller.records.durable import TAIL_BYTES

Key = tuple[str, ...]


def keys_in(path: Path, columns: Sequence[int]) -> set[Key]:
    """Return the keys of the newest rows of a file: what stands in these columns, counted from 0.

    Looks at the last 64 KB: what a run wrote and could not remember are the last rows that it wrote.

    Raises:
        OSError: the file is there and cannot be read.
    """
    try:
        with path.open("rb") as file:
            begin = max(file.seek(0, os.SEEK_END) - TAIL_BYTES, 0)
            file.seek(begin)
            lines = file.read().split(b"\n")
    except FileNotFoundError:
        return set()
    return {key for line in lines if (key := key_of(line, columns))}


def is_told(path: Path, row: bytes, columns: Sequence[int], since: str) -> bool:
    """Say whether a row stands in a diary since an instant, whatever time stands before it.

    Args:
        path: the diary; its first column is the time.
        row: the row that is to be appended.
        columns: what makes it the same row.
        since: an instant as the diary writes it; an older row is of something else.

    Raises:
        OSError: the file is there and cannot be read.
    """
    wanted = key_of(row, columns)
    return any(key[1:] == wanted and key[0] >= since for key in keys_in(path, (0, *columns)))


def key_of(row: bytes, columns: Sequence[int]) -> Key:
    """Return what stands in these columns of a row; empty where it is no whole row."""
    try:
        fields = next(csv.reader([row.decode("utf-8", "replace").rstrip("\r\n")]), [])
    except csv.Error:
        return ()
    return tuple(fields[place] for place in columns) if len(fields) > max(columns) else ()
