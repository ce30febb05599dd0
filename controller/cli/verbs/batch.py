"""The batch: begin it, hang the meat, say what is done, pause it, end it. The daemon decides, and answers."""

from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import Desk, command, find_desk
from controller.cli.options import batch_option, because_option, chamber_option, sure_option, who_option
from controller.cli.say import fold
from controller.cli.verb import Verb
from controller.cli.verbs.pieces import tare_g
from controller.core.plan import Profile
from controller.core.requests import Confirm, Cool, End, Hang, Hold, Next, Resume, Start
from controller.core.sheet import Sheet
from controller.errors import UsageError


@click.command(
    cls=Verb,
    examples=(
        "hangroom start tangy --meat 4.5kg",
        "hangroom start mild --meat 10lb --diameter 60mm",
        "hangroom start tangy --plan tangy.plan",
    ),
)
@click.argument("profile")
@click.option("--meat", metavar="MASS", help="How much meat, as 4.5kg or 10lb.")
@click.option("--diameter", metavar="LENGTH", help="Of the casing, as 55mm or 2.2in.  [default: 55mm]")
@click.option(
    "--plan",
    "plan_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="What hangroom plan --keep has kept: it says how much meat and which casing.",
)
@sure_option
@chamber_option
@who_option
def start(
    profile: str, meat: str | None, diameter: str | None, plan_file: Path | None,
    chamber: Path | None, who: str, *, sure: bool,
) -> None:  # fmt: skip
    """Start a batch with a profile: a shipped one by name, or a file.

    The empty chamber warms first; hang the meat when it is warm, and say so with
    `hangroom hang`. Stages that this chamber cannot do go on elsewhere, and you
    are told which.

    Until an alarm has been heard in a test in the last 24 h, stay within earshot:
    hangroom alarms --test.
    """
    from controller.settings.profile_file import adapt, read_profile
    from controller.settings.shipped import find_profile

    meat_kg, diameter_mm = _size(meat, diameter, plan_file)
    desk = find_desk(chamber, who)
    chosen, sentences = adapt(read_profile(find_profile(profile)), desk.plan())
    sheet = None if plan_file is None else _planned(plan_file, chosen.name, desk)
    if sheet is not None:
        meat_kg, diameter_mm = sheet.formula.meat_kg, sheet.diameter_mm
    else:
        sentences = (*sentences, *_unplanned(chosen, profile, desk, meat_kg, diameter_mm))
    for line in (line for sentence in sentences for line in fold(desk.words(sentence))):
        click.echo(line, err=True)
    command(
        desk,
        Start(
            id=desk.new_id(), actor=desk.actor, batch=desk.next_batch(chosen.name), profile=chosen, meat_kg=meat_kg,
            diameter_mm=diameter_mm, sheet=sheet, sure=sure,
        ),
    )  # fmt: skip


def _unplanned(chosen: Profile, typed_as: str, desk: Desk, meat_kg: float, diameter_mm: float) -> list[str]:
    """Return for what a plan would be refused; only said here, as the meat may be mixed already, and otherwise."""
    from controller.planning.unplanned import judge_unplanned

    found = judge_unplanned(chosen, desk.chamber, meat_kg=meat_kg, diameter_mm=diameter_mm, now_wall_s=desk.now_s)
    advice = f"By the recipe of {chosen.name} no plan would be made. Make a plan: hangroom plan {typed_as}"
    return [*(f"! {finding.text}" for finding in found), *([advice] if found else [])]


def _size(meat: str | None, diameter: str | None, plan_file: Path | None) -> tuple[float, float]:
    """Return kg of meat and mm of casing as typed; with a plan they stand there, and typing them too is a mistake."""
    if plan_file is not None:
        if meat is not None or diameter is not None:
            raise UsageError(
                "--plan says how much meat and which casing; leave --meat and --diameter out, or plan again."
            )
        return 0.0, 0.0
    if meat is None:
        raise UsageError("how much meat? Say --meat 4.5kg, or --plan FILE with what hangroom plan --keep has kept.")
    return typed.meat_kg(meat), typed.diameter_mm(diameter or "55mm")


def _planned(plan_file: Path, profile: str, desk: Desk) -> Sheet:
    """Return what was planned for this profile in this chamber. Raises NoInputError, DataError."""
    from controller.planning.plan_file import take_plan

    kept = take_plan(
        plan_file,
        profile=profile,
        chamber=desk.chamber.name,
        timezone=desk.chamber.timezone,
        now_wall_s=desk.now_s,
    )
    return kept.sheet


@click.command(cls=Verb, examples=("hangroom hang A=412 B=398", "hangroom hang A=430 B=421 --tare 18"))
@click.argument("pieces", metavar="[PIECE=WEIGHT]...", nargs=-1)
@click.option("--tare", metavar="MASS", help="Hook and string of each piece, taken off; remembered for later.")
@sure_option
@chamber_option
@batch_option
@who_option
def hang(
    pieces: tuple[str, ...], tare: str | None, chamber: Path | None, batch: str, who: str, *, sure: bool
) -> None:  # fmt: skip
    """Say that the meat is in: the ferment counts from here.

    Weigh a few marked pieces before, the thickest among them: later weights are
    compared with these. Grams, or with a unit (g, kg, oz, lb).
    """
    pieces_g = typed.pieces_g(pieces)
    tare_each_g = tare_g(tare) or 0.0
    desk = find_desk(chamber, who)
    command(
        desk,
        Hang(id=desk.new_id(), actor=desk.actor, batch=batch, pieces_g=pieces_g, tare_g=tare_each_g, sure=sure),
    )


@click.command(cls=Verb, examples=("hangroom confirm",))
@sure_option
@chamber_option
@batch_option
@who_option
def confirm(chamber: Path | None, batch: str, who: str, *, sure: bool) -> None:
    """Say that what the stage asks of you is done.

    What the stage waits for besides is named in the answer. A cook or chill
    that is not proved by the readings is asked back: what is unproved is said.
    """
    desk = find_desk(chamber, who)
    command(desk, Confirm(id=desk.new_id(), actor=desk.actor, batch=batch, sure=sure))


@click.command("next", cls=Verb, examples=('hangroom next --because "firm enough to slice"',))
@click.option("--because", metavar="TEXT", required=True, help="The reason; it stands in the record.")
@sure_option
@chamber_option
@batch_option
@who_option
def next_stage(because: str, chamber: Path | None, batch: str, who: str, *, sure: bool) -> None:
    """End the present stage early, with a reason.

    A ferment is ended so only after a pH at or below 5.3 in a real sausage, the
    meter's error added, when two readings two hours apart agree. A cook or a
    chill that its readings do not end is asked back: what is unproved is said.
    """
    reason = typed.sentence(because, "--because")
    desk = find_desk(chamber, who)
    command(desk, Next(id=desk.new_id(), actor=desk.actor, batch=batch, because=reason, sure=sure))


@click.command(cls=Verb, examples=("hangroom cool --from 23:00", "hangroom cool --off"))
@click.option("--from", "from_", metavar="TIME", help="From when on, as 23:00 (the next one), or now.")
@click.option("--off", is_flag=True, help="Take it back.")
@chamber_option
@batch_option
@who_option
def cool(from_: str | None, chamber: Path | None, batch: str, who: str, *, off: bool) -> None:
    """Let a ferment cool while you sleep: it only lowers.

    After a pH at or below 5.3 more sourness is a matter of taste. From this time
    on the lamp is off and the coolest climate of the stages to come is wanted.
    The stage stays a ferment; time and degree-hours go on; a measured pH ends it.
    """
    if (from_ is None) is not off:
        raise UsageError("cool: say either --from 23:00, or --off to take it back.")
    desk = find_desk(chamber, who)
    zone = desk.chamber.timezone
    from_wall_s = None if from_ is None else typed.next_moment(from_, zone, desk.now_s, "--from")
    command(desk, Cool(id=desk.new_id(), actor=desk.actor, batch=batch, from_wall_s=from_wall_s))


@click.command(cls=Verb, examples=('hangroom hold --because "cleaning the humidifier"',))
@because_option
@chamber_option
@batch_option
@who_option
def hold(because: str, chamber: Path | None, batch: str, who: str) -> None:
    """Pause the batch until you resume it: heat and mist go off.

    The meat does not know that the program waits: a ferment goes on souring, only
    slower as it cools, and what dries goes on drying. Time and degree-hours go on.
    """
    desk = find_desk(chamber, who)
    command(desk, Hold(id=desk.new_id(), actor=desk.actor, batch=batch, because=because))


@click.command(cls=Verb, examples=('hangroom resume --because "humidifier is clean"',))
@because_option
@chamber_option
@batch_option
@who_option
def resume(because: str, chamber: Path | None, batch: str, who: str) -> None:
    """Go on with a batch that is paused and waits for you.

    Where an alarm has locked the heat, clear it first: hangroom alarms. A batch
    over its degree-hours goes on only with --because: the reason of whoever has
    decided.
    """
    desk = find_desk(chamber, who)
    command(desk, Resume(id=desk.new_id(), actor=desk.actor, batch=batch, because=because))


@click.command(
    cls=Verb,
    examples=(
        "hangroom end",
        'hangroom end --aborted --because "pH stayed above 5.3"',
    ),
)
@click.option("--aborted", is_flag=True, help="The batch is given up.")
@because_option
@sure_option
@chamber_option
@batch_option
@who_option
def end(*, aborted: bool, because: str, chamber: Path | None, batch: str, who: str, sure: bool) -> None:
    """End the batch: the meat is taken out, finished or not.

    While meat hangs that is not done it is asked back, and you are told what to
    do with it. Nothing leads the chamber and nothing is counted after this.
    """
    desk = find_desk(chamber, who)
    command(desk, End(id=desk.new_id(), actor=desk.actor, batch=batch, because=because, aborted=aborted, sure=sure))
