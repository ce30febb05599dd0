"""Reads the commands of README's chapter "Install on the Pi", so that they are tried as they stand there."""

import re
from pathlib import Path
from typing import Final

from tests.rig.guest_tools import REPOSITORY

CHAPTER: Final = "Install on the Pi"
ADDRESS: Final = "ADDRESS"


def chapter(readme: Path = REPOSITORY / "README.md") -> str:
    """Return the chapter's text, without its heading."""
    _, found, rest = readme.read_text(encoding="utf-8").partition(f"\n## {CHAPTER}\n")
    if not found:
        raise ValueError(f"{readme}: no chapter {CHAPTER!r}")
    return rest.partition("\n## ")[0]


def commands(part: str = "", readme: Path = REPOSITORY / "README.md") -> list[str]:
    """Return the shell blocks of one part of the chapter, in order; "" is what stands before its first sub-heading."""
    parts = re.split(r"^### (.+)$", chapter(readme), flags=re.MULTILINE)
    texts = {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}
    if part not in texts:
        raise ValueError(f"{readme}: no part {part!r} in chapter {CHAPTER!r}")
    return re.findall(r"^```sh\n(.*?)^```$", texts[part], flags=re.MULTILINE | re.DOTALL)
