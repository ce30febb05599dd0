"""What the README's commands put onto a machine, what an upgrade keeps, and what a removal leaves."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.rig.chapter import commands
from tests.rig.guest_chamber import Chamber
from tests.rig.guest_install import installed, upgraded_share
from tests.rig.guest_maker import type_

pytestmark = pytest.mark.rig

NEW_VERSION = "9.9.9"
KEPT = {
    "batches",
    "chamber.toml",
    "events.csv",
    "first-light.csv",
    "instruments.csv",
    "learned",
    "learned.toml",
    "priors.toml",
}


@pytest.mark.rig_slice
def test_every_command_of_the_chapter_was_typed_and_ended_well(chamber: Chamber) -> None:
    log = (installed() / "log.txt").read_text("utf-8")
    for block in commands():
        for line in block.splitlines():
            assert line.replace("ADDRESS", "/mnt/share/hangroom.git") in log
    assert "Hangroom is installed; it is not running." in log
    assert chamber.guest.sh("id -nG maker").split() == ["maker", "hangroom"]
    assert chamber.show("User") == "hangroom"
    assert "eth" not in chamber.guest.sh("ls /sys/class/net"), "nothing came from elsewhere"


def test_each_kind_of_sensor_is_read_through_its_kernel_driver(chamber: Chamber) -> None:
    lines = "dtoverlay=i2c-sensor,sht3x\ndtoverlay=i2c-sensor,bme280\n"
    chamber.guest.sh(f"systemctl disable hangroom; printf '{lines}' >> /boot/firmware/config.txt")
    chamber.reboot()
    file = "/etc/hangroom/chamber.toml"
    stub = chamber.guest.sh("cd /sys/bus/i2c/devices && ls -d *-0076").strip()
    was = "sht4x", "1-0044"
    for now in (("sht3x", "1-0045"), ("bme280", stub)):
        for before, after in zip(was, now, strict=True):
            chamber.guest.sh(f'sed -i \'s/"{before}"/"{after}"/\' {file}')
        was = now
        said = chamber.maker("hangroom check || true")
        assert re.search(r"\b(49|50|51)(\.\d+)? %", said), said


def bring_new_version(clone: Path) -> None:
    """Change the version, as a new state of the repository would."""
    project = clone / "pyproject.toml"
    text = project.read_text("utf-8")
    project.write_text(re.sub(r'^version = ".*"$', f'version = "{NEW_VERSION}"', text, flags=re.MULTILINE), "utf-8")


@pytest.fixture
def newer(chamber: Chamber) -> Iterator[Chamber]:
    """Be the chamber with a newer state of the repository on its second disk."""
    was, chamber.guest.share = chamber.guest.share, upgraded_share(bring_new_version)
    try:
        yield chamber.reboot()
    finally:
        chamber.guest.share = was
        chamber.lose_power()


def test_an_upgrade_keeps_the_batch_and_a_removal_leaves_nothing_else(newer: Chamber) -> None:
    chamber = newer.wait_for_heat()
    before, batch = chamber.pid(), chamber.guest.sh("ls /var/lib/hangroom/batches").strip()
    file = chamber.guest.sh("cat /etc/hangroom/chamber.toml")
    (upgrade,) = commands("Upgrade")
    said = type_(chamber.guest, upgrade)
    assert "restarted with the new version" in said
    assert NEW_VERSION in chamber.maker("hangroom --version")
    assert chamber.pid() != before
    assert chamber.guest.sh("cat /etc/hangroom/chamber.toml") == file
    chamber.wait("the batch goes on", lambda: chamber.leads("warm-up"), within_s=60.0, every_s=3.0)
    assert chamber.guest.sh("ls /var/lib/hangroom/batches").strip() == batch
    chamber.wait_for_heat(within_s=120.0)

    (removal,) = commands("Removal")
    type_(chamber.guest, removal)
    assert not chamber.is_on()
    left = chamber.guest.sh("find / -xdev -iname '*hangroom*' -not -path '/proc/*' 2>/dev/null").split()
    assert all(path.startswith(("/var/lib/hangroom", "/home/maker/hangroom")) for path in left), left
    assert chamber.guest.try_("getent passwd hangroom || getent group hangroom")[0]
    records = chamber.guest.sh("ls /var/lib/hangroom").split()
    assert set(records) <= KEPT
    assert "recipe.toml" in chamber.maker(f"ls /var/lib/hangroom/batches/{batch}")
    assert chamber.guest.sh("systemctl list-unit-files 'hangroom*' --no-legend || true").strip() == ""
