"""The machine's own sensors and pins, for an interview that describes the chamber: no daemon, one user at a time."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from controller.core.values import Computer
from controller.errors import AccessError, UnavailableError
from controller.settings.found import Found

if TYPE_CHECKING:
    from controller.hardware.clicking import Active, Clicker, Pace
    from controller.hardware.finding import LiveSensors
    from controller.hardware.sensors import Roots

READ_EVERY_S: Final = 1.0
"""A DS18B20 needs 0.75 s; the kernel's drivers of humidity sensors give the same value for up to 2 s."""
TAKEN: Final = (
    "Hangroom runs on this machine ({holder}) and has the relays; nothing was touched.\n"
    "Stop it first, where no meat depends on it: sudo systemctl stop hangroom"
)
DENIED: Final = "this user may not write it.\nThe interview needs the pins for itself alone: sudo hangroom setup"


class Workbench:
    """Show the sensors and click relays. Made by `at_the_machine`, which sees that all is off in the end."""

    def __init__(
        self, clicker: "Clicker | None", no_pins: str, roots: "Roots | None", every_s: float, run_dir: Path
    ) -> None:
        """Take what there is; `no_pins` is why there are no relays to be clicked, else empty."""
        self._clicker, self._roots, self._every_s, self._run_dir = clicker, roots, every_s, run_dir
        self.no_pins = no_pins

    def find(self) -> tuple[tuple[Found, ...], tuple[str, ...]]:
        """Return the sensors of this machine, and the ids of thermometers that no chamber file can name."""
        from controller.hardware.finding import find_sensors

        return find_sensors(self._roots)

    def live(self, found: tuple[Found, ...]) -> "LiveSensors":
        """Begin to read these sensors; to be closed."""
        from controller.hardware.finding import LiveSensors

        return LiveSensors(found, self._roots, every_s=self._every_s)

    def click(self, pin: int, active: "Active", *, known: bool = False) -> None:
        """Have one output on for a moment; see `hardware.clicking`. Raises UnavailableError, SettingsError."""
        self._need().click(pin, active, known=known)

    def hold_off(self, pin: int, active: "Active") -> None:
        """Hold an output at OFF, whose level is known now. Raises as `click`."""
        self._need().hold_off(pin, active)

    def forget_old_levels(self) -> None:
        """Take away the note of pins and levels that the last daemon left, for a new chamber file may name others.

        Where the daemon ends before it has left its own, as without a tested cut-out, `hangroom-relays-off` would go by
        the old one, and close a relay whose board is on at the other level now.
        """
        from controller.relays_off import NOTE

        (self._run_dir / NOTE).unlink(missing_ok=True)

    def _need(self) -> "Clicker":
        if self._clicker is None:
            raise UnavailableError(self.no_pins)
        return self._clicker


@contextmanager
def at_the_machine(
    chip_label: str = "",
    *,
    pins: Callable[[str], Any] | None = None,
    roots: "Roots | None" = None,
    pace: "Pace | None" = None,
    every_s: float = READ_EVERY_S,
) -> Iterator[Workbench]:
    """Hold the machine for the block, as the daemon would; every relay is off afterwards, whatever ends it.

    Args:
        chip_label: of the GPIO chip; "": the header of this Pi.
        pins: what gives the pin factory of the chip with this label; None: the header of this machine.
        roots: where the kernel shows its sensors; None: where a Raspberry Pi's kernel does.
        pace: how long a click takes.
        every_s: how often each sensor is read.

    Raises:
        UnavailableError: the daemon runs.
        AccessError: this user may not take the run directory.
    """
    from controller.hardware.clicking import Clicker
    from controller.hardware.pins import open_header
    from controller.hardware.single import OnlyCopy
    from controller.relays_off import run_dir_path

    run_dir = Path(run_dir_path())
    with OnlyCopy(run_dir, taken=TAKEN, denied=DENIED) as lock:
        _give_to_owner(lock.path, run_dir)
        clicker, why = None, ""
        try:
            clicker = Clicker((pins or open_header)(chip_label), pace)
        except (UnavailableError, AccessError) as error:
            why = str(error)
        try:
            yield Workbench(clicker, why, roots, every_s, run_dir)
        finally:
            if clicker is not None:
                clicker.close()


def _give_to_owner(path: Path, folder: Path) -> None:
    """Let a file that the superuser has made belong to the one whose folder it lies in: the daemon must open it too."""
    owner = folder.stat()
    if os.geteuid() == 0 and path.stat().st_uid != owner.st_uid:
        os.chown(path, owner.st_uid, owner.st_gid)


def look_at_machine() -> Computer:
    """Return what this computer says of itself, before there is a chamber file."""
    from controller.hardware.machine import look_at

    return look_at(Path("/var/lib/hangroom"))
