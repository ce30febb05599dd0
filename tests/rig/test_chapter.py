"""What the rig reads is what a maker reads, and what the kernel writes: without a machine."""

import subprocess

import pytest

from tests.rig.chapter import commands
from tests.rig.guest_chamber import off_after
from tests.rig.guest_tools import REPOSITORY
from tests.rig.guest_trace import Change, parse

EDGES = """\
# tracer: nop
  hangroom-401  [000] .....    50.000001: pull: (gpio_sim_apply_pull+0x0/0x90 [gpio_sim_k]) line=0x11 level=0
  hangroom-401  [000] .....    50.000101: gpio_value: 987 set 0
  hangroom-401  [000] .....    50.000201: gpio_direction: 987 out (0)
  hangroom-401  [000] .....    60.000000: gpio_value: 987 set 1
  hangroom-401  [001] .....    61.000000: gpio_value: 987 get 1
   python3-300  [001] .....    65.500000: tracing_mark_write: cause
  hangroom-401  [001] .....    65.750000: let_go: (gpio_sim_free+0x0/0x60 [gpio_sim_k]) line=0x11
 hangroom-relays-500 [001] .....    66.000000: gpio_value: 987 set 0
"""


def test_the_chapter_begins_by_installing_and_ends_with_the_forecasts() -> None:
    blocks = commands()
    assert blocks[0].startswith("sudo apt update")
    assert "sudo sh systemd/install.sh" in blocks[0]
    assert blocks[1].rstrip().endswith("sudo reboot")
    assert "hangroom-forecast.timer" in blocks[-1]


@pytest.mark.parametrize(("part", "script"), [("Upgrade", "install.sh"), ("Removal", "remove.sh")])
def test_upgrade_and_removal_have_their_commands(part: str, script: str) -> None:
    (block,) = commands(part)
    assert script in block


@pytest.mark.parametrize("script", ["install.sh", "remove.sh"])
def test_the_scripts_are_understood_by_the_shell_and_ask_for_root(script: str) -> None:
    path = REPOSITORY / "systemd" / script
    assert subprocess.run(["sh", "-n", path], check=False).returncode == 0
    as_nobody = ["setpriv", "--reuid", "65534", "--clear-groups", "sh", str(path)]
    refused = subprocess.run(as_nobody, check=False, capture_output=True, text=True)
    assert refused.returncode == 77, refused.stderr
    assert "sudo sh" in refused.stderr


def test_what_the_installer_puts_down_the_remover_takes_up_and_the_readme_lists() -> None:
    install, remove = ((REPOSITORY / "systemd" / name).read_text("utf-8") for name in ("install.sh", "remove.sh"))
    chapter = (REPOSITORY / "README.md").read_text("utf-8").partition("\n## Install on the Pi\n")[2]
    for path in (
        "/etc/sysusers.d/hangroom.conf",
        "/etc/udev/rules.d/60-hangroom-gpio.rules",
        "/etc/system.conf.d/60-hangroom-watchdog.conf".replace("/etc/", "/etc/systemd/"),
        "/usr/local/bin/hangroom",
        "/opt/hangroom",
    ):
        assert path in install
        assert path in remove
        assert f"`{path}`" in chapter


def test_the_trace_is_read_as_the_levels_a_relay_sees() -> None:
    trace = parse(EDGES, base=970, lines=[17, 27])
    assert trace.changes[17] == [Change(60.0, 1, "hangroom"), Change(65.75, 0, "hangroom")]
    assert trace.changes[27] == []
    assert trace.at("cause") == 65.5
    assert trace.driven[17][-1] == (66.0, 0, "hangroom-relays")


def test_a_trace_that_lost_events_is_refused() -> None:
    with pytest.raises(ValueError, match="lost events"):
        parse("CPU:1 [LOST 12 EVENTS]\n" + EDGES, base=970, lines=[17])


def test_a_short_off_is_not_taken_for_the_end_of_the_heat() -> None:
    changes = [Change(10.0, 1, ""), Change(21.0, 0, ""), Change(23.0, 1, ""), Change(30.0, 0, "")]
    assert off_after(changes, 20.0, until_s=60.0) == 10.0
    assert off_after(changes, 20.0, until_s=32.0) is None, "not off long enough before the look ended"
    assert off_after(changes, 35.0, until_s=60.0) is None, "it was off already"
