"""The systemd files, judged by systemd's own tools, and what must never be lost from them."""

import os
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
UNIT = ROOT / "systemd" / "hangroom.service"
HOME = "/opt/hangroom"


def words() -> dict[str, list[str]]:
    """Return what the unit sets, key by key."""
    found: dict[str, list[str]] = {}
    for line in UNIT.read_text().splitlines():
        if line and line[0] not in "#[":
            key, _, value = line.partition("=")
            found.setdefault(key, []).append(value)
    return found


def test_systemd_finds_nothing_to_say_about_the_unit(tmp_path: Path) -> None:
    """With the program where the unit expects it: the commands of pyproject.toml, as files that can be executed."""
    if shutil.which("systemd-analyze") is None:
        give_up = pytest.fail if os.environ.get("CI") else pytest.skip
        give_up("THE UNIT WAS NOT VERIFIED: systemd-analyze is not here (apt-get install systemd)")
    commands = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["scripts"]
    (tmp_path / "bin").mkdir()
    for name in commands:
        (tmp_path / "bin" / name).touch(0o755)
    copy = tmp_path / UNIT.name
    copy.write_text(UNIT.read_text().replace(HOME, str(tmp_path)))
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(copy)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (said.returncode, said.stdout + said.stderr) == (0, "")


def test_the_unit_restarts_for_ever_and_puts_the_relays_off_after_every_end() -> None:
    unit = words()
    assert unit["Type"] == ["notify"]
    assert unit["Restart"] == ["always"]
    assert unit["StartLimitIntervalSec"] == ["0"]
    assert unit["ExecStopPost"] == [f"{HOME}/bin/hangroom-relays-off"]
    assert 0 < int(unit["WatchdogSec"][0]) <= 30
    assert unit["RuntimeDirectoryPreserve"] == ["yes"]


def test_the_unit_has_a_user_and_directories_of_its_own_and_one_kind_of_device() -> None:
    unit = words()
    assert unit["User"] == unit["Group"] == ["hangroom"]
    for kind in ("State", "Logs", "Configuration", "Runtime"):
        assert unit[f"{kind}Directory"] == ["hangroom"]
    assert unit["DevicePolicy"] == ["closed"]
    assert unit["DeviceAllow"] == ["char-gpiochip rw"]
