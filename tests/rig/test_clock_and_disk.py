"""The clock on the wall, the disk, the power: what a machine does to a program in the middle of a stage."""

import re

import pytest

from tests.rig.guest_chamber import Chamber

pytestmark = pytest.mark.rig

DAY_S = 86_400.0


@pytest.mark.parametrize("step_s", [-3600.0, DAY_S, 3653 * DAY_S], ids=["an hour back", "a day on", "ten years on"])
def test_a_step_of_the_clock_on_the_wall_changes_neither_heat_nor_the_stage(chamber: Chamber, step_s: float) -> None:
    pid, since_s = chamber.pid(), chamber.guest.now_s()
    chamber.guest.do(["set_clock", step_s])
    chamber.pass_(45.0)
    assert chamber.pid() == pid
    assert not [change for change in chamber.changes("heater", chamber.trace()) if change.at_s > since_s]
    said = chamber.status()
    assert "warm-up" in said
    assert re.search(r"in this stage for (\d+ s|[1-9] min)\b", said), said
    assert "clock" in chamber.events()


FILL = """\
fallocate -l $(df --output=avail -B1 / | tail -1) /filler
dd if=/dev/zero of=/filler2 bs=4k 2>/dev/null
sync
true"""
"""Leaves no room for anybody, root included."""

TYPIST = """\
n=0
while :; do
    n=$((n+1))
    hangroom note "note number $n ends" >/dev/null 2>&1 && echo $n > /dev/ttyS0
done
"""


def test_a_full_disk_costs_no_heat_and_its_news_are_written_later(chamber: Chamber) -> None:
    since_s = chamber.guest.now_s()
    chamber.guest.sh(FILL)
    code, said = chamber.guest.try_("hangroom note 'no room for it'", user="maker", timeout_s=60)
    chamber.pass_(90.0)
    assert not [change for change in chamber.changes("heater", chamber.trace()) if change.at_s > since_s]
    assert code, said
    chamber.guest.sh("rm -f /filler /filler2")
    chamber.wait("what was late is written", lambda: "written late" in chamber.events(), within_s=120.0, every_s=5.0)


def test_a_disk_that_became_read_only_costs_no_heat_and_is_told(chamber: Chamber) -> None:
    since_s, pid = chamber.guest.now_s(), chamber.pid()
    chamber.guest.do(["write", "/proc/sysrq-trigger", "u"])  # As the kernel does after an error of the card.
    chamber.pass_(90.0)
    assert chamber.pid() == pid
    assert not [change for change in chamber.changes("heater", chamber.trace()) if change.at_s > since_s]
    said = chamber.guest.try_("hangroom status", user="maker")[1]
    assert "it is read-only" in " ".join(said.split()), said


def test_a_boot_in_the_middle_of_a_stage_goes_on_where_it_was(chamber: Chamber) -> None:
    batch = chamber.guest.sh("ls /var/lib/hangroom/batches").strip()
    chamber.reboot().wait_for_heat(within_s=240.0)
    assert chamber.guest.sh("ls /var/lib/hangroom/batches").strip() == batch
    assert "warm-up" in chamber.status()
    first = chamber.changes("heater", chamber.trace())[0]
    driven = chamber.trace().driven[17][0]
    assert first.level
    assert first.at_s - driven[0] > 20.0, "from the first instant the line was off, and heat waited"


@pytest.mark.parametrize("after_s", [3.0, 11.0, 19.0])
def test_a_power_cut_loses_nothing_that_was_acknowledged(chamber: Chamber, after_s: float) -> None:
    chamber.guest.sh(f"chmod 666 /dev/ttyS0; cat > /home/maker/type.sh <<'END'\n{TYPIST}END")
    chamber.guest.sh("su - maker -c 'sh type.sh' >/dev/null 2>&1 &")
    chamber.wait("some notes were acknowledged", lambda: len(acknowledged(chamber)) >= 2, within_s=120.0).pass_(after_s)
    with chamber.still():
        chamber.guest.cut_power()
        told = acknowledged(chamber)
        chamber.guest.power_on()
        chamber._find()
    chamber.wait("it runs again", lambda: chamber.show("ActiveState") == "active", within_s=120.0)
    diary = chamber.events()
    assert len(told) >= 2
    lost = [n for n in told if f"note number {n} ends" not in diary]
    assert not lost
    assert chamber.guest.try_("hangroom review $(ls -d /var/lib/hangroom/batches/*/)", user="maker")[0] in {0, 65}
    chamber.wait_for_heat(within_s=120.0)


def acknowledged(chamber: Chamber) -> list[int]:
    """Return the numbers of the notes whose command ended well, as they came over the serial line."""
    text = chamber.guest.serial.read_text(encoding="utf-8", errors="replace")
    return [int(line) for line in text.split() if line.isdigit()]
