"""Write rows of CSV as RFC 4180 has them: UTF-8, CRLF, decimal point, empty for missing, one line a row; read them."""

import csv
import io
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from controller.errors import AccessError, DataError

Entry = TypeVar("Entry")

ONE_LINE = str.maketrans(dict.fromkeys("\r\n\0\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029", " "))
"""A row stays one line whatever a person types, so that a torn line can be told from a whole one."""


def printable(text: str) -> str:
    """Return a text with a blank for every kind of space, and "?" for what no screen shows or takes for a command."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else " " if sign.isspace() else "?" for sign in text)


def row_of(values: Sequence[str]) -> bytes:
    """Return one row, line end included."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerow([value.translate(ONE_LINE) for value in values])
    return text.getvalue().encode("utf-8", "replace")


def time_text(wall_s: float) -> str:
    """Return an instant as RFC 3339 in UTC, to the second: 2026-01-05T06:00:00Z."""
    return datetime.fromtimestamp(wall_s // 1, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def day_text(wall_s: float) -> str:
    """Return the UTC day of an instant: 2026-01-05."""
    return datetime.fromtimestamp(wall_s // 1, UTC).strftime("%Y-%m-%d")


def read_rows(path: Path, entry_of: Callable[[dict[str, str]], Entry]) -> list[Entry]:
    """Return all rows of a file that can be read, in its order; none where there is no file yet.

    A line that cannot be read, as one that is just being written, is left out.

    Args:
        path: a file that begins with its header.
        entry_of: makes an entry of a row, by column; raises ValueError where it is none.

    Raises:
        AccessError: it may not be read.
        DataError: the disk does not give it.
    """
    try:
        text = path.read_text("utf-8", errors="replace")
    except (FileNotFoundError, NotADirectoryError):
        return []
    except PermissionError as error:
        raise AccessError(f"{path}: you may not read it; the group of its folder may.") from error
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror or error}") from error
    header, *lines = text[: text.rfind("\n") + 1].splitlines() or [""]
    found: list[Entry] = []
    for line in lines:
        try:
            found.extend(entry_of(row) for row in csv.DictReader([header, printable(line)]))
        except (KeyError, ValueError, TypeError, AttributeError, csv.Error):
            continue
    return found
