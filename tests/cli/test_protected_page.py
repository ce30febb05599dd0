"""`check --protected`: one page on which each thing that protects is told as there, missing, or not known."""

import datetime as dt
import json
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any, Final

import pytest
from msgspec.structs import replace

from controller.cli.pages.protected_page import as_object, tell_protected
from controller.core.values import Computer
from controller.settings.chamber_file import ChamberFile
from controller.settings.chamber_tables import OutputEntry, SensorEntry
from controller.settings.surroundings import Disk, Rights, Service, Surroundings
from tests.cli.conftest import Typed
from tests.helpers.healthy_pi import PI
from tests.helpers.odd_chambers import odd_chambers
from tests.helpers.shipped_chambers import DAY, shipped_chamber

PAGE_LINES: Final = 66
"""Of a sheet of A4 at six lines an inch (297 mm less margins of 9 mm): common practice of line printers."""
TODAY: Final = DAY + dt.timedelta(days=12)
AROUND: Final = Surroundings(
    service=Service("/etc/systemd/system/hangroom.service", True, True, True, "30"),
    rights=Rights("ann", True, True, True, ("gpio",), True, True),
    disk=Disk("ext4", "/dev/mmcblk0p2", ("rw", "noatime")),
    network_time=True,
    battery_clock_runs=True,
)
BOX: Final = shipped_chamber("insulated-box")
FULL: Final = replace(
    BOX,
    clock_battery=True,
    sensor=(
        *BOX.sensor,
        SensorEntry(channel="air_temp_2", kind="ds18b20", id="28-000000000002"),
        SensorEntry(channel="cutout", kind="contact", pin=26),
    ),
    output=(*BOX.output, OutputEntry(role="master", pin=22), OutputEntry(role="sounder", pin=23)),
)


def marks(file: ChamberFile, computer: Computer, around: Surroundings) -> dict[str, bool | None]:
    return {
        str(line["what"]): line["there"]  # type: ignore[misc] # yes, no or not known
        for line in as_object(file, computer, around, TODAY)
    }


def said(file: ChamberFile = FULL, computer: Computer = PI, around: Surroundings = AROUND) -> str:
    return " ".join(" ".join(tell_protected(file, computer, around, TODAY)).split())


def test_where_all_is_there_nothing_is_missing_and_only_what_nobody_can_see_is_not_known() -> None:
    found = marks(FULL, PI, AROUND)
    assert {what for what, there in found.items() if there is None} == {
        "Fuse, 30 mA residual-current device, guard, smoke alarm"
    }
    assert False not in found.values()
    page = said()
    assert "yes Thermal cut-out: opens at 60.0 °C; seen to open 2026-01-02, 12 days ago" in page
    assert "yes Service: installed, starts with the machine, runs now." in page
    assert "yes A computer that hangs: is reset after 14 s." in page
    assert "yes Pins of a program that died: are let go (strict_gpiod)." in page
    assert "yes Clock: has a battery and runs, and the network agrees." in page
    assert "yes Disk of the records: ext4 on /dev/mmcblk0p2, 11.2 GB free." in page


WRONG: Final[list[tuple[Any, str]]] = [
    ({"file": replace(FULL, cutout_tested_on=None)}, "NO Thermal cut-out: no tested one in the chamber file"),
    ({"file": BOX}, "NO Master contactor: a stuck relay ends at the cut-out."),
    ({"file": BOX}, "NO Sounder or alarm lamp: none"),
    (
        {"file": replace(FULL, output=(replace(BOX.output[0], pin=5),))},
        "NO Relays' pins: pulled ON while the Pi starts: heater on GPIO 5 (header pin 29).",
    ),
    ({"computer": replace(PI, strict_gpiod=False)}, "NO Pins of a program that died: stay as they were"),
    ({"computer": replace(PI, strict_gpiod=None)}, "? Pins of a program that died: not known"),
    (
        {"computer": replace(PI, watchdog_armed=False)},
        "NO A computer that hangs: stays so: its watchdog is not armed",
    ),
    ({"computer": replace(PI, watchdog_s=30)}, "NO A computer that hangs: watchdog set to 30 s, but it counts 15 s"),
    ({"computer": replace(PI, watchdog="")}, "NO A computer that hangs: stays so: it has no watchdog."),
    ({"computer": replace(PI, watchdog_armed=None)}, "? A computer that hangs: whether its watchdog is armed"),
    ({"computer": replace(PI, health=replace(PI.health, low_voltage=True))}, "NO Supply of the computer: TOO WEAK"),
    ({"computer": replace(PI, health=replace(PI.health, low_voltage=None))}, "? Supply of the computer: not known"),
    ({"computer": replace(PI, health=replace(PI.health, disk_free_mb=80.0))}, "0.1 GB free, TOO LITTLE."),
    ({"around": replace(AROUND, disk=Disk("ext4", "/dev/sda1", ("ro",)))}, "can only be READ: no batch begins."),
    (
        {"around": replace(AROUND, disk=Disk("tmpfs", "tmpfs", ("rw",)))},
        "NO Disk of the records: tmpfs on tmpfs is memory",
    ),
    ({"around": replace(AROUND, service=Service())}, "NO Service: not installed"),
    ({"around": replace(AROUND, service=replace(AROUND.service, enabled=False))}, "does NOT start with the machine"),
    ({"around": replace(AROUND, service=replace(AROUND.service, active=False))}, "NO Service: installed, starts with"),
    ({"around": replace(AROUND, service=replace(AROUND.service, active=None))}, "? Service: installed, starts with"),
    (
        {"around": replace(AROUND, service=replace(AROUND.service, relays_off_after=False))},
        "NO All relays off after any end of it: not in the unit.",
    ),
    ({"around": replace(AROUND, service=replace(AROUND.service, watchdog_s=""))}, "NO A program that hangs: stays so"),
    ({"around": replace(AROUND, battery_clock_runs=None)}, "NO Clock: the one with a battery is NOT there"),
    ({"around": replace(AROUND, battery_clock_runs=False)}, "NO Clock: the one with a battery does NOT run"),
    ({"file": replace(FULL, clock_battery=False)}, "NO Clock: believed now, by network; none with a battery"),
    (
        {"around": replace(AROUND, rights=replace(AROUND.rights, gives_orders=False))},
        "NO You (ann) may give orders: sudo usermod -aG hangroom ann",
    ),
    (
        {"around": replace(AROUND, rights=replace(AROUND.rights, reads_batches=None))},
        "? You (ann) may read the batches",
    ),
    (
        {"around": replace(AROUND, rights=replace(AROUND.rights, daemon_user=False))},
        "NO The daemon's own user: there is",
    ),
    (
        {"around": replace(AROUND, rights=replace(AROUND.rights, chip_open_to_group=False, daemon_opens_chip=False))},
        "NO The daemon's user may switch: the chips belong to the group gpio, which may not open them",
    ),
]


@pytest.mark.parametrize(("changed", "sentence"), WRONG)
def test_what_is_missing_or_not_known_is_told_as_that(changed: dict[str, Any], sentence: str) -> None:
    assert sentence in said(**changed)
    assert sentence not in said()


def worst() -> Iterator[tuple[ChamberFile, Computer, Surroundings]]:
    nothing = Surroundings(Service("/etc/systemd/system/hangroom.service"), Rights("ann", False, False), Disk())
    yield from product(
        (*odd_chambers().values(), FULL, BOX),
        (Computer(), PI),
        (AROUND, nothing, replace(nothing, service=Service())),
    )


def test_whatever_is_missing_it_is_one_page_of_80_columns() -> None:
    for file, computer, around in worst():
        lines = list(tell_protected(file, computer, around, TODAY))
        assert len(lines) <= PAGE_LINES
        assert max(map(len, lines)) <= 80


def test_it_is_typed_as_check_protected_and_programs_get_it_too(typed: Typed, chamber: Path) -> None:
    del chamber
    code, page, err = typed("check", "--protected")
    assert (code, err) == (0, "")
    assert page.startswith("What protects old-fridge, seen from this machine on ")
    code, out, _ = typed("check", "--json")
    assert code == 0
    lines = json.loads(out)["protection"]
    assert all(f"{line['what']}: {line['said'][:20]}" in " ".join(page.split()) for line in lines)
