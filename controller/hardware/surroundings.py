"""Looks once at what stands around the program: unit, users and groups, disk, clock. Reads files; changes nothing.

The service manager is not asked, its files are read: that a unit is enabled is a link in `multi-user.target.wants`,
that it runs is its control group (systemd.unit(5), systemd.exec(5); cgroups(7), `cgroup.events`).
"""

import contextlib
import grp
import os
import pwd
import stat
from pathlib import Path
from typing import Final

from controller.hardware.clock import CLOCK_BATTERY, TIME_IS_SET, battery_runs
from controller.hardware.machine import read_word
from controller.settings.surroundings import Disk, Rights, Service, Surroundings

UNIT: Final = "hangroom.service"
USER: Final = "hangroom"
UNIT_FOLDERS: Final = ("etc/systemd/system", "run/systemd/system", "usr/lib/systemd/system", "lib/systemd/system")
"""In the order in which one hides the other: systemd.unit(5)."""


def look_around(state_dir: Path, *, root: Path = Path("/")) -> Surroundings:
    """Return what stands around; never raises.

    Args:
        state_dir: the folder with the records, or one that is still to be made.
        root: where the machine's file tree begins, the folder with the records left out.
    """
    unit, service = _service(root)
    battery = root / "sys/class/rtc/rtc0/since_epoch"
    return Surroundings(
        service=service,
        rights=_rights(state_dir, root, unit),
        disk=_disk(state_dir, root),
        network_time=(root / TIME_IS_SET.relative_to("/")).exists(),
        battery_clock_runs=battery_runs(battery) if (root / CLOCK_BATTERY.relative_to("/")).exists() else None,
    )


def _service(root: Path) -> tuple[dict[str, str], Service]:
    path = next((root / folder / UNIT for folder in UNIT_FOLDERS if (root / folder / UNIT).exists()), None)
    unit = {} if path is None else _settings_of(path)
    group = root / "sys/fs/cgroup"
    active = None
    if (group / "cgroup.controllers").exists():
        active = "populated 1" in (read_word(group / "system.slice" / UNIT / "cgroup.events") or "")
    return unit, Service(
        installed="" if path is None else f"/{path.relative_to(root)}",
        enabled=any(os.path.lexists(root / folder / "multi-user.target.wants" / UNIT) for folder in UNIT_FOLDERS),
        active=active,
        relays_off_after="relays-off" in unit.get("ExecStopPost", ""),
        watchdog_s=unit.get("WatchdogSec", ""),
    )


def _settings_of(path: Path) -> dict[str, str]:
    """Return what a unit sets; of what is set twice, the last."""
    lines = (read_word(path) or "").splitlines()
    pairs = (line.partition("=") for line in lines if line and line[0] not in "#;[")
    return {key.strip(): value.strip() for key, _, value in pairs}


def _rights(state_dir: Path, root: Path, unit: dict[str, str]) -> Rights:
    batches, box = state_dir / "batches", state_dir / "requests" / "tmp"
    chips = [chip for chip in sorted((root / "dev").glob("gpiochip*")) if not chip.is_symlink()]
    groups: set[str] = set()
    open_to_group: bool | None = None
    for chip in chips:
        with contextlib.suppress(OSError):
            seen = chip.stat()
            groups.add(_group_name(seen.st_gid))
            may = seen.st_mode & (stat.S_IRGRP | stat.S_IWGRP) == stat.S_IRGRP | stat.S_IWGRP
            open_to_group = may and open_to_group is not False
    has_user, members_of = _groups_of(USER)
    members_of |= set(unit.get("SupplementaryGroups", "").split())
    return Rights(
        who=_who(),
        reads_batches=os.access(batches, os.R_OK | os.X_OK) if _is_there(batches) else None,
        gives_orders=os.access(box, os.W_OK | os.X_OK) if _is_there(box) else None,
        daemon_user=has_user,
        chip_groups=tuple(sorted(groups)),
        chip_open_to_group=open_to_group,
        daemon_opens_chip=None if not chips or not has_user else bool(open_to_group) and groups <= members_of,
    )


def _is_there(path: Path) -> bool:
    """Say whether there is such a folder, or one above it that this user may not enter."""
    try:
        path.stat()
    except PermissionError:
        return True
    except OSError:
        return False
    return True


def _group_name(gid: int) -> str:
    try:
        return grp.getgrgid(gid).gr_name
    except KeyError:
        return str(gid)


def _groups_of(name: str) -> tuple[bool, set[str]]:
    """Return whether there is such a user, and the names of his groups."""
    try:
        user = pwd.getpwnam(name)
    except KeyError:
        return False, set()
    return True, {_group_name(gid) for gid in os.getgrouplist(name, user.pw_gid)}


def _who() -> str:
    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return str(os.geteuid())


def _disk(state_dir: Path, root: Path) -> Disk:
    """Return the mount on which a folder lies, from proc_pid_mountinfo(5)."""
    there = next((one for one in (state_dir, *state_dir.parents) if os.path.isdir(one)), Path("/"))  # noqa: PTH112
    best, found = "", Disk()
    for line in (read_word(root / "proc/self/mountinfo") or "").splitlines():
        before, _, after = line.partition(" - ")
        fields, kinds = before.split(), after.split()
        if len(fields) < 6 or len(kinds) < 3:  # noqa: PLR2004 - as the manual page counts them
            continue
        place = _unescaped(fields[4])
        if there.is_relative_to(place) and len(place) >= len(best):  # A later one hides an earlier one.
            best, found = place, Disk(kinds[0], _unescaped(kinds[1]), tuple(fields[5].split(",")))
    return found


def _unescaped(word: str) -> str:
    r"""Return a field in which blanks are written as \040."""
    for letter in " \t\n\\":
        word = word.replace(f"\\{ord(letter):03o}", letter)
    return word
