"""Put what a person wants into the request box, and wait for the daemon's one answer."""

import datetime as dt
import getpass
import os
import secrets
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import click

from controller.cli import typed
from controller.cli.local import as_typed, in_local_words, without_hint
from controller.cli.say import fold
from controller.core.plan import Chamber
from controller.core.requests import Command, Report, Request
from controller.core.values import Answer
from controller.errors import AccessError, DataError, NoInputError, TryAgainError, UnavailableError
from controller.records.asking import post, wait_for_answer, who_may, withdraw
from controller.records.batch_folder import CARD, batches_of, read_card
from controller.records.request_box import this_boot
from controller.records.status import is_alive, read_status
from controller.settings.chamber_file import plan_of, read_chamber
from controller.settings.chamber_tables import ChamberFile
from controller.settings.shipped import CHAMBER, ENVIRONMENT, find_chamber

PATIENCE_S: Final = 10.0
SAY_AFTER_S: Final = 2.0
"""So long an answer is waited for in silence; then it is said what it waits for, where that is known."""


@dataclass(frozen=True, slots=True)
class Desk:
    """Hold where a person's words go: which chamber, which folder, who speaks, and what time it is there."""

    chamber: ChamberFile
    state_dir: Path
    actor: str
    now_s: float
    simulated: bool = False

    def when(self, text: str | None, option: str = "--at") -> float:
        """Return the wall second of a typed time, now where none was typed."""
        return self.now_s if text is None else typed.moment(text, self.chamber.timezone, self.now_s, option)

    def new_id(self) -> str:
        """Return an id that no other request has, short enough to be typed after --replaces."""
        return secrets.token_hex(4)

    def plan(self) -> Chamber:
        """Return the chamber as the daemon goes by it."""
        return plan_of(self.chamber)

    def words(self, text: str) -> str:
        """Return a sentence of the core in this chamber's local time and units."""
        return in_local_words(text, self.chamber.timezone, self.chamber.units)

    def next_batch(self, profile: str) -> str:
        """Return a name for a batch of this profile; where it is taken, the daemon counts on."""
        return f"{dt.datetime.fromtimestamp(self.now_s, dt.UTC).date().isoformat()}-{profile}-1"


def find_desk(chamber: Path | None, who: str = "") -> Desk:
    """Find the daemon that a person means.

    Args:
        chamber: the chamber file; the folder of a simulated run; None takes the usual places.
        who: who speaks; empty: the login name.
    """
    actor = " ".join(who.split()) or _login()
    named = Path(os.environ.get(ENVIRONMENT, ""))
    if chamber is None and named != Path() and _is_there(named):
        chamber = named
    if chamber is not None and _is_there(chamber):
        _require_readable(chamber)
        # A simulated run has a clock of its own, and in its folder stands which chamber it is.
        return Desk(_simulated_chamber(chamber), chamber, actor, _simulated_now_s(chamber), simulated=True)
    file = read_chamber(find_chamber(chamber))
    return Desk(file, Path(file.state_dir), actor, time.time())


def _require_readable(folder: Path) -> None:
    """Raise AccessError where a folder that was named may not be entered."""
    try:
        next(folder.iterdir(), None)
        (folder / CHAMBER).is_file()
    except PermissionError as error:
        raise AccessError(f"{folder}: you may not read it; {who_may(folder)}") from error


def _simulated_now_s(out: Path) -> float:
    try:
        return read_status(out).time_wall_s
    except UnavailableError as error:
        raise UnavailableError(
            f"{out}: no simulation runs in this folder, and none has left a status there.\n"
            f"Begin one with\nhangroom simulate --by-hand --out {out}"
        ) from error


def _simulated_chamber(out: Path) -> ChamberFile:
    if (out / CHAMBER).is_file():
        return read_chamber(out / CHAMBER)
    cards = sorted(batches_of(out).glob(f"*/{CARD}"), key=os.path.getmtime)
    if not cards:
        raise NoInputError(
            f"--chamber {out}: is a folder in which no simulation has run (it would hold a {CHAMBER}); name the one "
            "that --out said, or a chamber file."
        )
    return read_card(cards[-1].parent).chamber


def _login() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # A user without a name; KeyError before Python 3.13.
        return f"uid {os.getuid()}"


def command(desk: Desk, request: Command, temp: str = "") -> None:
    """Have a command done, and print the answer; DataError where the daemon refuses it.

    Where a temperature was typed, `temp` is its text: nobody is asked whether °F was meant who has said so.

    Raises UnavailableError where no daemon runs: nothing is left in the box then, for nothing heats by an old wish.
    """
    _require_daemon(desk)
    _post(desk, request)
    try:
        answer = _answer(desk, request)
    except UnavailableError:
        withdraw(desk.state_dir, request.id)
        raise
    _tell(answer, desk, temp)


def report(desk: Desk, request: Report, temp: str = "") -> None:
    """Hand in a reading or a note. Where no daemon takes it now it stays in the box, and the person is told so.

    `temp` is the text of a temperature that was typed, as in `command`.
    """
    if desk.simulated and not is_alive(desk.state_dir):
        raise _over(desk)
    if not _is_there(desk.state_dir):
        raise UnavailableError(
            f"{desk.state_dir}: is not there, so no daemon has run for this chamber; is state_dir right?"
        )
    _post(desk, request)
    try:
        answer = _answer(desk, request)
    except TryAgainError:
        _say(
            f"The daemon has not answered yet. The entry {request.id} waits in the request box and will be taken; "
            "do not type it again."
        )
        return
    except UnavailableError:
        if desk.simulated:
            withdraw(desk.state_dir, request.id)
            raise _over(desk) from None
        _say(
            f"No daemon is running. The entry {request.id} waits in the request box and is taken when the daemon "
            "comes back; do not type it again. Nothing leads the chamber meanwhile: look at it."
        )
        return
    _tell(answer, desk, temp)
    click.echo(f"Entry {request.id}.", err=True)


def _answer(desk: Desk, request: Command | Report) -> Answer:
    """Wait for the answer; where it does not come at once, because the disk takes no records, say so meanwhile."""
    try:
        return wait_for_answer(desk.state_dir, request.id, SAY_AFTER_S)
    except TryAgainError:
        for trouble in read_status(desk.state_dir).trouble:
            _say(f"It waits for the records: {trouble} It is answered when it is on the disk; do not type it again.")
        return wait_for_answer(desk.state_dir, request.id, PATIENCE_S - SAY_AFTER_S)


def _say(text: str) -> None:
    for line in fold(text):
        click.echo(line, err=True)


def _over(desk: Desk) -> UnavailableError:
    """Return what is said where a simulation has ended: nothing will ever take what is put into its box."""
    return UnavailableError(
        f"{desk.state_dir}: the simulation there has ended; nothing was recorded. What it left: hangroom review."
    )


def _require_daemon(desk: Desk) -> None:
    read_status(desk.state_dir)  # Says who may not, and that none has ever run.
    if not is_alive(desk.state_dir):
        if desk.simulated:
            raise _over(desk)
        raise UnavailableError(
            f"{desk.state_dir}: no daemon is running for this chamber, so nothing was done.\n"
            "Start it with: systemctl start hangroom"
        )


def _is_there(folder: Path) -> bool:
    try:
        return folder.is_dir()
    except PermissionError:  # It is there, but not for this person; the box says which group may.
        return True


def _post(desk: Desk, request: Request) -> None:
    boot_id, boottime_s = this_boot()
    post(desk.state_dir, request, boot_id=boot_id, boottime_s=boottime_s, typed_wall_s=desk.now_s)


def _tell(answer: Answer, desk: Desk, temp: str) -> None:
    words = as_typed(desk.words(without_hint(answer.text, temp)), temp)
    text = "\n".join(line for sentence in words.splitlines() for line in fold(sentence))
    if not answer.done:
        raise DataError(text)
    click.echo(text)
