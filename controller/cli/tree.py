"""The command and its verbs, listed by the job they are for."""

from typing import Final

import click

from controller.cli.verb import SETTINGS
from controller.cli.verbs.alarms import alarms, clear, quiet, seen
from controller.cli.verbs.batch import confirm, cool, end, hang, hold, next_stage, resume, start
from controller.cli.verbs.before import check, simulate
from controller.cli.verbs.by_hand import wait
from controller.cli.verbs.calibrate import calibrate
from controller.cli.verbs.compare import compare
from controller.cli.verbs.export import export
from controller.cli.verbs.forecast import forecast
from controller.cli.verbs.heat import core, set_climate, smoker
from controller.cli.verbs.learn import learn
from controller.cli.verbs.looking import review, status
from controller.cli.verbs.machine import relays_off, run
from controller.cli.verbs.measured import note, ph
from controller.cli.verbs.pieces import aw, look, weigh
from controller.cli.verbs.planning import plan
from controller.cli.verbs.release import release
from controller.cli.verbs.report import report
from controller.cli.verbs.setup import setup

SECTIONS: Final[dict[str, tuple[click.Command, ...]]] = {
    "Before": (setup, plan, check, learn, simulate, wait),
    "The batch": (start, hang, confirm, next_stage, cool, hold, resume, set_climate, end),
    "What you measure": (ph, weigh, look, aw, smoker, core, note, calibrate),
    "Looking": (status, alarms, seen, quiet, clear, forecast, release),
    "Looking back": (review, report, compare, export),
    "The machine": (run, relays_off),
}


LONGEST: Final = 66
"""So many letters of a verb's first sentence stand beside its name in 80 columns."""


class Verbs(click.Group):
    """List the verbs by the job they are for, in the order in which a maker needs them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the verbs in the order of their sections."""
        del ctx
        return [str(command.name) for commands in SECTIONS.values() for command in commands]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write one list per section."""
        del ctx
        for title, commands in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(str(command.name), command.get_short_help_str(LONGEST)) for command in commands])


@click.group(
    cls=Verbs,
    context_settings=SETTINGS,
    epilog="Each verb tells more, with an example: hangroom ph --help",
)
@click.version_option(package_name="hangroom", prog_name="hangroom")
def hangroom() -> None:
    """Run a fermenting and drying chamber for sausage, and keep the batch's record.

    A batch begins with `start`, ferments from `hang` on, and is over with `end`.
    The verbs find the daemon by --chamber FILE, else $HANGROOM_CHAMBER, else
    /etc/hangroom/chamber.toml.

    Software alone is no protection against a burning lamp: without a thermal
    cut-out that needs no software, nothing is heated.
    """


for _commands in SECTIONS.values():
    for _command in _commands:
        hangroom.add_command(_command)
