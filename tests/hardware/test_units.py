"""The systemd files, judged by systemd's own tools, and what must never be lost from them."""

import os
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest

from controller.records.writer import CLOSE_WITHIN_S

ROOT = Path(__file__).parents[2]
UNIT = ROOT / "systemd" / "hangroom.service"
WATCHDOG = ROOT / "systemd" / "hangroom-watchdog.conf"
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


@pytest.mark.fault_row("C1")
def test_the_records_are_given_up_before_the_service_manager_kills() -> None:
    """The relays are off before; the request box, the computer's threads and the relays' timer take 3.4 s at most."""
    assert float(words()["TimeoutStopSec"][0]) - 2.0 > CLOSE_WITHIN_S + 3.4


@pytest.mark.fault_row("C3")
def test_the_machines_watchdog_is_asked_for_less_than_a_pi_can_count() -> None:
    """At most 15 s: Linux, drivers/watchdog/bcm2835_wdt.c, counts 20 bits of 16 µs (from memory)."""
    (line,) = [line for line in WATCHDOG.read_text().splitlines() if line and not line.startswith(("#", "["))]
    key, _, value = line.partition("=")
    assert key == "RuntimeWatchdogSec"
    assert 10.0 <= seconds(value) <= 15.0
    assert "[Manager]" in WATCHDOG.read_text().splitlines()


def seconds(span: str) -> float:
    """Return a span of time as systemd reads it."""
    if shutil.which("systemd-analyze") is None:
        give_up = pytest.fail if os.environ.get("CI") else pytest.skip
        give_up("THE SPAN WAS NOT VERIFIED: systemd-analyze is not here (apt-get install systemd)")
    said = subprocess.run(["systemd-analyze", "timespan", span], capture_output=True, text=True, check=True)
    return float(next(line.split()[-1] for line in said.stdout.splitlines() if "μs" in line)) / 1e6


def test_the_unit_has_a_user_and_directories_of_its_own_and_one_kind_of_device() -> None:
    unit = words()
    assert unit["User"] == unit["Group"] == ["hangroom"]
    for kind in ("State", "Logs", "Configuration", "Runtime"):
        assert unit[f"{kind}Directory"] == ["hangroom"]
    assert unit["DevicePolicy"] == ["closed"]
    assert unit["DeviceAllow"] == ["char-gpiochip rw"]
