"""Forecast the batches: a process of its own, which reads the batch folders and writes at most a file of numbers."""

from pathlib import Path

import click

from controller.cli.asking import Desk, find_desk
from controller.cli.folders import find_folder
from controller.cli.options import chamber_option, json_option
from controller.cli.say import fold, print_json
from controller.cli.verb import Verb
from controller.records.batch_folder import batches_of
from controller.records.status import read_status


@click.command(cls=Verb, examples=("hangroom forecast", "hangroom forecast 2026-01-05-mild-1 --json"))
@click.argument("batch", required=False)
@click.option("--keep", is_flag=True, help="Also write it into forecasts.csv of the batch; status shows that.")
@json_option
@chamber_option
def forecast(batch: str | None, chamber: Path | None, *, keep: bool, as_json: bool) -> None:
    """Tell when a batch is expected at its pH, or at its weight loss.

    BATCH is the name of a batch or its folder; without it you see every open
    batch. You get a range that holds in about 8 of 10 cases, what it rests on,
    and when the next reading tells most.

    It is a guess from the recipe, the logged climate and what you measured.
    Only what you measure decides: a forecast ends no stage and stops no alarm.
    """
    from controller.review.forecast.folder import outlook
    from controller.review.forecast.told import as_object, words_of
    from controller.review.forecast.told import keep as keep_rows

    folders = _folders(batch, chamber)
    outlooks = [outlook(folder, now_s) for folder, now_s in folders]
    if keep:
        for (folder, _), seen in zip(folders, outlooks, strict=True):
            keep_rows(folder, seen.forecasts, seen.timezone)
    if as_json:
        told = [as_object(one, seen.timezone) for seen in outlooks for one in seen.forecasts]
        nothing = {seen.batch: seen.nothing for seen in outlooks if seen.nothing}
        print_json({"forecasts": told, "nothing": nothing})
        return
    for why_not in dict.fromkeys(seen.why_not for seen in outlooks if seen.why_not):
        click.echo("\n".join(fold(f"{why_not}.", "  ", "")), err=True)
    for seen in outlooks:
        click.echo(seen.batch)
        if seen.nothing:
            click.echo("\n".join(fold(f"nothing to forecast: {seen.nothing}.", "    ", "  ")))
        for one in seen.forecasts:
            click.echo("\n".join(fold(words_of(one, seen.timezone), "    ", "  ")))
    if not outlooks:
        click.echo("No batch is open.")


def _folders(batch: str | None, chamber: Path | None) -> list[tuple[Path, float | None]]:
    """Return the folders to look at, each with the present time; None: that of its newest row."""
    if batch is not None and ("/" in batch or Path(batch).is_dir()):
        return [(find_folder(batch, chamber, "forecast"), None)]
    desk: Desk = find_desk(chamber)
    if batch is not None:
        return [(find_folder(batch, chamber, "forecast"), desk.now_s)]
    home = batches_of(desk.state_dir)
    return [(home / one.id, desk.now_s) for one in read_status(desk.state_dir).batches]
