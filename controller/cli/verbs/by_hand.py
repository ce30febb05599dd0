"""A simulation by hand: let its time pass, and see what could be measured then."""

import secrets
from collections.abc import Iterator
from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import find_desk
from controller.cli.local import in_local_words
from controller.cli.options import chamber_option, json_option
from controller.cli.say import fold, print_json, show_span, show_time
from controller.cli.verb import Verb
from controller.records.time_box import Measured, Wait, Waited, ask
from controller.settings.units import Units, show_temp


@click.command(
    cls=Verb,
    examples=(
        "hangroom wait 12h --chamber trial",
        "hangroom wait 3d --until-asked --chamber trial",
    ),
)
@click.argument("span", metavar="TIME")
@click.option("--until-asked", is_flag=True, help="Only until the program asks or tells something; TIME at most.")
@json_option
@chamber_option
def wait(span: str, chamber: Path | None, *, until_asked: bool, as_json: bool) -> None:
    """Let time pass in a simulation by hand, as 30m, 12h or 3d.

    It stands still otherwise. Then you see what the program said meanwhile and
    what you could measure now; type what you want to report with the other verbs.
    A real chamber needs no such verb.
    """
    seconds = typed.span_s(span, "wait")
    desk = find_desk(chamber)
    waited = ask(desk.state_dir, Wait(id=secrets.token_hex(4), seconds=seconds, until_asked=until_asked))
    if as_json:
        print_json(waited)
        return
    for line in _tell(waited, desk.chamber.timezone, desk.chamber.units):
        click.echo(line)


def _tell(waited: Waited, timezone: str, units: Units) -> Iterator[str]:
    over = "; the run is over" if waited.ended else ""
    yield f"{show_time(waited.wall_s, timezone)}, {show_span(waited.waited_s)} later{over}."
    for said in waited.said:
        first = f"  {show_time(said.wall_s, timezone)}  "
        yield from fold(in_local_words(said.text, timezone, units), " " * len(first), first)
    if waited.measured is not None:
        yield "What you could measure now:"
        yield from _tell_measured(waited.measured, units)


def _tell_measured(now: Measured, units: Units) -> Iterator[str]:
    temp = "" if now.sample_temp_c is None else f", at {show_temp(now.sample_temp_c, units)}"
    pieces = " ".join(f"{piece}={grams:g}" for piece, grams in now.pieces_g.items())
    rows = (
        ("pH by meter", f"{now.ph_mince:.2f} wrapped sample, {now.ph_sausage:.2f} real sausage{temp}"),
        ("on the scale", f"{pieces}; hook and string {now.tare_g:.0f} g each"),
        ("core", show_temp(now.core_temp_c, units)),
        ("water activity", f"{now.water_activity:.3f} by a laboratory"),
        ("look", ", ".join(f"{kind} {word}" for kind, word in now.looks.items())),
    )
    for name, value in rows:
        yield from fold(value, " " * 18, f"  {name:<16}")
