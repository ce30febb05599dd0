"""The options that several verbs share, each said once."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, Literal, TypeVar

import click

Decorated = TypeVar("Decorated", bound=Callable[..., Any])

chamber_option = click.option(
    "--chamber",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="The chamber file, or the folder of a simulation; else $HANGROOM_CHAMBER, else /etc/hangroom/chamber.toml.",
)
batch_option = click.option("--batch", metavar="NAME", default="", help="Which batch, where more than one is open.")
who_option = click.option("--who", metavar="NAME", default="", help="Who says so; else your login name.")
at_option = click.option(
    "--at", metavar="TIME", help="When it was, as 14:30 or 2026-01-05T14:30 in the chamber's local time; else now."
)
replaces_option = click.option(
    "--replaces", metavar="ID", default="", help="The id of the entry that this one corrects."
)
sure_option = click.option("--sure", is_flag=True, help="You were asked back, and it is so.")
note_option = click.option(
    "--note", "note_text", metavar="TEXT", default="", help="A remark that stands beside the value."
)
because_option = click.option("--because", metavar="TEXT", default="", help="The reason, for the record.")
json_option = click.option("--json", "as_json", is_flag=True, help="One JSON object instead of words.")

zone_option = click.option(
    "--zone", metavar="ZONE", help="Where the clock of local times stood, as Europe/Vienna or UTC."
)
dates_option = click.option(
    "--dates", type=click.Choice(["day-first", "month-first"]), help="How 05/01/2026 is meant in such a file."
)
Dates = Literal["day-first", "month-first"]


class Number(click.ParamType[float]):
    """Be a number that is typed, and say so in a maker's words."""

    name = "number"

    def __init__(self, example: str) -> None:
        """Take how one is typed."""
        self.example = example

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:  # noqa: ANN401
        """Return the number; fail with words where it is none."""
        try:
            return float(value)
        except ValueError:
            self.fail(f"{value} is not a number; write it as {self.example}.", param, ctx)


def by_option(*instruments: str, default: str | None = None) -> Callable[[Decorated], Decorated]:
    """Return the option that says what it was measured with; without a default it must be given."""
    known = " or ".join(instruments)
    text = f'Measured with: {known}, with its id where it has one, as "{instruments[0]} 1".'
    if default is None:
        return click.option("--by", metavar="WITH", required=True, help=text)
    return click.option("--by", metavar="WITH", default=default, help=text)


def together(*options: Callable[[Decorated], Decorated]) -> Callable[[Decorated], Decorated]:
    """Put options on a verb, in this order."""

    def put(function: Decorated) -> Decorated:
        for option in reversed(options):
            function = option(function)
        return function

    return put


entry_options = together(note_option, at_option, replaces_option, chamber_option, batch_option, who_option)
"""What every entry of a measured value takes."""
NUMBERS_MAY_BE_NEGATIVE: Final = {"ignore_unknown_options": True}
"""For verbs whose first word is a number: -1C is no option."""
