"""Look at the chamber and at a batch."""

import time
from pathlib import Path

import click

from controller.cli.asking import find_desk
from controller.cli.folders import find_folder
from controller.cli.local import in_local_words
from controller.cli.options import Dates, chamber_option, dates_option, json_option, zone_option
from controller.cli.pages.reading_bar import ReadingBar
from controller.cli.say import print_json
from controller.cli.verb import Verb
from controller.errors import UsageError

WATCH_EVERY_S = 5.0
DATA = 65
UNAVAILABLE = 69


@click.command(cls=Verb, examples=("hangroom status", "hangroom status --watch"))
@click.option("--watch", is_flag=True, help="Again every five seconds, until Ctrl-C.")
@json_option
@chamber_option
def status(chamber: Path | None, *, watch: bool, as_json: bool) -> int:
    """Show how the chamber and the batches are now.

    When no daemon is running, you see what the last one knew, and how old that
    is; the exit code is then 69.
    """
    from controller.cli.pages.status_page import as_object, look, tell_page

    desk = find_desk(chamber)
    while True:
        seen_now = look(desk)
        if as_json:
            print_json(as_object(seen_now))
        else:
            if watch:
                click.clear()  # Does nothing where nobody looks at a terminal.
            for line in tell_page(seen_now):
                click.echo(line)
        if not watch:
            return 0 if seen_now.alive else UNAVAILABLE
        time.sleep(WATCH_EVERY_S)


@click.command(
    cls=Verb,
    examples=("hangroom review 2026-01-05-tangy-1", "hangroom review runs/batches/2026-01-05-tangy-1 --csv figures"),
)
@click.argument("batch", metavar="[BATCH]", default="")
@click.option(
    "--csv",
    "csv_dir",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Also write the figures into this folder, a CSV file for each table; those there of the same names are "
    "replaced.",
)
@click.option(
    "--columns",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="BATCH is a CSV from elsewhere; this TOML file says which column is what.",
)
@zone_option
@dates_option
@json_option
@chamber_option
def review(
    batch: str,
    chamber: Path | None,
    *,
    csv_dir: Path | None,
    columns: Path | None,
    zone: str | None,
    dates: Dates | None,
    as_json: bool,
) -> int:
    """Tell what a batch went through, from what was recorded.

    BATCH is the name of a batch or its folder, running or finished; without it
    the only one there is.

    The figures that matter first, stages planned and real, climate, pH, weight
    loss, alarms and what was done about them, gaps, forecasts beside what came,
    and what to look at next time. Nothing here says that meat may be eaten.
    Where climate is missing, so that nobody knows the degree-hours, the exit code
    is 65.

    A folder of batches goes too: a line for each. So does a CSV of another
    logger with --columns. A climate file in the folder that a spreadsheet has
    saved again is read; where its times have no zone, you are asked for it.
    """
    from controller.cli.verbs.reviewing import holds_batches, review_all, review_file
    from controller.review.batch import read_batch
    from controller.review.figures import review_of
    from controller.review.logs.spreadsheet import Hints
    from controller.review.page import page_of

    is_many = bool(batch) and holds_batches(Path(batch))
    if csv_dir is not None and (is_many or columns is not None):
        raise UsageError(
            "--csv writes the figures of one batch; for a log from elsewhere or many batches there is --json"
        )
    if columns is not None:
        return review_file(Path(batch), columns, zone, dates, as_json=as_json)
    if is_many:
        return review_all(Path(batch), zone, dates, as_json=as_json)
    folder = find_folder(batch, chamber, "review")
    with ReadingBar(sum(path.stat().st_size for path in folder.glob("climate-*.csv"))) as bar:
        record = read_batch(folder, bar, Hints(zone, dates))
        figures = review_of(record)
    if csv_dir is not None:
        from controller.review.exported import write_csv

        files = write_csv(figures, folder, record.readings, csv_dir)
        click.echo(f"{csv_dir}: {len(files)} files with the figures.", err=True)
    if as_json:
        print_json(figures)
    else:
        units, zone = record.card.chamber.units, record.card.chamber.timezone
        for line in page_of(figures, units, lambda text: in_local_words(text, zone, units)):
            click.echo(line)
    return DATA if figures["ferment"]["climate_missing"] else 0
