"""Talk with a person at a terminal of any width from 40 columns on; "back" and "quit" are understood everywhere."""

import shutil
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Final

import click

from controller.cli.say import WIDTH, fold

NARROWEST: Final = 40
ENDS: Final = (signal.SIGTERM, signal.SIGHUP)


class Back(Exception):  # noqa: N818 no error: what a person typed
    """Be what is raised where somebody wants the question before."""


class Quit(Exception):  # noqa: N818 as above
    """Be what is raised where somebody wants to end here, and keep what was said."""


class ToldToEnd(BaseException):
    """Be what is raised when the process is told to end; nothing but the outermost block may catch it."""

    def __init__(self, number: int) -> None:
        """Take the signal's number."""
        super().__init__(number)
        self.number = number


@contextmanager
def heeding_signals() -> Iterator[None]:
    """Let SIGTERM and SIGHUP (the terminal is gone) end the block as an exception, so that all is put in order."""

    def end(number: int, _frame: FrameType | None) -> None:
        raise ToldToEnd(number)

    before = {number: signal.signal(number, end) for number in ENDS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def columns() -> int:
    """Return how wide a line may be."""
    return min(WIDTH, max(NARROWEST, shutil.get_terminal_size((WIDTH, 24)).columns))


def say(text: str = "", indent: str = "", first: str | None = None) -> None:
    """Say something, folded for this terminal; each line of the text begins a new one."""
    for line in text.splitlines() or [""]:
        for row in fold(line, indent, first, columns()):
            click.echo(row, err=True)


def say_choices(choices: tuple[tuple[str, str], ...]) -> None:
    """List what may be chosen, with numbers, in plain words where there are such."""
    for number, (name, words) in enumerate(choices, start=1):
        say(words or name, "    ", f" {number}  ")


def hear(usual: str | None, choices: tuple[tuple[str, str], ...] = ()) -> str:
    """Return what somebody types; what Enter means where nothing is typed.

    Args:
        usual: what Enter means; None or empty: nothing.
        choices: what was listed; Enter is told by its number then.

    Raises:
        Back, Quit: that was typed.
        click.Abort: nothing can be typed any more, or Ctrl-C.
    """
    if usual:
        names = [name for name, _ in choices]
        say(f"Enter: {names.index(usual) + 1 if usual in names else usual}")
    words = click.prompt("(back, quit)", prompt_suffix=" > ", default="", show_default=False, err=True, type=str)
    said = " ".join(str(words).split())
    match said.lower():
        case "back":
            raise Back
        case "quit":
            raise Quit
        case "":
            return usual or ""
    return said
