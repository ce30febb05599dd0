"""Stand beside the records ring and note what it begins to write, and what it says is on disk.

What the program promises is taken from where it promises: `AppendFile.append` and `WholeFile.replace` have returned, a
request has been posted. Whoever judges a disk afterwards asks for exactly that, and for nothing that was only tried.
"""
# ruff: noqa: ANN401 - the wrappers take what those they stand for take

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Literal

from msgspec import Struct

from controller.records.durable import AppendFile, WholeFile

What = Literal["row-tried", "row", "row-refused", "whole-tried", "whole", "whole-refused", "posted", "fetched"]
UNFORCED: Final = frozenset({"status.json"})


class Noted(Struct, frozen=True):
    """Hold one thing that was begun, promised or refused: the file below the state folder, and the bytes."""

    what: What
    name: str
    data: bytes


@contextmanager
def witnessed(state_dir: Path, note: Callable[[Noted], None]) -> Iterator[None]:
    """Note all that is appended and replaced below this folder while the block lasts."""
    append, replace = AppendFile.append, WholeFile.replace

    def name_of(path: Path) -> str:
        return str(path.relative_to(state_dir)) if path.is_relative_to(state_dir) else ""

    def appended(self: Any, row: bytes) -> None:
        _watched(note, "row", name_of(self.path), row, lambda: append(self, row))

    def replaced(self: Any, data: bytes) -> None:
        name = name_of(self.path)
        if name in UNFORCED:
            replace(self, data)
        else:
            _watched(note, "whole", name, data, lambda: replace(self, data))

    try:
        AppendFile.append = appended  # type: ignore[method-assign]
        WholeFile.replace = replaced  # type: ignore[method-assign]
        yield
    finally:
        AppendFile.append = append  # type: ignore[method-assign]
        WholeFile.replace = replace  # type: ignore[method-assign]


def _watched(
    note: Callable[[Noted], None], what: Literal["row", "whole"], name: str, data: bytes, do: Callable[[], None]
) -> None:
    tried: What = "row-tried" if what == "row" else "whole-tried"
    refused: What = "row-refused" if what == "row" else "whole-refused"
    note(Noted(tried, name, data))
    try:
        do()
    except OSError:
        note(Noted(refused, name, data))
        raise
    note(Noted(what, name, data))
