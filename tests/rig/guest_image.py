"""Builds the amd64 guest: Debian's kernel, its user space with systemd, and the simulated header and sensors.

The kernel is fetched by apt and unpacked, not installed. `gpio-sim` comes out of Debian's own source package, for its
kernels have it switched off. No network in the guest, no KVM needed.
"""

import gzip
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Final

from tests.rig.guest_tools import HERE, building, cache, forget_older, kernel_release, key_of, run

PACKAGES: Final = (
    "systemd-sysv", "udev", "dbus", "kmod", "python3", "procps", "sudo", "gpiod", "e2fsprogs",
    "python3-venv", "git",  # What the README's first line installs: the guest has no network.
)  # fmt: skip
MODULES: Final = (
    "virtio_pci", "virtio_blk", "virtio_console", "virtio_rng", "ext4", "configfs", "industrialio", "bmp280-i2c",
    "i2c-stub", "i2c-dev", "sht3x", "sht4x", "w1_therm", "lpc_ich", "iTCO_wdt",
)  # fmt: skip
IN_INITRAMFS: Final = ("virtio_pci", "virtio_blk", "ext4", "lpc_ich", "iTCO_wdt")
MASKED: Final = (
    "getty.target", "getty@tty1.service", "serial-getty@ttyS0.service", "apt-daily.timer", "apt-daily-upgrade.timer",
    "e2scrub_all.timer", "fstrim.timer", "dpkg-db-backup.timer", "systemd-timesyncd.service",
)  # fmt: skip
DISK_GB: Final = 3

INIT: Final = """#!/bin/busybox sh
/bin/busybox mount -t proc proc /proc; /bin/busybox mount -t devtmpfs dev /dev; /bin/busybox mount -t sysfs s /sys
for m in /m/*; do /bin/busybox insmod $m 2>/dev/null; done
i=0; while [ ! -b /dev/vda ] && [ $i -lt 200 ]; do /bin/busybox usleep 20000; i=$((i+1)); done
/bin/busybox mount -t ext4 -o noatime /dev/vda /newroot || exec /bin/busybox sh
/bin/busybox umount /proc /sys; /bin/busybox mount --move /dev /newroot/dev
exec /bin/busybox switch_root /newroot /sbin/init
"""

HARDWARE_UNIT: Final = """[Unit]
Description=stands in for firmware, header and wires
DefaultDependencies=no
RequiresMountsFor=/mnt/share
After=systemd-udevd.service local-fs.target
Before=sysinit.target
[Service]
Type=oneshot
RemainAfterExit=yes
ExecStart=/bin/sh /mnt/share/rig/hardware.sh
[Install]
WantedBy=sysinit.target
"""
AGENT_UNIT: Final = """[Unit]
Description=does what the host asks for
RequiresMountsFor=/mnt/share
After=basic.target
[Service]
ExecStart=/usr/bin/python3 -u /mnt/share/rig/agent.py
Restart=always
RestartSec=0.5
OOMScoreAdjust=-900
[Install]
WantedBy=multi-user.target
"""
PIP: Final = "[global]\nno-index = true\nfind-links = /mnt/share/wheels\ndisable-pip-version-check = true\n"


def base() -> Path:
    """Return the folder with `vmlinuz`, `initrd.img` and `disk.qcow2`; build it where it is not in the cache."""
    release = kernel_release()
    return kept("base", key_of(release, Path(__file__), HERE / "modules"), lambda work: make_base(release, work))


def quick_base(libraries: Path) -> Path:
    """Return the same with the program's libraries already in /opt/hangroom, put there by the host's processor.

    The guest's own processor is interpreted and needs minutes to unpack and compile them; this is the shortcut where
    time is short. The commands of the README are typed as usual then, and find the libraries there.
    """
    release = kernel_release()
    key = key_of(release, Path(__file__), HERE / "modules", libraries.name)
    return kept("quick", key, lambda work: make_base(release, work, libraries))


def kept(prefix: str, key: str, make: Callable[[Path], object]) -> Path:
    """Return a folder of the cache; make it, and forget older ones, where it is not there."""
    folder = cache() / f"{prefix}-{key}"
    if not folder.is_dir():
        with building(folder) as work:
            make(work)
        forget_older(prefix, folder)
    return folder


def make_base(release: str, work: Path, libraries: Path | None = None) -> None:
    """Build kernel, initramfs and disk in this folder."""
    kernel = unpack_kernel(release, work)
    modules = build_modules(release, work)
    root = make_root(work)
    put_modules(release, kernel, modules, root)
    make_initramfs(release, kernel, work)
    put_house(root)
    if libraries is not None:
        put_libraries(root, libraries)
    make_disk(root, work)
    shutil.copy(kernel / f"boot/vmlinuz-{release}", work / "vmlinuz")
    for part in (kernel, modules, root):
        shutil.rmtree(part)


def put_libraries(root: Path, libraries: Path) -> None:
    """Install all these wheels as the README's script would, but on the host's processor."""
    inside = root / "wheels"
    shutil.copytree(libraries, inside)
    run(["chroot", root, "python3", "-m", "venv", "/opt/hangroom"])
    pip = ["/opt/hangroom/bin/pip", "install", "-q", "--no-index"]
    run(["chroot", root, *pip, *(f"/wheels/{wheel.name}" for wheel in sorted(inside.glob("*.whl")))])
    shutil.rmtree(inside)


def unpack_kernel(release: str, work: Path) -> Path:
    """Fetch Debian's kernel and unpack it, with its modules findable."""
    fetched, kernel = work / "fetched", work / "kernel"
    fetched.mkdir()
    fetched.chmod(0o777)  # apt fetches as a user of its own.
    run(["apt-get", "download", "-qq", f"linux-image-{release}"], cwd=fetched)
    run(["dpkg-deb", "-x", next(fetched.glob("linux-image-*.deb")), kernel])
    shutil.rmtree(fetched)
    run(["depmod", "-b", kernel, release])
    return kernel


def build_modules(release: str, work: Path) -> Path:
    """Compile gpio-sim, out of Debian's source package, and our own simulated sensors."""
    modules = work / "modules"
    shutil.copytree(HERE / "modules", modules)
    source = "linux-source-6.1"
    parts = [
        f"{source}/{part}" for part in ("drivers/gpio/gpio-sim.c", "drivers/gpio/gpiolib.h", "kernel/irq/irq_sim.c")
    ]
    run(["tar", "-C", modules, "--strip-components=3", "-xf", f"/usr/src/{source}.tar.xz", *parts])
    # irq_to_desc is not exported to modules.
    sim = modules / "irq_sim.c"
    changed, found = re.subn(
        r"handle_simple_irq\(irq_to_desc\(irqnum\)\);", "generic_handle_irq(irqnum);", sim.read_text()
    )
    assert found == 1, "irq_sim.c is not what it was"
    sim.write_text(changed)
    run(["make", "-s", "-C", f"/usr/src/linux-headers-{release}", f"M={modules}", "modules"])
    run(["strip", "--strip-debug", *modules.glob("*.ko")])
    return modules


def make_root(work: Path) -> Path:
    """Make the root file system out of Debian's packages."""
    root = work / "root"
    sources = next(
        path
        for path in (Path("/etc/apt/sources.list.d/debian.sources"), Path("/etc/apt/sources.list"))
        if path.exists()
    )
    leave_out = [f"--dpkgopt=path-exclude=/usr/share/{name}/*" for name in ("man", "doc", "locale")]
    how = ["--mode=root", "--variant=apt", "--architectures=amd64", f"--include={','.join(PACKAGES)}"]
    how += ['--aptopt=Apt::Install-Recommends "false"', '--aptopt=Acquire::Languages "none"', *leave_out]
    run(["mmdebstrap", "-q", *how, "bookworm", root, sources])
    return root


def needed_modules(release: str, kernel: Path, names: tuple[str, ...]) -> list[Path]:
    """Return the files of these modules and of all that they need, in the order of loading."""
    found: dict[Path, None] = {}
    for name in names:
        said = run(["modprobe", "-d", kernel, "-S", release, "--show-depends", name])
        found |= {Path(line.split()[1]): None for line in said.splitlines() if line.startswith("insmod")}
    return list(found)


def put_modules(release: str, kernel: Path, modules: Path, root: Path) -> None:
    """Put the kernel's modules that are needed, and ours, into the root file system."""
    theirs, ours = kernel / "lib/modules" / release, root / "usr/lib/modules" / release
    for file in needed_modules(release, kernel, MODULES):
        target = ours / file.relative_to(theirs)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(file, target)
    (ours / "extra").mkdir()
    for file in modules.glob("*.ko"):
        shutil.copy(file, ours / "extra")
    for name in ("modules.builtin", "modules.builtin.modinfo", "modules.order"):
        shutil.copy(theirs / name, ours)
    run(["depmod", "-b", root, release])


def make_initramfs(release: str, kernel: Path, work: Path) -> None:
    """Make an initramfs with the drivers of the disk, and of the watchdog, which a Raspberry Pi has built in."""
    tree = work / "initramfs"
    for name in ("bin", "dev", "proc", "sys", "newroot", "m"):
        (tree / name).mkdir(parents=True)
    shutil.copy("/bin/busybox", tree / "bin")
    for number, file in enumerate(needed_modules(release, kernel, IN_INITRAMFS)):
        shutil.copy(file, tree / f"m/{number:02}-{file.name}")
    (tree / "init").write_text(INIT)
    (tree / "init").chmod(0o755)
    run(["sh", "-c", f"cd {tree} && find . | cpio -o -H newc --quiet > ../initrd.cpio"])
    (work / "initrd.img").write_bytes(gzip.compress((work / "initrd.cpio").read_bytes(), 1))
    (work / "initrd.cpio").unlink()
    shutil.rmtree(tree)


def put_house(root: Path) -> None:
    """Put in what makes it this guest: its people, the agent, the simulated hardware, pip's configuration."""
    units = root / "etc/systemd/system"
    (units / "rig-hardware.service").write_text(HARDWARE_UNIT)
    (units / "rig-agent.service").write_text(AGENT_UNIT)
    inside = ["chroot", str(root)]
    run([*inside, "systemctl", "-q", "enable", "rig-hardware.service", "rig-agent.service"])
    run([*inside, "systemctl", "-q", "mask", *MASKED])
    for name in ("maker", "stranger"):
        run([*inside, "useradd", "--create-home", "--shell", "/bin/bash", name])
    # As on Raspberry Pi OS: the first user may become root.
    (root / "etc/sudoers.d/maker").write_text("maker ALL=(ALL) NOPASSWD: ALL\n")
    (root / "etc/hostname").write_text("chamber\n")
    (root / "etc/hosts").write_text("127.0.0.1 localhost chamber\n")
    (root / "etc/machine-id").write_text("")
    (root / "etc/fstab").write_text("/dev/vda / ext4 noatime 0 0\n/dev/vdb /mnt/share ext4 ro,nofail 0 0\n")
    (root / "mnt/share").mkdir()
    (root / "etc/pip.conf").write_text(PIP)
    (root / "etc/apt/sources.list").write_text("# No network in the guest: what the README asks apt for is here.\n")
    for path in (root / "etc/apt/sources.list.d").glob("*"):
        path.unlink()
    # What a Raspberry Pi's card has.
    (root / "boot/firmware").mkdir(parents=True, exist_ok=True)
    (root / "boot/firmware/config.txt").write_text("# As a new card has it: no sensor is switched on.\n")
    for folder in ("var/cache/apt", "var/lib/apt/lists"):
        shutil.rmtree(root / folder, ignore_errors=True)
        (root / folder).mkdir(parents=True)


def make_disk(root: Path, work: Path) -> None:
    """Make the disk."""
    raw = work / "disk.raw"
    with raw.open("wb") as file:
        file.truncate(DISK_GB << 30)
    run(["mke2fs", "-q", "-t", "ext4", "-b", "4096", "-m", "1", "-d", root, "-L", "root", raw])
    run(["qemu-img", "convert", "-f", "raw", "-O", "qcow2", raw, work / "disk.qcow2"])
    raw.unlink()
