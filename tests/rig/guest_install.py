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
from tests.rig.guest_image import base, kept, quick_base
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


def share() -> Path:
    """Return the image of the second disk: a repository to clone, the wheels, and what runs the guest for us."""
    contents = [str(path.relative_to(REPOSITORY)).encode() + path.read_bytes() for path in shipped_files()]
    key = key_of(wheels().name, HERE / "in_guest", Path(__file__), *contents)
    return kept("share", key, lambda work: make_share(work, copy_tree)) / "share.img"


def upgraded_share(change: Callable[[Path], None]) -> Path:
    """Return another second disk: its repository goes one commit further than the one that was installed from.

    Args:
        change: makes that commit's change in the clone whose folder it gets.
    """
    first = installed()

    def go_on(clone: Path) -> None:
        run(["git", "clone", "-q", first / "repository.git", clone])
        change(clone)

    key = key_of(first.name, HERE / "in_guest", Path(__file__))
    return kept("upgrade", key, lambda work: make_share(work, go_on)) / "share.img"


def make_share(work: Path, fill: Callable[[Path], object]) -> None:
    """Make the image, out of a clone that `fill` fills; keep its repository beside it."""
    tree, clone = work / "share", work / "clone"
    shutil.copytree(wheels(), tree / "wheels")
    shutil.copytree(HERE / "in_guest", tree / "rig", ignore=shutil.ignore_patterns("__pycache__"))
    fill(clone)
    git = ["git", "-C", str(clone), "-c", "user.name=rig", "-c", "user.email=rig@localhost"]
    run([*git, "init", "-q", "-b", "main"])
    run([*git, "add", "-A", "-f"])
    run([*git, "commit", "-q", "-m", "What is in the working tree"])
    run(["git", "clone", "-q", "--bare", clone, work / "repository.git"])
    shutil.copytree(work / "repository.git", tree / "hangroom.git")
    run(["chown", "-R", "1000:1000", tree])  # git refuses to serve what belongs to somebody else.
    image = work / "share.img"
    with image.open("wb") as empty:
        empty.truncate(SHARE_MB << 20)
    run(["mke2fs", "-q", "-t", "ext4", "-m", "0", "-d", tree, image])
    shutil.rmtree(tree)
    shutil.rmtree(clone)


def copy_tree(clone: Path) -> None:
    """Copy what is shipped from the working tree."""
    for file in shipped_files():
        target = clone / file.relative_to(REPOSITORY)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(file, target)


def installed(say: Callable[[str], None] = print) -> Path:
    """Return the folder with `disk.qcow2`, on which the chapter has been gone through; do it where it is not kept.

    Beside it is `log.txt` with every command and what it printed. $HANGROOM_RIG_AS_IS takes what was installed last,
    whatever has changed since then: for writing stories.
    """
    if os.environ.get("HANGROOM_RIG_AS_IS"):
        return max(
            (*cache().glob("installed-*/"), *cache().glob("quickly-*/")),
            key=lambda folder: (folder.suffix != ".half", folder.stat().st_mtime),
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
            second = share()
            shutil.copytree(second.parent / "repository.git", work / "repository.git")
            with Guest(disk, below, share=second) as guest:
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
