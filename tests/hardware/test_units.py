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
FILES = sorted((ROOT / "systemd").glob("*"))
HOME = "/opt/hangroom"
MOST = {"hangroom.service": 2.0, "hangroom-forecast.service": 2.0}
"""What `systemd-analyze security` may say at most, of 10."""
OPEN = {
    "hangroom.service": {
        "RootDirectory=/RootImage=",
        "SupplementaryGroups=",
        "PrivateDevices=",
        "RestrictAddressFamilies=~AF_UNIX",
        "ProcSubset=",
        "DeviceAllow=",
        "UMask=",
    },
    "hangroom-forecast.service": {
        "RootDirectory=/RootImage=",
        "RestrictAddressFamilies=~AF_UNIX",
        "ProcSubset=",
        "DeviceAllow=",
        "UMask=",
    },
}
"""What it may mark as open; each is argued in DEVELOPERS.md."""


def words() -> dict[str, list[str]]:
    """Return what the unit sets, key by key."""
    found: dict[str, list[str]] = {}
    for line in UNIT.read_text().splitlines():
        if line and line[0] not in "#[":
            key, _, value = line.partition("=")
            found.setdefault(key, []).append(value)
    return found


def test_systemd_finds_nothing_to_say_about_the_units(tmp_path: Path) -> None:
    """With the program where the unit expects it: the commands of pyproject.toml, as files that can be executed."""
    if shutil.which("systemd-analyze") is None:
        give_up = pytest.fail if os.environ.get("CI") else pytest.skip
        give_up("THE UNIT WAS NOT VERIFIED: systemd-analyze is not here (apt-get install systemd)")
    commands = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["scripts"]
    (tmp_path / "bin").mkdir()
    for name in commands:
        (tmp_path / "bin" / name).touch(0o755)
    copies = [tmp_path / path.name for path in FILES if path.suffix in {".service", ".timer"}]
    for copy in copies:
        copy.write_text((ROOT / "systemd" / copy.name).read_text().replace(HOME, str(tmp_path)))
    assert len(copies) == 3
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *map(str, copies)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (said.returncode, said.stdout + said.stderr) == (0, "")


def need(tool: str, what: str) -> None:
    if shutil.which(tool) is None:
        give_up = pytest.fail if os.environ.get("CI") else pytest.skip
        give_up(f"{what} NOT VERIFIED: {tool} is not here (apt-get install systemd udev)")


@pytest.mark.parametrize("name", MOST)
def test_a_unit_is_as_closed_as_it_says_and_open_where_it_says(name: str, tmp_path: Path) -> None:
    need("systemd-analyze", "THE UNIT'S EXPOSURE WAS")
    unit = ROOT / "systemd" / name
    command = ["systemd-analyze", "security", "--offline=true", "--no-pager"]
    threshold = f"--threshold={round(10 * MOST[name])}"
    said = subprocess.run([*command, threshold, str(unit)], capture_output=True, text=True, check=False)
    assert said.returncode == 0, said.stdout
    (level,) = [line.split()[-3] for line in said.stdout.splitlines() if "exposure level" in line]
    assert float(level) <= MOST[name]
    marked = {line.split()[1]: line for line in said.stdout.splitlines() if line.startswith("✗")}
    assert set(marked) <= OPEN[name], "argue it in DEVELOPERS.md, or close it"
    if "DeviceAllow=" in marked:
        allowed = set(marked["DeviceAllow="].rpartition(": ")[2].split()[:-1])
        assert allowed <= {"char-rtc:r", "char-gpiochip:rw"}, "ProtectClock= itself adds the first one"
    loose = tmp_path / name
    loose.write_text("\n".join(line for line in unit.read_text().splitlines() if not line.startswith("Pr")))
    said = subprocess.run([*command, threshold, str(loose)], capture_output=True, text=True, check=False)
    assert said.returncode != 0, "without its walls it is more exposed than that"


@pytest.mark.parametrize("path", [path for path in FILES if path.suffix != ".sh"], ids=lambda path: path.name)
def test_above_every_line_stands_what_it_is_for(path: Path) -> None:
    comment = ""
    for line in path.read_text().splitlines():
        if line.startswith("#"):
            comment += line[1:]
            continue
        if line and line[0] != "[":
            assert len(comment) >= len(" No network."), line
        comment = ""


def test_what_the_two_services_share_is_the_same_in_both() -> None:
    """Whichever starts last sets rights and owner of the folder."""
    daemon, forecast = (
        {
            line
            for line in (ROOT / "systemd" / name).read_text().splitlines()
            if line.startswith(("User", "Group", "State", "UMask"))
        }
        for name in MOST
    )
    assert daemon == forecast
    assert "StateDirectoryMode=2770" in daemon


def test_the_user_is_one_that_sysusers_makes(tmp_path: Path) -> None:
    need("systemd-sysusers", "THE USER WAS")
    for name in ("passwd", "group"):
        (tmp_path / "etc").mkdir(exist_ok=True)
        (tmp_path / "etc" / name).touch()
    conf = ROOT / "systemd/hangroom.sysusers.conf"
    subprocess.run(["systemd-sysusers", f"--root={tmp_path}", str(conf)], check=True, capture_output=True)
    groups = {line.split(":")[0]: line.split(":")[3] for line in (tmp_path / "etc/group").read_text().splitlines()}
    assert groups["gpio"] == "hangroom"
    (user,) = [line.split(":") for line in (tmp_path / "etc/passwd").read_text().splitlines()]
    assert (user[0], user[5]) == ("hangroom", "/var/lib/hangroom")
    assert user[6].endswith("nologin")


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
    for kind in ("State", "Configuration", "Runtime"):
        assert unit[f"{kind}Directory"] == ["hangroom"]
    assert unit["DevicePolicy"] == ["closed"]
    assert unit["DeviceAllow"] == ["char-gpiochip rw"]
