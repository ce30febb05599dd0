"""Describe the chamber in an interview at the Pi, and prove its safety layers."""

import time
from pathlib import Path

import click

from controller.cli.options import who_option
from controller.cli.verb import Verb
from controller.errors import UsageError

CUT_SHORT = 128


@click.command(
    cls=Verb,
    examples=(
        "sudo hangroom setup",
        "hangroom setup --out my-chamber.toml",
        "sudo hangroom setup --first-light",
    ),
)
@click.option(
    "--out", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False),
    help="The chamber file to be written.  [default: /etc/hangroom/chamber.toml]",
)  # fmt: skip
@click.option("--gpio-chip", metavar="LABEL", default="", help="The label of the relays' GPIO chip; else the Pi's own.")
@click.option("--first-light", is_flag=True, help="Prove each safety layer once instead, and keep a record.")
@click.option(
    "--chamber", metavar="FILE", type=click.Path(path_type=Path),
    help="With --first-light: the chamber file; else $HANGROOM_CHAMBER, else /etc/hangroom/chamber.toml.",
)  # fmt: skip
@who_option
def setup(out: Path | None, gpio_chip: str, chamber: Path | None, who: str, *, first_light: bool) -> int:
    """Find sensors and relays in an interview, and write the chamber file.

    Done at the Pi itself or over ssh, while the daemon is stopped. Each sensor is
    shown with its value; you warm one in your hand and it is told which one that
    is. Each relay is clicked once, for a second, on an indicator lamp instead of
    the heat lamp, and you are asked what you saw. Nothing else is ever switched.

    At each question: back, quit. What you answered is kept beside the file and
    offered the next time. A file that is there already is replaced only after
    your yes, and kept.

    With --first-light it leads you through a test of each safety layer, says what
    must happen, and keeps what you saw in first-light.csv; `hangroom check` says
    when each was proven last. It can be broken off and gone on with.
    """
    from controller.cli.setting_up.talk import ToldToEnd, heeding_signals

    if first_light and (out is not None or gpio_chip):
        raise UsageError("setup --first-light goes by a chamber file that is there: --chamber FILE, without --out.")
    if chamber is not None and not first_light:
        raise UsageError("setup: write where to? --out FILE. --chamber belongs to --first-light.")
    try:
        with heeding_signals():
            if first_light:
                from controller.cli.setting_up.first_light import hold_first_light

                return hold_first_light(chamber, who)
            from controller.cli.setting_up.describing import describe

            return describe(out, gpio_chip, time.sleep)
    except ToldToEnd as told:
        return CUT_SHORT + told.number
