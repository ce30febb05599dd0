"""The pieces: what they weigh, what they look like, how dry they are."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import click

from controller.cli import typed
from controller.cli.asking import find_desk, report
from controller.cli.options import (
    Decorated,
    at_option,
    batch_option,
    by_option,
    chamber_option,
    entry_options,
    note_option,
    sure_option,
    who_option,
)
from controller.cli.verb import Verb
from controller.core.people.looks import CHOICES
from controller.core.requests import Look, WaterActivity, Weigh
from controller.core.values import LookKind
from controller.errors import UsageError
from controller.settings.units import parse_mass_g

OUT: Final = "out"
MOULD: Final = "-mould"
MOULDS: Final = tuple(word.removesuffix(MOULD) for word in CHOICES["look"] if word.endswith(MOULD))


def chosen(option: str, words: Sequence[str], help_text: str) -> Callable[[Decorated], Decorated]:
    """Return an option that takes one of these words, and lists them where they may be wrapped."""
    name = option.removeprefix("--")
    return click.option(
        option,
        "look_" if name == "look" else name,
        metavar="WORD",
        type=click.Choice(words),
        help=f"{help_text}: {', '.join(words)}.",
    )


def tare_g(text: str | None) -> float | None:
    """Return the grams of hook and string; 0 is taken, a bare number is in grams. Raises UsageError."""
    if text is None:
        return None
    return 0.0 if text.strip() in {"0", "0g"} else parse_mass_g(text, "--tare", bare="g")


def _weighed_and_out(words: tuple[str, ...]) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return the grams of each piece, and the pieces that leave."""
    words = typed.apart(words)
    parts = [word.partition("=") for word in words]
    out = tuple(piece for piece, _, weight in parts if weight.strip().lower() == OUT)
    weighed = tuple(word for word, part in zip(words, parts, strict=True) if part[2].strip().lower() != OUT)
    twice = next((piece for number, piece in enumerate(out) if not piece.strip() or piece in out[:number]), None)
    if twice is not None:
        raise UsageError(f"{twice}=out: which piece leaves? Name each once, as E=out.")
    return typed.pieces_g(weighed), out


@click.command(
    cls=Verb,
    examples=(
        "hangroom weigh A=430 B=421 --tare 18",
        "hangroom weigh A=0.4kg --at 2026-01-20T18:00",
        "hangroom weigh D=301 E=out",
        "hangroom weigh A=403 --replaces ID",
    ),
)
@click.argument("pieces", metavar="PIECE=WEIGHT...", nargs=-1, required=True)
@click.option("--tare", metavar="MASS", help="Hook and string of each piece, taken off; else as last time.")
@by_option("scale", default="scale")
@sure_option
@entry_options
def weigh(
    pieces: tuple[str, ...], tare: str | None, by: str, note_text: str, at: str | None, replaces: str,
    chamber: Path | None, batch: str, who: str, *, sure: bool,
) -> None:  # fmt: skip
    """Report what pieces weigh, in grams or with a unit.

    Units are g, kg, oz and lb; a bare number is in grams. What hook and string
    weigh is taken off each piece and remembered for the next weighing.

    The first weight of a piece is its green weight. A stage that ends on weight
    loss waits for the slowest piece. A piece that leaves on its own day is out:
    E=out; the slowest of the others counts from then on.
    """
    pieces_g, out = _weighed_and_out(pieces)
    instrument = typed.instrument(by, ("scale",))
    tare_each_g = tare_g(tare)
    desk = find_desk(chamber, who)
    report(
        desk,
        Weigh(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), pieces_g=pieces_g,
            tare_g=tare_each_g, out=out, instrument=instrument, sure=sure, replaces=replaces, note=note_text,
        ),
    )  # fmt: skip


@click.command(
    cls=Verb,
    examples=(
        "hangroom look A --look tacky --firmness firm --smell fresh",
        "hangroom look --mould green",
    ),
)
@click.argument("piece", metavar="[PIECE]", default="")
@chosen("--look", CHOICES["look"], "What you see")
@chosen("--mould", MOULDS, "Mould of this colour")
@chosen("--firmness", CHOICES["firmness"], "What you feel")
@chosen("--smell", CHOICES["smell"], "What you smell")
@note_option
@at_option
@chamber_option
@batch_option
@who_option
def look(
    piece: str, look_: str | None, mould: str | None, firmness: str | None, smell: str | None, note_text: str,
    at: str | None, chamber: Path | None, batch: str, who: str,
) -> None:  # fmt: skip
    """Report what a piece, or the batch, looks, feels and smells like.

    The answer says what to do where something is to be done. Looks prove nothing
    about germs or their toxins, and end no stage.
    """
    if look_ is not None and mould is not None:
        raise UsageError(f"--mould {mould}: --look {look_} is given too; say each in an entry of its own.")
    found: dict[LookKind, str | None] = {
        "look": f"{mould}{MOULD}" if mould is not None else look_,
        "firmness": firmness,
        "smell": smell,
    }
    looks = {kind: word for kind, word in found.items() if word is not None}
    if not looks:
        raise UsageError("what is it like? Say --look, --mould, --firmness or --smell.")
    desk = find_desk(chamber, who)
    report(
        desk,
        Look(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), piece=piece, looks=looks,
            note=note_text,
        ),
    )  # fmt: skip


@click.command(
    cls=Verb,
    examples=(
        'hangroom aw 0.91 --by "meter 1" --piece A',
        "hangroom aw 0.88 --by laboratory --at 2026-02-20T12:00",
    ),
)
@click.argument("value", metavar="AW")
@by_option("meter", "laboratory")
@click.option("--piece", metavar="PIECE", default="", help="Of which piece, where it is one of the weighed ones.")
@click.option("--sample-temp", metavar="TEMP", help="Temperature of the sample, as 20C or 68F.")
@entry_options
def aw(
    value: str, by: str, piece: str, sample_temp: str | None, note_text: str, at: str | None, replaces: str,
    chamber: Path | None, batch: str, who: str,
) -> None:  # fmt: skip
    """Report a water activity that you or a laboratory measured.

    It is held against what recipe and weight loss let one expect. What decides
    about a sausage is the measured one.
    """
    number = typed.number(value, "aw", "0.91")
    instrument = typed.instrument(by, ("meter", "laboratory"))
    sample_temp_c = None if sample_temp is None else typed.sample_temp_c(sample_temp)
    desk = find_desk(chamber, who)
    report(
        desk,
        WaterActivity(
            id=desk.new_id(), actor=desk.actor, batch=batch, at_wall_s=desk.when(at), value=number, piece=piece,
            instrument=instrument, sample_temp_c=sample_temp_c, replaces=replaces, note=note_text,
        ),
    )  # fmt: skip
