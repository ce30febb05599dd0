"""`hangroom learn --forecasts`: show what finished batches teach the forecasts, and take it over after a yes."""

import datetime as dt
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.asking import Desk
from controller.cli.say import fold, print_json
from controller.errors import NoInputError, UsageError
from controller.records.batch_folder import batches_of

if TYPE_CHECKING:  # Whatever reads batches back is loaded only where it is asked for.
    from controller.review.priors.kept import LeftOut, Priors


@dataclass(frozen=True, slots=True)
class Words:
    """Hold what a person says of single batches."""

    leave_out: tuple[str, ...] = ()
    count_again: tuple[str, ...] = ()
    because: str = ""


def lead(words: Words, find: Callable[[], Desk], *, asked: bool, forget: bool, yes: bool, as_json: bool) -> None:
    """Show, or forget. Raises UsageError where batches are named without --forecasts."""
    if not asked:
        raise UsageError("learn: --leave-out, --count-again and --because go with --forecasts.")
    if forget:
        _forget(find(), yes=yes)
    else:
        _show(find(), words, yes=yes, as_json=as_json)


def _show(desk: Desk, words: Words, *, yes: bool, as_json: bool) -> None:
    """Show old and new, say whether it helps, and ask. Nothing is changed without a yes."""
    from controller.cli.pages.priors_page import as_object, tell_lessons
    from controller.review.priors.kept import use_priors, write_priors
    from controller.review.priors.lessons import lessons_of

    use = use_priors(desk.state_dir)
    if use.why_not:
        click.echo("\n".join(fold(f"{use.why_not}.", "  ", "")), err=True)
    left_out = _left_out(desk, use.priors, words)
    found = lessons_of(batches_of(desk.state_dir), left_out, _bar)
    if as_json:
        print_json(as_object(found, use.priors))
        return
    for line in tell_lessons(found, use.priors):
        click.echo(line)
    new = found.priors(dt.datetime.fromtimestamp(desk.now_s, dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ"), desk.actor)
    if (new.acid, new.drying, new.left_out) == (use.priors.acid, use.priors.drying, use.priors.left_out):
        click.echo("Nothing would change.")
        return
    _say(change(new, use.priors))
    if not yes and not sys.stdin.isatty():
        _say("Nothing is changed, for there is nobody to ask. Take it over: hangroom learn --forecasts --yes")
        return
    if not yes and not click.confirm("Take this over?", default=None):
        click.echo("Nothing was changed.")
        return
    _say(
        f"Taken over: {write_priors(new, desk.state_dir)}. The next forecast begins with it; nothing that decides does."
    )


def _forget(desk: Desk, *, yes: bool) -> None:
    """Go back to the recipe's own priors; the file is kept aside."""
    from controller.review.priors.kept import FILE, FORGOTTEN

    path = desk.state_dir / FILE
    if not path.exists():
        raise NoInputError(f"{path}: is not there; forecasts begin with the recipe alone already")
    question = "Let forecasts begin with the recipe alone again?"
    if not yes and not sys.stdin.isatty():
        raise UsageError(f"learn: {question} There is nobody to ask; say --yes.")
    if not yes and not click.confirm(question, default=None):
        click.echo("Nothing was changed.")
        return
    path.replace(path.with_name(FORGOTTEN))
    _say(f"Forgotten; kept as {path.with_name(FORGOTTEN)}.")


def _say(text: str) -> None:
    click.echo("\n".join(fold(text)))


def change(new: "Priors", old: "Priors") -> str:
    """Return in a sentence what a yes would do."""
    said = []
    then, now = (*new.acid, *new.drying), (*old.acid, *old.drying)
    changed = sum(one not in now for one in then)
    if changed:
        said.append(f"forecasts would begin with what is proposed above ({changed} of it)")
    if now and not then:
        said.append("forecasts would begin with the recipe alone again")
    elif dropped := len(now) - (len(then) - _added(new, old)):
        said.append(f"{dropped} of what is in use would be so no more")
    if new.left_out != old.left_out:
        count = len(new.left_out)
        said.append(f"{count} batch{'' if count == 1 else 'es'} would be left out by a person's word")
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}."


def _added(new: "Priors", old: "Priors") -> int:
    """Return for how many groups there is something new, where nothing was in use."""
    acid = {(one.culture, one.starter) for one in new.acid} - {(one.culture, one.starter) for one in old.acid}
    drying = {(one.chamber, one.casing) for one in new.drying} - {(one.chamber, one.casing) for one in old.drying}
    return len(acid) + len(drying)


def _left_out(desk: Desk, used: "Priors", words: Words) -> "tuple[LeftOut, ...]":
    """Return which batches people want left out, with what is said now."""
    from controller.review.priors.kept import LeftOut

    home = batches_of(desk.state_dir)
    for name in (*words.leave_out, *words.count_again):
        if not (home / name).is_dir():
            raise NoInputError(f"{name}: is no batch of this chamber; its folder would be {home / name}")
    if words.leave_out and not words.because.strip():
        raise UsageError('learn: why is it left out? Say --because "the fan was broken"')
    kept = [one for one in used.left_out if one.batch not in (*words.count_again, *words.leave_out)]
    day = dt.datetime.fromtimestamp(desk.now_s, dt.UTC).date().isoformat()
    kept += [
        LeftOut(batch=name, because=words.because.strip(), by=desk.actor, on=day)
        for name in dict.fromkeys(words.leave_out)
    ]
    return tuple(sorted(kept, key=lambda one: one.batch))


def _bar(folders: Iterable[Path]) -> Iterator[Path]:
    """Show how far the reading is, where somebody looks at a terminal."""
    if not sys.stderr.isatty():
        yield from folders
        return
    with click.progressbar(list(folders), label="reading batches", file=sys.stderr, width=30) as bar:
        yield from bar
