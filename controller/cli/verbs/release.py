"""The release sheet, from the folder of a batch or by the batch's name."""

from pathlib import Path

import click

from controller.cli.folders import find_folder
from controller.cli.options import Dates, chamber_option, dates_option, json_option, zone_option
from controller.cli.say import print_json
from controller.cli.verb import Verb


@click.command(
    cls=Verb, examples=("hangroom release 2026-01-05-tangy-1", "hangroom release runs/batches/2026-01-05-tangy-1")
)
@click.argument("batch", metavar="[BATCH]", default="")
@zone_option
@dates_option
@json_option
@chamber_option
def release(batch: str, chamber: Path | None, zone: str | None, dates: Dates | None, *, as_json: bool) -> None:
    """Set what was measured beside what is asked, to be signed.

    BATCH is the name of a batch or its folder; without it the only one there is.

    Criterion by criterion: met, not met or not measured, with the limit, its
    source, and who decides. Made from the batch folder, while it runs or long
    after. Estimates stand apart. Nothing here says that meat may be eaten.
    """
    from controller.cli.pages.release_page import tell_release
    from controller.review.logs.spreadsheet import Hints
    from controller.review.release import release as made

    sheet = made(find_folder(batch, chamber, "release"), Hints(zone, dates))
    if as_json:
        print_json(sheet)
        return
    for line in tell_release(sheet):
        click.echo(line)
