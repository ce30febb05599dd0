"""What guests are built with: Debian's packages, a cache keyed by what went in, commands that tell why they fail."""

import fcntl
import hashlib
import os
import shutil
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

REPOSITORY: Final = Path(__file__).parents[2]
HERE: Final = Path(__file__).parent

TOOLS: Final = {
    "qemu-system-x86_64": "qemu-system-x86",
    "qemu-img": "qemu-utils",
    "mmdebstrap": "mmdebstrap",
    "mke2fs": "e2fsprogs",
    "cpio": "cpio",
    "depmod": "kmod",
    "xz": "xz-utils",
    "gcc-12": "gcc-12",
    "make": "make",
    "git": "git",
}
"""A command that is needed, and Debian's package it comes in."""
FILES: Final = {"/usr/share/seabios/bios-256k.bin": "seabios", "/bin/busybox": "busybox-static"}


OLD_S: Final = 86_400.0  # Another run may still have it open.


class CannotBuildError(Exception):
    """Say why there can be no guest here, and what would change that."""


def cache() -> Path:
    """Return the folder in which what was built is kept: $HANGROOM_RIG, else ~/.cache/hangroom-rig."""
    folder = Path(os.environ.get("HANGROOM_RIG") or Path.home() / ".cache/hangroom-rig")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def key_of(*parts: str | bytes | Path) -> str:
    """Return a short key of texts and of files with their names; a folder stands for all files in it."""
    summed = hashlib.sha256()
    for part in parts:
        if isinstance(part, Path):
            for path in sorted(part.rglob("*")) if part.is_dir() else [part]:
                if path.is_file() and "__pycache__" not in path.parts:
                    summed.update(str(path.relative_to(part.parent)).encode() + b"\0" + path.read_bytes())
        else:
            summed.update(part.encode() if isinstance(part, str) else part)
        summed.update(b"\0")
    return summed.hexdigest()[:16]


def run(command: Sequence[str | Path], *, cwd: Path | None = None, timeout_s: float = 900.0) -> str:
    """Run a command and return what it printed. Raises CannotBuildError with the end of it where it fails."""
    words = [str(word) for word in command]
    try:
        done = subprocess.run(words, cwd=cwd, capture_output=True, text=True, timeout=timeout_s, check=False)
    except FileNotFoundError as error:
        raise CannotBuildError(f"{words[0]}: not installed") from error
    except subprocess.TimeoutExpired as error:
        raise CannotBuildError(f"{' '.join(words)}: not over after {timeout_s:.0f} s") from error
    if done.returncode:
        told = "\n".join((done.stdout + done.stderr).splitlines()[-15:])
        raise CannotBuildError(f"{' '.join(words)}: exit {done.returncode}\n{told}")
    return done.stdout


def kernel_release() -> str:
    """Return the release of Debian's present kernel for amd64, as 6.1.0-56-amd64."""
    for line in run(["apt-cache", "depends", "linux-image-amd64"]).splitlines():
        if "Depends:" in line and "linux-image-" in line:
            return line.split("linux-image-")[1].strip().removesuffix("-unsigned")
    raise CannotBuildError("linux-image-amd64: apt knows no such package; apt-get update first (Debian 12 is needed)")


def missing_packages() -> list[str]:
    """Return the Debian packages without which no guest can be built; empty where all are there."""
    lacking = [package for command, package in TOOLS.items() if shutil.which(command) is None]
    lacking += [package for file, package in FILES.items() if not Path(file).exists()]
    release = kernel_release()
    if not Path(f"/usr/src/linux-headers-{release}").is_dir():
        lacking.append(f"linux-headers-{release}")
    if not Path("/usr/src/linux-source-6.1.tar.xz").exists():
        lacking.append("linux-source-6.1")
    return lacking


def why_never() -> str:
    """Return why no package could make a guest possible on this machine; an empty text where some could."""
    if os.geteuid() != 0:
        return "mmdebstrap is run as root here, and this is another user"
    if shutil.which("apt-cache") is None:
        return "no apt on this machine; the guest is made of Debian's packages"
    try:
        kernel_release()
    except CannotBuildError as error:
        return str(error)
    return ""


def why_no_guest() -> str:
    """Return why no guest can be built or run on this machine now; an empty text where one can."""
    if why_not := why_never():
        return why_not
    lacking = missing_packages()
    if lacking:
        return f"not installed: apt-get install -y --no-install-recommends {' '.join(lacking)}"
    return ""


@contextmanager
def building(folder: Path) -> Iterator[Path]:
    """Yield an empty folder that becomes `folder` when the block ends well; only one builds it at a time."""
    with (folder.parent / f"{folder.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        aside = folder.with_name(f"{folder.name}.half")
        shutil.rmtree(aside, ignore_errors=True)
        aside.mkdir()
        yield aside
        shutil.rmtree(folder, ignore_errors=True)
        aside.rename(folder)


def forget_older(prefix: str, keep: Path) -> None:
    """Remove what an earlier state of the repository has left under this prefix, a day ago or more."""
    for folder in cache().glob(f"{prefix}-*"):
        old = folder.is_dir() and time.time() - folder.stat().st_mtime > OLD_S
        if old and folder != keep and not folder.name.endswith(".half"):
            shutil.rmtree(folder, ignore_errors=True)
