"""Drives every relay off, alone and fast: the last program that runs after the daemon has ended, however it ended.

A Raspberry Pi's kernel leaves an output at its last level when the program that drove it dies, so a killed daemon
leaves the lamp burning; this command is what ends it. It therefore leans on as little as possible: it reads the
note that the daemon left in its run directory before it claimed its first line, not the chamber file, and needs
`gpiod` only. Nothing else of Hangroom is imported but the errors; what both must agree on (the note, how a chip is
found, how a line is made an output) `controller.hardware` takes from here.

It works line by line: a line that somebody else holds does not keep the others on.
"""

import contextlib
import errno
import json
import os
import sys
from typing import Any, Final

import gpiod
from gpiod.line import Bias, Direction, Value

from controller.errors import AccessError, DataError, HangroomError, NoInputError, UnavailableError, UsageError

NOTE: Final = "relays.json"
CONSUMER: Final = "hangroom"
HEADER_LABELS: Final = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")
"""Labels of the chips behind the 40-pin header: Pi 5; Pi 4; all before. From the kernel's drivers of these names."""
BEFORE_ANY_RELAY: Final = ("64", "78")
"""Exit codes of a daemon that stopped at its command line or chamber file; systemd gives the code to the command that
it runs after each end (systemd.exec(5), "Environment variables set or propagated by the service manager")."""

USAGE: Final = """Usage: hangroom-relays-off [--run-dir DIR]

Drives every relay off. Which pins, and which level is off, stands in DIR/relays.json, where the daemon wrote
it before it touched the first of them; the chamber file is not needed. DIR is $RUNTIME_DIRECTORY, else
/run/hangroom. Ends with 0 when every relay is off, 66 when no daemon has left a note there, 69 when
somebody holds a line (a running daemon does: stop it first)."""


def run_dir_path() -> str:
    """Return the daemon's run directory: `$RUNTIME_DIRECTORY` as systemd gives it, else /run/hangroom."""
    return os.environ.get("RUNTIME_DIRECTORY", "").split(":")[0] or "/run/hangroom"


def find_chip_path(label: str, dev_dir: str = "/dev") -> str:
    """Return the device file of the GPIO chip with this label; "" stands for the header of this Raspberry Pi.

    Chip numbers are not used: the header's chip has been number 0, 4 and 0 again on the same board.
    Raises UnavailableError where not exactly one chip fits, AccessError where a chip may not be opened.
    """
    wanted = (label,) if label else HEADER_LABELS
    seen: dict[str, str] = {}
    refused = ""
    names = [f"{dev_dir}/{name}" for name in os.listdir(dev_dir) if name.startswith("gpiochip")]  # noqa: PTH208 no pathlib here
    for path in sorted({os.path.realpath(name) for name in names}):  # Some systems keep old numbers as links.
        try:
            with gpiod.Chip(path) as chip:
                seen[path] = chip.get_info().label
        except PermissionError:
            refused = path
        except OSError:
            continue  # No GPIO chip behind this name; if it was the one that is needed, the search says so below.
    fitting = [path for path, found in seen.items() if found in wanted]
    if len(fitting) == 1:
        return fitting[0]
    if refused and not fitting:
        raise AccessError(
            f"{refused}: this user may not open the GPIO chip.\n"
            "Members of the group gpio may: sudo usermod -a -G gpio USER, then log in again.",
        )
    raise UnavailableError(
        f"gpio_chip: {len(fitting) or 'no'} GPIO chips are labelled {' or '.join(wanted)}; found here:"
        f" {', '.join(f'{found} ({path})' for path, found in seen.items()) or 'none'}.\n"
        "Give the label of the relays' chip as gpio_chip in the chamber file; gpiodetect lists them in brackets.",
    )


def read_note(run_dir: str) -> tuple[str, dict[int, int], str]:
    """Return the chip's label, for each pin the level that is off, and which run of the service left the note.

    Raises NoInputError where there is no note, DataError where it cannot be understood.
    """
    path = os.path.join(run_dir, NOTE)  # noqa: PTH118 pathlib would cost this command a third of its start
    try:
        with open(path, encoding="utf-8") as file:  # noqa: PTH123 as above
            note: Any = json.load(file)
        lines = {int(line["pin"]): int(line["off"]) for line in note["lines"]}
        label, run = str(note["chip"]), str(note.get("run", ""))
    except FileNotFoundError as error:
        raise NoInputError(
            f"{path}: no such file, so no daemon has claimed a relay since this machine was started.\n"
            "Nothing was switched. If a relay is on, pull its plug.",
        ) from error
    except PermissionError as error:
        raise AccessError(
            f"{path}: this user may not read it; members of the group hangroom may, or use sudo."
        ) from error
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError) as error:
        raise DataError(
            f"{path}: cannot be understood ({error}).\nNothing was switched. If a relay is on, pull its plug.",
        ) from error
    if not set(lines.values()) <= {0, 1}:
        raise DataError(f"{path}: off is a level, 0 or 1.\nNothing was switched. If a relay is on, pull its plug.")
    return label, lines, run


def ended_before_it_claimed(run: str) -> bool:
    """Say whether the service calls this after a run that claimed no relay, and the note is an earlier run's.

    A run that stops at a wrong chamber file leaves no note. The one that is there may name levels that no longer hold:
    whoever has put an active-high board in the place of an active-low one would see its relays close.

    Args:
        run: which run left the note, as systemd names it (`$INVOCATION_ID`).
    """
    this = os.environ.get("INVOCATION_ID", "")
    return os.environ.get("EXIT_STATUS") in BEFORE_ANY_RELAY and bool(this) and run != this


def drive_off(label: str, lines: dict[int, int], dev_dir: str = "/dev") -> None:
    """Drive each of these pins to its off level.

    Raises UnavailableError naming the pins that could not be had, after all the others are off.
    """
    failed: list[str] = []
    path = find_chip_path(label, dev_dir)
    with gpiod.Chip(path) as chip, contextlib.ExitStack() as held:
        for pin, off in lines.items():
            try:
                held.enter_context(chip.request_lines({pin: off_settings(off)}, consumer=CONSUMER))
            except (OSError, ValueError) as error:
                failed.append(f"GPIO {pin}: {_why(chip, pin, error)}")
    if failed:
        raise UnavailableError(
            f"{len(lines) - len(failed)} of {len(lines)} relays were driven off; not these: {'; '.join(failed)}.\n"
            "If a daemon holds them, stop it (sudo systemctl stop hangroom) and say this again.",
        )


def off_settings(off: int) -> gpiod.LineSettings:
    """Return what makes a line an output at this level, and pulls it there if it becomes an input afterwards.

    A kernel that makes a released line an input (all but a Raspberry Pi's own, and that too with strict_gpiod) would
    otherwise switch an active-low relay on as soon as the program that drove it off has ended.
    """
    return gpiod.LineSettings(
        direction=Direction.OUTPUT,
        output_value=Value.ACTIVE if off else Value.INACTIVE,
        bias=Bias.PULL_UP if off else Bias.PULL_DOWN,
    )


def _why(chip: gpiod.Chip, pin: int, error: Exception) -> str:
    """Say in words why a line was not to be had; for a busy one, who holds it."""
    if isinstance(error, OSError) and error.errno == errno.EBUSY:
        return f"held by {chip.get_line_info(pin).consumer or 'another program'}"
    return str(error)


def main(arguments: list[str] | None = None) -> int:
    """Run the command and return its exit code (sysexits)."""
    words = sys.argv[1:] if arguments is None else arguments
    try:
        if words in (["-h"], ["--help"]):
            print(USAGE)  # noqa: T201 this is the command
            return 0
        if words and (len(words) != 2 or words[0] != "--run-dir"):  # noqa: PLR2004
            raise UsageError(f"{' '.join(words)}: not understood.\n{USAGE.splitlines()[0]}")
        label, lines, run = read_note(words[1] if words else run_dir_path())
        if ended_before_it_claimed(run):
            print("The daemon ended before it claimed a relay; they were driven off after its last run.")  # noqa: T201 as above
            return 0
        drive_off(label, lines)
    except HangroomError as error:
        print(error, file=sys.stderr)  # noqa: T201 this is the command
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
