"""Carry what people ask to the daemon, and its one answer back: files that are written aside and renamed.

Readings and notes that were typed while the daemon was down are taken when it comes back. A command is taken only in
the boot of the machine in which it was given, and within a minute, so that nothing heats by an old wish. What is not
taken is answered too. The file of a request lies in the box until its answer is durable: after a crash in between it
is handed over once more, and the deciding part, which remembers what it has dealt with, answers without doing it twice.
"""

import contextlib
import errno
import os
import re
import threading
import time
from collections import deque
from collections.abc import Callable, Collection
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final

import msgspec
from msgspec.structs import replace

from controller.core.requests import Learn, Report, Request, Start
from controller.core.values import Answer, Trouble
from controller.errors import StorageError
from controller.records.batch_folder import batches_of, next_batch_id
from controller.records.durable import replace_whole, sync_folder
from controller.records.steps import next_test_name, tests_of
from controller.records.untrusted import read_file, why_not

VERSION: Final = 1
FRESH_S: Final = 60.0
"""A command that is older is not done: nothing heats by an old wish. Common practice, no source."""
LOOK_EVERY_S: Final = 0.5
RACE_NS: Final = 1_000_000_000
"""A folder that changed less than a second ago may change again under the same time stamp."""
KEEP_ANSWERS_S: Final = 7 * 86_400.0
DEALT_WITH: Final = 100
"""So many ids are known as dealt with: fewer than the deciding part remembers, so that it never does one anew."""
UNREAD: Final = 8
"""At so many looks a request that the disk lists and does not give is left for the next; then it counts as damaged.
Common practice, no source."""
LONGEST_NAME: Final = 255
FOLDER_MODE: Final = 0o2770
SAFE_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,119}")
BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")


class Envelope(msgspec.Struct, frozen=True, kw_only=True):
    """Hold one request as it lies in the box, with the clocks of the moment in which it was typed."""

    version: int = VERSION
    boot_id: str
    boottime_s: float
    typed_wall_s: float
    request: Request


def requests_of(state_dir: Path) -> Path:
    """Return the folder of requests: `tmp`, `new` and `damaged` lie in it."""
    return state_dir / "requests"


def requests_that_wait(state_dir: Path) -> frozenset[str]:
    """Return the names of the requests in the box that nobody has answered."""
    try:
        with os.scandir(requests_of(state_dir) / "new") as entries:
            return frozenset(entry.name for entry in entries if entry.name.endswith(".json"))
    except FileNotFoundError:
        return frozenset()


def waiting_since(state_dir: Path) -> dict[str, float]:
    """Return the requests that lie in the box, and when each was typed (wall seconds, by the clock of its typist).

    At a start these are the ones that a run which was killed may have done and not answered.
    """
    found = {}
    with contextlib.suppress(OSError):
        for path in (requests_of(state_dir) / "new").iterdir():
            with contextlib.suppress(OSError, ValueError, RecursionError):
                envelope = msgspec.json.decode(read_file(path), type=Envelope)
                found[envelope.request.id] = envelope.typed_wall_s
    return found


def answers_of(state_dir: Path) -> Path:
    """Return the folder of answers."""
    return state_dir / "answers"


def answer_file(state_dir: Path, request_id: str) -> Path:
    """Return the file that holds the answer to this request."""
    return answers_of(state_dir) / f"{request_id}.json"


def make_box(state_dir: Path) -> None:
    """Make the folders of the box, open to the group of the state folder.

    Raises:
        OSError: they cannot be made.
    """
    for folder in (
        requests_of(state_dir),
        *(requests_of(state_dir) / name for name in ("tmp", "new", "damaged")),
        answers_of(state_dir),
    ):
        if not folder.is_dir():
            folder.mkdir(parents=True, exist_ok=True)
            with contextlib.suppress(PermissionError):  # Somebody else made it just now.
                folder.chmod(FOLDER_MODE)


def this_boot() -> tuple[str, float]:
    """Return the name of this boot, and CLOCK_BOOTTIME in seconds: it also runs while the machine sleeps."""
    return BOOT_ID.read_text("ascii").strip(), time.clock_gettime(time.CLOCK_BOOTTIME)


def write_answer(state_dir: Path, answer: Answer, *, force: bool) -> None:
    """Put an answer on disk, then take its request out of the box.

    Raises:
        StorageError: the answer is not on disk; the request is still in the box.
    """
    OneAnswer(state_dir, answer, force=force).give()


class OneAnswer:
    """Put one answer on disk, then take its request out of the box; what was done is not done again at another try.

    Else a typist who has read his answer and taken it away would find it once more.
    """

    def __init__(self, state_dir: Path, answer: Answer, *, force: bool, in_box: bool = True) -> None:
        """Do nothing yet; `in_box` says that the request lies in the box until it is answered."""
        self._path = answer_file(state_dir, answer.request_id)
        self._new = requests_of(state_dir) / "new"
        self._answer, self._force = answer, force
        self._in_box = in_box
        self._is_there = self._was_tried = False

    def give(self) -> None:
        """Do what is left to do.

        Raises:
            StorageError: the answer is not on disk, or its request is still in the box.
        """
        path, new = self._path, self._new
        if self._was_tried and self._in_box and not (new / path.name).exists():
            return  # It was there, though not known to be forced, and its typist has read it and taken both away.
        self._was_tried = True
        if not self._is_there:
            replace_whole(path, msgspec.json.encode(self._answer), force=self._force, keep_previous=False)
            self._is_there = True
        try:
            (new / path.name).unlink(missing_ok=True)
            if self._force and new.is_dir():
                sync_folder(new)
        except OSError as error:
            raise StorageError(f"{new / path.name}: could not be taken out of the box: {error.strerror}") from error


class RequestBox:
    """Be the daemon's side of the box. Damaged and outdated requests are answered here, all others by the daemon."""

    def __init__(
        self,
        state_dir: Path,
        *,
        boot_id: str = "",
        answered: Collection[str] = (),
        boottime_s: Callable[[], float] | None = None,
        fresh_s: float | None = FRESH_S,
        threaded: bool = False,
        force: bool = True,
    ) -> None:
        """Make the folders, and look into the box in a thread of its own where a slow disk must delay nobody.

        Args:
            state_dir: the folder that holds everything.
            boot_id: the name of this boot; empty: as the kernel says.
            answered: ids of requests that have been dealt with before, oldest first (`Memory.answered`): the newest of
                them are handed over however old they are, so that they are answered again.
            boottime_s: CLOCK_BOOTTIME; another one in tests.
            fresh_s: how old a command may be; None takes every request as typed now, of whatever boot.
            threaded: whether the box looks by itself; else `take` looks.
            force: whether answers are forced to disk.

        Raises:
            StorageError: the folders cannot be made.
        """
        self._state_dir = state_dir
        self._new = requests_of(state_dir) / "new"
        self._boot_id = boot_id or this_boot()[0]
        self._dealt_with = dict.fromkeys(list(answered)[-DEALT_WITH:])  # What the daemon has been handed, oldest first.
        self._boottime_s = boottime_s or _boottime_s
        self._fresh_s = fresh_s
        self._force = force
        self._seen_ns = -1
        self._handed: set[str] = set()
        self._waiting: deque[Request] = deque()
        self._refusals: deque[tuple[OneAnswer | None, Path | None]] = deque()  # With the damaged file to set aside.
        self._trouble = ""
        self._unread: dict[str, int] = {}  # How often the disk has not given a request that it lists.
        try:
            make_box(state_dir)
            if force:  # They may be there and not known to be: whoever made them may have been killed before this.
                sync_folder(requests_of(state_dir))
                sync_folder(state_dir)
        except OSError as error:
            raise StorageError(f"{requests_of(state_dir)}: could not be made: {error.strerror or error}") from error
        self._drop_old_answers()
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        if threaded:
            self._thread = threading.Thread(target=self._look_on, name="request-box", daemon=True)
            self._thread.start()

    def take(self) -> tuple[Request, ...]:
        """Return the requests that have come since the last call, oldest first."""
        if self._thread is None:
            self._look()
        if not self._waiting:
            return ()
        taken = []
        while self._waiting:
            taken.append(self._waiting.popleft())
        self._remember(taken)
        return tuple(taken)

    def _remember(self, taken: list[Request]) -> None:
        """Know these again where the same file comes a second time: who has done a command does not call it too old."""
        dealt_with = [*self._dealt_with, *(request.id for request in taken)]
        self._dealt_with = dict.fromkeys(dealt_with[-DEALT_WITH:])

    def trouble(self) -> tuple[Trouble, ...]:
        """Return why the box cannot be served at present; empty while all is well."""
        if self._thread is not None and not self._thread.is_alive() and not self._closing.is_set():
            return (Trouble("C6", "A fault of the program ended the serving of requests; stop and start it anew."),)
        return (Trouble("C6", self._trouble),) if self._trouble else ()

    def close(self) -> None:
        """Stop looking."""
        self._closing.set()
        if self._thread is not None:
            self._thread.join(timeout=2.0)

    def _look_on(self) -> None:
        while not self._closing.wait(LOOK_EVERY_S):
            self._look()

    def _look(self) -> None:
        """Look into the box; an empty box that has not changed costs one `stat`."""
        try:
            if self._refusals:
                self._write_refusals()
            changed_ns = os.stat(self._new).st_mtime_ns  # noqa: PTH116 - half the time of Path.stat, at every tick
            if changed_ns == self._seen_ns:
                return
            # Only a folder that has been quiet for a while is believed to be as it was seen.
            quiet = time.time_ns() - changed_ns > RACE_NS
            names = {entry.name for entry in os.scandir(self._new)}
            self._handed &= names
            self._waiting.extend(self._read(sorted(names - self._handed)))
            self._seen_ns = changed_ns if quiet and not self._unread else -1
            self._write_refusals()
            self._trouble = f"the disk does not give a request: {', '.join(self._unread)}" if self._unread else ""
        except OSError as error:
            self._trouble = f"the request box {self._new} cannot be served: {error.strerror or error}"

    def _read(self, names: list[str]) -> list[Request]:
        envelopes = []
        for name in names:
            envelope = self._open(name)
            if name in self._unread:
                continue
            self._handed.add(name)
            if envelope is not None:
                envelopes.append(envelope)
        envelopes.sort(key=self._age_order)
        return [request for envelope in envelopes if (request := self._judge(envelope)) is not None]

    def _age_order(self, envelope: Envelope) -> tuple[bool, float, str]:
        """Sort what was typed before this boot first, and within a boot by its own clock."""
        here = envelope.boot_id == self._boot_id
        return here, envelope.boottime_s if here else envelope.typed_wall_s, envelope.request.id

    def _open(self, name: str) -> Envelope | None:
        """Return what a file of the box holds; set it aside and answer where that cannot be read.

        Anybody of the group may lay anything there; nothing of it may keep the box from serving the others.
        """
        path = self._new / name
        request_id = name.removesuffix(".json")
        try:
            envelope = msgspec.json.decode(read_file(path), type=Envelope)
        except FileNotFoundError:
            self._unread.pop(name, None)
            return None  # It was withdrawn.
        except (OSError, ValueError, RecursionError) as error:  # msgspec.DecodeError and UnicodeDecodeError among them.
            if isinstance(error, OSError) and error.errno == errno.EIO and self._unread.get(name, 0) < UNREAD:
                self._unread[name] = self._unread.get(name, 0) + 1
                return None  # A card that has failed once may give it at the next look.
            self._unread.pop(name, None)
            self._refuse_damaged(path, request_id, why_not(error))
            return None
        self._unread.pop(name, None)
        if name != f"{envelope.request.id}.json" or not SAFE_NAME.fullmatch(request_id):
            self._refuse_damaged(path, request_id, "its name is not the request's")
            return None
        if answer_file(self._state_dir, request_id).exists():
            path.unlink(missing_ok=True)  # The answer was durable when the program ended before taking this out.
            return None
        return envelope

    def _refuse_damaged(self, path: Path, request_id: str, why: str) -> None:
        text = f"the request is damaged and was not done; type it again ({why})"
        # Without the ending it is nobody's request, and its answer would take another one out of the box.
        is_named = path.suffix == ".json" and SAFE_NAME.fullmatch(request_id)
        self._refusals.append((self._no(request_id, text, in_box=False) if is_named else None, path))

    def _judge(self, envelope: Envelope) -> Request | None:
        request = envelope.request
        if request.id in self._dealt_with or isinstance(request, Report):
            return request
        if self._fresh_s is not None:
            if envelope.boot_id != self._boot_id:
                self._refuse(
                    request.id, "the machine was restarted since this was typed; it was not done, say it again"
                )
                return None
            age_s = self._boottime_s() - envelope.boottime_s
            if not 0.0 <= age_s <= self._fresh_s:
                text = (
                    f"this was typed {age_s:.0f} s ago, more than {self._fresh_s:.0f} s; it was not done, say it again"
                )
                self._refuse(request.id, text)
                return None
        if isinstance(request, Learn):
            return self._with_free_name(request)
        return self._with_folder(request) if isinstance(request, Start) else request

    def _with_free_name(self, request: Learn) -> Learn | None:
        """Give a step test a folder of its own."""
        if not SAFE_NAME.fullmatch(request.test):
            self._refuse(request.id, f"{request.test}: its name holds letters, digits, points and hyphens only")
            return None
        if not (tests_of(self._state_dir) / request.test).exists():
            return request
        return replace(request, test=next_test_name(self._state_dir, datetime.now(UTC).date()))

    def _with_folder(self, request: Start) -> Start | None:
        """Give a new batch a folder of its own, where the one it asks for is there already."""
        if not SAFE_NAME.fullmatch(request.batch) or not SAFE_NAME.fullmatch(request.profile.name):
            self._refuse(request.id, f"{request.batch}: a batch's name holds letters, digits, points and hyphens only")
            return None
        if not (batches_of(self._state_dir) / request.batch).exists():
            return request
        try:
            day = date.fromisoformat(request.batch[:10])
        except ValueError:
            day = datetime.now(UTC).date()
        return replace(request, batch=next_batch_id(self._state_dir, request.profile.name, day))

    def _refuse(self, request_id: str, text: str) -> None:
        if SAFE_NAME.fullmatch(request_id):
            self._refusals.append((self._no(request_id, text), None))

    def _no(self, request_id: str, text: str, *, in_box: bool = True) -> OneAnswer:
        answer = Answer(request_id, done=False, text=text)
        return OneAnswer(self._state_dir, answer, force=self._force, in_box=in_box)

    def _write_refusals(self) -> None:
        """Give the answers that say no; what cannot be written stays and is tried again."""
        while self._refusals:
            answer, damaged = self._refusals[0]
            if damaged is not None:
                self._set_aside(damaged)
            if answer is not None:
                answer.give()
            self._refusals.popleft()

    def _set_aside(self, path: Path) -> None:
        """Move what cannot be read out of the box, under a name that is free."""
        aside, number = requests_of(self._state_dir) / "damaged" / path.name, 1
        while os.path.lexists(aside):
            aside, number = aside.with_name(f"{number}-{path.name}"[-LONGEST_NAME:]), number + 1
        with contextlib.suppress(FileNotFoundError, PermissionError):  # A folder of somebody else stays and is known.
            path.rename(aside)

    def _drop_old_answers(self) -> None:
        """Delete answers that nobody has fetched for a week."""
        with contextlib.suppress(OSError):
            for entry in os.scandir(answers_of(self._state_dir)):
                if time.time() - entry.stat().st_mtime > KEEP_ANSWERS_S:
                    os.unlink(entry.path)  # noqa: PTH108 - a DirEntry is at hand


def _boottime_s() -> float:
    return time.clock_gettime(time.CLOCK_BOOTTIME)
