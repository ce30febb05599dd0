"""Get to know the box: a step test of at most three hours, its result, and taking it over."""

import datetime as dt
import sys
from pathlib import Path

import click

from controller.cli import typed
from controller.cli.asking import Desk, command, find_desk
from controller.cli.options import because_option, chamber_option, json_option, who_option
from controller.cli.say import fold, print_json, show_time
from controller.cli.verb import Verb
from controller.cli.verbs.learn_forecasts import Words, lead
from controller.core.requests import Learn, StopLearning
from controller.errors import DataError, HangroomError, NoInputError, UnavailableError, UsageError
from controller.records.status import read_status
from controller.records.steps import next_test_name, tests_of
from controller.settings.learned_file import FILE, Learned, read_learned, use_learned, why_not_of
from controller.settings.units import parse_mass_kg

BEGIN = "2026-01-05T06:00Z"
FORGOTTEN = "learned-forgotten.toml"
BATCHES = "from-batches"
NEWEST = Path()
SIMULATED = "old-fridge"


@click.command(
    cls=Verb,
    examples=(
        "hangroom learn",
        "hangroom learn --loaded 5kg",
        "hangroom learn --result",
        "hangroom learn --take",
        "hangroom learn --from-batches",
        "hangroom learn --forecasts",
        "hangroom learn --simulate --chamber insulated-box --ambient 5C",
    ),
)
@click.option("--loaded", metavar="MASS", help="What stands in the chamber meanwhile, as 5kg; else it is empty.")
@click.option("--stop", is_flag=True, help="Break the step test off that runs now.")
@click.option(
    "--result", metavar="[DIR]", is_flag=False, flag_value=NEWEST, type=click.Path(path_type=Path),
    help="Show what the newest step test found, or the one in DIR, and draw its page.",
)  # fmt: skip
@click.option(
    "--take", metavar="[DIR]", is_flag=False, flag_value=NEWEST, type=click.Path(path_type=Path),
    help="Take over what it found: used from the next start of the daemon.",
)  # fmt: skip
@click.option("--from-batches", is_flag=True, help="Show what finished batches tell beside what is used.")
@click.option("--forecasts", is_flag=True, help="Show what finished batches teach the forecasts, and ask.")
@click.option("--leave-out", metavar="BATCH", multiple=True, help="With --forecasts: let this one not count.")
@click.option("--count-again", metavar="BATCH", multiple=True, help="With --forecasts: let it count after all.")
@because_option
@click.option("--forget", is_flag=True, help="Go back to the chamber file's own figures (or the recipe's forecasts).")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--simulate", is_flag=True, help="Do the whole test on the modelled chamber instead.")
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), default=Path("runs"), show_default=True,
    help="With --simulate: where it is put.",
)  # fmt: skip
@click.option("--seed", type=click.IntRange(min=0), default=0, show_default=True, help="With --simulate.")
@click.option("--ambient", metavar="TEMP", help="With --simulate: the room, as 5C.")
@click.option("--fault", "faults", metavar="SPEC", multiple=True, help="With --simulate: as in hangroom simulate.")
@json_option
@chamber_option
@who_option
def learn(
    loaded: str | None, result: Path | None, take: Path | None, out: Path, seed: int, ambient: str | None,
    faults: tuple[str, ...], leave_out: tuple[str, ...], count_again: tuple[str, ...], because: str,
    chamber: Path | None, who: str,
    *, stop: bool, from_batches: bool, forecasts: bool, forget: bool, yes: bool, simulate: bool, as_json: bool,
) -> None:  # fmt: skip
    """Get to know the box by a step test: rise, lag, gains, limits.

    It is optional. Without it the chamber file's figures are used. It takes three
    hours at most, in an empty chamber, or one with bottles of water: lamp, mist
    and cooling are switched one after the other, and from the answer follows how
    the chamber is led. Nothing is changed before you say --take.

    With --forecasts: what your finished batches teach the forecasts, old and new,
    and whether it helps: each batch is left out in turn and forecast by the others.
    It asks before anything is taken over. Forecasts decide nothing.

    Exit code 65: nothing can be learned from the test, and why.
    """
    jobs = {"--stop": stop, "--result": result is not None, "--take": take is not None}
    jobs |= {"--from-batches": from_batches, "--forecasts": forecasts and not forget, "--forget": forget}
    jobs |= {"--simulate": simulate}
    _require_one(jobs)
    words = Words(leave_out, count_again, because)
    if forecasts or words != Words():
        lead(words, lambda: find_desk(chamber, who), asked=forecasts, forget=forget, yes=yes, as_json=as_json)
        return
    loaded_kg = 0.0 if loaded is None else _loaded_kg(loaded)
    if simulate:
        _simulate(chamber, out, seed, ambient, faults, loaded_kg, as_json=as_json)
        return
    if result is not None and result != NEWEST:
        _show(result, None, as_json=as_json)
        return
    desk = find_desk(chamber, who)
    if stop:
        command(desk, StopLearning(id=desk.new_id(), actor=desk.actor))
    elif from_batches:
        _adapt(desk, as_json=as_json)
    elif forget:
        _forget(desk, yes=yes)
    elif result is not None:
        _show(_newest(desk), desk, as_json=as_json)
    elif take is not None:
        _take(desk, _newest(desk) if take == NEWEST else take, yes=yes)
    else:
        _begin(desk, loaded_kg, yes=yes)


def _require_one(jobs: dict[str, bool]) -> None:
    said = [name for name, is_said in jobs.items() if is_said]
    if len(said) > 1:
        raise UsageError(f"learn: say one of {' and '.join(said)}.")


def _loaded_kg(text: str) -> float:
    value_kg = parse_mass_kg(text, "--loaded")
    if value_kg > typed.MOST_MEAT_KG:
        raise DataError(f"--loaded {text}: more than {typed.MOST_MEAT_KG:g} kg does not stand in one chamber.")
    return value_kg


def _say_all(lines: list[str]) -> None:
    for line in lines:
        click.echo(line)


def _agreed(question: str, *, yes: bool) -> bool:
    """Ask, unless that was said already. Raises UsageError where there is nobody to ask."""
    if yes:
        return True
    if not sys.stdin.isatty():
        raise UsageError(f"learn: {question} There is nobody to ask; say --yes.")
    return click.confirm(question, default=None)


def _begin(desk: Desk, loaded_kg: float, *, yes: bool) -> None:
    from controller.cli.pages.learned_page import tell_what_comes

    read_status(desk.state_dir)  # Says who may not, and that no daemon has ever run.
    _say_all(list(tell_what_comes(desk.plan(), desk.chamber.units, loaded_kg)))
    content = f"Are {loaded_kg:g} kg in it, and is the door shut?" if loaded_kg else "Is it empty, and the door shut?"
    if not _agreed(f"{content} Begin?", yes=yes):
        click.echo("Not begun.")
        return
    day = dt.datetime.fromtimestamp(desk.now_s, dt.UTC).date()
    name = next_test_name(desk.state_dir, day)
    command(desk, Learn(id=desk.new_id(), actor=desk.actor, test=name, loaded_kg=loaded_kg))
    click.echo("Follow it: hangroom status --watch. End it: hangroom learn --stop.")
    click.echo("When it is over: hangroom learn --result")


def _newest(desk: Desk) -> Path:
    from controller.review.learning.written import newest_test

    running = _running(desk)
    if running:
        raise DataError(f"the step test {running} still runs; see: hangroom status")
    return newest_test(desk.state_dir)


def _running(desk: Desk) -> str:
    try:
        learning = read_status(desk.state_dir).learning
    except (UnavailableError, DataError):
        return ""
    return "" if learning is None else learning.name


def _show(folder: Path, desk: Desk | None, *, as_json: bool) -> None:
    """Find out what a step test shows, leave file and picture beside its rows, and show the table."""
    from controller.cli.pages.learned_page import tell_learned

    learned, left = _found_in(folder)
    if as_json:
        print_json(learned)
        return
    _say_all([f"Step test {learned.made.test}", *tell_learned(learned), ""])
    _say_all(fold(left))
    if desk is not None:
        why = why_not_of(learned, desk.chamber)
        _say_all(fold(f"It would not be used: {why}." if why else "Take it over: hangroom learn --take"))


def _found_in(folder: Path) -> tuple[Learned, str]:
    """Return what a step test shows, and where that was put."""
    from controller.review.learning.learned import learn_from
    from controller.review.learning.picture import draw
    from controller.review.learning.written import PICTURE, write_learned

    found = learn_from(folder)
    try:
        write_learned(found.learned, folder / FILE)
        (folder / PICTURE).write_text(draw(found), encoding="utf-8")
    except OSError as error:
        return found.learned, f"Not written into {folder}: {error}"
    return found.learned, f"File {folder / FILE}, picture {folder / PICTURE}"


def _take(desk: Desk, source: Path, *, yes: bool) -> None:
    """Copy a learned file into the state folder, after it was shown and agreed to."""
    from controller.cli.pages.learned_page import tell_learned
    from controller.review.learning.written import write_learned

    batches = _open_batches(desk)
    if batches:
        raise DataError(f"{batches} is open; figures are not changed in the middle of a batch. Take it over afterwards")
    learned = read_learned(source) if source.is_file() else _of_folder(source)
    why = why_not_of(learned, desk.chamber)
    if why:
        raise DataError(f"{source}: cannot be used: {why}")
    _say_all(list(tell_learned(learned)))
    before = use_learned(desk.state_dir, desk.chamber).learned
    was = "the chamber file's own" if before is None else f"those of step test {before.made.test}"
    if not _agreed(f"Use these figures from the next start of the daemon on, instead of {was}?", yes=yes):
        click.echo("Nothing was changed.")
        return
    write_learned(learned, desk.state_dir / FILE)
    click.echo(f"Taken over: {desk.state_dir / FILE}")
    click.echo("It is used from the next start on: sudo systemctl restart hangroom")


def _of_folder(folder: Path) -> Learned:
    """Return the learned file of a step test; where nobody has asked for its result yet, it is found out now."""
    try:
        return read_learned(folder / FILE)
    except NoInputError:
        return _found_in(folder)[0]


def _open_batches(desk: Desk) -> str:
    try:
        return ", ".join(batch.id for batch in read_status(desk.state_dir).batches)
    except (UnavailableError, DataError):
        return ""


def _adapt(desk: Desk, *, as_json: bool) -> None:
    """Show what finished batches tell, and leave the file that would follow; nothing is changed."""
    from controller.cli.pages.learned_page import tell_adapted
    from controller.review.learning.batches import adapt
    from controller.review.learning.written import write_learned

    used = use_learned(desk.state_dir, desk.chamber).learned
    found = adapt(desk.state_dir, desk.chamber, used, _unfinished(desk))
    if as_json:
        print_json(found)
        return
    folder = tests_of(desk.state_dir) / BATCHES
    folder.mkdir(parents=True, exist_ok=True)
    write_learned(found.learned, folder / FILE)
    _say_all(list(tell_adapted(found, used)))
    _say_all(fold(f"Nothing is changed. Take it over: hangroom learn --take {folder}"))


def _unfinished(desk: Desk) -> list[str]:
    try:
        return [batch.id for batch in read_status(desk.state_dir).batches if batch.state != "complete"]
    except (UnavailableError, DataError):
        return []


def _forget(desk: Desk, *, yes: bool) -> None:
    path = desk.state_dir / FILE
    if not path.exists():
        raise NoInputError(f"{path}: is not there; the chamber file's own figures are used already")
    batches = _open_batches(desk)
    if batches:
        raise DataError(f"{batches} is open; figures are not changed in the middle of a batch. Forget it afterwards")
    if not _agreed("Go back to the chamber file's own figures from the next start of the daemon on?", yes=yes):
        click.echo("Nothing was changed.")
        return
    path.replace(path.with_name(FORGOTTEN))
    click.echo(f"Forgotten; kept as {path.with_name(FORGOTTEN)}. Restart: sudo systemctl restart hangroom")


def _simulate(
    chamber: Path | None, out: Path, seed: int, ambient: str | None, faults: tuple[str, ...], loaded_kg: float,
    *, as_json: bool,
) -> None:  # fmt: skip
    from controller import app
    from controller.settings.chamber_file import read_chamber
    from controller.settings.shipped import find_chamber

    path = find_chamber(str(chamber) if chamber is not None else SIMULATED)
    test = app.ModelTest(
        chamber=path,
        out=out,
        begin_wall_s=typed.begin_wall_s(BEGIN),
        seed=seed,
        ambient_c=None if ambient is None else typed.ambient_c(ambient),
        faults=faults,
        loaded_kg=loaded_kg,
    )
    timezone = read_chamber(path).timezone

    def tell(wall_s: float, text: str) -> None:
        _say_all([] if as_json else fold(f"{show_time(wall_s, timezone)}  {text}", " " * 18, ""))

    folder = app.learn_on_model(test, tell)
    try:
        _show(folder, None, as_json=as_json)
    except HangroomError as error:
        raise DataError(f"{folder}: nothing can be learned from this test: {error}") from error
