"""What stands around the program, from a tree that holds the exact text of kernel and service manager."""

import grp
import os
import pwd
import shutil
import subprocess
import time
from pathlib import Path

import pytest

from controller.hardware.surroundings import look_around

SHIPPED = Path(__file__).parents[2] / "systemd" / "hangroom.service"
MOUNTS = """\
22 28 0:20 / /sys rw,nosuid,nodev,noexec,relatime shared:7 - sysfs sysfs rw
28 1 179:2 / / rw,noatime shared:1 - ext4 /dev/mmcblk0p2 rw
61 28 8:1 / /var/lib/hangroom rw,noatime shared:31 - vfat /dev/sda1 rw,fmask=0022
62 28 8:17 / /mnt/two\\040words ro,relatime shared:33 - ext4 /dev/sdb1 rw
"""
"""As /proc/self/mountinfo of a Raspberry Pi OS with a USB stick on the records: proc_pid_mountinfo(5)."""


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Be a machine on which nothing of Hangroom is installed; control groups of version 2, as in all systemd since."""
    put(tmp_path, "proc/self/mountinfo", MOUNTS)
    put(tmp_path, "sys/fs/cgroup/cgroup.controllers", "cpuset cpu io memory pids\n")
    (tmp_path / "dev").mkdir()
    return tmp_path


def put(root: Path, path: str, text: str) -> None:
    (root / path).parent.mkdir(parents=True, exist_ok=True)
    (root / path).write_text(text)


def installed(root: Path, *, enabled: bool = True, populated: int = 1) -> None:
    (root / "etc/systemd/system/multi-user.target.wants").mkdir(parents=True)
    shutil.copy(SHIPPED, root / "etc/systemd/system/hangroom.service")
    if enabled:
        (root / "etc/systemd/system/multi-user.target.wants/hangroom.service").symlink_to(
            "/etc/systemd/system/hangroom.service"
        )
    put(root, "sys/fs/cgroup/system.slice/hangroom.service/cgroup.events", f"populated {populated}\nfrozen 0\n")


def test_the_shipped_unit_is_read_as_it_is_installed(root: Path) -> None:
    installed(root)
    service = look_around(root / "state", root=root).service
    assert (service.installed, service.enabled, service.active) == ("/etc/systemd/system/hangroom.service", True, True)
    assert service.relays_off_after
    assert service.watchdog_s == "30"


def test_a_unit_that_is_there_but_not_switched_on_is_told_so(root: Path) -> None:
    installed(root, enabled=False, populated=0)
    service = look_around(root / "state", root=root).service
    assert (service.enabled, service.active) == (False, False)


def test_a_machine_without_the_unit(root: Path) -> None:
    service = look_around(root / "state", root=root).service
    assert (service.installed, service.enabled, service.active, service.relays_off_after) == ("", False, False, False)


def test_without_control_groups_of_version_2_it_is_not_known_whether_it_runs(root: Path) -> None:
    (root / "sys/fs/cgroup/cgroup.controllers").unlink()
    assert look_around(root / "state", root=root).service.active is None


def test_rights_are_those_of_this_user(root: Path) -> None:
    state = root / "state"
    assert look_around(state, root=root).rights.gives_orders is None, "nothing has run yet"
    (state / "batches").mkdir(parents=True)
    (state / "requests/tmp").mkdir(parents=True)
    rights = look_around(state, root=root).rights
    assert rights.who == pwd.getpwuid(os.geteuid()).pw_name
    assert (rights.reads_batches, rights.gives_orders) == (True, True)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")
def test_a_stranger_may_neither_read_nor_give_orders(root: Path) -> None:
    """As a user who is no member of the group, over folders with the rights that the daemon gives them."""
    for folder in root.parents:
        if folder.owner() == "root" and folder.stat().st_uid == 0 and "pytest" in str(folder):
            folder.chmod(0o755)
    root.chmod(0o755)
    state = root / "state"
    (state / "batches").mkdir(parents=True)
    (state / "requests/tmp").mkdir(parents=True)
    state.chmod(0o2770)
    child = os.fork()
    if child == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
        rights = look_around(state, root=root).rights
        os._exit(0 if (rights.reads_batches, rights.gives_orders) == (False, False) else 1)
    assert os.waitpid(child, 0)[1] == 0


def test_a_chip_that_its_group_may_not_open_is_seen(root: Path) -> None:
    """A plain file in the place of the device: its group and its mode are what is looked at."""
    chip = root / "dev/gpiochip0"
    chip.touch()
    (root / "dev/gpiochip4").symlink_to("gpiochip0")  # As Raspberry Pi OS keeps the old number of a Pi 5.
    chip.chmod(0o600)
    rights = look_around(root / "state", root=root).rights
    assert (rights.chip_groups, rights.chip_open_to_group) == ((grp.getgrgid(os.getegid()).gr_name,), False)
    chip.chmod(0o660)
    assert look_around(root / "state", root=root).rights.chip_open_to_group is True


@pytest.mark.parametrize(
    ("state", "filesystem", "device", "option"),
    [
        ("/var/lib/hangroom/not/yet", "vfat", "/dev/sda1", "rw"),
        ("/srv", "ext4", "/dev/mmcblk0p2", "rw"),
    ],
)
def test_the_disk_is_that_of_the_nearest_mount(
    root: Path, monkeypatch: pytest.MonkeyPatch, state: str, filesystem: str, device: str, option: str
) -> None:
    monkeypatch.setattr(os.path, "isdir", lambda _path: True)
    disk = look_around(Path(state), root=root).disk
    assert (disk.filesystem, disk.device, disk.options[0]) == (filesystem, device, option)


def test_a_mount_with_a_blank_in_its_name_is_found(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os.path, "isdir", lambda _path: True)
    disk = look_around(Path("/mnt/two words/state"), root=root).disk
    assert (disk.device, disk.options[0]) == ("/dev/sdb1", "ro")


def test_the_disk_of_this_machine_is_the_one_that_df_names(tmp_path: Path) -> None:
    said = subprocess.run(["df", "--output=fstype,source", tmp_path], capture_output=True, text=True, check=True).stdout
    df = said.splitlines()[1].split()
    disk = look_around(tmp_path).disk
    assert [disk.filesystem, disk.device] == df


def test_the_clock_is_believed_by_what_systemd_and_the_kernel_leave(root: Path) -> None:
    around = look_around(root / "state", root=root)
    assert (around.network_time, around.battery_clock_runs) == (False, None)
    put(root, "run/systemd/timesync/synchronized", "")
    put(root, "dev/rtc0", "")
    put(root, "sys/class/rtc/rtc0/since_epoch", f"{time.time():.0f}\n")
    around = look_around(root / "state", root=root)
    assert (around.network_time, around.battery_clock_runs) == (True, True)
    put(root, "sys/class/rtc/rtc0/since_epoch", "946684800\n")  # 2000-01-01: a clock whose battery was empty.
    assert look_around(root / "state", root=root).battery_clock_runs is False
