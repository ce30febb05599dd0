"""From the first word of the interview to the chamber file in its place."""

import contextlib
import datetime as dt
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from controller.cli.setting_up.sitting import Sitting
from controller.cli.setting_up.talk import Back, Quit, ToldToEnd, hear, say, say_choices
from controller.errors import AccessError, HangroomError, NoInputError, StorageError
from controller.planning.setting_up.chamber_text import chamber_text
from controller.planning.setting_up.course import Machine
from controller.planning.setting_up.typed import one_of, yes_or_no
from controller.records.kept_answers import Kept, answers_beside, keep_answers, put_in_place, read_answers
from controller.settings.chamber_checks import timezone_trouble
from controller.settings.chamber_file import read_chamber
from controller.settings.shipped import ETC


def describe(out: Path | None, gpio_chip: str, pause: Callable[[float], None]) -> int:
    """Hold the interview and write the chamber file; return the exit code.

    Raises:
        NoInputError: its folder is not there.
        UnavailableError: the daemon runs.
        AccessError: this user may not write the file, or not take the machine.
        StorageError: the disk failed.
    """
    from controller import app

    path = Path(ETC) if out is None else out.expanduser()
    if out is not None:
        _require_folder(path.parent)
    aside = answers_beside(path)
    with app.at_the_machine(gpio_chip) as bench, _telling_where(aside):
        today = dt.datetime.now(dt.UTC).astimezone().date()
        found, strangers = bench.find()
        machine = Machine(found, local_zone(), today, not bench.no_pins, app.look_at_machine().clock)
        _greet(path, bench.no_pins, strangers)
        kept = _offer(aside)
        keep_answers(aside, Kept(today.isoformat(), kept))  # Who may not write here is told before the first question.
        sitting = Sitting(bench, machine, kept, aside, pause)
        while True:
            given = sitting.hold()
            text = chamber_text(given, sitting.machine.found, today, gpio_chip)
            with contextlib.suppress(Back):
                _require_right(text)
                if _write(path, text, given):
                    bench.forget_old_levels()
                return 0
            sitting.step_back()
    return 0  # Somebody has quit.


def _require_folder(folder: Path) -> None:
    """Make no folder that may be a slip; one that this user may not look into is told of where it is written to."""
    with contextlib.suppress(PermissionError):
        if not folder.is_dir():
            raise NoInputError(f"{folder}: there is no such folder; make it first, or say another --out FILE")


@contextlib.contextmanager
def _telling_where(aside: Path) -> Iterator[None]:
    """Say where the answers are kept, however the interview ends before its time."""
    try:
        yield
    except (Quit, click.Abort, KeyboardInterrupt, ToldToEnd, HangroomError) as ended:
        with contextlib.suppress(OSError):  # The terminal may be gone.
            if not aside.exists():
                raise
            say()
            say(f"Nothing was written but your answers: {aside}. The next hangroom setup offers them.")
        if not isinstance(ended, Quit):
            raise


def _greet(path: Path, no_pins: str, strangers: tuple[str, ...]) -> None:
    say("This asks what your chamber is made of, and writes it down:")
    say(f"  {path}")
    say("Nothing is switched but a relay for a second, each time after you have said so. At each question:")
    say("  back   to the question before", first="")
    say("  quit   ends here; your answers are kept")
    say("What you cannot say now can be written into the file later.")
    if no_pins:
        say()
        say("No relay can be clicked on this machine:")
        say(no_pins)
    for one in strangers:
        say(f"There is a thermometer {one} too, of a kind that I cannot use.")


def _offer(aside: Path) -> dict[str, str]:
    """Return the answers of an earlier sitting, where somebody wants them."""
    kept = read_answers(aside)
    if kept is None or not kept.answers:
        return {}
    say()
    say(f"Your answers of {kept.day} are here ({aside.name}). Go on with them? Enter then takes each as it was.")
    choices = (("yes", "offer them again"), ("new", "forget them"))
    say_choices(choices)
    while True:
        with contextlib.suppress(Back):
            try:
                return kept.answers if one_of(("yes", "new"))(hear("yes")) == "yes" else {}
            except HangroomError as error:
                say(str(error))


def _require_right(text: str) -> None:
    """See that the daemon would take this file, before it is put into its place."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "chamber.toml"
        trial.write_text(text, "utf-8")
        read_chamber(trial)


def _write(path: Path, text: str, given: dict[str, Any]) -> bool:
    """Show the file, and put it into its place after a yes; say whether that was done. Raises Back, Quit."""
    say()
    say("THE CHAMBER FILE")
    for line in text.splitlines():
        click.echo(line)
    say()
    if path.exists():
        say(f"{path} is there already. Replace it, yes or no? The old one is kept beside it.")
    else:
        say(f"Write this to {path}, yes or no?")
    if not _yes():
        say(f"Nothing was written; your answers are kept: {answers_beside(path)}")
        return False
    try:
        old = put_in_place(path, text)
    except StorageError as error:
        if isinstance(error.__cause__, PermissionError):
            raise AccessError(f"{path}: this user may not write it. With sudo, or another place: --out FILE") from error
        raise
    if old is not None:
        say(f"The old file is {old}.")
    say(f"Written: {path}. Next:")
    option = "" if str(path) == ETC else f" --chamber {path}"
    click.echo(f"  hangroom check{option}", err=True)
    if given.get("tested_sure") != "yes":
        say('No heat is given before the cut-out was seen to open (README, "Testing the cut-out").')
    say("Leave the indicator lamp in the relay, and prove the safety layers one by one:")
    click.echo(f"  sudo hangroom setup --first-light{option}", err=True)
    return True


def _yes() -> bool:
    """Hear a yes or a no; nothing is taken for granted. Raises Back, Quit."""
    while True:
        try:
            return yes_or_no(hear(None)) == "yes"
        except HangroomError as error:
            say(f"{str(error)[:200]}")


def local_zone() -> str:
    """Return the time zone of this machine; UTC where it cannot be told."""
    with contextlib.suppress(OSError):
        name = Path("/etc/timezone").read_text("utf-8").strip()
        if name and not timezone_trouble(name):
            return name
    with contextlib.suppress(OSError):
        _, _, name = str(Path("/etc/localtime").resolve()).partition("/zoneinfo/")
        if name and not timezone_trouble(name):
            return name
    return "UTC"
