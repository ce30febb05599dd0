"""Keep the records: the tick hands over what was decided, and the writer puts it on disk.

What one tick leaves has a fixed order: folders, rows, events, readings, checkpoint, answers. Without the writer's
thread the same jobs are done at once: the same files, byte for byte.
"""

import time
from collections import deque
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Memory, Outcome
from controller.core.values import Answer, Event, Trouble
from controller.errors import StorageError
from controller.records import events as events_file
from controller.records import instruments as instruments_file
from controller.records import readings as readings_file
from controller.records.batch_folder import batches_of, make_folder
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.checkpoint import encode_memory
from controller.records.climate_log import HEADER as CLIMATE_HEADER
from controller.records.climate_log import ClimateLog, file_name, fit_row, late_row, older_columns
from controller.records.csv_text import time_text
from controller.records.durable import AppendFile, WholeFile, recover_tail
from controller.records.hand_over import Answering, Do, HandOver, Job
from controller.records.once import Key, is_told, key_of, keys_in
from controller.records.refused import trouble_of
from controller.records.request_box import OneAnswer, waiting_since
from controller.records.status import EVERY_S as STATUS_EVERY_S
from controller.records.status import status_of, write_status
from controller.records.steps import FILE as STEPS
from controller.records.steps import HEADER as STEPS_HEADER
from controller.records.steps import StepLog, make_test_folder, tests_of
from controller.records.writer import RETRY_S, Writer
from controller.settings.chamber_file import ChamberFile
from controller.settings.instrument_care import care_of
from controller.settings.learned_file import Learned

DAY_S: Final = 86_400.0
NOT_RECORDED: Final = "But a fault of the program lost its record: it counts in the batch, so write it down by hand."


class Keeper:
    """Keep the records of one chamber below its state folder. Only this program may write there."""

    def __init__(
        self,
        state_dir: Path,
        chamber: ChamberFile,
        *,
        force: bool,
        threaded: bool,
        queue_limit_s: float = DAY_S,
        status_every_s: float = STATUS_EVERY_S,
        retry_s: float = RETRY_S,
        disk: Callable[[], None] | None = None,
        now: Callable[[], float] | None = None,
        learned: Learned | None = None,
    ) -> None:
        """Put the torn ends of the last run right and begin.

        Args:
            state_dir: the folder that holds everything.
            chamber: the chamber file, frozen into every batch that begins.
            force: whether each row is forced to disk.
            threaded: whether a thread does the work; else `keep` does it at once.
            queue_limit_s: so many seconds of records wait in memory while the disk refuses them; then the oldest
                rows are lost, and that is told.
            status_every_s: how often the status file is replaced, in seconds of this machine's clock.
            retry_s: how long to wait after the disk refused, in seconds.
            disk: is asked before each record and raises OSError where it refuses: the disk of a modelled world.
            now: the clock by which a disk is slow and a record late; None: that of this machine.
            learned: what was learned of the chamber and is used, frozen into every batch that begins.
        """
        self._state_dir = state_dir
        self._chamber, self._learned = chamber, learned
        self._force = force
        self._status_every_s = status_every_s
        self._status_due_s = 0.0
        self._status_trouble: StorageError | None = None
        self._newest: tuple[Memory, Outcome] | None = None
        self._log = ClimateLog(chamber.limits.log_every_s, care_of(chamber).offsets)
        self._steps = StepLog()
        self._made: set[str] = set()
        self._files: dict[Path, AppendFile] = {}
        self._narrow: dict[Path, int | None] = {}  # So many columns has a day that an older version began.
        self._there: dict[Path, set[Key]] = {}  # What stood in a file of readings or checks before this run.
        self._lay = waiting_since(state_dir)  # Requests that a run which was killed may have done and not answered.
        self._checkpoint = WholeFile(state_dir / CHECKPOINT, force=force)
        self._rows = 0
        self._torn: set[Path] = set()  # Ends that the disk did not let be put right yet.
        self._told = deque(self._recover())  # Events of the keeper's own, for the next tick.
        self._writer = Writer(
            threaded=threaded,
            queue_limit_s=queue_limit_s,
            tell=self._tell,
            retry_s=retry_s,
            slow_s=chamber.faults.slow_write_s,
            disk=disk,
            now=now,
        )

    def begin(self, memory: Memory, *, within_s: float = 0.0) -> None:
        """Save the memory with which the program begins: one that ends in its first tick must have been counted.

        Args:
            memory: what it begins with.
            within_s: so long it is waited for the disk; one that refuses or is slower is told of as ever.
        """
        done = HandOver(memory.started_s, spare=True)
        done.state = lambda: self._checkpoint.replace(encode_memory(memory))
        self._writer.put(done)
        if within_s:
            self._writer.wait(within_s)

    # What the daemon calls. None of it waits for a disk when there is a thread.

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        """Take one tick's outcome: rows, events, entries, checkpoint and answers, in this order."""
        rows = self._log.add(memory, outcome)
        self._newest = memory, outcome
        told = outcome.events or outcome.entries or outcome.checks or outcome.answers or self._told
        if rows or outcome.checkpoint or told or memory.learning is not None:
            self._hand_over(memory, outcome, rows)
        now_s = time.monotonic()
        if now_s >= self._status_due_s:
            self._status_due_s = now_s + self._status_every_s
            self._writer.put_aside(lambda: self.show(memory, outcome))

    @property
    def rows(self) -> int:
        """Return how many climate rows have been written."""
        return self._rows

    def trouble(self) -> tuple[Trouble, ...]:
        """Return what cannot be written at present, or only slowly; empty while all is well."""
        status = self._status_trouble
        found = self._writer.trouble()
        return found or (() if status is None else (trouble_of(status, "the status is old"),))

    def save(self, memory: Memory) -> None:
        """Take the memory with which the program ends."""
        if self._newest is not None:
            outcome = replace(self._newest[1], events=(), entries=(), checks=(), answers=(), checkpoint=True)
            self._newest = memory, outcome
            self._hand_over(memory, outcome, [])

    def close(self) -> None:
        """Write out what is waiting, and the unfinished minute; all of it in the writer's thread, where it has one.

        Raises:
            StorageError: not all of it could be written, or the disk did not answer in time.
        """
        newest = self._newest
        if newest is None:
            self._writer.close()
            return
        memory, outcome = newest
        nothing_new = replace(outcome, events=(), entries=(), checks=(), answers=(), checkpoint=False)
        self._hand_over(memory, nothing_new, self._log.flush())

        def last() -> None:
            if self._told:
                self._hand_over(memory, nothing_new, [])
            self.show(memory, outcome, running=False)
            self._close_files()

        self._writer.close(last)

    def forget(self) -> None:
        """Forget what waits in memory, as a power cut does."""
        self._close_files()

    # From one tick to jobs.

    def _hand_over(self, memory: Memory, outcome: Outcome, rows: list[tuple[str, str, bytes]]) -> None:
        done = HandOver(outcome.now_s, spare=not (outcome.entries or outcome.checks or outcome.answers))
        jobs = done.jobs
        for batch in memory.batches:
            if batch.id not in self._made:
                self._made.add(batch.id)
                jobs.append(self._folder_job(batch))
        for name, day, row in rows:
            path = batches_of(self._state_dir) / name / file_name(day)
            jobs.append(Job(self._append(path, CLIMATE_HEADER, row, partial(late_row, row))))
        jobs.extend(self._step_jobs(memory, outcome))
        while self._told:
            jobs.extend(self._event_jobs(self._told.popleft(), memory, outcome))
        since_s = self._typed_s(outcome)
        for event in outcome.events:
            jobs.extend(self._event_jobs(event, memory, outcome, since_s))
        jobs.extend(self._typed_jobs(outcome))
        gone = self._made.union(row[0] for row in rows).difference(batch.id for batch in memory.batches)
        if gone:
            self._made -= gone
            jobs.append(Job(lambda _late: self._close_files(gone)))
        if outcome.answers:  # Whoever has read his answer and looks finds what it was about.
            jobs.append(Job(lambda late: None if late else self.show(memory, outcome)))
        if outcome.checkpoint:
            done.state = lambda: self._checkpoint.replace(encode_memory(memory))
        done.answers.extend(self._answering(answer) for answer in outcome.answers)
        self._writer.put(done)

    def _typed_jobs(self, outcome: Outcome) -> Iterator[Job]:
        """Yield what writes the rows of what people have measured and checked."""
        for entry in outcome.entries:
            path = batches_of(self._state_dir) / entry.batch / readings_file.FILE
            row = readings_file.reading_row(entry)
            yield Job(self._append_once(path, readings_file.HEADER, row, readings_file.KEY), entry.id)
        for check in outcome.checks:
            path = self._state_dir / instruments_file.FILE
            row = instruments_file.check_row(check)
            yield Job(self._append_once(path, instruments_file.HEADER, row, instruments_file.KEY), check.id)

    def _step_jobs(self, memory: Memory, outcome: Outcome) -> list[Job]:
        """Return what writes the row of a step test; its first one makes the folder, its last one closes the file."""
        learning, row = memory.learning, self._steps.row(memory, outcome)
        if learning is None or row is None:
            return []
        path = tests_of(self._state_dir) / learning.name / STEPS

        def make(_late: bool) -> None:  # noqa: FBT001 - the writer calls it
            if path not in self._files:
                make_test_folder(self._state_dir, learning, self._chamber, force=self._force)

        jobs = [Job(make), Job(self._append(path, STEPS_HEADER, row))]
        return [*jobs, Job(lambda _late: self._close_files({learning.name}))] if learning.ended else jobs

    def _folder_job(self, batch: Batch) -> Job:
        def make(_late: bool) -> None:  # noqa: FBT001 - the writer calls it
            make_folder(self._state_dir, batch, self._chamber, force=self._force, learned=self._learned)

        return Job(make)

    def _answering(self, answer: Answer) -> Answering:
        given: list[OneAnswer] = []

        def give(lost: bool) -> None:  # noqa: FBT001 - the writer calls it
            if not given:
                said = replace(answer, done=False, text=f"{answer.text} {NOT_RECORDED}") if lost else answer
                given.append(OneAnswer(self._state_dir, said, force=self._force))
            given[0].give()

        return Answering(answer.request_id, give)

    def _append(self, path: Path, header: bytes, row: bytes, marked: Callable[[], bytes] | None = None) -> Do:
        """Return what appends a row; where it comes late, the row that says so."""

        def append(late: bool) -> None:  # noqa: FBT001 - the writer calls it
            file = self._files.get(path)
            if file is None:
                self._close_older(path)
                self._narrow[path] = older_columns(path) if header is CLIMATE_HEADER else None
                file = self._files[path] = AppendFile(path, header=header, force=self._force)
            columns = self._narrow[path]
            written = marked() if late and marked is not None else row
            file.append(written if columns is None else fit_row(written, columns))
            self._rows += header is CLIMATE_HEADER
            if self._torn:  # The disk takes something again.
                self._mend()

        return append

    def _append_once(self, path: Path, header: bytes, row: bytes, columns: tuple[int, ...]) -> Do:
        """Append a row, unless a run that was killed before it could remember the request has done so."""
        append = self._append(path, header, row)

        def append_once(late: bool) -> None:  # noqa: FBT001 - the writer calls it
            if path not in self._files:
                self._there[path] = keys_in(path, columns)
            if key_of(row, columns) not in self._there[path]:
                append(late)

        return append_once

    def _close_older(self, path: Path) -> None:
        """Close yesterday's climate file when today's is begun."""
        if path.name.startswith("climate-"):
            for old in [old for old in self._files if old.parent == path.parent and old.name.startswith("climate-")]:
                self._files.pop(old).close()

    def _close_files(self, names: set[str] | None = None) -> None:
        for path in [path for path in self._files if names is None or path.parent.name in names]:
            self._files.pop(path).close()

    def _typed_s(self, outcome: Outcome) -> float | None:
        """Return when what is answered in this tick was typed, if it lay in the box before this run; else None."""
        typed_s = [self._lay[answer.request_id] for answer in outcome.answers if answer.request_id in self._lay]
        return min(typed_s, default=None)

    def _event_jobs(self, event: Event, memory: Memory, outcome: Outcome, since_s: float | None = None) -> list[Job]:
        """Put an event of a batch into its folder; what concerns the chamber as a whole everywhere that is open.

        With `since_s` it may be told already, by a run that was killed before it could remember.
        """
        make = partial(events_file.event_row, event, outcome.wall_s, clock_set=outcome.wall_trusted)
        row, late = make(), partial(make, late=True)
        names = [event.batch] if event.batch else [batch.id for batch in memory.batches]
        folders = [batches_of(self._state_dir) / name for name in names]
        if not event.batch:
            folders.append(self._state_dir)
        paths = [folder / events_file.FILE for folder in folders]
        if since_s is None:
            return [Job(self._append(path, events_file.HEADER, row, late)) for path in paths]
        since = time_text(since_s)
        return [Job(self._append_untold(path, row, late, since)) for path in paths]

    def _append_untold(self, path: Path, row: bytes, marked: Callable[[], bytes], since: str) -> Do:
        append = self._append(path, events_file.HEADER, row, marked)

        told: list[bool] = []

        def append_untold(late: bool) -> None:  # noqa: FBT001 - the writer calls it
            if not told:  # Before the first try only: a row that was written and could not be forced is cut off again.
                told.append(is_told(path, row, events_file.WHAT, since))
            if not told[0]:
                append(late)

        return append_untold

    def _tell(self, text: str) -> None:
        self._told.append(Event("records", text, id="C6", priority="E"))

    # The status file, and the ends of the files of the last run.

    def show(self, memory: Memory, outcome: Outcome, *, running: bool = True) -> None:
        """Replace the status file now; where it cannot be written that is a trouble, and no reason to end."""
        status = status_of(
            memory, outcome, chamber=self._chamber, trouble=tuple(one.text for one in self.trouble()), running=running
        )
        try:
            write_status(self._state_dir, status)
            self._status_trouble = None
        except StorageError as error:
            self._status_trouble = error

    def _recover(self) -> list[Event]:
        """Put the ends of all files right that may be appended to; return what is to be told."""
        told: list[Event] = []
        for folder in (self._state_dir, *_listed(batches_of(self._state_dir), "*/", told)):
            names = (events_file.FILE, readings_file.FILE, instruments_file.FILE)
            # Two days of climate: of a disk that was full at midnight the older one may have been written last.
            for path in [*(folder / name for name in names), *_listed(folder, "climate-*.csv", told)[-2:]]:
                told += self._put_right(path)
        return told

    def _put_right(self, path: Path) -> list[Event]:
        """Put the end of one file right; return what is to be told. What fails is tried again, and told once."""
        was_torn = path in self._torn
        try:
            recovered = recover_tail(path, force=self._force)
        except StorageError as error:
            self._torn.add(path)
            return [] if was_torn else [Event("records", str(error), id="C6", priority="E")]
        self._torn.discard(path)
        batch = "" if path.parent == self._state_dir else path.parent.name
        return [] if recovered is None else [Event("records", recovered.text, batch=batch)]

    def _mend(self) -> None:
        """Put the ends right that could not be at the start; of a file that was opened since that is done."""
        for path in list(self._torn):
            if path in self._files:
                self._torn.discard(path)
            else:
                self._told.extend(self._put_right(path))


def _listed(folder: Path, pattern: str, told: list[Event]) -> list[Path]:
    """Return what fits in a folder, sorted; where the disk does not list it, that is told, and the program runs.

    An end that was not put right now is put right when its file is opened.
    """
    try:
        return sorted(folder.glob(pattern))
    except OSError as error:
        text = f"{folder}: its files could not be listed at the start: {error.strerror or error}"
        told.append(Event("records", text, id="C6", priority="E"))
        return []
