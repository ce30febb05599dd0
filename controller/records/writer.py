"""Do the work of the records in order, in a thread of its own or at once, and never give up a job that can be done.

A hand-over is what one tick leaves: jobs in a fixed order. Hand-overs are done one after the other and no job twice.
Where the disk refuses one, all wait in memory and it is tried again; so an answer is never given before everything it
promises is on disk, and a full, slow or read-only disk costs the tick nothing.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Final

from controller.errors import StorageError

RETRY_S: Final = 5.0
SLOW_S: Final = 60.0
CLOSE_WITHIN_S: Final = 10.0
"""Less than what the service gives the daemon for stopping."""

Job = Callable[[], None]


class HandOver:
    """Hold the jobs of one tick: what is appended, then the state, then the answers. What is done is gone from it."""

    __slots__ = ("answers", "jobs", "now_s", "spare", "state")

    def __init__(self, now_s: float, *, spare: bool) -> None:
        """Begin with no jobs. `spare` says that it may be lost where far too much waits."""
        self.now_s = now_s
        self.spare = spare
        self.jobs: deque[Job] = deque()
        self.state: Job | None = None
        self.answers: deque[Job] = deque()


class Writer:
    """Empty the queue of hand-overs."""

    def __init__(
        self,
        *,
        threaded: bool,
        queue_limit_s: float,
        tell: Callable[[str], None],
        retry_s: float = RETRY_S,
        slow_s: float = SLOW_S,
    ) -> None:
        """Begin to work.

        Args:
            threaded: whether a thread does the work; else `put` does it at once.
            queue_limit_s: so many seconds of hand-overs may wait; then the oldest are lost.
            tell: is told in words what belongs into the records; may be called from the thread.
            retry_s: how long to wait after the disk refused.
            slow_s: a job that takes longer is told as trouble.
        """
        self._queue_limit_s = queue_limit_s
        self._tell = tell
        self._retry_s = retry_s
        self._slow_s = slow_s
        self._queue: deque[HandOver] = deque()
        self._aside: Job | None = None
        self._failed = ""
        self._waited = self._lost = 0
        self._begun_s: float | None = None  # When the job that is under way began.
        self._retry_at_s = 0.0
        self._wake = threading.Condition()
        self._closing = False
        self._thread: threading.Thread | None = None
        if threaded:
            self._thread = threading.Thread(target=self._work, name="records", daemon=True)
            self._thread.start()

    @property
    def waiting(self) -> int:
        """Return how many hand-overs are not done."""
        return len(self._queue)

    def trouble(self) -> str:
        """Return why hand-overs wait, in words; empty while all is well."""
        begun_s, failed = self._begun_s, self._failed
        if failed and self._queue:
            return f"{failed}; {len(self._queue)} hand-overs wait in memory"
        busy_s = 0.0 if begun_s is None else time.monotonic() - begun_s
        return f"the disk has been busy with one record for {busy_s:.0f} s" if busy_s > self._slow_s else ""

    def put(self, hand_over: HandOver) -> None:
        """Take a hand-over."""
        with self._wake:
            if len(self._queue) > 1:  # The first may be under way; what waits behind it may still change.
                last = self._queue[-1]
                if hand_over.state is not None and not last.answers:
                    last.state = None  # The newer state says it all, and no answer hangs on the older one.
                self._drop_oldest(hand_over.now_s)
            self._queue.append(hand_over)
            self._wake.notify()
        if self._thread is None:
            self.drain()

    def put_aside(self, job: Job) -> None:
        """Take a job that is worth nothing late: only the newest is done, it waits for no other, and may fail."""
        with self._wake:
            self._aside = job
            self._wake.notify()
        if self._thread is None:
            self._do_aside()

    def drain(self) -> None:
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
                self._retry_at_s = time.monotonic() + self._retry_s
                return
            except Exception as error:  # noqa: BLE001 - one record that cannot be made must not end all recording
                self._tell(f"A fault of the program lost a record: {type(error).__name__}: {error}")
                hand_over.jobs.clear()
            finally:
                self._begun_s = None
            with self._wake:
                self._queue.popleft()
                self._waited += bool(self._failed and self._queue)
        if self._failed:
            self._tell_of_delay()

    def close(self) -> None:
        """Do what waits, once more at once where the disk refused, and end the thread.

        Raises:
            StorageError: not all of it could be done.
        """
        thread, self._thread = self._thread, None
        if thread is not None:
            with self._wake:
                self._closing = True
                self._wake.notify()
            thread.join(CLOSE_WITHIN_S)
            if thread.is_alive():
                raise StorageError(f"the disk does not answer; {len(self._queue)} hand-overs of records are lost")
        self._retry_at_s = 0.0
        self.drain()
        if self._queue:
            raise StorageError(f"{self._failed}; {len(self._queue)} hand-overs could not be written and are lost")

    def _drop_oldest(self, now_s: float) -> None:
        """Lose the oldest hand-overs where a whole day of them waits, but nothing that a person typed."""
        while now_s - self._queue[1].now_s > self._queue_limit_s:
            place = next((place for place in range(1, len(self._queue)) if self._queue[place].spare), None)
            if place is None or now_s - self._queue[place].now_s <= self._queue_limit_s:
                return
            del self._queue[place]
            self._lost += 1
            if len(self._queue) == 1:
                return

    def _work(self) -> None:
        while True:
            with self._wake:
                while not self._queue and self._aside is None and not self._closing:
                    self._wake.wait()
                if self._closing and (not self._queue or self._failed):
                    return
            self.drain()
            self._do_aside()
            with self._wake:
                if self._failed and not self._closing:
                    self._wake.wait(self._retry_s)

    def _do(self, hand_over: HandOver) -> None:
        self._do_all(hand_over.jobs)
        if hand_over.state is not None:
            self._begun_s = time.monotonic()
            hand_over.state()
            hand_over.state = None
        self._do_all(hand_over.answers)

    def _do_all(self, jobs: deque[Job]) -> None:
        while jobs:
            self._begun_s = time.monotonic()
            jobs[0]()
            jobs.popleft()

    def _do_aside(self) -> None:
        job, self._aside = self._aside, None
        if job is not None:
            job()

    def _tell_of_delay(self) -> None:
        """Say in the records that some of them were written late."""
        text = f"The disk refused the records ({self._failed}); {self._waited} hand-overs were written late."
        lost = f" {self._lost} older ones are lost." if self._lost else ""
        self._failed, self._waited, self._lost = "", 0, 0
        self._tell(text + lost)
