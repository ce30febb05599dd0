"""What is wrong with a file, said so that a person can put it right: file, key, value, and what would be right.

All problems of a file are told at once, one line each. What only follows from another problem is left out: of one key
only the first problem is kept.
"""

import datetime as dt
from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from typing import Any, Final

import msgspec
from msgspec import Struct

from controller.errors import SettingsError

DOUBLE_CURLY: Final = "\u201c\u201d\u201e\u201f"
CURLY: Final = f"{DOUBLE_CURLY}\u2018\u2019\u201a"
"""Quotes as a word processor makes them; no shell knows them, and no TOML."""
MOST: Final = 40
"""More lines than this nobody reads."""


class Problem(Struct, frozen=True):
    """Name one thing that is wrong. `value` is what stands in the file, as it is written there; empty: nothing does."""

    file: str
    key: str
    value: str
    remedy: str

    def __str__(self) -> str:
        """Return the one line that a person reads."""
        shown = f"{self.key} = {self.value}" if self.value else self.key
        return f"{self.file}: {shown}: {self.remedy}"


class Problems:
    """Gather the problems of one file; of each key only the first."""

    def __init__(self) -> None:
        """Begin with none."""
        self._by_key: dict[str, Problem] = {}

    def add(self, problem: Problem) -> None:
        """Take one more, unless its key has one already."""
        self._by_key.setdefault(problem.key, problem)

    def __iter__(self) -> Iterator[Problem]:
        """Yield them in the order in which they were found."""
        return iter(self._by_key.values())

    def of(self, key: str) -> bool:
        """Say whether this key, or anything inside it, has a problem."""
        return any(known == key or known.startswith((f"{key}.", f"{key}[")) for known in self._by_key)

    def raise_all(self) -> None:
        """Raise SettingsError with one line for each problem, if there is any."""
        raise_problems(self)


def raise_problems(problems: Iterable[Problem]) -> None:
    """Raise SettingsError with one line for each problem, if there is any."""
    lines = [str(problem) for problem in problems]
    more = len(lines) - MOST
    if more > 0:
        lines[MOST:] = [f"{more} more problems are not shown; put these right first."]
    if lines:
        raise SettingsError("\n".join(lines))


def written(value: Any) -> str:  # noqa: ANN401 - whatever TOML may hold
    """Return a value as it is written in TOML, cut to a length that fits a line."""
    match value:
        case bool():
            text = str(value).lower()
        case dt.date() | dt.time():
            text = value.isoformat()
        case dict():
            text = "{…}"
        case list() | tuple():
            text = f"[{', '.join(written(item) for item in value)}]"
        case float():
            text = repr(value)
        case _:
            text = _on_one_line(msgspec.json.encode(value).decode())
    longest = 60
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def _on_one_line(text: str) -> str:
    """Return a text with whatever no screen shows written as its number."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in text)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that was most likely meant, or None."""
    words, shortest = list(known), 4
    begun = [one for one in words if len(word) >= shortest and one.startswith(word.lower())]
    found = begun or get_close_matches(word.lower(), words, n=1, cutoff=0.6)
    return found[0] if found else None


def listed(words: Iterable[str]) -> str:
    """Return words as a person lists them: `"a", "b" or "c"`."""
    quoted = [f'"{word}"' for word in words]
    return " or ".join(filter(None, (", ".join(quoted[:-1]), *quoted[-1:])))
