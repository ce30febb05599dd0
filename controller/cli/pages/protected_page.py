"""One page: what protects this chamber on this machine, what does not, and what cannot be told from here.

Each line begins with yes, NO or a question mark. "yes" says that a thing is there or was seen on the day that stands
beside it, not that it will hold.
"""

import datetime as dt
import textwrap
from collections.abc import Iterator
from typing import Final, NamedTuple

from controller.cli.pages.proved_lines import tell_proved
from controller.cli.pages.unprotected import NAMES, list_unprotected, not_monitored, wrongly_pulled
from controller.cli.say import WIDTH, fold
from controller.cli.wires.header import name_pin
from controller.core.fault_table import ROWS, Part, lacking
from controller.core.values import Computer
from controller.settings.chamber_plan import plan_of
from controller.settings.chamber_tables import ChamberFile
from controller.settings.surroundings import Surroundings
from controller.settings.units import show_temp

MARKS: Final[dict[bool | None, str]] = {True: "yes", False: "NO", None: "?"}
MARK_WIDTH: Final = 5
WITNESSES: Final[tuple[Part, ...]] = ("cutout", "heater_live", "heater_current")
LONGEST_NAME: Final = 30
PI_LONGEST_S: Final = 15
ODD_FILESYSTEMS: Final = {
    "vfat": "keeps no rights of users and loses files with the power",
    "exfat": "keeps no rights of users and loses files with the power",
    "tmpfs": "is memory: all records are gone with the power",
    "overlay": "may be memory: on a card made read-only all records are gone with the power",
    "nfs": "is over the network: records stop with it",
    "nfs4": "is over the network: records stop with it",
    "cifs": "is over the network: records stop with it",
}
"""Not for records. Common practice, no source."""


class Line(NamedTuple):
    """Hold one thing that protects, whether it is there, and what is to be said of it."""

    there: bool | None
    what: str
    said: str


def tell_protected(file: ChamberFile, computer: Computer, around: Surroundings, today: dt.date) -> Iterator[str]:
    """Yield the page, at most 80 columns wide."""
    yield from fold(f"What protects {file.name[:LONGEST_NAME]}, seen from this machine on {today.isoformat()}")
    yield "yes: it is there, or was seen on the day beside it.  ?: not known from here."
    for title, lines in sections(file, computer, around, today):
        yield ""
        yield title
        for line in lines:
            first = f"  {MARKS[line.there]:<{MARK_WIDTH}}"
            yield from fold(f"{line.what}: {line.said}.", " " * (2 + MARK_WIDTH), first)
    yield ""
    yield from tell_proved(file)
    yield ""
    yield "Nobody watches"
    for sentence in _nobody(file):
        yield from textwrap.wrap(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")


def sections(
    file: ChamberFile, computer: Computer, around: Surroundings, today: dt.date
) -> Iterator[tuple[str, list[Line]]]:
    """Yield the parts of the page: title, and the lines in it."""
    yield "Without any program", list(_parts(file, today))
    yield "When the program, or the computer, goes wrong", [*_service(around), *_computer(computer)]
    yield "What the program goes by", list(_senses(file, computer, around))
    yield "Who may do what here", list(_rights(around))


def as_object(file: ChamberFile, computer: Computer, around: Surroundings, today: dt.date) -> list[dict[str, object]]:
    """Return the lines for programs; `there` is null where it cannot be told."""
    return [
        {"section": title, "there": line.there, "what": line.what, "said": line.said}
        for title, lines in sections(file, computer, around, today)
        for line in lines
    ]


def _parts(file: ChamberFile, today: dt.date) -> Iterator[Line]:
    day, cutout_c = file.cutout_tested_on, file.thermal_cutout_c
    if day is None or cutout_c is None:
        yield Line(False, "Thermal cut-out", "no tested one in the chamber file, so no heat is given")
    else:
        ago = (today - day).days
        when = "today" if ago == 0 else "yesterday" if ago == 1 else f"{ago} days ago"
        said = f"opens at {show_temp(cutout_c, file.units)}; seen to open {day.isoformat()}, {when}; test it per batch"
        yield Line(True, "Thermal cut-out", said)
    roles = {output.role for output in file.output}
    if "heater" in roles:
        has = "master" in roles
        yield Line(
            has, "Master contactor", "opens when a relay is stuck" if has else "a stuck relay ends at the cut-out"
        )
    wrong = [f"{output.role.replace('_', ' ')} on {name_pin(output.pin)}" for output in wrongly_pulled(file)]
    said = f"pulled ON while the Pi starts: {', '.join(wrong)}" if wrong else "pulled off while the Pi starts"
    if file.output:
        yield Line(not wrong, "Relays' pins", said)
    yield Line(None, "Fuse, 30 mA residual-current device, guard, smoke alarm", "not seen from here")


def _service(around: Surroundings) -> Iterator[Line]:
    service = around.service
    if not service.installed:
        yield Line(False, "Service", "not installed: nothing restarts the program, nothing switches off after it")
        return
    runs = {True: "runs now", False: "does NOT run now", None: "whether it runs is not seen"}[service.active]
    starts = "starts with the machine" if service.enabled else "does NOT start with the machine"
    there = False if not service.enabled or service.active is False else service.active
    yield Line(there, "Service", f"installed, {starts}, {runs}")
    off = service.relays_off_after
    yield Line(off, "All relays off after any end of it", "the unit says so" if off else "not in the unit")
    said = f"killed after {service.watchdog_s} s" if service.watchdog_s.isdigit() else service.watchdog_s
    yield Line(bool(said), "A program that hangs", said or "stays so: the unit has no WatchdogSec")


def _computer(computer: Computer) -> Iterator[Line]:
    armed, seconds = computer.watchdog_armed, computer.watchdog_s
    if not computer.watchdog:
        yield Line(False, "A computer that hangs", "stays so: it has no watchdog")
    elif armed is None:
        yield Line(None, "A computer that hangs", "whether its watchdog is armed, the kernel does not say")
    elif not armed:
        yield Line(False, "A computer that hangs", "stays so: its watchdog is not armed (hangroom-watchdog.conf)")
    elif "BCM2835" in computer.watchdog and (seconds or 0) > PI_LONGEST_S:
        yield Line(
            False, "A computer that hangs", f"watchdog set to {seconds} s, but it counts {PI_LONGEST_S} s at most"
        )
    else:
        yield Line(True, "A computer that hangs", f"is reset{'' if seconds is None else f' after {seconds} s'}")
    yield {
        True: Line(True, "Pins of a program that died", "are let go (strict_gpiod)"),
        False: Line(False, "Pins of a program that died", "stay as they were: dtparam=strict_gpiod is not set"),
        None: Line(None, "Pins of a program that died", "not known: this kernel shows no such option"),
    }[computer.strict_gpiod]
    low, hot = computer.health.low_voltage, computer.health.processor_c
    yield Line(
        None if low is None else not low,
        "Supply of the computer",
        {None: "not known: no such alarm here", True: "TOO WEAK now", False: "strong enough now"}[low],
    )
    if hot is None:
        yield Line(None, "Processor", "its temperature is not known")


def _senses(file: ChamberFile, computer: Computer, around: Surroundings) -> Iterator[Line]:
    channels = {sensor.channel for sensor in file.sensor}
    second = "air_temp_2" in channels
    inside = "rh" in channels
    said = "as slow as the first" if second else "only the one in the humidity sensor" if inside else "none"
    yield Line(second or inside, "Second thermometer in the air", said)
    contacts = [NAMES[name] for name in WITNESSES if name in channels]
    said = f"by a {', a '.join(contacts)}" if contacts else "only guessed by the warmth"
    yield Line(bool(contacts), "Whether lamp and cut-out do as told is seen", said)
    if "sounder" not in {output.role for output in file.output}:
        yield Line(False, "Sounder or alarm lamp", "none: an alarm reaches only who looks")
    yield _clock(file, around)
    yield _disk(file, computer, around)


def _clock(file: ChamberFile, around: Surroundings) -> Line:
    runs, network = around.battery_clock_runs, around.network_time
    if file.clock_battery and runs:
        return Line(True, "Clock", "has a battery and runs" + (", and the network agrees" if network else ""))
    if file.clock_battery:
        missing = "is NOT there" if runs is None else "does NOT run"
        return Line(
            False, "Clock", f"the one with a battery {missing}" + (": believed by network only" if network else "")
        )
    if network:
        return Line(False, "Clock", "believed now, by network; none with a battery, so not after a power cut")
    return Line(False, "Clock", "NOT believed now: no network time, none with a battery")


def _disk(file: ChamberFile, computer: Computer, around: Surroundings) -> Line:
    disk, health = around.disk, computer.health
    kind = f"{disk.filesystem} on {disk.device}" if disk.filesystem else "file system not known"
    if health.disk_free_mb is None:
        return Line(None, "Disk of the records", f"{kind}, its room is not known")
    gigabytes = f"{health.disk_free_mb / 1000.0:.1f} GB free"
    if health.disk_read_only or "ro" in disk.options:
        return Line(False, "Disk of the records", f"{kind}, can only be READ: no batch begins")
    if disk.filesystem in ODD_FILESYSTEMS:
        return Line(False, "Disk of the records", f"{kind} {ODD_FILESYSTEMS[disk.filesystem]}")
    scarce = health.disk_free_mb < file.faults.disk_free_mb
    return Line(not scarce, "Disk of the records", f"{kind}, {gigabytes}{', TOO LITTLE' if scarce else ''}")


def _rights(around: Surroundings) -> Iterator[Line]:
    rights = around.rights
    if rights.who == "root":
        yield Line(None, "You are root", "so what others may do is not seen; ask again as yourself")
    else:
        for may, what in (
            (rights.reads_batches, "read the batches"),
            (rights.gives_orders, "give orders"),
        ):
            said = {
                True: "tried just now",
                False: "sudo usermod -aG hangroom USER, then log in again",
                None: "not known: the program has not run here yet",
            }[may].replace("USER", rights.who)
            yield Line(may, f"You ({rights.who}) may {what}", said)
    if not rights.daemon_user:
        yield Line(False, "The daemon's own user", "there is none: systemd-sysusers makes it (README, installation)")
    elif not rights.chip_groups:
        yield Line(None, "The daemon's user may switch", "there is no GPIO chip here")
    else:
        groups = ", ".join(rights.chip_groups)
        open_to = f"the chips belong to the group {groups}"
        closed = "" if rights.chip_open_to_group else ", which may not open them (60-hangroom-gpio.rules)"
        yield Line(rights.daemon_opens_chip, "The daemon's user may switch", f"{open_to}{closed}")


def _nobody(file: ChamberFile) -> Iterator[str]:
    """Yield what is watched by nothing: short, for `hangroom check` tells each with the part that would change it."""
    parts = plan_of(file).parts
    said = " ".join(not_monitored(parts))
    blind = [row.id for row in ROWS.values() if f"({row.id})" in said and lacking(row, parts)]
    rows = f"Faults that need a part: {', '.join(blind)}. " if blind else ""
    yield f"{rows}{len(list_unprotected(file))} things in all: hangroom check."
    yield "Surfaces beside the lamp, smoke, fire, carbon monoxide: fit own alarms."
    yield "Only the cut-out ends a lamp that a hung computer left on; no software does."
