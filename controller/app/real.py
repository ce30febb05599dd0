"""The daemon on real hardware, and one look at its sensors."""

import signal
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from controller.app.beginning import begin
from controller.core.chamber.timing import LEASE_TICKS
from controller.core.values import Computer, Event, Readings
from controller.daemon import Ports
from controller.daemon import run as run_daemon
from controller.errors import SettingsError
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.keeper import Keeper
from controller.records.request_box import RequestBox
from controller.settings.chamber_file import ChamberFile, plan_of, read_chamber
from controller.settings.learned_file import use_learned
from controller.settings.surroundings import Surroundings

if TYPE_CHECKING:
    from controller.hardware.sensors import Roots

SUMMARY_HOUR: Final = 8
BEGIN_WITHIN_S: Final = 5.0
"""So long the first tick waits at most for a disk that is to remember this start."""


def run(chamber_path: Path, *, pins: Callable[[str], Any] | None = None, roots: "Roots | None" = None) -> int:
    """Run the daemon on real hardware until it is told to end; return the exit code.

    Args:
        chamber_path: the chamber file.
        pins: what gives the pin factory of the chip with this label; None: the header of this machine.
        roots: where the kernel shows its sensors; None: where a Raspberry Pi's kernel does.

    Raises:
        SettingsError: the chamber file is wrong, or heat is refused: exit 78.
        UnavailableError: another copy runs, or the relays cannot be had: exit 69.
    """
    file = read_chamber(chamber_path)
    use = use_learned(Path(file.state_dir), file)
    chamber = plan_of(file, use.learned)
    if chamber.heat_refused:
        raise SettingsError(f"{chamber_path}: heat is refused: {chamber.heat_refused}")
    from controller.hardware.chores import DailyChores
    from controller.hardware.clock import SystemClock
    from controller.hardware.machine import KernelMachine
    from controller.hardware.pins import open_header
    from controller.hardware.relays import TimedRelays
    from controller.hardware.sensors import ThreadedSensors
    from controller.hardware.single import OnlyCopy
    from controller.hardware.supervisor import find_supervisor
    from controller.relays_off import run_dir_path

    run_dir, state_dir = Path(run_dir_path()), Path(file.state_dir)
    with OnlyCopy(run_dir), ExitStack() as stack:
        clock = SystemClock(clock_battery=file.clock_battery)
        stack.callback(clock.close)
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda _number, _frame: clock.end())
        factory = (pins or open_header)(file.gpio_chip)
        relays = TimedRelays(
            file.output, factory, chip_label=file.gpio_chip, run_dir=run_dir, lease_s=LEASE_TICKS * file.tick_s
        )
        stack.callback(relays.close)
        sensors = ThreadedSensors(file.sensor, factory, roots=roots)
        stack.callback(sensors.close)
        chores = DailyChores(timezone=file.timezone, hour=SUMMARY_HOUR)
        stack.callback(chores.close)
        keeper = Keeper(state_dir, file, force=True, threaded=True, learned=use.learned)
        stack.callback(keeper.close)
        machine = KernelMachine(state_dir)
        stack.callback(machine.close)
        memory, told = begin(state_dir / CHECKPOINT, chamber, clock, pause=time.sleep)
        keeper.begin(memory, within_s=BEGIN_WITHIN_S)
        box = RequestBox(state_dir, answered=memory.answered, threaded=True)
        stack.callback(box.close)
        ports = Ports(clock, sensors, relays, keeper, box, chores, find_supervisor(), machine)
        if use.why_not:
            sys.stderr.write(f"{use.why_not}\n")  # Into the journal.
            told = (*told, Event("learn", f"{use.why_not[0].upper()}{use.why_not[1:]}."))
        memory = run_daemon(memory, chamber, ports, told)
        keeper.save(memory)
    return 0


def look_at_computer(file: ChamberFile) -> Computer:
    """Return what protects the chamber on this computer and what does not; nothing is changed."""
    from controller.hardware.machine import look_at

    return look_at(Path(file.state_dir))


def look_around(file: ChamberFile) -> Surroundings:
    """Return what stands around the program: its service, rights, disk and clock; nothing is changed."""
    from controller.hardware.surroundings import look_around as look

    return look(Path(file.state_dir))


def probe(file: ChamberFile) -> Readings:
    """Read every sensor of the chamber file once, on this machine, and switch nothing.

    Returns:
        For each channel its `Reading`, or the named `Fault`; a door contact is left out, for its pin would be claimed.
    """
    from controller.hardware.sensors import read_once

    return read_once(tuple(entry for entry in file.sensor if entry.kind != "contact"))
