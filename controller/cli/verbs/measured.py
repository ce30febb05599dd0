"""What a person measured or saw. It may be typed while the daemon is down: it is taken when the daemon comes back."""

from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import find_desk, report
from controller.cli.options import (
    NUMBERS_MAY_BE_NEGATIVE,
    at_option,
    batch_option,
    by_option,
    chamber_option,
    entry_options,
    sure_option,
    who_option,
)
from controller.cli.verb import Verb
from controller.cli.verbs.pieces import chosen
from controller.core.people.looks import CHOICES
from controller.core.requests import Note, Ph, Sample
from controller.core.values import LookKind

TOPICS = ("cleaning", "starter", "mixing", "other")


@click.command(
    cls=Verb,
    context_settings=NUMBERS_MAY_BE_NEGATIVE,
    examples=(
        "hangroom ph 5.21 --by meter",
        'hangroom ph 5.21 --by "meter 1" --sample-temp 20C --at 14:30',
        "hangroom ph 4.72 --by meter --sample sausage --smell sour",
        "hangroom ph 5.31 --by meter --replaces ID",
    ),
)
@click.argument("value", metavar="PH")
@by_option("meter", "strips")
@click.option(
    "--sample",
    type=click.Choice(["mince", "sausage"]),
    help="What was measured: the wrapped mince, or the middle of a real sausage.",
)
@click.option("--sample-temp", metavar="TEMP", help="Temperature of the sample, as 20C or 68F.")
@chosen("--look", CHOICES["look"], "What you see")
@chosen("--firmness", CHOICES["firmness"], "What you feel")
@chosen("--smell", CHOICES["smell"], "What you smell")
@sure_option
@entry_options
def ph(
    value: str, by: str, sample: Sample | None, sample_temp: str | None, look_: str | None, firmness: str | None,
    smell: str | None, note_text: str, at: str | None, replaces: str, chamber: Path | None, batch: str, who: str,
    *, sure: bool,
) -> None:  # fmt: skip
    """Report a pH that you measured.

    A ferment ends on a measured pH and on nothing else, and the last one comes
    from the middle of a real sausage. What the meter may be wrong by is added
    before a pH counts. Strips are noted, but strips alone end no stage. A
    correction is a new entry that names the one it replaces; nothing recorded is
    rewritten.
    """
    number = typed.ph(value, sure=sure)
    instrument = typed.instrument(by, ("meter", "strips"))
    sample_temp_c = None if sample_temp is None else typed.sample_temp_c(sample_temp)
    said: dict[LookKind, str | None] = {"look": look_, "firmness": firmness, "smell": smell}
    desk = find_desk(chamber, who)
    at_wall_s = None if replaces and at is None else desk.when(at)
    report(
        desk,
        Ph(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=at_wall_s, value=number,
            instrument=instrument, sample=sample, sample_temp_c=sample_temp_c, sure=sure, replaces=replaces,
            note=note_text, looks={kind: word for kind, word in said.items() if word is not None},
        ),
        sample_temp or "",
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
