"""What the computer says of itself: its supply, its processor, its disk, and whether its watchdog has reset it.

Theory of operation. The kernel's file for the supply (driver raspberrypi-hwmon, name `rpi_volt`) is renewed every two
seconds from the firmware, and says whether the voltage was too low at any instant of these two; a loop of five seconds
would miss most of it. So it is read every second by a thread, which counts. The disk is asked by a thread of its own:
one that hangs must delay neither the loop nor the news of a weak supply, which often is why it hangs. `health` only
hands over what they found, and nothing that is older than half a minute.
"""

import contextlib
import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from msgspec.structs import replace

from controller.core.values import Computer, Health

SYS: Final = Path("/sys")
DEV: Final = Path("/dev")
SUPPLY_EVERY_S: Final = 1.0
DISK_EVERY_S: Final = 10.0
OLD_S: Final = 30.0
LARGEST: Final = 2**63  # No file of the kernel holds a larger number.
CARD_RESET: Final = 0x20
"""WDIOF_CARDRESET of linux/watchdog.h: the last reset came from the watchdog."""


class KernelMachine:
    """Ask the kernel, in threads. Never raises: what cannot be asked is None."""

    def __init__(
        self,
        state_dir: Path,
        *,
        sys: Path = SYS,
        supply_every_s: float = SUPPLY_EVERY_S,
        disk_every_s: float = DISK_EVERY_S,
        now: Callable[[], float] | None = None,
    ) -> None:
        """Find the files and begin to ask.

        Args:
            state_dir: the folder with the records; its disk is looked at.
            sys: where the kernel shows its devices.
            supply_every_s: how often supply and processor are read.
            disk_every_s: how often the disk is asked for its room.
            now: the clock by which an answer is old; None: that of this machine.
        """
        self._state_dir, self._now = state_dir, now or time.monotonic
        self._sys = sys
        self._volt = self._heat = Path()
        self._find()
        self._lows = self._told_lows = 0
        self._found = Health(reset_by_watchdog=reset_by_watchdog(sys))
        self._supply_s = self._disk_s = float("-inf")  # When each thread found something last.
        self._lock = threading.Lock()
        self._ending = threading.Event()
        self._threads = [
            threading.Thread(target=self._ask_on, args=(ask, every_s), name=f"machine {name}", daemon=True)
            for name, ask, every_s in (
                ("supply", self._ask_supply, supply_every_s),
                ("disk", self._ask_disk, disk_every_s),
            )
        ]
        for thread in self._threads:
            thread.start()

    def health(self) -> Health:
        """Return what was found since this was asked last."""
        old_s, lows = self._now() - OLD_S, self._lows
        was_low, self._told_lows = lows != self._told_lows, lows
        found = self._found
        if self._supply_s < old_s:
            found = replace(found, low_voltage=None, processor_c=None)
        if self._disk_s < old_s:
            found = replace(found, disk_free_mb=None, disk_free_share=None, disk_read_only=None)
        return replace(found, low_voltage=True) if was_low else found

    def close(self) -> None:
        """Stop asking."""
        self._ending.set()
        for thread in self._threads:
            thread.join(timeout=0.2)

    def _ask_on(self, ask: Callable[[], None], every_s: float) -> None:
        ask()
        while not self._ending.wait(every_s):
            ask()

    def _find(self) -> None:
        self._volt, self._heat = low_voltage_file(self._sys), processor_file(self._sys)

    def _ask_supply(self) -> None:
        low, milli_c = read_number(self._volt), read_number(self._heat)
        if low is None or milli_c is None:
            self._find()  # Its driver may have come later than the program, and numbers change when it comes anew.
        self._lows += bool(low)
        self._add(low_voltage=None if low is None else bool(low), processor_c=_thousandth(milli_c))
        self._supply_s = self._now()

    def _ask_disk(self) -> None:
        try:
            disk = os.statvfs(self._state_dir)
        except OSError:
            return
        self._add(**_room(disk))
        self._disk_s = self._now()

    def _add(self, **found: Any) -> None:  # noqa: ANN401 - fields of Health
        """Put what one thread has found beside what the other has."""
        with self._lock:
            self._found = replace(self._found, **found)


def low_voltage_file(sys: Path = SYS) -> Path:
    """Return the kernel's file that says whether the supply is too weak; an empty path where there is none."""
    return next((folder / "in0_lcrit_alarm" for folder in _named(sys / "class/hwmon", "name", "rpi_volt")), Path())


def processor_file(sys: Path = SYS) -> Path:
    """Return the kernel's file of the processor's temperature in m°C; an empty path where there is none."""
    zones = sys / "class/thermal"
    for folder in _named(zones, "type", "cpu-thermal"):
        return folder / "temp"
    first = zones / "thermal_zone0/temp"
    return first if first.exists() else Path()


def _named(parent: Path, file: str, name: str) -> Iterator[Path]:
    """Yield the devices of a class that call themselves so; their numbers are those of the order they came in."""
    with contextlib.suppress(OSError):
        for folder in sorted(parent.iterdir()):
            if read_word(folder / file) == name:
                yield folder


def reset_by_watchdog(sys: Path = SYS) -> bool | None:
    """Say whether the machine's own watchdog has caused this boot; None where its driver cannot tell.

    A driver that can tell has the bit also in what it says it can do (`options`); that of the Raspberry Pi has not
    (from memory).
    """
    device = sys / "class/watchdog/watchdog0"
    status, able = read_number(device / "bootstatus"), read_number(device / "options")
    if status is None:
        return None
    if status & CARD_RESET:
        return True
    return False if able is not None and able & CARD_RESET else None


def look_at(state_dir: Path, *, sys: Path = SYS, dev: Path = DEV) -> Computer:
    """Look at the computer once, in the caller's own time, and change nothing.

    Args:
        state_dir: the folder with the records, or one that is still to be made.
        sys: where the kernel shows its devices.
        dev: where the devices are.
    """
    watchdog = sys / "class/watchdog/watchdog0"
    state = read_word(watchdog / "state")
    low, milli_c = read_number(low_voltage_file(sys)), read_number(processor_file(sys))
    there = next((folder for folder in (state_dir, *state_dir.parents) if folder.is_dir()), Path("/"))
    return Computer(
        watchdog="" if not watchdog.exists() else read_word(watchdog / "identity") or "of an unknown name",
        watchdog_armed=None if state is None else state == "active",
        watchdog_s=read_number(watchdog / "timeout"),
        strict_gpiod=strict_gpiod(sys),
        clock=(dev / "rtc0").exists(),
        health=Health(
            low_voltage=None if low is None else bool(low),
            processor_c=_thousandth(milli_c),
            reset_by_watchdog=reset_by_watchdog(sys),
            **_room(os.statvfs(there)),
        ),
    )


def _thousandth(number: int | None) -> float | None:
    return None if number is None else number / 1000.0


def _room(disk: os.statvfs_result) -> dict[str, Any]:
    """Return how much an ordinary user may still write, in MB and as a share, and whether he may."""
    return {
        "disk_free_mb": disk.f_bavail * disk.f_frsize / 1e6,
        "disk_free_share": disk.f_bavail / disk.f_blocks if disk.f_blocks else None,
        "disk_read_only": bool(disk.f_flag & os.ST_RDONLY),
    }


def strict_gpiod(sys: Path = SYS) -> bool | None:
    """Say whether the kernel lets go of an output whose program has died; None where it shows no such option.

    On kernels of the Raspberry Pi each pin driver has `persist_gpio_outputs`, on for its kind by default, and off with
    `dtparam=strict_gpiod` in config.txt; an earlier one had `strict_gpiod` itself (raspberrypi/linux, pull requests
    6117 and 6150). Any other kernel lets go, and shows nothing. One kernel may hold the drivers of several boards, and
    the option is set for one of them: where they differ, the one counts that has a device here; if that does not tell,
    nothing is known.
    """
    said: dict[str, bool] = {}
    for driver in sorted((sys / "module").glob("pinctrl_*")):
        persists = read_word(driver / "parameters/persist_gpio_outputs")
        strict = read_word(driver / "parameters/strict_gpiod")
        if persists is not None:
            said[driver.name] = persists in {"N", "n", "0"}
        elif strict is not None:
            said[driver.name] = strict in {"Y", "y", "1"}
    if len(set(said.values())) > 1:
        drivers = sys / "bus/platform/drivers"
        said = {
            name: lets_go
            for name, lets_go in said.items()
            if any(one.is_symlink() and one.name != "module" for one in drivers.glob(f"{name.replace('_', '-')}/*"))
        }
    return next(iter(said.values())) if len(set(said.values())) == 1 else None


def read_word(path: Path) -> str | None:
    """Return what a file of one line holds; None where it cannot be read."""
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return None


def read_number(path: Path) -> int | None:
    """Return the whole number in a file, also one as 0x8180; None where there is none."""
    word = read_word(path)
    try:
        number = None if word is None else int(word, 0)
    except ValueError:
        return None
    return number if number is not None and abs(number) < LARGEST else None
