"""What protects the chamber on this computer, and what of the computer itself nobody watches."""

from collections.abc import Iterator
from typing import Final

from controller.cli.local import in_units
from controller.cli.say import fold
from controller.core.values import Computer
from controller.settings.chamber_tables import ChamberFile

LONGEST_S: Final = 15
"""A Raspberry Pi's watchdog counts no further: its driver takes at most 15 s (raspberrypi/linux, pull request 5838)."""
PI_WATCHDOG: Final = "BCM2835"
ARM_IT: Final = "systemd/hangroom-watchdog.conf arms it, 14 s"


def tell_computer(computer: Computer, chamber: ChamberFile) -> Iterator[str]:
    """Yield the lines, at most 80 columns wide, indented as the others of the page."""
    for sentence in (
        _watchdog(computer),
        _reset(computer),
        _pins(computer),
        _clock(computer, chamber),
        _disk(computer, chamber),
        _supply(computer),
        _processor(computer),
    ):
        if sentence:
            yield from fold(in_units(sentence, chamber.units), "    ", "  ")


def _watchdog(computer: Computer) -> str:
    name, seconds = computer.watchdog, computer.watchdog_s
    if not name:
        return "Hardware watchdog: no device: a computer that hangs as a whole stays so, its outputs as they are."
    if computer.watchdog_armed is None:
        return f"Hardware watchdog: {name}; this kernel does not say whether it is armed."
    if not computer.watchdog_armed:
        return (
            f"Hardware watchdog: {name}, NOT armed: a computer that hangs as a whole stays so, its outputs as they "
            f"are. {ARM_IT}."
        )
    length = "" if seconds is None else f", {seconds} s"
    if PI_WATCHDOG in name and seconds is not None and seconds > LONGEST_S:
        return (
            f"Hardware watchdog: armed{length}, but this one counts {LONGEST_S} s at most: do not rely on it. {ARM_IT}."
        )
    return (
        f"Hardware watchdog: armed{length}: a computer that hangs as a whole is reset after that, and its pins are "
        "inputs. A hang of the program alone is for the service's watchdog, 30 s."
    )


def _reset(computer: Computer) -> str:
    reset = computer.health.reset_by_watchdog
    if reset is None:
        return (
            "Whether it has reset the computer (C3): not monitored, its driver does not say."
            if computer.watchdog
            else ""
        )
    return "It has reset the computer before this start (C3)." if reset else ""


def _pins(computer: Computer) -> str:
    if computer.strict_gpiod is None:
        return (
            "Pins of a program that died: not looked at, this kernel shows no such option. A Raspberry Pi's leaves "
            "them as they were without dtparam=strict_gpiod in config.txt."
        )
    if computer.strict_gpiod:
        return "Pins of a program that died: let go (strict_gpiod)."
    return (
        "Pins of a program that died: LEFT AS THEY WERE; only the service's own switching-off (hangroom relays-off) "
        "ends the heat then. Write dtparam=strict_gpiod into config.txt."
    )


def _clock(computer: Computer, chamber: ChamberFile) -> str:
    if chamber.clock_battery and not computer.clock:
        return "Clock: the chamber file promises one with a battery (clock_battery), but /dev/rtc0 is NOT there."
    if computer.clock and not chamber.clock_battery:
        return "Clock: /dev/rtc0 is there; if a battery is in it, write clock_battery = true into the chamber file."
    if computer.clock:
        return "Clock: /dev/rtc0 is there. Whether its battery is full is not seen: pull the plug for an hour and look."
    return "Clock: none of its own; after a power cut without network its time is not believed."


def _disk(computer: Computer, chamber: ChamberFile) -> str:
    health, faults = computer.health, chamber.faults
    if health.disk_free_mb is None:
        return ""
    share = "" if health.disk_free_share is None else f", {100.0 * health.disk_free_share:.0f} %"
    free = f"Disk of the records: {_megabytes(health.disk_free_mb)} free{share}"
    if health.disk_read_only:
        return f"{free}, but it can only be READ: nothing is recorded and no batch begins."
    is_scarce = health.disk_free_mb < faults.disk_free_mb or (health.disk_free_share or 1.0) < faults.disk_free_share
    return (
        f"{free}: TOO LITTLE. A month of one batch takes 6 MB; make room before it begins." if is_scarce else f"{free}."
    )


def _megabytes(megabytes: float) -> str:
    return f"{megabytes / 1000.0:.1f} GB" if megabytes >= 1000.0 else f"{megabytes:.0f} MB"  # noqa: PLR2004 - a thousand


def _supply(computer: Computer) -> str:
    low = computer.health.low_voltage
    if low is None:
        return "Weak supply of the computer (C9): not monitored, this kernel has no such alarm."
    return "Supply of the computer: TOO WEAK now." if low else "Supply of the computer: strong enough now."


def _processor(computer: Computer) -> str:
    temp_c = computer.health.processor_c
    if temp_c is None:
        return "Hot processor (C10): not monitored, this kernel shows no temperature of it."
    return f"Processor: {temp_c:.0f} °C."


def as_object(computer: Computer) -> dict[str, object]:
    """Return the same for programs; temperatures in °C, room in MB."""
    health = computer.health
    return {
        "watchdog": computer.watchdog or None,
        "watchdog_armed": computer.watchdog_armed,
        "watchdog_s": computer.watchdog_s,
        "reset_by_watchdog": health.reset_by_watchdog,
        "strict_gpiod": computer.strict_gpiod,
        "clock_there": computer.clock,
        "disk_free_mb": health.disk_free_mb,
        "disk_free_share": health.disk_free_share,
        "disk_read_only": health.disk_read_only,
        "low_voltage": health.low_voltage,
        "processor_c": health.processor_c,
    }
