"""What the machine itself is told: run the chamber, drive every relay off."""

from pathlib import Path

import click

from controller.cli.options import chamber_option
from controller.cli.verb import Verb


@click.command(cls=Verb, examples=("hangroom run --chamber /etc/hangroom/chamber.toml",))
@chamber_option
def run(chamber: Path | None) -> int:
    """Run the chamber on real sensors and relays.

    Normally the service starts this; it goes on until it is stopped (Ctrl-C or
    SIGTERM), and then every relay is driven off. A second copy refuses to start.
    Without a thermal cut-out in the chamber file, and the day it was last tested,
    it ends with exit code 78 and heats nothing.
    """
    from controller import app
    from controller.settings.shipped import find_chamber

    return app.run(find_chamber(chamber))


@click.command(
    "relays-off",
    cls=Verb,
    examples=(
        "sudo systemctl stop hangroom",
        "hangroom relays-off",
    ),
)
@click.option(
    "--run-dir", metavar="DIR", help="Where the daemon left its note; else $RUNTIME_DIRECTORY, /run/hangroom."
)
def relays_off(run_dir: str | None) -> int:
    """Drive every relay off, alone and fast.

    It needs no chamber file and no daemon.

    Pins and levels come from the note that the daemon wrote before it touched
    the first relay. Exit code 66: no daemon has claimed a relay since this
    machine was started; 69: somebody holds a line (stop the daemon first). The
    service calls the same thing as `hangroom-relays-off` after every stop.
    """
    from controller.relays_off import main

    return main([] if run_dir is None else ["--run-dir", run_dir])
