"""The plan of a batch: the interview at the kitchen table, and the sheet for the wall."""

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
from msgspec.structs import replace

from controller.cli.asking import Desk, find_desk
from controller.cli.interviewing import Sitting
from controller.cli.options import chamber_option, json_option, together
from controller.cli.say import fold, print_json
from controller.cli.verb import Verb
from controller.errors import DataError, HangroomError

if TYPE_CHECKING:  # The other verbs need not wait for it.
    from controller.planning.answers import Finding
    from controller.planning.sheet import Plan

FOLDED = (
    "hangroom plan tangy --meat 4.5kg --casing 55mm --starter A \\\n"
    "      --starter-range 26C-43C --cure-strength 6.25% --keep tangy.plan"
)
"""An example that is longer than the screen is wide."""


def at_terminal() -> bool:
    """Say whether somebody sits there who can be asked."""
    return sys.stdin.isatty()


_asked = together(
    click.option(
        "--meat", "meats", metavar="TEXT", multiple=True,
        help='One meat: "pork shoulder 4kg 25%"; behind a comma what was done against trichinae. Again for the next.',
    ),
    click.option("--casing", metavar="TEXT", help='Kind and width, as "natural 55mm".'),
    click.option("--starter", metavar="NAME", help="As on its packet."),
    click.option("--starter-dose", metavar="DOSE", help="By its label, as 0.25g/kg or 25g per 100lb."),
    click.option("--starter-range", metavar="RANGE", help="Of temperatures, by its label, as 18C-32C."),
    click.option("--starter-left", metavar="MASS", help="How much of it is left, as 20g."),
    click.option("--starter-opened", metavar="DATE", help="When it was opened, as 2026-01-30; else new."),
    click.option("--starter-expires", metavar="DATE", help="The date on its packet."),
    click.option("--starter-water", "starter_water_g", metavar="MASS", help="To rehydrate it, as 60g."),
    click.option("--cure", metavar="KIND", help="1, 2, other or none; else the profile's."),
    click.option("--cure-strength", "strength", metavar="SHARE", help="By its pack: 6.25%, or with nitrate 6.25%+4%."),
    click.option("--cure-pct", metavar="SHARE", help="Of the meat, as 0.25% or 2.5g/kg; else the profile's."),
    click.option("--salt-pct", metavar="SHARE", help="All salt, that of the cure included, as 2.6%."),
    click.option("--salt-nitrite", "salt_nitrite_pct", metavar="SHARE", help="Nitrite in your salt, as 0.5%."),
    click.option("--dextrose-pct", metavar="SHARE", help="As 0.4%."),
    click.option("--aim-ph", metavar="PH", help="The dextrose is worked out for this pH instead."),
    click.option("--erythorbate-pct", metavar="SHARE", help="Of the meat; or --ascorbate-pct."),
    click.option("--ascorbate-pct", hidden=True),
    click.option("--erythorbic-acid-pct", hidden=True),
    click.option("--ascorbic-acid-pct", hidden=True),
    click.option("--spice", "spices", metavar="TEXT", multiple=True, help='As "black pepper=3g/kg".'),
    click.option("--scale", "scale_g", metavar="MASS", help="What the fine scale shows at best, as 0.1g."),
    click.option("--big-scale", "big_scale_g", metavar="MASS", help="The same of the other one.  [default: 1g]"),
    click.option("--room", "room_c", metavar="TEMP", help="Where the chamber stands, as 20C."),
    click.option("--meat-temp", "meat_c", metavar="TEMP", help="Of the mixed meat.  [default: 2C]"),
    click.option("--smokes", metavar="PLACE", help="Where it is smoked; no: not at all."),
    click.option("--dries", metavar="PLACE", help="Where it dries."),
    click.option("--awake", metavar="HOURS", help="When you can measure, as 7:00-22:00 or 7am-10pm."),
    click.option("--authority", metavar="WHOSE", help="us, canada, eu or uk."),
    click.option("--stuffing", metavar="TIME", help="When it is to be done, as 14:30 or 2:30pm; else chosen."),
    click.option("--waits-cold", "waits_cold_h", metavar="TIME", help="How long the mix would wait cold, as 8h."),
    click.option("--trichinae", metavar="ID", help="The option for pork, horse or game; help lists them."),
    click.option("--kill-step", "kill_step", metavar="ID", help="The validated process; help lists them."),
    click.option("--criteria", metavar="LIST", help="What is to be met before release, as ph,cure."),
    click.option("--mould", is_flag=True, help="White mould is wanted: a dip, and no smoke."),
    click.option("--accept", "accepted", metavar="WORDS", multiple=True, help="A sentence the plan asked for in full."),
)  # fmt: skip


@click.command(
    cls=Verb,
    examples=(
        "hangroom plan tangy",
        FOLDED,
    ),
)
@click.argument("profile")
@_asked
@click.option(
    "--keep", metavar="FILE", type=click.Path(path_type=Path), help="Keep the plan for hangroom start --plan."
)
@click.option(
    "--out", metavar="FILE", type=click.Path(path_type=Path), help="Write the page into a file, for the printer."
)
@json_option
@chamber_option
def plan(
    profile: str,
    *,
    keep: Path | None,
    out: Path | None,
    as_json: bool,
    chamber: Path | None,
    **said: Any,  # noqa: ANN401 - text, or several; what nobody typed is None
) -> None:
    """Plan a batch before the meat is bought: one page for the kitchen wall.

    It asks for what it needs; every answer is an option too. Grams and their
    shares, what goes in against the limits, the day counted back from the hour of
    stuffing, the latest hour for pH 5.3. It refuses what cannot go well (exit 65),
    with the reason, and what needs your word it asks for.

    The page decides nothing and proves nothing. You decide, and where you sell,
    your authority.
    """
    from controller.planning.plan_file import keep_plan
    from controller.settings.profile_file import adapt, read_profile
    from controller.settings.shipped import find_profile

    desk = find_desk(chamber)
    chosen, sentences = adapt(read_profile(find_profile(profile)), desk.plan())
    if all(stage.kind != "ferment" for stage in chosen.stages):
        raise DataError(f"{profile}: has no ferment, so nothing is mixed here and there is nothing to plan.")
    sitting = Sitting(chosen, desk, said, asks=at_terminal())
    try:
        made = _made(sitting, "" if keep is None else keep.name)
    except click.Abort:
        for line in sitting.again():
            click.echo(line, err=True)
        raise
    for sentence in sentences:
        _echo(desk.words(sentence))
    if keep is not None:
        keep_plan(keep, made)
        _echo(f"Kept in {keep}; hangroom start {profile} --plan {keep} takes it.")
    _hand_out(_in_local_words(made, desk), out, as_json=as_json)


def _made(sitting: Sitting, kept: str) -> "Plan":
    """Hold the interview and make the plan. Raises DataError where there is none, with the line for a second try."""
    from controller.planning.bowl.judge import formula_of, judge_bowl
    from controller.planning.interview import answers_of
    from controller.planning.sheet import make_plan

    desk, profile = sitting.desk, sitting.profile
    given = sitting.hold()
    try:
        answers = answers_of({**given, "kept": kept}, profile, desk.chamber, desk.now_s)
        formula = formula_of(answers, profile)
    except HangroomError as error:
        raise type(error)("\n".join([str(error), *sitting.again()])) from error
    bowl = judge_bowl(answers, formula, profile)
    made = make_plan(answers, profile, desk.chamber, formula, bowl)
    if made.words and not made.refused and sitting.asks:
        answers = replace(answers, accepted=(*answers.accepted, *_ask_words(made.words, sitting.desk)))
        made = make_plan(answers, profile, desk.chamber, formula, bowl)
    if made.refused or made.words:
        _tell_stops(made, sitting)
    return made


def _in_local_words(made: "Plan", desk: Desk) -> "Plan":
    """Return the plan with its sentences as this chamber's units have them; what is kept stays in °C."""
    said = tuple(desk.words(text) for text in made.sheet.warnings)
    return replace(made, sheet=replace(made.sheet, warnings=said))


def _hand_out(made: "Plan", out: Path | None, *, as_json: bool) -> None:
    """Put the page on the screen or into its file, or the figures in its place."""
    from controller.planning.figures import as_object
    from controller.planning.page import page_of, shortened

    # On the screen the cautions stand on the page itself; only what it has no room for is said beside it.
    for sentence in shortened(made) if out is None and not as_json else made.sheet.warnings:
        _echo(sentence)
    page = "\n".join(page_of(made)) + "\n"
    if out is not None:
        out.write_text(page, "utf-8")
        _echo(f"The page is in {out}.")
    if as_json:
        print_json(as_object(made))
    elif out is None:
        click.echo(page, nl=False)


def _echo(text: str) -> None:
    for line in fold(text):
        click.echo(line, err=True)


def _ask_words(findings: Iterable["Finding"], desk: Desk) -> tuple[str, ...]:
    """Ask for the words that are to be typed out in full; what is typed otherwise is no yes."""
    typed_words = []
    for finding in findings:
        _echo(desk.words(finding.text))
        typed_words.append(
            click.prompt("Type it in full, or Enter to leave it", default="", show_default=False, err=True)
        )
    return tuple(typed_words)


def _tell_stops(made: "Plan", sitting: Sitting) -> NoReturn:
    """Say why no plan was made, and what to type for a second try."""
    lines = ["No plan was made."]
    for finding in (*made.refused, *made.words):
        lines += fold(sitting.desk.words(finding.text), "  ", "- ")
    words = [] if made.refused else [finding.asks for finding in made.words]
    raise DataError("\n".join([*lines, *sitting.again(*words)]))
