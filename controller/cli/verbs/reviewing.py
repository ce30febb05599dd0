"""Review what is no single batch: a log from elsewhere, or a folder of many batches."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from controller.cli.folders import names_in
from controller.cli.options import Dates
from controller.cli.pages.log_page import log_page, table_head, table_rows
from controller.cli.pages.reading_bar import ReadingBar
from controller.cli.say import fold, print_json
from controller.errors import HangroomError
from controller.records.batch_folder import CARD

DATA = 65


def review_file(path: Path, columns: Path, zone: str | None, dates: Dates | None, *, as_json: bool) -> int:
    """Print the review of a CSV from elsewhere; return the exit code."""
    from controller.review.foreign import review_foreign
    from controller.review.logs.column_map import read_map
    from controller.review.logs.spreadsheet import Hints

    found = read_map(columns)
    with ReadingBar(path.stat().st_size if path.is_file() else 0.0) as bar:
        figures = review_foreign(path, found, Hints(zone, dates), bar)
    if as_json:
        print_json(figures)
    else:
        for line in log_page(figures):
            click.echo(line)
    return 0


def holds_batches(folder: Path) -> bool:
    """Say whether this is a folder of batches, and no batch itself."""
    return folder.is_dir() and not (folder / CARD).is_file() and bool(names_in(folder))


def review_all(folder: Path, zone: str | None, dates: Dates | None, *, as_json: bool) -> int:
    """Print a line, or with JSON the whole object, for each batch in a folder; return the exit code.

    One after the other, so that a thousand batches need no more memory than one.
    """
    names = names_in(folder)
    code, separator = 0, "\n"
    if as_json:
        click.echo('{"batches": [', nl=False)
    else:
        click.echo(table_head())
    with ReadingBar(len(names), "reviewing", unit="batches", scale=1.0) as bar:
        for name, figures in _each(folder, names, zone, dates):
            if isinstance(figures, HangroomError):
                for line in f"{name}: {figures}".splitlines():
                    click.echo("\n".join(fold(line)), err=True)
                code = figures.exit_code
            elif as_json:
                click.echo(separator + json.dumps({**figures, "folder": name}, ensure_ascii=False), nl=False)
                separator = ",\n"
            else:
                click.echo("\n".join(table_rows(name, figures)))
            bar(1)
    if as_json:
        click.echo("\n]}")
    return code


def _each(
    folder: Path, names: list[str], zone: str | None, dates: Dates | None
) -> Iterator[tuple[str, dict[str, Any] | HangroomError]]:
    from controller.review.batch import read_batch
    from controller.review.figures import review_of
    from controller.review.logs.spreadsheet import Hints

    for name in names:
        try:
            yield name, review_of(read_batch(folder / name, hints=Hints(zone, dates)))
        except HangroomError as error:  # The others are reviewed all the same.
            yield name, error
