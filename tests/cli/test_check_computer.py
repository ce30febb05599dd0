"""What `check` says of the computer: what is armed, what is not, and what cannot be seen there."""

import json

import pytest
from msgspec.structs import replace

from controller.cli.pages.computer_lines import tell_computer
from controller.core.values import Computer
from tests.cli.conftest import Typed
from tests.helpers.healthy_pi import PI
from tests.helpers.shipped_chambers import shipped_chamber

CHAMBER = shipped_chamber("insulated-box")
WITH_BATTERY = replace(CHAMBER, clock_battery=True)


def said(computer: Computer, chamber: object = CHAMBER) -> str:
    lines = list(tell_computer(computer, chamber))  # type: ignore[arg-type] # a chamber file, changed
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


def health(**changes: object) -> Computer:
    return replace(PI, health=replace(PI.health, **changes))


def test_a_computer_that_is_in_order_reads_so() -> None:
    page = said(PI, WITH_BATTERY)
    assert "Hardware watchdog: armed, 14 s: a computer that hangs as a whole is reset after that" in page
    assert "A hang of the program alone is for the service's watchdog, 30 s." in page
    assert "Pins of a program that died: let go (strict_gpiod)." in page
    assert "Clock: /dev/rtc0 is there." in page
    assert "Disk of the records: 11.2 GB free, 38 %." in page
    assert "Supply of the computer: strong enough now." in page
    assert "Processor: 52 °C." in page
    assert "NOT" not in page


@pytest.mark.fault_row("C3")
@pytest.mark.parametrize(
    ("computer", "sentence"),
    [
        (replace(PI, watchdog=""), "Hardware watchdog: no device: a computer that hangs as a whole stays so"),
        (replace(PI, watchdog_armed=False), "timer, NOT armed: a computer that hangs as a whole stays so"),
        (replace(PI, watchdog_armed=False), "systemd/hangroom-watchdog.conf arms it, 14 s."),
        (replace(PI, watchdog_armed=None), "timer; this kernel does not say whether it is armed."),
        (replace(PI, watchdog_s=30), "armed, 30 s, but this one counts 15 s at most: do not rely on it."),
        (replace(PI, watchdog="iTCO_wdt", watchdog_s=30), "Hardware watchdog: armed, 30 s: a computer"),
        (PI, "Whether it has reset the computer (C3): not monitored, its driver does not say."),
        (health(reset_by_watchdog=True), "It has reset the computer before this start (C3)."),
    ],
)
def test_the_watchdog_of_the_machine_is_explained(computer: Computer, sentence: str) -> None:
    assert sentence in said(computer)


@pytest.mark.parametrize(
    ("computer", "sentence"),
    [
        (replace(PI, strict_gpiod=None), "Pins of a program that died: not looked at, this kernel shows no such"),
        (
            replace(PI, strict_gpiod=False),
            "only the service's own switching-off (hangroom relays-off) ends the heat then.",
        ),
        (health(disk_free_mb=150.0), "Disk of the records: 150 MB free, 38 %: TOO LITTLE."),
        (health(disk_free_share=0.04), "Disk of the records: 11.2 GB free, 4 %: TOO LITTLE."),
        (health(disk_read_only=True), "but it can only be READ: nothing is recorded and no batch begins."),
        (health(low_voltage=True), "Supply of the computer: TOO WEAK now."),
        (health(low_voltage=None), "Weak supply of the computer (C9): not monitored"),
        (health(processor_c=None), "Hot processor (C10): not monitored"),
    ],
)
def test_what_is_wrong_or_not_seen_is_named(computer: Computer, sentence: str) -> None:
    assert sentence in said(computer)


@pytest.mark.parametrize(
    ("there", "promised", "sentence"),
    [
        (False, True, "the chamber file promises one with a battery (clock_battery), but /dev/rtc0 is NOT there."),
        (True, False, "/dev/rtc0 is there; if a battery is in it, write clock_battery = true"),
        (False, False, "Clock: none of its own; after a power cut without network its time is not believed."),
    ],
)
def test_the_clock_is_held_against_the_chamber_file(*, there: bool, promised: bool, sentence: str) -> None:
    assert sentence in said(replace(PI, clock=there), replace(CHAMBER, clock_battery=promised))


def test_the_limit_of_the_room_on_the_disk_is_that_of_the_chamber_file() -> None:
    modest = replace(CHAMBER, faults=replace(CHAMBER.faults, disk_free_mb=50.0))
    assert "TOO LITTLE" not in said(health(disk_free_mb=150.0), modest)


def test_the_processor_is_told_in_the_makers_unit() -> None:
    assert "Processor: 125.6 °F." in said(PI, replace(CHAMBER, units="F"))  # 52 °C.


def test_the_page_and_the_object_hold_it_on_any_machine(typed: Typed) -> None:
    code, page, err = typed("check", "--chamber", "insulated-box")
    assert (code, err) == (0, "")
    assert "\nThis computer\n  Hardware watchdog: " in page
    code, out, _ = typed("check", "--chamber", "insulated-box", "--json")
    computer = json.loads(out)["computer"]
    assert code == 0
    assert computer["disk_free_mb"] > 0.0
    assert set(computer) >= {"watchdog", "watchdog_armed", "watchdog_s", "strict_gpiod", "clock_there", "low_voltage"}
