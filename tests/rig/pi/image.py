"""Builds the Raspberry Pi guest: QEMU's board 3B, Debian's arm64 kernel with the real pinctrl-bcm2835, no systemd.

Debian 12's kernel package 6.12 has the switch `persist_gpio_outputs`, with which a released
output stays driven, as the Raspberry Pi's own kernels have it by default (raspberrypi/linux pull request 6150). User
space is put together by mmdebstrap through qemu-user; Python's packages are aarch64 wheels, fetched by pip with its
own configuration and unpacked. There is no network in the guest.
"""

import os
import shutil
import sys
import zipfile
from pathlib import Path
from typing import Final

from tests.rig.guest_image import kept
from tests.rig.guest_tools import HERE, REPOSITORY, cache, key_of, run

META: Final = "linux-image-6.12-arm64"
SOURCES: Final = "/etc/apt/sources.list.d/debian.sources"
REVISION: Final = "a02082"  # A 3B of 1 GB; the firmware puts it into the device tree of a real board.
DEVICE_TREE: Final = "bcm2837-rpi-3-b.dtb"
FOR_THE_DISK: Final = ("bcm2835", "sdhci-iproc", "mmc_block", "ext4")
MODULES: Final = ("w1-gpio", "w1_therm", "sht4x", "bcm2835_wdt")
INCLUDED: Final = "python3,gpiod,kmod,mount"
LIBRARIES: Final = (
    "APScheduler>=3.10,<4", "click>=8.1,<9", "msgspec>=0.19,<1", "rich>=13,<16", "simple-pid>=2.0.1,<3",
    "tomli-w>=1.0,<2", "tzdata", "gpiod>=2.1,<3", "gpiozero>=2.0.1,<3", "w1thermsensor>=2.3,<3",
)  # fmt: skip
"""What `hangroom run` and the verbs of a batch import; the libraries for sums are not among it."""
PLATFORMS: Final = ("manylinux2014_aarch64", "manylinux_2_17_aarch64", "manylinux_2_28_aarch64")
PYTHON: Final = (3, 11)
"""What Debian 12 has."""
SD_MB: Final = 512  # QEMU wants a power of two.
TOOLS: Final = {
    "qemu-system-aarch64": "qemu-system-arm",
    "qemu-aarch64-static": "qemu-user-static",
    "arch-test": "arch-test",
    "update-binfmts": "binfmt-support",
    "mmdebstrap": "mmdebstrap",
    "fdtput": "device-tree-compiler",
    "mke2fs": "e2fsprogs",
    "cpio": "cpio",
    "depmod": "kmod",
}

INIT: Final = """#!/bin/busybox sh
/bin/busybox mount -t proc proc /proc; /bin/busybox mount -t devtmpfs dev /dev; /bin/busybox mount -t sysfs s /sys
for m in /m/*; do /bin/busybox insmod $m 2>/dev/null; done
i=0; while [ ! -b /dev/mmcblk0 ] && [ $i -lt 200 ]; do /bin/busybox usleep 50000; i=$((i+1)); done
/bin/busybox mount -t ext4 -o noatime /dev/mmcblk0 /newroot || exec /bin/busybox sh
for f in proc sys dev; do /bin/busybox mount --move /$f /newroot/$f; done
exec /bin/busybox switch_root /newroot /opt/site/tests/rig/pi/in_guest/init.sh
"""


def why_no_pi() -> str:
    """Return why there can be no such guest here; empty where there can."""
    missing = sorted({package for tool, package in TOOLS.items() if shutil.which(tool) is None})
    if missing:
        return f"missing here: {' '.join(missing)} (apt-get install them)"
    return "" if os.geteuid() == 0 else "a guest is put together as root"


def pi_image() -> Path:
    """Return the folder with `Image`, `initrd`, `b.dtb` and `sd.img`; build it where it is not in the cache."""
    told = (
        META,
        REVISION,
        *FOR_THE_DISK,
        *MODULES,
        INCLUDED,
        *LIBRARIES,
        *PLATFORMS,
        INIT,
        "2",
    )  # Count up when made otherwise.
    base = kept("board", key_of(*told), make_base)
    inside = (HERE / "pi/in_guest", REPOSITORY / "controller", REPOSITORY / "profiles", REPOSITORY / "tests/data")
    return kept("pi", key_of(base.name, *inside), lambda work: make_card(base, work))


def make_base(work: Path) -> None:
    """Fetch kernel, user space and wheels."""
    _bind_binfmt()
    release = _unpack_kernel(work)
    _make_initramfs(release, work)
    root = work / "root"
    trims = [f"--dpkgopt=path-exclude=/usr/share/{name}/*" for name in ("man", "doc", "locale")]
    apt = ['--aptopt=Apt::Install-Recommends "false"', '--aptopt=Acquire::Languages "none"']
    kind = ["--mode=root", "--variant=apt", "--architectures=arm64", f"--include={INCLUDED}"]
    run(["mmdebstrap", "-q", *kind, *apt, *trims, "bookworm", root, SOURCES], timeout_s=1800.0)
    _put_modules(release, work, root)
    wheels = work / "wheels"
    words = [word for platform in PLATFORMS for word in ("--platform", platform)]
    pip = ["python3", "-m", "pip", "download", "-q", "--only-binary", ":all:", *words]
    run([*pip, "--python-version", "3.11", "--implementation", "cp", "-d", wheels, *LIBRARIES], cwd=REPOSITORY)
    for wheel in wheels.glob("*.whl"):
        zipfile.ZipFile(wheel).extractall(root / "opt/site")
    shutil.rmtree(work / "kernel")
    shutil.rmtree(wheels)


def _bind_binfmt() -> None:
    """Let this machine's kernel run arm64 programs through qemu-user."""
    if not Path("/proc/sys/fs/binfmt_misc/status").exists():
        run(["mount", "-t", "binfmt_misc", "binfmt_misc", "/proc/sys/fs/binfmt_misc"])
    if not Path("/proc/sys/fs/binfmt_misc/qemu-aarch64").exists():
        run(["update-binfmts", "--enable", "qemu-aarch64"])


def _unpack_kernel(work: Path) -> str:
    """Fetch Debian's kernel and busybox for arm64 with apt, unpack them; return the kernel's release."""
    state, archives, fetched = work / "apt/state", work / "apt/cache", work / "apt/fetched"
    for folder in (state / "lists/partial", archives / "archives/partial", fetched):
        folder.mkdir(parents=True)
    told = {
        "APT::Architecture": "arm64", "APT::Architectures": "arm64", "Dir::State": state, "Dir::Cache": archives,
        "Dir::State::status": "/dev/null", "Dir::Etc::sourcelist": SOURCES, "Dir::Etc::sourceparts": "/nonexistent",
        "APT::Sandbox::User": "root",
    }  # fmt: skip
    options = [word for key, value in told.items() for word in ("-o", f"{key}={value}")]
    run(["apt-get", "-qq", *options, "update"])
    lines = run(["apt-cache", *options, "depends", META]).splitlines()
    package = next(line.split("Depends:")[1].strip() for line in lines if "Depends:" in line)
    run(["apt-get", "-qq", *options, "download", package, "busybox-static"], cwd=fetched)
    for prefix, place in ((package, "kernel"), ("busybox-static", "busybox")):
        run(["dpkg-deb", "-x", next(fetched.glob(f"{prefix}_*.deb")), work / place])
    shutil.rmtree(work / "apt")
    release = package.removeprefix("linux-image-")
    kernel = work / "kernel"
    shutil.copy(kernel / f"boot/vmlinuz-{release}", work / "Image")
    shutil.copy(kernel / f"usr/lib/linux-image-{release}/broadcom/{DEVICE_TREE}", work / "b.dtb")
    run(["fdtput", "-p", "-t", "x", work / "b.dtb", "/system", "linux,revision", REVISION])
    run(["depmod", "-b", kernel, release])
    return release


def _modules_with(release: str, kernel: Path, names: tuple[str, ...]) -> list[Path]:
    """Return the files of these modules and of all they need, in the order of loading."""
    found: dict[Path, None] = {}
    for name in names:
        told = run(["modprobe", "-d", kernel, "-S", release, "--show-depends", name])
        found.update(dict.fromkeys(Path(line.split()[1]) for line in told.splitlines() if line.startswith("insmod")))
    return list(found)


def _make_initramfs(release: str, work: Path) -> None:
    inside = work / "initramfs"
    for name in ("bin", "dev", "proc", "sys", "newroot", "m"):
        (inside / name).mkdir(parents=True)
    shutil.copy(work / "busybox/bin/busybox", inside / "bin/busybox")
    for number, module in enumerate(_modules_with(release, work / "kernel", FOR_THE_DISK)):
        shutil.copy(module, inside / f"m/{number:02}-{module.name}")
    init = inside / "init"
    init.write_text(INIT)
    init.chmod(0o755)
    run(["sh", "-c", "find . | cpio -o -H newc --quiet | gzip -1 > ../initrd"], cwd=inside)
    shutil.rmtree(inside)
    shutil.rmtree(work / "busybox")


def _put_modules(release: str, work: Path, root: Path) -> None:
    kernel = work / "kernel"
    place = root / "usr/lib/modules" / release
    for module in _modules_with(release, kernel, MODULES):
        target = place / str(module).split(f"/lib/modules/{release}/")[1]
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(module, target)
    for name in ("modules.builtin", "modules.builtin.modinfo", "modules.order"):
        shutil.copy(kernel / f"lib/modules/{release}" / name, place / name)
    run(["depmod", "-b", root / "usr", release])


def make_card(base: Path, work: Path) -> None:
    """Put the program and the stories' scripts onto the card."""
    root = work / "root"
    run(["cp", "-a", base / "root", root])
    for name in ("Image", "initrd", "b.dtb"):
        shutil.copy(base / name, work / name)
    site = root / "opt/site"
    shutil.copytree(REPOSITORY / "controller", site / "controller", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(REPOSITORY / "profiles", site / "controller/profiles", dirs_exist_ok=True)
    stories = site / "tests/rig/pi/in_guest"
    shutil.copytree(HERE / "pi/in_guest", stories, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(REPOSITORY / "tests/data/kernel_text.toml", stories / "kernel_text.toml")
    (stories / "init.sh").chmod(0o755)
    if sys.version_info[:2] == PYTHON:  # Else the guest compiles at its first start, which takes it a minute.
        run([sys.executable, "-m", "compileall", "-q", "-s", root, root / "opt/site"])
    card = work / "sd.img"
    with card.open("wb") as file:
        file.truncate(SD_MB << 20)
    run(["mke2fs", "-q", "-t", "ext4", "-d", root, card])
    shutil.rmtree(root)


if __name__ == "__main__":
    print(cache(), pi_image())  # noqa: T201 - a command
