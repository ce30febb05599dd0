"""Write rows of CSV as RFC 4180 has them: UTF-8, CRLF, decimal point, empty for missing, one line a row."""

import csv
import io
from collections.abc import Sequence
from datetime import UTC, datetime

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
