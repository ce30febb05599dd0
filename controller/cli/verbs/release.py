"""The release sheet, from the folder of a batch or by the batch's name."""

from pathlib import Path

import click

from controller.cli.asking import find_desk
from controller.cli.options import chamber_option, json_option
from controller.cli.say import print_json
from controller.cli.verb import Verb
from controller.errors import NoInputError, UsageError
from controller.records.batch_folder import CARD, batches_of


@click.command(
    cls=Verb, examples=("hangroom release 2026-01-05-tangy-1", "hangroom release runs/batches/2026-01-05-tangy-1")
)
@click.argument("batch", metavar="[BATCH or DIR]", default="")
@json_option
@chamber_option
def release(batch: str, chamber: Path | None, *, as_json: bool) -> None:
    """Set what was measured beside what is asked, to be signed.

    Criterion by criterion: met, not met or not measured, with the limit, its
    source, and who decides. Made from the batch folder, while it runs or long
    after. Estimates stand apart. Nothing here says that meat may be eaten.
    """
    from controller.cli.pages.release_page import tell_release
    from controller.review.release import release as made

    sheet = made(_folder(batch, chamber))
    if as_json:
        print_json(sheet)
        return
    for line in tell_release(sheet):
        click.echo(line)


def _folder(batch: str, chamber: Path | None) -> Path:
    """Return the folder that a person means: by its path, by the batch's name, or the only one there is."""
    if batch and (Path(batch) / CARD).is_file():
        return Path(batch)
    if "/" in batch:
        return Path(batch)
    batches = batches_of(find_desk(chamber).state_dir)
    if batch:
        if not (batches / batch).is_dir():
            raise NoInputError(f"{batch}: is no batch of this chamber; there are {_names(batches)}. A folder goes too.")
        return batches / batch
    found = sorted(batches.glob(f"*/{CARD}"))
    if not found:
        raise NoInputError(f"{batches}: holds no batch yet; name a batch or its folder.")
    if len(found) > 1:
        raise UsageError(f"which batch? There are {_names(batches)}; say hangroom release BATCH")
    return found[0].parent


def _names(batches: Path) -> str:
    return ", ".join(sorted(path.parent.name for path in batches.glob(f"*/{CARD}"))) or "none"
