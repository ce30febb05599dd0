"""Find a profile or a chamber file: the ones that travel with the program go by name, all others by path."""

import os
from pathlib import Path
from typing import Final, Literal

from controller.errors import NoInputError
from controller.settings.problems import listed, nearest

ETC: Final = "/etc/hangroom/chamber.toml"
ENVIRONMENT: Final = "HANGROOM_CHAMBER"
CHAMBER: Final = "chamber.toml"
"""In the folder of a simulated run: the chamber file it runs on."""


def shipped_folder(kind: Literal["profile", "chamber"]) -> Path:
    """Return the folder with the shipped files: in the installed package, else beside it in the checkout."""
    package = Path(__file__).parents[1]
    installed = package / "profiles"
    folder = installed if installed.is_dir() else package.parent / "profiles"
    return folder if kind == "profile" else folder / "chambers"


def shipped_names(kind: Literal["profile", "chamber"]) -> tuple[str, ...]:
    """Return the names of the shipped files, in alphabetical order."""
    return tuple(sorted(path.stem for path in shipped_folder(kind).glob("*.toml")))


def find(kind: Literal["profile", "chamber"], name_or_path: str | Path, said_by: str = "") -> Path:
    """Return the file of this name or path. A bare word that is no file here is the name of a shipped one.

    Args:
        kind: what it is.
        name_or_path: as it was typed.
        said_by: what said it, for the message, where nobody has typed it just now.

    Raises:
        NoInputError: there is neither; the message names those that are shipped.
    """
    path = Path(name_or_path).expanduser()
    if path.is_file():
        return path
    names = shipped_names(kind)
    bare = str(name_or_path).removesuffix(".toml")
    if bare in names:
        return shipped_folder(kind) / f"{bare}.toml"
    if path.is_dir():
        raise NoInputError(f"{path}: is a folder; name the file of the {kind}.")
    guess = nearest(bare, names)
    hint = f'Did you mean "{guess}"? ' if guess else ""
    here = "" if path.is_absolute() else f" in {Path.cwd()}"
    folder = " or folder of a simulation" if kind == "chamber" else ""
    raise NoInputError(
        f"{said_by}{name_or_path}: there is no such {kind} file{folder}{here}. {hint}"
        f"Shipped are {listed(names)}; others go by path, best by the whole one."
    )


def find_chamber(name_or_path: str | Path | None = None) -> Path:
    """Return a chamber file by name or path; without one $HANGROOM_CHAMBER, else /etc/hangroom/chamber.toml.

    Raises:
        NoInputError: there is no such file.
    """
    if name_or_path is not None:
        return find("chamber", name_or_path)
    named = os.environ.get(ENVIRONMENT)
    if named:
        return find("chamber", named, f"${ENVIRONMENT} = ")
    if not Path(ETC).is_file():
        raise NoInputError(f"{ETC}: there is no such file; name one with --chamber or ${ENVIRONMENT}.")
    return Path(ETC)


def find_profile(name_or_path: str | Path) -> Path:
    """Return a profile by name or path. Raises NoInputError where there is none."""
    return find("profile", name_or_path)
