"""The service under a real systemd: restarts, the lock-out after crashes, two copies, requests, the sandbox."""

import re
import signal

import pytest

from tests.rig.guest_chamber import Chamber, off_after
from tests.rig.table import memory_mib

pytestmark = pytest.mark.rig

AGAIN_S = 90.0  # RestartSec, and a start on this slow machine.


def runs_again(chamber: Chamber, before: int) -> Chamber:
    return chamber.wait(
        "it runs again",
        lambda: chamber.show("ActiveState") == "active" and chamber.pid() not in {0, before},
        within_s=AGAIN_S,
    )


@pytest.mark.rig_slice
def test_a_killed_program_comes_back_and_heats_after_thirty_seconds(chamber: Chamber) -> None:
    before = chamber.pid()
    runs_again(chamber.signal(signal.SIGKILL), before).wait_for_heat(within_s=120.0)
    trace = chamber.trace()
    changes = chamber.changes("heater", trace)
    off_s = off_after(changes, trace.at("cause"), until_s=chamber.guest.now_s())
    assert off_s is not None
    on_s = next(change.at_s for change in changes if change.level and change.at_s > trace.at("cause"))
    assert on_s - trace.at("cause") > 30.0, "three good readings and thirty seconds"
    assert "warm-up" in chamber.status()


def test_three_crashes_lock_the_heat_until_a_person_clears_it(chamber: Chamber) -> None:
    for _ in range(3):
        before = chamber.pid()
        runs_again(chamber.signal(signal.SIGKILL), before).pass_(3.0)
    chamber.pass_(60.0)
    trace = chamber.trace()
    last = chamber.changes("heater", trace)[-1]
    assert not last.level
    assert last.at_s < trace.at("cause") + 10.0, "no heat after the third crash"
    assert chamber.show("ActiveState") == "active", "it watches on, it is only the heat that is locked"
    assert chamber.show("StartLimitIntervalUSec") == "0"
    assert int(chamber.show("NRestarts")) >= 3
    alarm = re.search(r"C2-\d+", chamber.maker("hangroom alarms"))
    assert alarm is not None
    code, said = chamber.guest.try_(f"hangroom clear {alarm[0]}", user="maker")
    assert code, "not before ten minutes after the last crash"
    assert "min" in said
    chamber.pass_(10.0)
    assert not chamber.is_on()


def test_a_second_copy_touches_nothing(chamber: Chamber) -> None:
    since_s = chamber.guest.now_s()
    code, said = chamber.guest.try_(
        "cd /run/hangroom && exec setpriv --reuid hangroom --regid hangroom --init-groups env"
        " RUNTIME_DIRECTORY=/run/hangroom /opt/hangroom/bin/hangroom run --chamber /etc/hangroom/chamber.toml"
    )
    assert code == 69, said
    assert "already runs" in said
    assert not [change for change in chamber.changes("heater", chamber.trace()) if change.at_s > since_s]


def test_the_switching_off_by_hand_leaves_a_running_program_alone(chamber: Chamber) -> None:
    code, said = chamber.guest.try_(
        "su - maker -c 'sudo hangroom-relays-off || sudo /opt/hangroom/bin/hangroom-relays-off'"
    )
    assert code == 69, said
    assert "held by" in said
    assert chamber.is_on()


def test_a_note_waits_for_the_program_and_a_command_does_not(chamber: Chamber) -> None:
    chamber.guest.sh("systemctl stop hangroom")
    chamber.guest.try_("hangroom note 'typed while it was down'", user="maker", timeout_s=60)
    chamber.guest.try_("hangroom hold", user="maker", timeout_s=60)
    chamber.pass_(61.0)  # An order is good for a minute.
    chamber.guest.sh("systemctl start hangroom")
    chamber.wait("the note is in the diary", lambda: "typed while it was down" in chamber.events(), within_s=60.0)
    assert "paused" not in chamber.status()


@pytest.mark.rig_slice
def test_systemd_judges_the_running_service_and_the_kernel_confirms_it(chamber: Chamber) -> None:
    said = chamber.guest.sh("systemd-analyze security hangroom.service --no-pager | tail -1")
    exposure = float(re.findall(r"\d+\.\d+", said)[0])
    assert exposure <= 2.0, said
    status = chamber.guest.sh(f"cat /proc/{chamber.pid()}/status")
    assert re.search(r"^NoNewPrivs:\s+1$", status, re.MULTILINE)
    assert re.search(r"^CapEff:\s+0+$", status, re.MULTILINE)
    assert re.search(r"^Seccomp:\s+2$", status, re.MULTILINE)


def test_all_that_the_service_takes_of_the_memory_is_at_most_45_mib(chamber: Chamber) -> None:
    assert memory_mib(chamber)[1] <= 45.0


@pytest.mark.rig_slice
def test_who_is_in_the_group_may_read_and_ask_and_others_may_not(chamber: Chamber) -> None:
    batch = chamber.guest.sh("ls -d /var/lib/hangroom/batches/*/").strip()
    assert "tangy" in chamber.maker(f"cat {batch}/recipe.toml")
    chamber.maker("hangroom note 'the maker was here'")
    chamber.wait("the note is in the diary", lambda: "the maker was here" in chamber.events(), within_s=30.0)
    code, said = chamber.guest.try_(f"cat {batch}/recipe.toml", user="stranger")
    assert code
    assert "Permission denied" in said
    code, said = chamber.guest.try_("hangroom note 'and so was I'", user="stranger")
    assert code == 77, said
    assert "group hangroom" in said
    code, _ = chamber.guest.try_("touch /var/lib/hangroom/requests/new/x", user="stranger")
    assert code
    chips = chamber.guest.sh("stat -c '%G %a' /dev/gpiochip*").splitlines()
    assert set(chips) == {"gpio 660"}, "the udev rule is in effect, and plain Debian has none of its own"


def test_a_machine_whose_kernel_dies_is_reset_by_its_watchdog(chamber: Chamber) -> None:
    assert "armed" in chamber.maker("hangroom check || true")
    began = chamber.guest.now_s()
    chamber.reboot("sleep 1; echo 0 > /proc/sys/kernel/panic; echo c > /proc/sysrq-trigger")
    assert chamber.guest.now_s() < began
    chamber.wait("the batch goes on", lambda: chamber.leads("warm-up"), within_s=120.0, every_s=5.0)
