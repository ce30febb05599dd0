"""Installs the program in the guest as the README tells a maker, by the commands that stand there.

What cannot be as on a Pi: the guest has no network, so pip's own configuration points to a folder with wheels that was
filled on the host, the packages of the first line are in the image already, and ADDRESS is a repository on a second
disk. The answers that a maker writes into the chamber file are written by `describe_chamber`.
"""

import json
import os
import shutil
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Final

from tests.rig.chapter import chapter
from tests.rig.guest import Guest
from tests.rig.guest_image import base, quick_base
from tests.rig.guest_maker import go_through_chapter
from tests.rig.guest_tools import HERE, REPOSITORY, building, cache, forget_older, key_of, run

SHIPPED: Final = ("controller", "profiles", "systemd", "pyproject.toml", "LICENSE", "README.md")
SHARE_MB: Final = 600
GUESTS_PYTHON: Final = "3.11"


def wheels() -> Path:
    """Return a folder with the wheels of everything the program needs, filled through pip's own configuration."""
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*project["project"]["dependencies"], *project["build-system"]["requires"], "wheel"]
    folder = cache() / f"wheels-{key_of(*wanted)}"
    if not folder.is_dir():
        with building(folder) as work:
            pip = [
                sys.executable,
                "-m",
                "pip",
                "download",
                "-q",
                "--only-binary=:all:",
                "--python-version",
                GUESTS_PYTHON,
            ]
            run([*pip, "-d", work, *wanted])
        forget_older("wheels", folder)
    return folder


def shipped_files() -> list[Path]:
    """Return the files of the repository that a maker's clone needs, as they are in the working tree."""
    said = run(["git", "ls-files", "-co", "--exclude-standard", "--", *SHIPPED], cwd=REPOSITORY)
    return [REPOSITORY / line for line in sorted(said.splitlines()) if (REPOSITORY / line).is_file()]


def share(change: Callable[[Path], None] | None = None) -> Path:
    """Return the image of the second disk: a repository to clone, the wheels, and what runs the guest for us.

    Args:
        change: makes the next commit in the clone whose folder it gets; it is what an upgrade brings.
    """
    contents = [str(path.relative_to(REPOSITORY)).encode() + path.read_bytes() for path in shipped_files()]
    what = change.__name__ if change else ""
    folder = cache() / f"share{what}-{key_of(wheels().name, HERE / 'in_guest', Path(__file__), *contents)}"
    if not folder.is_dir():
        with building(folder) as work:
            tree, clone = work / "share", work / "clone"
            shutil.copytree(wheels(), tree / "wheels")
            shutil.copytree(HERE / "in_guest", tree / "rig", ignore=shutil.ignore_patterns("__pycache__"))
            for file in shipped_files():
                target = clone / file.relative_to(REPOSITORY)
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(file, target)
            commit(clone, "What is installed first")
            if change is not None:
                change(clone)
                commit(clone, "What an upgrade brings")
            run(["git", "clone", "-q", "--bare", clone, tree / "hangroom.git"])
            run(["chown", "-R", "1000:1000", tree])  # git refuses to serve what belongs to somebody else.
            image = work / "share.img"
            with image.open("wb") as empty:
                empty.truncate(SHARE_MB << 20)
            run(["mke2fs", "-q", "-t", "ext4", "-m", "0", "-d", tree, image])
            shutil.rmtree(tree)
            shutil.rmtree(clone)
        forget_older(f"share{what}", folder)
    return folder / "share.img"


def commit(clone: Path, message: str) -> None:
    """Commit all there is; the same files and message give the same commit, so that an upgrade goes forward from it."""
    git = ["git", "-C", str(clone), "-c", "user.name=rig", "-c", "user.email=rig@localhost"]
    date = "--date=2026-01-05T06:00:00Z"
    run([*git, "init", "-q", "-b", "main"])
    run([*git, "add", "-A", "-f"])
    run(["env", "GIT_COMMITTER_DATE=2026-01-05T06:00:00Z", *git, "commit", "-q", date, "-m", message])


def installed(say: Callable[[str], None] = print) -> Path:
    """Return the folder with `disk.qcow2`, on which the chapter has been gone through; do it where it is not kept.

    Beside it is `log.txt` with every command and what it printed. $HANGROOM_RIG_AS_IS takes what was installed last,
    whatever has changed since then: for writing stories.
    """
    if os.environ.get("HANGROOM_RIG_AS_IS"):
        return max(
            (*cache().glob("installed-*/"), *cache().glob("quickly-*/")),
            key=lambda kept: (kept.suffix != ".half", kept.stat().st_mtime),
        )
    below = machine()
    contents = [str(path.relative_to(REPOSITORY)).encode() + path.read_bytes() for path in shipped_files()]
    inputs = [part for part in contents if not part.startswith(b"README.md")]
    key = key_of(below.name, wheels().name, chapter(), HERE / "chapter.py", HERE / "guest_maker.py", *inputs)
    name = "quickly" if is_quick() else "installed"
    folder = cache() / f"{name}-{key}"
    if not (folder / "disk.qcow2").exists():
        with building(folder) as work:
            disk = new_disk(below / "disk.qcow2", work / "disk.qcow2")
            with Guest(disk, below, share=share()) as guest:
                log = go_through_chapter(guest.wait_up(), say)
                (work / "log.txt").write_text(log, encoding="utf-8")
                guest.power_off()
        forget_older(name, folder)
    return folder


def machine() -> Path:
    """Return the folder with kernel and disk on which the chapter is gone through."""
    if os.environ.get("HANGROOM_RIG_AS_IS"):
        said = run(["qemu-img", "info", "--output=json", installed() / "disk.qcow2"])
        return Path(json.loads(said)["backing-filename"]).parent
    return quick_base(wheels()) if is_quick() else base()


def is_quick() -> bool:
    """Say whether time is short: $HANGROOM_RIG_QUICK, see `quick_base`."""
    return bool(os.environ.get("HANGROOM_RIG_QUICK"))


def new_disk(below: Path, path: Path) -> Path:
    """Make a disk that holds what is written from now on, over one that stays as it is."""
    run(["qemu-img", "create", "-q", "-f", "qcow2", "-b", below, "-F", "qcow2", path])
    return path
