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
from controller.cli.say import fold, in_local_time
from controller.core.plan import Chamber
from controller.core.requests import Command, Report, Request
from controller.core.values import Answer
from controller.errors import DataError, NoInputError, TryAgainError, UnavailableError
from controller.records.asking import post, wait_for_answer, withdraw
from controller.records.batch_folder import CARD, batches_of, read_card
from controller.records.request_box import this_boot
from controller.records.status import is_alive, read_status
from controller.settings.chamber_file import plan_of, read_chamber
from controller.settings.chamber_tables import ChamberFile
from controller.settings.shipped import CHAMBER, ENVIRONMENT, find_chamber

PATIENCE_S: Final = 10.0


@dataclass(frozen=True, slots=True)
class Desk:
    """Hold where a person's words go: which chamber, which folder, who speaks, and what time it is there."""

    chamber: ChamberFile
    state_dir: Path
    actor: str
    now_s: float

    def when(self, text: str | None, option: str = "--at") -> float:
        """Return the wall second of a typed time, now where none was typed."""
        return self.now_s if text is None else typed.moment(text, self.chamber.timezone, self.now_s, option)

    def new_id(self) -> str:
        """Return an id that no other request has, short enough to be typed after --replaces."""
        return secrets.token_hex(4)

    def plan(self) -> Chamber:
        """Return the chamber as the daemon goes by it."""
        return plan_of(self.chamber)

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
    if chamber is None and named != Path() and named.is_dir():
        chamber = named
    if chamber is not None and chamber.is_dir():
        # A simulated run has a clock of its own, and in its folder stands which chamber it is.
        return Desk(_simulated_chamber(chamber), chamber, actor, read_status(chamber).time_wall_s)
    file = read_chamber(find_chamber(chamber))
    return Desk(file, Path(file.state_dir), actor, time.time())


def _simulated_chamber(out: Path) -> ChamberFile:
    if (out / CHAMBER).is_file():
        return read_chamber(out / CHAMBER)
    cards = sorted(batches_of(out).glob(f"*/{CARD}"), key=os.path.getmtime)
    if not cards:
        raise NoInputError(f"--chamber {out}: is a folder in which no simulation has run; name a chamber file.")
    return read_card(cards[-1].parent).chamber


def _login() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # A user without a name; KeyError before Python 3.13.
        return f"uid {os.getuid()}"


def command(desk: Desk, request: Command) -> None:
    """Have a command done, and print the answer; DataError where the daemon refuses it.

    Raises UnavailableError where no daemon runs: nothing is left in the box then, for nothing heats by an old wish.
    """
    _require_daemon(desk)
    _post(desk, request)
    try:
        answer = wait_for_answer(desk.state_dir, request.id, PATIENCE_S)
    except UnavailableError:
        withdraw(desk.state_dir, request.id)
        raise
    _tell(answer, desk)


def report(desk: Desk, request: Report) -> None:
    """Hand in a reading or a note. Where no daemon takes it now it stays in the box, and the person is told so."""
    if not _is_there(desk.state_dir):
        raise UnavailableError(
            f"{desk.state_dir}: is not there, so no daemon has run for this chamber; is state_dir right?"
        )
    _post(desk, request)
    try:
        answer = wait_for_answer(desk.state_dir, request.id, PATIENCE_S)
    except TryAgainError:
        click.echo(
            f"The daemon has not answered yet. The entry {request.id} waits in the request box and will be taken;\n"
            "do not type it again.",
            err=True,
        )
        return
    except UnavailableError:
        click.echo(
            f"No daemon is running. The entry {request.id} waits in the request box and is taken when the daemon\n"
            "comes back; do not type it again. Nothing leads the chamber meanwhile: look at it.",
            err=True,
        )
        return
    _tell(answer, desk)
    click.echo(f"Entry {request.id}.", err=True)


def _require_daemon(desk: Desk) -> None:
    read_status(desk.state_dir)  # Says who may not, and that none has ever run.
    if not is_alive(desk.state_dir):
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


def _tell(answer: Answer, desk: Desk) -> None:
    words = in_local_time(answer.text, desk.chamber.timezone)
    text = "\n".join(line for sentence in words.splitlines() for line in fold(sentence))
    if not answer.done:
        raise DataError(text)
    click.echo(text)
