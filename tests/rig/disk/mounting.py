"""Real disks for the records: an ext4 that the kernel mounts, from a file, or over a disk that logs its writes.

The logging disk is nbdkit's, shown as a file by nbdfuse and mounted through a loop device: the kernel of the machine
need not know network block devices. It needs root, and from Debian: nbdkit nbdkit-plugin-python libnbd-bin fuse3
e2fsprogs mount.
"""

import shutil
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

PLUGIN: Final = Path(__file__).with_name("logging_plugin.py")
SIZE_BYTES: Final = 24 << 20
BLOCK_BYTES: Final = 4096
PROGRAMS: Final = ("nbdkit", "nbdfuse", "fusermount3", "mke2fs", "mount", "umount")
OPTIONS: Final = {"default": "noatime", "noauto_da_alloc": "noatime,noauto_da_alloc"}
"""How the disk is mounted: as Raspberry Pi OS does it (from memory), and without ext4's help for those who do not force
what they rename (ext4(5): auto_da_alloc)."""
PATIENCE_S: Final = 20.0


def why_not() -> str:
    """Return why no disk can be mounted here; empty where it can be."""
    missing = [name for name in PROGRAMS if shutil.which(name) is None]
    if missing:
        return f"{', '.join(missing)} not here (apt-get install nbdkit nbdkit-plugin-python libnbd-bin fuse3 e2fsprogs)"
    try:
        with TemporaryDirectory(dir=memory_dir()) as folder, logged_disk(Path(folder), new_image(), "default"):
            return ""
    except (OSError, subprocess.SubprocessError) as error:
        said = getattr(error, "stderr", b"") or b""
        return f"nothing can be mounted here: {error} {said.decode(errors='replace').strip()}"


def memory_dir() -> str | None:
    """Return a folder in memory, where there is one: the images are written hundreds of times."""
    return "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108 - a folder of its own is made in it


def new_image() -> bytes:
    """Return an empty ext4 as Debian makes it, but with all its tables written: nothing writes in the background."""
    with TemporaryDirectory(dir=memory_dir()) as folder:
        image = Path(folder) / "image"
        with image.open("wb") as file:
            file.truncate(SIZE_BYTES)
        extended = "lazy_itable_init=0,lazy_journal_init=0,nodiscard,root_owner=0:0"
        words = ["mke2fs", "-q", "-t", "ext4", "-b", str(BLOCK_BYTES), "-E", extended, str(image)]
        subprocess.run(words, check=True, capture_output=True)
        return image.read_bytes()


@contextmanager
def mounted(image: Path, options: str, place: Path) -> Iterator[Path]:
    """Mount an image here, as the kernel does it: with the journal replayed where there is something in it."""
    place.mkdir(exist_ok=True)
    words = ["mount", "-t", "ext4", "-o", f"loop,{OPTIONS[options]}", str(image), str(place)]
    subprocess.run(words, check=True, capture_output=True)
    try:
        yield place
    finally:
        if subprocess.run(["umount", str(place)], check=False, capture_output=True).returncode:
            subprocess.run(
                ["umount", "--lazy", str(place)], check=True, capture_output=True
            )  # Something is open there.


@contextmanager
def logged_disk(folder: Path, base: bytes, options: str) -> Iterator[tuple[Path, Path]]:
    """Mount a disk that begins with these bytes and logs what is written: yield its folder and its log.

    Args:
        folder: an empty folder for what is needed meanwhile.
        base: the image with which it begins.
        options: how it is mounted, a key of `OPTIONS`.
    """
    image, log, address, shown = folder / "base", folder / "log", folder / "nbd", folder / "shown"
    image.write_bytes(base)
    shown.mkdir()
    served = ["nbdkit", "--foreground", "--unix", str(address), "python", str(PLUGIN), f"base={image}", f"log={log}"]
    running = [subprocess.Popen(served, stderr=subprocess.DEVNULL)]
    try:
        _wait_for(address, running)
        file = shown / "disk"
        running.append(subprocess.Popen(["nbdfuse", str(file), "--unix", str(address)], stderr=subprocess.DEVNULL))
        _wait_for(file, running)
        with mounted(file, options, folder / "mounted") as place:
            yield place, log
    finally:
        subprocess.run(["fusermount3", "-u", str(shown)], check=False, capture_output=True)
        for process in reversed(running):
            process.terminate()
            process.wait(PATIENCE_S)


def _wait_for(path: Path, running: Sequence["subprocess.Popen[bytes]"]) -> None:
    ends_s = time.monotonic() + PATIENCE_S
    while not path.exists():
        if time.monotonic() > ends_s or any(process.poll() is not None for process in running):
            raise OSError(f"{path} did not come: {[process.args for process in running]}")
        time.sleep(0.01)
