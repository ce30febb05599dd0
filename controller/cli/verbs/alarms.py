"""Deal with alarms: list them, say that one is known, quiet it for a while, release what it locks, try the sounder."""

import sys
from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import Desk, command, find_desk, report
from controller.cli.options import chamber_option, json_option, sure_option, who_option
from controller.cli.say import print_json
from controller.cli.verb import Verb
from controller.core.requests import Clear, Heard, Quiet, Seen, Sound
from controller.errors import DataError, UsageError

UNAVAILABLE = 69


@click.command(cls=Verb, examples=("hangroom alarms", "hangroom alarms --test", "hangroom alarms --heard 8:15"))
@click.option("--test", is_flag=True, help="Let the sounder sound for 10 s; you are asked whether you heard it.")
@click.option("--heard", metavar="TIME", help="Say that it was heard in a test, and when, as 8:15 or now.")
@click.option("--not-heard", is_flag=True, help="Say that it was tried and not heard.")
@json_option
@chamber_option
@who_option
def alarms(
    heard: str | None, chamber: Path | None, who: str, *, test: bool, not_heard: bool, as_json: bool
) -> int:  # fmt: skip
    """List the alarms that need somebody, the most urgent first.

    Each with its ID, until when to answer, what it is, what was done, and what
    you do first. `hangroom seen ID` says that you know; `hangroom quiet ID 2h`
    keeps it from calling for a while; `hangroom clear ID` unlocks what stays
    locked, after its cause is gone.
    """
    from controller.cli.pages.status_page import READ_ONLY, look, tell_alarms

    if sum((test, heard is not None, not_heard)) > 1:
        raise UsageError("alarms: say one of --test, --heard and --not-heard.")
    desk = find_desk(chamber, who)
    if test:
        _try_sounder(desk)
        return 0
    if heard is not None or not_heard:
        at_s = desk.now_s if heard in {None, "now"} else desk.when(heard, "--heard")
        _report_heard(desk, at_s, heard=not not_heard)
        return 0
    seen_now = look(desk)
    if as_json:
        print_json({"alarms": seen_now.status.alarms, "flood": seen_now.status.flood, "daemon_running": seen_now.alive})
    else:
        for line in tell_alarms(seen_now):
            click.echo(line)
    if not seen_now.alive:
        click.echo(
            READ_ONLY if seen_now.read_only else "No daemon is running; this is what the last one knew.", err=True
        )
    return 0 if seen_now.alive else UNAVAILABLE


def _try_sounder(desk: Desk) -> None:
    """Let the sounder sound, and ask whether it was heard; where nobody can be asked, say how to answer."""
    command(desk, Sound(id=desk.new_id(), actor=desk.actor))
    if not sys.stdin.isatty():
        click.echo("Heard it? Say: hangroom alarms --heard now. Else: hangroom alarms --not-heard.")
        return
    heard = click.confirm("Go where you sleep or work. Did you hear it?", default=None)
    _report_heard(desk, desk.now_s, heard=heard)


def _report_heard(desk: Desk, at_s: float, *, heard: bool) -> None:
    report(desk, Heard(id=desk.new_id(), actor=desk.actor, at_wall_s=at_s, heard=heard))


@click.command(cls=Verb, examples=("hangroom seen S1-2", "hangroom seen S13-1 C6-1"))
@click.argument("alarms", metavar="ID...", nargs=-1, required=True)
@chamber_option
@who_option
def seen(alarms: tuple[str, ...], chamber: Path | None, who: str) -> None:
    """Say that you know of alarms, so that they sound no longer.

    Each ID stands in `hangroom alarms`. What it has locked stays locked, and while
    its cause is there it calls again: every 2 h where it is to be answered now,
    else every 4 h or daily.
    """
    desk = find_desk(chamber, who)
    refused = []
    for alarm in (word.strip(",") for word in alarms):
        try:
            command(desk, Seen(id=desk.new_id(), actor=desk.actor, alarm=alarm))
        except DataError as error:  # The others are answered all the same.
            refused.append(str(error))
    if refused:
        raise DataError("\n".join(refused))


@click.command(cls=Verb, examples=("hangroom quiet A5-1 2h", "hangroom quiet A5-1 --off"))
@click.argument("alarm", metavar="ID")
@click.argument("span", metavar="[FOR]", default="")
@click.option("--off", is_flag=True, help="It may call again at once.")
@chamber_option
@who_option
def quiet(alarm: str, span: str, chamber: Path | None, who: str, *, off: bool) -> None:
    """Keep an alarm from calling for a while, as 30m or 2h.

    At most 8 h; 1 h where it is to be answered now, and only after you have seen
    it. What it takes away stays away, it stays on the list, and it calls again
    afterwards. Where it gets worse, or the machine is restarted, it calls at once.
    """
    if off is bool(span):
        raise UsageError("quiet: for how long? Say 30m or 2h (at most 8h), or --off.")
    for_s = 0.0 if off else typed.span_s(span, "quiet")
    desk = find_desk(chamber, who)
    command(desk, Quiet(id=desk.new_id(), actor=desk.actor, alarm=alarm, for_s=for_s))


@click.command(cls=Verb, examples=("hangroom clear A2-1",))
@click.argument("alarm", metavar="ID")
@sure_option
@chamber_option
@who_option
def clear(alarm: str, chamber: Path | None, who: str, *, sure: bool) -> None:
    """Unlock what an alarm has locked, after its cause is gone.

    Look at the chamber first: after this it may heat again. What lamp, relay or
    heat have locked is asked back: see that the lamp is dark while it is off. A
    batch that waits for you goes on with `hangroom resume`.
    """
    desk = find_desk(chamber, who)
    command(desk, Clear(id=desk.new_id(), actor=desk.actor, alarm=alarm, sure=sure))
