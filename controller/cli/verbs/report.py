"""The batch record as one file, from the folder of a batch or by the batch's name."""

import time
from importlib.metadata import version
from pathlib import Path

import click

from controller.cli.folders import find_folder
from controller.cli.local import in_local_words
from controller.cli.options import Dates, chamber_option, dates_option, zone_option
from controller.cli.verb import Verb
from controller.errors import AccessError, StorageError, UsageError
from controller.records.batch_folder import CARD

FILE = "report.html"
PAGE = b"<!DOCTYPE html>"


@click.command(
    cls=Verb,
    examples=("hangroom report 2026-01-05-tangy-1", "hangroom report runs/batches/2026-01-05-tangy-1 --out a.html"),
)
@click.argument("batch", metavar="[BATCH]", default="")
@click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Where it is written.  [default: report.html in the batch's folder]",
)
@zone_option
@dates_option
@chamber_option
def report(batch: str, out: Path | None, chamber: Path | None, zone: str | None, dates: Dates | None) -> None:
    """Write the record of a batch as one file to read, print and sign.

    BATCH is the name of a batch or its folder; without it the only one there is.

    HTML that needs no network and no script: the figures that matter beside
    their limits, what was not as it should be, pictures with a table of each,
    recipe, readings and corrections, and the sums of the files it was made
    from. Nothing in it says that meat may be eaten.
    """
    from controller.review.logs.spreadsheet import Hints
    from controller.review.report import report as made

    folder = find_folder(batch, chamber, "report")
    path = folder / FILE if out is None else out
    _spare_records(path)
    hints = Hints(zone, dates)
    text = made(folder, made_s=time.time(), version=version("hangroom"), say=in_local_words, out=path, hints=hints)
    try:
        _write_page(path, text)
    except PermissionError as error:
        raise AccessError(f"{path}: you may not write it; say where with --out FILE") from error
    except OSError as error:
        raise StorageError(
            f"{path}: cannot be written: {error.strerror or error}; say where with --out FILE"
        ) from error
    click.echo(str(path))


def _write_page(path: Path, text: str) -> None:
    """Write the page aside and rename it: a full disk leaves the earlier page whole, and no half of the new one."""
    if path.exists() and not path.is_file():
        path.write_text(text, "utf-8")  # A device or a pipe.
        return
    aside = path.with_name(f"{path.name}.new")
    try:
        aside.write_text(text, "utf-8")
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)


def _spare_records(path: Path) -> None:
    """Raise UsageError where the page would replace something that is none, or pass for a part of a batch's record."""
    if (path.parent / CARD).is_file() and path.suffix != ".html":
        raise UsageError(f"{path}: a batch's folder takes a page only by a name that ends in .html; say another --out")
    if not path.is_file():
        return
    try:
        with path.open("rb") as file:
            is_page = file.read(len(PAGE)) in {b"", PAGE}
    except PermissionError as error:
        raise AccessError(f"{path}: you may not write it; say where with --out FILE") from error
    if not is_page:
        raise UsageError(f"{path}: is there already and is no report, so it stays as it is; say another --out FILE")
