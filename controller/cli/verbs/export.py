"""Hand the climate of batches on to programs for large tables."""

from pathlib import Path

import click

from controller.cli.folders import find_folder, names_in
from controller.cli.options import Dates, chamber_option, dates_option, zone_option
from controller.cli.pages.reading_bar import ReadingBar
from controller.cli.say import fold
from controller.cli.verb import Verb
from controller.cli.verbs.reviewing import holds_batches
from controller.errors import DataError, NoInputError


@click.command(
    cls=Verb,
    examples=("hangroom export 2026-01-05-tangy-1 --out climate", "hangroom export runs/batches --out climate"),
)
@click.argument("batches", metavar="[BATCH]...", nargs=-1)
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), required=True, help="Where it is written.")
@zone_option
@dates_option
@chamber_option
def export(
    batches: tuple[str, ...],
    out: Path,
    chamber: Path | None,
    zone: str | None,
    dates: Dates | None,
) -> int:
    """Write the climate rows of batches as Parquet, by month.

    BATCH is the name of a batch, its folder, or a folder of batches; without
    it the only one there is. A batch that is exported again replaces its files.
    Times are in UTC; README has the columns. What cannot be read is counted. Of
    several, one that cannot be read at all is told, and the others are written.
    """
    from controller.review.batch import read_batch
    from controller.review.logs.export import export as write
    from controller.review.logs.spreadsheet import Hints

    folders = [folder for batch in batches or ("",) for folder in _folders(batch, chamber)]
    size = sum(path.stat().st_size for folder in folders for path in folder.glob("climate-*.csv"))
    hints, rows, written, code = Hints(zone, dates), 0, 0, 0
    with ReadingBar(size) as bar:
        for folder in folders:
            try:
                done = write(read_batch(folder), out, hints=hints, tell=bar)
            except (DataError, NoInputError) as error:  # Where it cannot be written, none can.
                if len(folders) == 1:
                    raise
                for line in f"{folder.name}: {error}".splitlines():
                    click.echo("\n".join(fold(line)), err=True)
                code = error.exit_code
                continue
            rows, written = rows + done.rows, written + 1
            if done.damaged_rows:
                said = "1 line" if done.damaged_rows == 1 else f"{done.damaged_rows} lines"
                click.echo(f"{folder.name}: {said} could not be read; hangroom review tells which.", err=True)
            if done.copies:
                said = "1 row that stands" if done.copies == 1 else f"{done.copies} rows that stand"
                click.echo(f"{folder.name}: {said} there a second time left out.", err=True)
    of = "1 batch" if len(folders) == 1 else f"{len(folders)} batches"
    if written < len(folders):
        of = f"{written} of {of}"
    click.echo(f"{rows:,} rows of {of} in {out}")
    return code


def _folders(batch: str, chamber: Path | None) -> list[Path]:
    if batch and holds_batches(Path(batch)):
        return [Path(batch) / name for name in names_in(Path(batch))]
    return [find_folder(batch, chamber, "export")]
