"""Compare batches: a process of its own, which reads batch folders and writes nothing but the CSV it is asked for."""

import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import click

from controller.cli.folders import find_folder
from controller.cli.options import Dates, chamber_option, dates_option, json_option, zone_option
from controller.cli.say import print_json
from controller.cli.verb import Verb
from controller.errors import StorageError, UsageError
from controller.records.batch_folder import CARD


@click.command(
    cls=Verb,
    examples=(
        "hangroom compare 2026-01-05-tangy-1 2026-02-10-tangy-1",
        "hangroom compare runs/batches/2026-01-05-mild-1 old/mild-3 --earlier old",
    ),
)
@click.argument("batches", nargs=-1, metavar="BATCH BATCH...")
@click.option(
    "--earlier", metavar="DIR", type=click.Path(path_type=Path),
    help="Where your earlier batches lie; else beside those compared.",
)  # fmt: skip
@click.option(
    "--csv", "csv_dir", metavar="DIR", type=click.Path(path_type=Path), help="Also write two CSV files there."
)
@zone_option
@dates_option
@json_option
@chamber_option
def compare(
    batches: tuple[str, ...],
    earlier: Path | None,
    csv_dir: Path | None,
    chamber: Path | None,
    zone: str | None,
    dates: Dates | None,
    *,
    as_json: bool,
) -> None:
    """Set two to six batches side by side, from hanging on.

    BATCH is the name of a batch or its folder. The others are compared with the
    first: what was meant to differ, acid, drying, climate, stages, alarms. What
    lies between two readings is read from the line between them, nothing beyond.

    A difference that is larger than the scatter of your earlier batches of the
    same kind is said so; it needs three of them. Nothing here says that meat may
    be eaten.
    """
    from controller.cli.pages.compare_page import csv_rows, tell_comparison
    from controller.review.compare.comparison import compare as put_together
    from controller.review.logs.spreadsheet import Hints

    folders = [find_folder(batch, chamber, "compare") for batch in batches]
    if csv_dir is not None and (csv_dir / CARD).is_file():
        raise UsageError(
            f"{csv_dir}: is the folder of a batch, which holds its record only; name another one: --csv figures"
        )
    told = put_together(folders, earlier, _bar, Hints(zone, dates))
    if csv_dir is not None:
        for name, rows in zip(("figures.csv", "curves.csv"), csv_rows(told), strict=True):
            _write(csv_dir / name, rows)
    if as_json:
        print_json(told)
        return
    for line in tell_comparison(told):
        click.echo(line)


def _write(path: Path, rows: Sequence[Sequence[str]]) -> None:
    from controller.records.csv_text import row_of

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"".join(row_of(row) for row in rows))
    except OSError as error:
        raise StorageError(f"{path}: cannot be written: {error.strerror or error}") from error


def _bar(folders: Iterable[Path]) -> Iterator[Path]:
    """Show how far the reading is, where somebody looks at a terminal."""
    if not sys.stderr.isatty():
        yield from folders
        return
    with click.progressbar(list(folders), label="reading earlier batches", file=sys.stderr, width=30) as bar:
        yield from bar
