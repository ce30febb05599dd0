"""The plan of a batch: the interview at the kitchen table, and the sheet for the wall."""

import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
from msgspec.structs import replace

from controller.cli.asking import Desk, find_desk
from controller.cli.options import Decorated, chamber_option, json_option
from controller.cli.say import fold, print_json
from controller.cli.verb import Verb
from controller.core.plan import Profile
from controller.errors import DataError, HangroomError, UsageError

if TYPE_CHECKING:  # The other verbs need not wait for it.
    from controller.planning.answers import Finding
    from controller.planning.interview import Question
    from controller.planning.sheet import Plan

FOLDED = (
    "hangroom plan tangy --meat 4.5kg --casing 55mm --starter A \\\n"
    "      --starter-range 26C-43C --cure-strength 6.25% --keep tangy.plan"
)
"""An example that is longer than the screen is wide."""


def at_terminal() -> bool:
    """Say whether somebody sits there who can be asked."""
    return sys.stdin.isatty()


def _options(*options: Callable[[Decorated], Decorated]) -> Callable[[Decorated], Decorated]:
    """Put options on a verb, in this order."""

    def put(function: Decorated) -> Decorated:
        for option in reversed(options):
            function = option(function)
        return function

    return put


_asked = _options(
    click.option(
        "--meat", "meats", metavar="TEXT", multiple=True,
        help='One meat: "pork shoulder 4kg 25%"; behind a comma what was done against trichinae. Again for the next.',
    ),
    click.option("--casing", metavar="TEXT", help='Kind and width, as "natural 55mm".'),
    click.option("--starter", metavar="NAME", help="As on its packet."),
    click.option("--starter-dose", metavar="DOSE", help="By its label, as 0.25g/kg."),
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
    click.option("--awake", metavar="HOURS", help="When you can measure, as 7:00-22:00."),
    click.option("--authority", metavar="WHOSE", help="us, canada, eu or uk."),
    click.option("--stuffing", metavar="TIME", help="When it is to be done, as 14:30; else the best hour is chosen."),
    click.option("--waits-cold", "waits_cold_h", metavar="TIME", help="How long the mix would wait cold, as 8h."),
    click.option("--trichinae", metavar="ID", help="The option for pork, horse or game."),
    click.option("--kill-step", "kill_step", metavar="ID", help="The validated process that the stages carry out."),
    click.option("--criteria", metavar="LIST", help="What is to be met before release, as ph,cure."),
    click.option("--mould", is_flag=True, help="White mould is wanted: a dip, and no smoke."),
    click.option("--accept", "accepted", metavar="WORDS", multiple=True, help="Words that are asked for in full."),
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
    from controller.planning.bowl.judge import formula_of, judge_bowl
    from controller.planning.interview import answers_of
    from controller.planning.plan_file import keep_plan
    from controller.planning.sheet import make_plan
    from controller.settings.profile_file import adapt, read_profile
    from controller.settings.shipped import find_profile

    desk = find_desk(chamber)
    chosen, sentences = adapt(read_profile(find_profile(profile)), desk.plan())
    if all(stage.kind != "ferment" for stage in chosen.stages):
        raise DataError(f"{profile}: has no ferment, so nothing is mixed here and there is nothing to plan.")
    answers = answers_of(_interview(said, chosen, desk), chosen, desk.chamber, desk.now_s)
    formula = formula_of(answers, chosen)
    made = make_plan(answers, chosen, desk.chamber, formula, judge_bowl(answers, formula, chosen))
    if made.words and not made.refused and at_terminal():
        answers = replace(answers, accepted=(*answers.accepted, *_ask_words(made.words)))
        made = make_plan(answers, chosen, desk.chamber, formula, judge_bowl(answers, formula, chosen))
    if made.refused or made.words:
        _tell_stops(made)
    for sentence in (*sentences, *made.sheet.warnings):
        _echo(sentence)
    if keep is not None:
        keep_plan(keep, made)
        _echo(f"Kept in {keep}; hangroom start {profile} --plan {keep} takes it.")
    _hand_out(made, out, as_json=as_json)


def _hand_out(made: "Plan", out: Path | None, *, as_json: bool) -> None:
    """Put the page on the screen or into its file, or the figures in its place."""
    from controller.planning.figures import as_object
    from controller.planning.page import page_of

    page = "\n".join(page_of(made)) + "\n"
    if out is not None:
        out.write_text(page, "utf-8")
        _echo(f"The page is in {out}.")
    if as_json:
        print_json(as_object(made))
    elif out is None:
        click.echo(page, nl=False)


def _interview(said: Mapping[str, Any], profile: Profile, desk: Desk) -> dict[str, Any]:
    """Return the answers by key: read from the options, asked for at a terminal, else as usual.

    Raises:
        UsageError: an option cannot be understood; or, without a terminal, all options that are missing, at once.
    """
    from controller.planning.interview import concerns, questions, read_rest

    given = read_rest(said)
    missing: list[str] = []
    asks = at_terminal()
    for question in questions(profile, desk.chamber):
        words = said.get(question.key)
        if words:
            given[question.key] = [question.read(text) for text in words] if question.many else question.read(words)
        elif concerns(question, profile, given):
            if asks:
                given[question.key] = _ask_many(question) if question.many else _ask(question, given, profile)
            elif question.usual is None:
                missing += fold(question.ask, " " * 19, f"  {question.option:<17}")
            else:
                given[question.key] = [] if question.many else question.read(question.usual)
    if missing:
        raise UsageError("\n".join(["hangroom plan needs to know, and there is nobody to ask:", *missing]))
    return given


def _ask(question: "Question", given: Mapping[str, Any], profile: Profile) -> Any:  # noqa: ANN401 - what `read` returns
    """Ask at the terminal until the answer can be understood."""
    from controller.planning.interview import choices

    for name, words in choices(question, given, profile):
        for line in fold(words, " " * 26, f"  {name:<24}"):
            click.echo(line, err=True)
    while True:
        words = click.prompt(question.ask, default=question.usual, err=True, type=str)
        try:
            return question.read(words)
        except HangroomError as error:
            _echo(str(error))


def _ask_many(question: "Question") -> list[Any]:
    """Ask for one after the other; an empty line ends it."""
    found: list[Any] = []
    while True:
        ask = question.ask if not found else "One more? Enter ends it"
        words = click.prompt(ask, default="", show_default=False, err=True, type=str)
        if not words.strip():
            if found or question.usual is not None:
                return found
            click.echo("This one is needed.", err=True)
            continue
        try:
            found.append(question.read(words))
        except HangroomError as error:
            _echo(str(error))


def _echo(text: str) -> None:
    for line in fold(text):
        click.echo(line, err=True)


def _ask_words(findings: Iterable["Finding"]) -> tuple[str, ...]:
    """Ask for the words that are to be typed out in full; what is typed otherwise is no yes."""
    typed_words = []
    for finding in findings:
        _echo(finding.text)
        typed_words.append(
            click.prompt("Type it in full, or Enter to leave it", default="", show_default=False, err=True)
        )
    return tuple(typed_words)


def _tell_stops(made: "Plan") -> NoReturn:
    """Say why there is no plan so."""
    lines = ["There is no plan so."]
    for finding in (*made.refused, *made.words):
        lines += fold(finding.text, "  ", "- ")
    if not made.refused:
        lines += [f'  hangroom plan ... --accept "{finding.asks}"' for finding in made.words]
    raise DataError("\n".join(lines))
