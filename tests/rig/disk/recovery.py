"""Tell a day on a logging disk, cut the power at any instant of it, and let the program begin on what is left.

Each state is mounted by the kernel; what was promised up to the cut must be there then, and still be there after the
program has begun on it, run for a little more than a minute and stopped: with every file whole, every request that
was posted answered once, and the batch in no earlier stage. Then it begins once more, and nothing may change by that
but what a start writes. For some states the beginning itself is told on a logging disk, and cut.
"""

import os
import threading
import time
from collections import Counter
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any, Final

from msgspec import Struct, field

from controller.core.requests import CoreTemp, Look, Note, Ph, Weigh
from controller.errors import HangroomError
from controller.records.batch_folder import CARD, batches_of, read_card
from controller.records.instruments import read_checks
from controller.review.figures import review
from tests.campaigns.disk import ModelDisk, real_close, real_open, real_write
from tests.killing.chamber import ChamberOnDisk
from tests.killing.process import Daemon
from tests.rig.disk import judge
from tests.rig.disk.crashes import Crash, Kept, Recording, crashes, images, keep, read_log
from tests.rig.disk.day import BATCH, BEGIN_WALL_S, ENDS_S, MINUTE, Day, Typing, script
from tests.rig.disk.mounting import logged_disk, memory_dir, mounted
from tests.rig.disk.witness import Noted

real_fsync = os.fsync
STATE: Final = "state"
AFTER_S: Final = 600.0
"""So long after the end of the day the machine boots again, whenever it was cut."""
AGAIN: Final = 40
"""Of every so many states the beginning is cut too."""
CUTS_OF_A_BEGINNING: Final = 6
ANSWERS_WITHIN_S: Final = 20.0
BY_THE_COMMAND: Final = 50
"""On every so many states `hangroom run` itself is started, as a process."""


class Found(Struct):
    """Hold what came of many states."""

    states: Counter[tuple[str, str]] = field(
        default_factory=Counter
    )  # By how the disk was mounted, and what of the unflushed arrived.
    of_beginnings: int = 0
    by_command: int = 0
    promised_rows: int = 0
    promised_wholes: int = 0
    posted: int = 0
    answered_afterwards: int = 0
    torn_ends: int = 0
    zero_ends: int = 0
    copy_taken: int = 0
    wrong: list[str] = field(default_factory=list)


def record(base: bytes, options: str, seed: int) -> Recording:
    """Tell a day on a logging disk: the script, and what the seed lets people type besides."""
    return _recorded(base, options, lambda place, note: _tell(place, note, seed))


def _recorded(base: bytes, options: str, tell: Callable[[Path, Callable[[Noted], None]], None]) -> Recording:
    noted: list[tuple[int, Noted]] = []
    with TemporaryDirectory(dir=memory_dir()) as folder:
        with logged_disk(Path(folder), base, options) as (place, log):

            def note(one: Noted) -> None:
                noted.append((log.stat().st_size, one))

            tell(place, note)
        return Recording(base, read_log(Path(folder) / "log"), noted)


def _tell(place: Path, note: Callable[[Noted], None], seed: int) -> None:
    state = place / STATE
    state.mkdir()
    random = Random(f"day:{seed}")
    days: list[Day] = []

    def also(one: Noted) -> None:
        note(one)
        if one.what.endswith("tried") and days and random.random() < 0.05:
            days[0].interrupt()  # Somebody types while the records are being written.

    day = Day(
        state,
        _elsewhere(place),
        seed=seed,
        lines=[*script(), *more_typing(random)],
        note=also,
        status_every_s=24.0,
    )
    days.append(day)
    with other_program(place):
        day.tell()
    if day.wrong or day.lost or day.starts_refused:
        raise AssertionError(f"the day of seed {seed}: {[*day.wrong, *day.lost, *day.starts_refused]}")


@contextmanager
def other_program(place: Path) -> Iterator[None]:
    """Let another program write to the same disk meanwhile: it forces one file of its own, and another one never.

    So the file system commits at any instant, in the middle of what the records do.
    """
    over = threading.Event()

    def write() -> None:
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
        fds = [real_open(str(place / name), flags, 0o600) for name in ("forced-by-another", "left-by-another")]
        try:
            while not over.wait(0.002):
                for fd in fds:
                    real_write(fd, b"x" * 700)
                real_fsync(fds[0])
        finally:
            for fd in fds:
                real_close(fd)

    thread = threading.Thread(target=write, name="another program")
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _elsewhere(place: Path) -> ModelDisk:
    """Return a model disk on which nothing lies: the real one is the disk here."""
    return ModelDisk(place.with_name("no-disk"), Random(0), lambda: 0)


def more_typing(random: Random) -> list[tuple[float, Typing]]:
    """Return some thirty readings and notes at any time."""
    made: list[Typing] = [
        lambda id, now: Ph(id=id, at_wall_s=now, value=5.8, instrument="meter", sure=True),
        lambda id, now: Weigh(id=id, at_wall_s=now, pieces_g={"A": 397.0, "B": 418.0}, sure=True),
        lambda id, now: Note(id=id, at_wall_s=now, text=f"typed as {id}!"),
        lambda id, now: CoreTemp(id=id, at_wall_s=now, value_c=21.0, piece="B", sure=True),
        lambda id, now: Look(id=id, at_wall_s=now, piece="A", looks={"look": "dry"}),
    ]
    return [(random.uniform(7.0, 53.0) * MINUTE, random.choice(made)) for _ in range(30)]


def try_states(
    kept: Kept, found: Found, show: Callable[[Found, Sequence[str]], None], only: int | None = None, place: str = ""
) -> None:
    """Judge the states of one recording; with `only` this one alone.

    Args:
        kept: the recording, how many states of it, and the seed that draws them.
        found: what came of them is added here.
        show: called after each state, with what is wrong with it.
        only: the number of a state.
        place: where the recording is kept if anything is wrong; empty: nowhere.
    """
    recording, options = kept.recording, kept.options
    chosen = crashes(recording, kept.count, kept.seed)
    if only is not None:
        chosen = [crash for crash in chosen if crash.number == only]
    for crash, image in images(recording, chosen, kept.seed):
        wrong = list(judge_state(recording, crash, image, options, found, kept.seed))
        if wrong and place:
            keep(Path(place), kept)
        again = (
            f"--replay {place or 'FILE'} --state {crash.number} ({options}, {crash.records} records, {crash.manner})"
        )
        new = [f"{again}: {line}" for line in wrong]
        found.states[options, crash.manner] += 1
        found.wrong += new
        show(found, new)


def judge_state(
    recording: Recording, crash: Crash, image: bytearray, options: str, found: Found, seed: int
) -> Iterator[str]:
    """Yield what is wrong with one state."""
    noted = recording.noted_before(crash.place(recording))
    found.promised_rows += sum(one.what == "row" for one in noted)
    found.promised_wholes += sum(one.what == "whole" for one in noted)
    found.posted += sum(one.what == "posted" for one in noted)
    with TemporaryDirectory(dir=memory_dir()) as folder:
        path = Path(folder) / "image"
        path.write_bytes(image)
        with mounted(path, options, Path(folder) / "mounted") as place:
            yield from judged(place / STATE, noted, found, seed)
        if crash.number % BY_THE_COMMAND == 0:
            found.by_command += 1
            path.write_bytes(image)
            with mounted(path, options, Path(folder) / "mounted") as place:
                yield from judged_by_command(Path(folder) / "chamber", place / STATE, noted)
    if crash.number % AGAIN == 0:
        yield from _judge_beginning(bytes(image), noted, options, found, seed, crash.number)


def _judge_beginning(
    image: bytes, noted: Sequence[Noted], options: str, found: Found, seed: int, number: int
) -> Iterator[str]:
    """Let the program begin on a logging disk, cut that too, and judge what is left of both."""

    def tell(place: Path, note: Callable[[Noted], None]) -> None:
        if (place / STATE).is_dir():
            Day(place / STATE, _elsewhere(place), seed=seed + 1, note=note, begin_wall_s=_boots(1)).begin_after_a_cut()

    recording = _recorded(image, options, tell)
    chosen = crashes(recording, CUTS_OF_A_BEGINNING, number) if recording.noted else []
    for crash, second in images(recording, chosen, number):
        with TemporaryDirectory(dir=memory_dir()) as folder:
            path = Path(folder) / "image"
            path.write_bytes(second)
            both = [*noted, *recording.noted_before(crash.place(recording))]
            found.of_beginnings += 1
            with mounted(path, options, Path(folder) / "mounted") as place:
                for line in judged(place / STATE, both, found, seed, boots=2):
                    yield f"its beginning, state {crash.number} ({crash.records} records, {crash.manner}): {line}"


def _boots(boot: int) -> float:
    return BEGIN_WALL_S + ENDS_S + boot * AFTER_S


def files_of(state: Path) -> dict[str, bytes]:
    """Return all files with their bytes."""
    return {str(path.relative_to(state)): path.read_bytes() for path in state.rglob("*") if path.is_file()}


def judged(state: Path, noted: Sequence[Noted], found: Found, seed: int, boots: int = 1) -> Iterator[str]:
    """Yield what is wrong with a state folder after a cut: as it is, after one beginning, and after another."""
    state.mkdir(exist_ok=True)
    left = files_of(state)
    yield from _promised(left, noted)
    tables = [data for name, data in left.items() if name.endswith(".csv") and data]
    found.zero_ends += any(data.endswith(b"\0") for data in tables)
    found.torn_ends += any(not data.rstrip(b"\0").endswith(b"\n") for data in tables)
    found.copy_taken += judge.CHECKPOINT not in left and f"{judge.CHECKPOINT}.previous" in left
    before = judge.remembered(left)
    noted = list(noted)
    after_one = yield from _begun(state, noted, seed, boots)
    found.answered_afterwards += sum(name.startswith(judge.ANSWERS) and name not in left for name in after_one)
    yield from _kept_on(before, judge.remembered(after_one))
    after_two = yield from _begun(state, noted, seed, boots + 1)
    for name, data in after_one.items():
        if name.endswith(".csv") and not after_two.get(name, b"").startswith(data):
            yield f"a second beginning has changed {name}"
        if name.startswith(judge.ANSWERS) and after_two.get(name) != data:
            yield f"a second beginning has changed {name}"


def judged_by_command(root: Path, state: Path, noted: Sequence[Noted]) -> Iterator[str]:
    """Yield what is wrong after `hangroom run` has begun on a state folder, as a process, and was stopped."""
    state.mkdir(exist_ok=True)
    chamber = ChamberOnDisk(root)
    chamber.state.rmdir()
    chamber.state.symlink_to(state)
    command = Daemon(chamber)
    if not command.wait_ready():
        yield f"hangroom run ended: {command.said.read_text('utf-8', 'replace')[-500:]}"
        return
    ends_s = time.monotonic() + ANSWERS_WITHIN_S
    while any((state / judge.NEW).glob("*.json")) and time.monotonic() < ends_s:
        command.wait_end(0.1)
    code = command.stop()
    if code:
        yield f"hangroom run was stopped and ended with {code}"
    files = files_of(state)
    # What it has begun anew is not noted here: its memory and its answers are looked at by what they say.
    known = [one for one in noted if not one.name.startswith((judge.CHECKPOINT, judge.ANSWERS))]
    yield from judge.lost_rows(files, noted)
    yield from judge.old_wholes(files, known)
    yield from judge.unanswered(files, noted)
    yield from judge.answered_otherwise(files, noted)
    yield from judge.empty_promises(files, noted)
    yield from judge.broken_tables(files)
    yield from judge.unreadable(files)
    yield from (f"{name} is not answered by hangroom run" for name in files if name.startswith(judge.NEW))


def _begun(state: Path, noted: list[Noted], seed: int, boot: int) -> Generator[str, None, dict[str, bytes]]:
    """Let the program begin, note what it promises too, and yield what is wrong afterwards; return the files."""
    day = Day(state, _elsewhere(state), seed=seed + boot, note=noted.append, begin_wall_s=_boots(boot))
    try:
        day.begin_after_a_cut()
    except Exception as error:  # noqa: BLE001 - whatever ends the program is a finding
        yield f"the program ended with {type(error).__name__}: {error}"
    yield from day.lost
    files = files_of(state)
    yield from _promised(files, noted)
    yield from judge.broken_tables(files)
    yield from judge.unreadable(files)
    yield from judge.doubled_words(files, {one.name for one in noted if one.what == "posted"})
    yield from (f"{name} is not answered" for name in files if name.startswith(judge.NEW))
    yield from _read_by_the_program(state)
    return files


def _promised(files: judge.Files, noted: Sequence[Noted]) -> Iterator[str]:
    yield from judge.lost_rows(files, noted)
    yield from judge.old_wholes(files, noted)
    yield from judge.unanswered(files, noted)
    yield from judge.answered_otherwise(files, noted)
    yield from judge.empty_promises(files, noted)


def _kept_on(before: Any, after: Any) -> Iterator[str]:  # noqa: ANN401 - plain data, whatever the program keeps
    """Yield what the program has forgotten by its beginning."""
    if before is None:
        return
    if after is None:
        yield "the beginning has left no memory"
        return
    gone = set(before["answered"]) - set(after["answered"])
    if gone:
        yield f"{sorted(gone)}: answered, and forgotten by the beginning"
    stages = {batch["id"]: batch.get("stage_index", 0) for batch in after["batches"]}
    for batch in before["batches"]:
        if batch["id"] not in stages and not batch.get("closed"):
            yield f"{batch['id']}: the batch is forgotten"
        elif stages.get(batch["id"], 99) < batch.get("stage_index", 0):
            yield f"{batch['id']}: is in an earlier stage than it was"


def _read_by_the_program(state: Path) -> Iterator[str]:
    """Yield what those who look a batch up cannot read."""
    try:
        read_checks(state)
        folder = batches_of(state) / BATCH
        if (folder / CARD).exists():
            read_card(folder)
            told = review(folder)
            if told["damaged_rows"]:
                yield f"the review says: {told['damage']}"
    except HangroomError as error:
        yield f"the review says: {error}"
