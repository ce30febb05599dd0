"""What a person measured or saw. It may be typed while the daemon is down: it is taken when the daemon comes back."""

from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import find_desk, report
from controller.cli.options import at_option, batch_option, by_option, chamber_option, replaces_option, who_option
from controller.cli.verb import Verb
from controller.core.requests import Note, Ph

TOPICS = ("cleaning", "starter", "mixing", "other")
NUMBERS_MAY_BE_NEGATIVE = {"ignore_unknown_options": True}


@click.command(
    cls=Verb,
    context_settings=NUMBERS_MAY_BE_NEGATIVE,
    examples=(
        "hangroom ph 5.21 --by meter",
        'hangroom ph 5.21 --by "meter 1" --sample-temp 20C --at 14:30',
        "hangroom ph 5.31 --by meter --replaces ID",
    ),
)
@click.argument("value", metavar="PH")
@by_option("meter", "strips")
@click.option("--sample-temp", metavar="TEMP", help="Temperature of the sample, as 20C or 68F.")
@click.option("--note", "note_text", metavar="TEXT", default="", help="A remark that stands beside the value.")
@at_option
@replaces_option
@chamber_option
@batch_option
@who_option
def ph(
    value: str, by: str, sample_temp: str | None, note_text: str, at: str | None, replaces: str,
    chamber: Path | None, batch: str, who: str,
) -> None:  # fmt: skip
    """Report a pH that you measured on the wrapped sample.

    A ferment ends on a measured pH and on nothing else. Strips are noted, but
    strips alone end no stage. A correction is a new entry that names the one it
    replaces; nothing recorded is rewritten.
    """
    number = typed.ph(value)
    instrument = typed.instrument(by, ("meter", "strips"))
    sample_temp_c = None if sample_temp is None else typed.sample_temp_c(sample_temp)
    desk = find_desk(chamber, who)
    report(
        desk,
        Ph(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), value=number,
            instrument=instrument, sample_temp_c=sample_temp_c, replaces=replaces, note=note_text,
        ),
    )  # fmt: skip


@click.command(
    cls=Verb,
    examples=(
        'hangroom note "white mould on two pieces, brushed off"',
        'hangroom note --topic cleaning "box, mister, probe"',
    ),
)
@click.argument("text", nargs=-1, required=True)
@click.option(
    "--topic", type=click.Choice(TOPICS), help="A job that comes again: it stands beside the note in the record."
)
@at_option
@chamber_option
@batch_option
@who_option
def note(text: tuple[str, ...], topic: str | None, at: str | None, chamber: Path | None, batch: str, who: str) -> None:
    """Put a sentence into the record of the batch."""
    sentence = typed.sentence(" ".join(text), "note")
    desk = find_desk(chamber, who)
    report(
        desk,
        Note(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), text=sentence,
            topic=topic or "",
        ),
    )  # fmt: skip
