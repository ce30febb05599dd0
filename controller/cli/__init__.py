"""The verbs, arranged by job. What a person typed becomes values here; what came of it becomes words here.

Figures go to stdout, messages to stderr, and the command ends with the exit codes of sysexits(3). `main` is the one
place where an error becomes words: no traceback reaches a person.
"""

import os
import re
import sys
import traceback
from collections.abc import Sequence
from typing import Final

import click

from controller.cli.say import WIDTH, fold
from controller.errors import HangroomError

USAGE: Final = 64
SOFTWARE: Final = 70
STORAGE: Final = 74
ACCESS: Final = 77
INTERRUPTED: Final = 130
NOBODY_READS: Final = 141
"""What a shell gives for a command that Ctrl-C ended (128 + 2), or whose reader went away (128 + 13)."""


_COMMAND: Final = re.compile(r"hangroom |\s+(?:hangroom |--)|.*\\$")
"""A line to be copied, or one that goes on with such a line: it is never folded."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command `hangroom` and return its exit code (sysexits).

    Args:
        arguments: the words after the command's name; None takes those of this process.
    """
    try:
        words = list(sys.argv[1:] if arguments is None else arguments)
        code = _run(words[1:]) if words[:1] == ["run"] else _any(words)
        sys.stdout.flush()
    except (BrokenPipeError, SystemExit):  # click turns the first into the second; nothing else here exits.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # What is still waiting in the buffer goes nowhere, quietly.
        return NOBODY_READS
    except (Exception, KeyboardInterrupt) as error:  # noqa: BLE001 - the one place where every error becomes words
        return _tell(error)
    return int(code) if isinstance(code, int) else 0


def _any(words: list[str]) -> object:
    from controller.cli.tree import hangroom

    return hangroom.main(args=words, prog_name="hangroom", standalone_mode=False)


def _run(words: list[str]) -> object:
    """Run the daemon without loading what the other verbs need: it is there for months, on a machine of 512 MB."""
    from controller.cli.verb import SETTINGS
    from controller.cli.verbs.machine import run

    return run.main(args=words, prog_name="hangroom run", standalone_mode=False, **SETTINGS)


def _say(text: str) -> None:
    """Put a message on stderr, folded where a line is too long for the screen."""
    for line in text.splitlines():
        indent = line[: len(line) - len(line.lstrip())]
        place, colon, rest = line.partition(": ")
        rows = [line]
        if len(line) > WIDTH and colon and "/" in place and " " not in place:
            rows = [f"{place}:", *fold(rest, "  ")]  # A path stays whole, and so does what is said of it.
        elif len(line) > WIDTH and not _COMMAND.match(line):
            rows = fold(line.strip(), f"{indent}  ", indent)
        for row in rows:
            click.echo(row, err=True)


def _say_usage(error: click.ClickException) -> None:
    """Say what click could not understand, as click does, within the width of the screen."""
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        click.echo(error.format_message(), err=True)  # It is the help itself, as --help has it.
        return
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is not None:
        click.echo(f"{context.get_usage()}\nHelp: {context.command_path} --help", err=True)
    _say(f"Error: {error.format_message()}")


def _tell(error: BaseException) -> int:
    """Say on stderr what went wrong, and return the exit code for it."""
    match error:
        case HangroomError():
            _say(str(error))
            return error.exit_code
        case click.Abort() | KeyboardInterrupt():
            click.echo("Interrupted.", err=True)
            return INTERRUPTED
        case click.ClickException():
            _say_usage(error)
            return USAGE
        case OSError(strerror=str()):
            _say(f"{error.filename or 'the system'}: {error.strerror}.")
            return ACCESS if isinstance(error, PermissionError) else STORAGE
        case _:
            where = traceback.extract_tb(error.__traceback__)[-1]
            _say(
                f"This is a mistake of the program, not yours: {type(error).__name__}: {error}\n"
                f"at {where.filename}:{where.lineno} in {where.name}. Please report these lines."
            )
            return SOFTWARE
