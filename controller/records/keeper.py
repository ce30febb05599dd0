"""Keep the records: the tick hands over what was decided, a thread of its own puts it on disk.

What one tick leaves is one hand-over, a list of jobs in a fixed order: folders, rows, events, readings, checkpoint,
answers. Hand-overs are done in their order and no job twice; where one fails, all wait in memory, up to a day of them,
and it is tried again. So an answer is never given before everything it promises is on disk, and a full, slow or
read-only disk costs the tick nothing. Without the thread the same jobs are done at once: the same files, byte for byte.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from controller.core.memory import Batch, Memory, Outcome
from controller.core.values import Event
from controller.errors import StorageError
from controller.records import events as events_file
from controller.records import readings as readings_file
from controller.records.batch_folder import batches_of, make_folder
from controller.records.checkpoint import FILE as CHECKPOINT
from controller.records.checkpoint import encode_memory
from controller.records.climate_log import HEADER as CLIMATE_HEADER
from controller.records.climate_log import ClimateLog, file_name
from controller.records.durable import AppendFile, WholeFile, recover_tail
from controller.records.request_box import write_answer
from controller.records.status import EVERY_S as STATUS_EVERY_S
from controller.records.status import status_of, write_status
from controller.settings.chamber_file import ChamberFile

RETRY_S: Final = 5.0
SLOW_S: Final = 60.0
CLOSE_WITHIN_S: Final = 10.0
"""Less than what the service gives the daemon for stopping."""

Job = Callable[[], None]


class _HandOver:
    """Hold the jobs of one tick: what is appended, then the memory, then the answers. What is done is gone from it."""

    __slots__ = ("answers", "jobs", "memory", "now_s", "spare", "wall_s")

    def __init__(self, outcome: Outcome, memory: Memory | None) -> None:
        self.now_s = outcome.now_s
        self.wall_s = outcome.wall_s
        self.jobs: deque[Job] = deque()
        self.memory = memory
        self.answers = deque(outcome.answers)
        self.spare = not (outcome.entries or outcome.answers)  # What people typed is never dropped.


class Keeper:
    """Keep the records of one chamber below its state folder. Only this program may write there."""

    def __init__(
        self,
        state_dir: Path,
        chamber: ChamberFile,
        *,
        force: bool,
        threaded: bool,
        queue_limit_s: float = 86_400.0,
        status_every_s: float = STATUS_EVERY_S,
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
        """
        self._state_dir = state_dir
        self._chamber = chamber
        self._force = force
        self._queue_limit_s = queue_limit_s
        self._status_every_s = status_every_s
        self._status_due_s = 0.0
        self._newest: tuple[Memory, Outcome] | None = None
        self._to_show: tuple[Memory, Outcome] | None = None
        self._status_trouble = ""
        self._log = ClimateLog(chamber.limits.log_every_s)
        self._made: set[str] = set()
        self._files: dict[Path, AppendFile] = {}
        self._checkpoint = WholeFile(state_dir / CHECKPOINT, force=force)
        self._queue: deque[_HandOver] = deque()
        self._failed = ""
        self._waited = 0
        self._lost = 0
        self._begun_s: float | None = None  # When the job that is under way began.
        self._retry_at_s = 0.0
        self._rows = 0
        self._wake = threading.Condition()
        self._closing = False
        self._told = deque(self._recover())  # Events of the keeper's own, for the next tick.
        self._thread: threading.Thread | None = None
        if threaded:
            self._thread = threading.Thread(target=self._work, name="records", daemon=True)
            self._thread.start()

    # What the daemon calls. None of it waits for a disk when there is a thread.

    def keep(self, memory: Memory, outcome: Outcome) -> None:
        """Take one tick's outcome: rows, events, entries, checkpoint and answers, in this order."""
        rows = self._log.add(memory, outcome)
        if rows or outcome.events or outcome.entries or outcome.checkpoint or outcome.answers or self._told:
            self._hand_over(memory, outcome, rows)
        elif self._thread is None and self._queue:
            self._drain()
        self._newest = memory, outcome
        now_s = time.monotonic()
        if now_s >= self._status_due_s:
            self._status_due_s = now_s + self._status_every_s
            self._to_show = self._newest
            if self._thread is None:
                self._show()
            else:
                with self._wake:
                    self._wake.notify()

    @property
    def rows(self) -> int:
        """Return how many climate rows have been written."""
        return self._rows

    def trouble(self) -> tuple[str, ...]:
        """Return what cannot be written at present, in words; empty while all is well."""
        if not self._queue:
            return (self._status_trouble,) if self._status_trouble else ()
        if self._failed:
            return (f"{self._failed}; {len(self._queue)} hand-overs wait in memory",)
        begun_s = self._begun_s
        if begun_s is not None and time.monotonic() - begun_s > SLOW_S:
            return (f"the disk has been busy with one row for {time.monotonic() - begun_s:.0f} s",)
        return ()

    def save(self, memory: Memory) -> None:
        """Take the memory with which the program ends."""
        if self._newest is None:
            return
        self._newest = memory, replace(self._newest[1], events=(), entries=(), answers=(), checkpoint=True)
        self._hand_over(memory, self._newest[1], [])

    def close(self) -> None:
        """Write out what is waiting, and the unfinished minute.

        Raises:
            StorageError: not all of it could be written.
        """
        if self._newest is not None:
            memory, outcome = self._newest
            rows = self._log.flush()
            if rows:
                self._hand_over(memory, replace(outcome, events=(), entries=(), answers=(), checkpoint=False), rows)
        self._end_thread()
        self._retry_at_s = 0.0
        self._drain()
        self._to_show = self._newest
        self._show()
        for file in self._files.values():
            file.close()
        if self._queue:
            raise StorageError(f"{self._failed}; {len(self._queue)} hand-overs could not be written and are lost")

    def _end_thread(self) -> None:
        thread = self._thread
        if thread is None:
            return
        with self._wake:
            self._closing = True
            self._wake.notify()
        thread.join(CLOSE_WITHIN_S)
        if thread.is_alive():
            raise StorageError(f"{self._state_dir}: the disk does not answer; {len(self._queue)} hand-overs are lost")
        self._thread = None

    # From one tick to jobs.

    def _hand_over(self, memory: Memory, outcome: Outcome, rows: list[tuple[str, str, bytes]]) -> None:
        done = _HandOver(outcome, memory if outcome.checkpoint else None)
        jobs = done.jobs
        for batch in memory.batches:
            if batch.id not in self._made:
                self._made.add(batch.id)
                jobs.append(self._folder_job(batch))
        for name, day, row in rows:
            jobs.append(self._row_job(batches_of(self._state_dir) / name / file_name(day), CLIMATE_HEADER, row))
        while self._told:
            jobs.extend(self._event_jobs(self._told.popleft(), memory, outcome.wall_s))
        for event in outcome.events:
            jobs.extend(self._event_jobs(event, memory, outcome.wall_s))
        for entry in outcome.entries:
            path = batches_of(self._state_dir) / entry.batch / readings_file.FILE
            jobs.append(self._row_job(path, readings_file.HEADER, readings_file.reading_row(entry)))
        gone = self._made.union(row[0] for row in rows).difference(batch.id for batch in memory.batches)
        if gone:
            self._made -= gone
            jobs.append(lambda: self._close_files(gone))
        self._enqueue(done)

    def _folder_job(self, batch: Batch) -> Job:
        def make() -> None:
            make_folder(self._state_dir, batch, self._chamber, force=self._force)

        return make

    def _row_job(self, path: Path, header: bytes, row: bytes) -> Job:
        def append() -> None:
            file = self._files.get(path)
            if file is None:
                self._close_older(path)
                file = self._files[path] = AppendFile(path, header=header, force=self._force)
            file.append(row)
            self._rows += header is CLIMATE_HEADER

        return append

    def _close_older(self, path: Path) -> None:
        """Close yesterday's climate file when today's is begun."""
        if path.name.startswith("climate-"):
            for old in [old for old in self._files if old.parent == path.parent and old.name.startswith("climate-")]:
                self._files.pop(old).close()

    def _event_jobs(self, event: Event, memory: Memory, wall_s: float) -> list[Job]:
        """Put an event of a batch into its folder; what concerns the chamber as a whole everywhere that is open."""
        row = events_file.event_row(event, wall_s)
        names = [event.batch] if event.batch else [batch.id for batch in memory.batches]
        folders = [batches_of(self._state_dir) / name for name in names]
        if not event.batch:
            folders.append(self._state_dir)
        return [self._row_job(folder / events_file.FILE, events_file.HEADER, row) for folder in folders]

    def _close_files(self, names: set[str]) -> None:
        for path in [path for path in self._files if path.parent.name in names]:
            self._files.pop(path).close()

    # The queue, and who empties it.

    def _enqueue(self, done: _HandOver) -> None:
        with self._wake:
            if len(self._queue) > 1:  # The first may be under way; what waits behind it may still change.
                last = self._queue[-1]
                if last.spare and done.memory is not None:
                    last.memory = None  # The newer memory says it all; no answer hangs on the older one.
                self._drop_oldest(done.now_s)
            self._queue.append(done)
            self._wake.notify()
        if self._thread is None:
            self._drain()

    def _drop_oldest(self, now_s: float) -> None:
        """Lose the oldest rows where a whole day of them waits."""
        while now_s - self._queue[1].now_s > self._queue_limit_s:
            spare = next((held for held in list(self._queue)[1:] if held.spare), None)
            if spare is None or now_s - spare.now_s <= self._queue_limit_s or len(self._queue) < 3:  # noqa: PLR2004
                return
            self._queue.remove(spare)
            self._lost += 1

    def _work(self) -> None:
        while True:
            with self._wake:
                while not self._queue and self._to_show is None and not self._closing:
                    self._wake.wait()
                if self._closing and (not self._queue or self._failed):
                    return
            self._drain()
            self._show()
            if self._failed:
                with self._wake:
                    if not self._closing:
                        self._wake.wait(RETRY_S)

    def _drain(self) -> None:
        """Do what waits, in order, until all is done or the disk refuses."""
        if self._failed and time.monotonic() < self._retry_at_s:
            return
        while self._queue:
            hand_over = self._queue[0]
            try:
                self._do(hand_over)
            except OSError as error:
                self._waited += not self._failed
                self._failed = str(error)
                self._retry_at_s = time.monotonic() + RETRY_S
                return
            except Exception as error:  # noqa: BLE001 - one record that cannot be made must not end all recording
                hand_over.jobs.clear()
                hand_over.memory = None
                text = f"A fault of the program lost a record: {type(error).__name__}: {error}"
                self._told.append(Event("records", text, id="C6"))
            finally:
                self._begun_s = None
            with self._wake:
                self._queue.popleft()
                self._waited += bool(self._failed and self._queue)
        if self._failed:
            self._tell_of_delay()

    def _do(self, hand_over: _HandOver) -> None:
        while hand_over.jobs:
            self._begun_s = time.monotonic()
            hand_over.jobs[0]()
            hand_over.jobs.popleft()
        if hand_over.memory is not None:
            self._checkpoint.replace(encode_memory(hand_over.memory))
            hand_over.memory = None
        while hand_over.answers:
            write_answer(self._state_dir, hand_over.answers[0], force=self._force)
            hand_over.answers.popleft()

    def _tell_of_delay(self) -> None:
        """Say in the records that some of them were written late."""
        text = f"The disk refused the records ({self._failed}); {self._waited} hand-overs were written late."
        if self._lost:
            text += f" {self._lost} older ones are lost."
        self._failed, self._waited, self._lost = "", 0, 0
        self._told.append(Event("records", text, id="C6", priority="E"))

    # The status file, and the ends of the files of the last run.

    def _show(self) -> None:
        """Replace the status file. It never stands in the queue: a status that is late is worth nothing."""
        newest, self._to_show = self._to_show, None
        if newest is None:
            return
        status = status_of(*newest, chamber=self._chamber, trouble=self.trouble())
        try:
            write_status(self._state_dir, status)
            self._status_trouble = ""
        except StorageError as error:
            self._status_trouble = str(error)

    def _recover(self) -> tuple[Event, ...]:
        """Put the ends of all files right that may be appended to; return what is to be told."""
        told = []
        folders = sorted(batches_of(self._state_dir).glob("*/"))
        for folder in (self._state_dir, *folders):
            files = [folder / events_file.FILE, folder / readings_file.FILE, *sorted(folder.glob("climate-*.csv"))[-1:]]
            for path in files:
                try:
                    recovered = recover_tail(path, force=self._force)
                except StorageError as error:
                    told.append(Event("records", str(error), id="C6"))
                    continue
                if recovered is not None:
                    batch = "" if folder == self._state_dir else folder.name
                    told.append(Event("records", recovered.text, batch=batch))
        return tuple(told)
