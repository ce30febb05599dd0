"""The maker at the guest's keyboard: types the README's blocks as they stand there, and describes the chamber."""

from collections.abc import Callable
from typing import Final

from tests.rig.chapter import ADDRESS, commands
from tests.rig.guest import Guest, GuestError

FROM: Final = "/mnt/share/hangroom.git"
INSTALL_S: Final = 1800.0


def go_through_chapter(guest: Guest, say: Callable[[str], None] = print) -> str:
    """Type the chapter's blocks as the maker does; the chamber is described before the block that checks it."""
    log: list[str] = []
    folder = "~"
    for block in commands():
        if block.startswith("hangroom check"):
            describe_chamber(guest)
        words = block.replace(ADDRESS, FROM)
        say(f"in the guest: {words.splitlines()[0]} …")
        if words.rstrip().endswith("sudo reboot"):
            words = words.rstrip().removesuffix("sudo reboot")
            log.append(type_(guest, f"cd {folder}\n{words}"))
            guest.reboot("su - maker -c 'sudo reboot'")
            log.append("$ sudo reboot\n")
            continue
        log.append(type_(guest, f"cd {folder}\n{words}"))
    return "\n".join(log)


def type_(guest: Guest, block: str) -> str:
    """Run a block as the maker, stopping at the first command that fails; return it with what it printed."""
    out = guest.sh(f"set -e\n{block}", user="maker", timeout_s=INSTALL_S)
    return f"$ {block}\n{out}"


def describe_chamber(guest: Guest, *, active: str = "high") -> None:
    """Write into the chamber file what the maker finds out: the probe's id, the cut-out's test, one line a answer."""
    probe = guest.sh("ls /sys/bus/w1/devices | grep ^28- | head -1").strip()
    if not probe:
        raise GuestError("no probe on the 1-wire bus")
    edits = (
        f's/^id = "28-[0-9a-f]*"/id = "{probe}"/',
        "s/^# cutout_tested_on = .*/cutout_tested_on = 2026-01-31/",
        "s/^clock_battery = false/clock_battery = true/",  # QEMU's clock goes on as one with a battery does.
        f's/^active = "high"/active = "{active}"/',
    )
    expressions = " ".join(f"-e '{edit}'" for edit in edits)
    guest.sh(f"sudo sed -i {expressions} /etc/hangroom/chamber.toml", user="maker")
