"""Do the work of the records in order, in a thread of its own or at once, and never give up a job that can be done.

A hand-over is what one tick leaves: jobs in a fixed order. Hand-overs are done one after the other and no job twice.
Where the disk refuses one, all wait in memory and it is tried again; so an answer is never given before everything it
promises is on disk, and a full, slow or read-only disk costs the tick nothing. What had to wait is told that it is
late, and marks itself. A fault of the program itself loses the one record it is in, and nothing else.
"""

import contextlib
import threading
import time
from collections import deque
from collections.abc import Callable
from functools import partial
from typing import Final

from controller.core.values import FAILS, Trouble
from controller.errors import StorageError
from controller.records.hand_over import Answering, HandOver
from controller.records.refused import spoken, trouble_of, was_refused

RETRY_S: Final = 5.0
SLOW_S: Final = 5.0
STUCK_S: Final = 60.0
"""A record that has been under way for so long is not slow, it cannot be written."""
LATE_S: Final = 60.0
"""What is on disk within a row's own minute is not late."""
SHOWN_S: Final = 60.0
"""So long a slow write is told of, so that whoever asks at his own pace hears of it."""
TRIES_AT_END: Final = 3
"""So often at once what waits is tried when the program ends: one error of a disk is to cost nothing."""
CLOSE_WITHIN_S: Final = 8.0
"""Less than what the service gives the daemon for stopping (TimeoutStopSec of its unit), with room for the others."""


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
        close_within_s: float = CLOSE_WITHIN_S,
        disk: Callable[[], None] | None = None,
        now: Callable[[], float] | None = None,
    ) -> None:
        """Begin to work.

        Args:
            threaded: whether a thread does the work; else `put` does it at once.
            queue_limit_s: so many seconds of hand-overs may wait; then the oldest are lost.
            tell: is told in words what belongs into the records; may be called from the thread.
            retry_s: how long to wait after the disk refused.
            slow_s: a job that takes longer is told as a slow disk.
            close_within_s: so long `close` waits for a thread whose disk does not answer.
            disk: is asked before each record and raises OSError where it refuses: the disk of a modelled world.
            now: a clock in seconds that only goes forward; None: that of this machine.
        """
        self._queue_limit_s, self._retry_s, self._slow_s = queue_limit_s, retry_s, slow_s
        self._close_within_s = close_within_s
        self._tell, self._disk, self._now = tell, disk, now or time.monotonic
        self._queue: deque[HandOver] = deque()
        self._aside: Callable[[], None] | None = None
        self._owed: list[Answering] = []  # Answers whose state could not be saved; they go with the next one.
        self._failed: OSError | None = None
        self._failed_s = 0.0  # Since when,
        self._retry_at_s = 0.0
        self._late = self._lost = 0  # and how many records were late, or lost, since this was told last.
        self._late_by_s = 0.0
        self._begun_s: float | None = None  # When the job that is under way began.
        self._slow: tuple[float, float] | None = None  # When the last slow one ended, and how long it had taken.
        self._wake = threading.Condition()
        self._closing = False
        self._last: Callable[[], None] | None = None
        self._told = ""
        self._thread: threading.Thread | None = None
        if threaded:
            self._thread = threading.Thread(target=self._work, name="records", daemon=True)
            self._thread.start()

    @property
    def waiting(self) -> int:
        """Return how many hand-overs are not done."""
        return len(self._queue)

    def trouble(self) -> tuple[Trouble, ...]:
        """Return what the disk does to the records now; empty while all is well."""
        failed, begun_s, slow, now_s = self._failed, self._begun_s, self._slow, self._now()
        if self._thread is not None and not self._thread.is_alive():
            return (Trouble("C6", "A fault of the program has ended all writing.", level=FAILS),)
        if failed is not None and self._queue:
            return (trouble_of(failed, f"records of {spoken(now_s - self._failed_s)} wait in memory"),)
        busy_s = 0.0 if begun_s is None else now_s - begun_s
        if busy_s > STUCK_S:
            return (Trouble("C6", f"The disk has not answered for {spoken(busy_s)}.", level=FAILS),)
        if busy_s > self._slow_s:
            return (Trouble("C8", f"One write has taken the disk {busy_s:.0f} s so far, limit {self._slow_s:g} s."),)
        if slow is not None and now_s - slow[0] < SHOWN_S:
            return (Trouble("C8", f"One write took the disk {slow[1]:.0f} s, limit {self._slow_s:g} s."),)
        return ()

    def put(self, hand_over: HandOver) -> None:
        """Take a hand-over."""
        hand_over.came_s = self._now()
        with self._wake:
            if len(self._queue) > 1:  # The first may be under way; what waits behind it may still change.
                last = self._queue[-1]
                if hand_over.state is not None and not last.answers:
                    last.state = None  # The newer state says it all, and no answer hangs on the older one.
                    if not last.jobs:
                        self._queue.pop()
            if len(self._queue) > 1:
                self._drop_oldest(hand_over.now_s)
            self._queue.append(hand_over)
            self._wake.notify()
        if self._thread is None:
            self.drain()

    def wait(self, within_s: float) -> None:
        """Wait until all is done or the disk has refused, but not for longer than so many seconds."""
        if self._thread is not None:
            with self._wake:
                self._wake.wait_for(lambda: not self._queue or self._failed is not None, within_s)

    def put_aside(self, job: Callable[[], None]) -> None:
        """Take a job that is worth nothing late: only the newest is done, it waits for no other, and may be refused."""
        with self._wake:
            self._aside = job
            self._wake.notify()
        if self._thread is None:
            self._do_aside()

    def drain(self) -> None:
        """Do what waits, in order, until all is done or the disk refuses."""
        if self._failed is not None and self._now() < self._retry_at_s:
            return
        while self._queue:
            try:
                self._do(self._queue[0])
            except OSError as error:
                self._refused(error)
                return
            with self._wake:
                self._queue.popleft()
        if self._late or self._lost:
            self._tell_of_delay()
        self._failed = None

    def close(self, last: Callable[[], None] | None = None) -> None:
        """Do what waits, a few times at once where the disk refuses, then what comes last, and end the thread.

        Raises:
            StorageError: not all of it could be done; or the disk did not answer in time.
        """
        self._last = last
        thread, self._thread = self._thread, None
        if thread is None:
            self._finish()
        else:
            with self._wake:
                self._closing = True
                self._wake.notify()
            thread.join(self._close_within_s)
            if thread.is_alive():
                raise StorageError(f"the disk does not answer; {self._waiting_records()} records are lost")
        if self._queue:
            count = self._waiting_records()
            what = f"{count} records" if count else "what the program remembers"
            raise StorageError(f"{self._failed}; {what} could not be written and {'are' if count else 'is'} lost")

    def _waiting_records(self) -> int:
        return sum(len(hand_over.jobs) for hand_over in list(self._queue))

    def _drop_oldest(self, now_s: float) -> None:
        """Lose the oldest hand-overs where a whole day of them waits, but nothing that a person typed."""
        while now_s - self._queue[1].now_s > self._queue_limit_s:
            place = next((place for place in range(1, len(self._queue)) if self._queue[place].spare), None)
            if place is None or now_s - self._queue[place].now_s <= self._queue_limit_s:
                return
            self._lost += len(self._queue[place].jobs)
            del self._queue[place]
            if len(self._queue) == 1:
                return

    def _work(self) -> None:
        while True:
            with self._wake:
                while not self._queue and self._aside is None and not self._closing:
                    self._wake.wait()
                closing = self._closing
            if closing:
                self._finish()
                return
            self.drain()
            with self._wake:
                self._wake.notify_all()  # Whoever waits for it.
            self._do_aside()
            with self._wake:
                if self._failed is not None and not self._closing:
                    self._wake.wait(self._retry_s)

    def _finish(self) -> None:
        """Do what waits without waiting, and what comes last, which may hand over once more."""
        self._try_at_once()
        last, self._last = self._last, None
        if last is not None:
            last()
        self._try_at_once()

    def _try_at_once(self) -> None:
        for _ in range(TRIES_AT_END):
            self._retry_at_s = float("-inf")
            self.drain()
            if not self._queue:
                return

    def _do(self, hand_over: HandOver) -> None:
        hand_over.late |= self._now() - hand_over.came_s > LATE_S
        while hand_over.jobs:
            job = hand_over.jobs[0]
            if not self._done(partial(job.do, hand_over.late)):
                hand_over.lost |= {job.entry}
            del hand_over.jobs[0]
            waited_s = self._now() - hand_over.came_s
            hand_over.late |= waited_s > LATE_S  # Also where the job itself took so long.
            if hand_over.late:
                self._late += 1
                self._late_by_s = max(self._late_by_s, waited_s)
        if hand_over.state is not None:
            if self._done(hand_over.state):
                hand_over.answers = [*self._owed, *hand_over.answers]
                self._owed.clear()
            else:
                self._owed += hand_over.answers
                hand_over.answers.clear()
            hand_over.state = None
        while hand_over.answers:
            answer = hand_over.answers[0]
            self._done(partial(answer.give, answer.request in hand_over.lost))
            del hand_over.answers[0]

    def _done(self, job: Callable[[], None], *, aside: bool = False) -> bool:
        """Do one job; say whether it was done, or is lost by a fault of the program. OSError goes to the caller."""
        self._begun_s = begun_s = self._now()
        try:
            if self._disk is not None and not aside:
                self._disk()
            job()
        except OSError:
            raise
        except Exception as error:  # noqa: BLE001 - one record that cannot be made must not end all recording
            text = f"A fault of the program lost a record: {type(error).__name__}: {error}"
            (self._tell_new if aside else self._tell)(text)
            return False
        finally:
            self._begun_s = None
            ended_s = self._now()
            if ended_s - begun_s > self._slow_s:
                self._slow = ended_s, ended_s - begun_s
        return True

    def _do_aside(self) -> None:
        job, self._aside = self._aside, None
        if job is None:
            return
        with contextlib.suppress(OSError):  # What it shows is shown anew in a few seconds, or the records suffer too.
            self._done(job, aside=True)

    def _tell_new(self, text: str) -> None:
        """Tell what has not just been told: what is shown every few seconds would fill the records."""
        if text != self._told:
            self._told = text
            self._tell(text)

    def _refused(self, error: OSError) -> None:
        """Remember that the disk refused; everything that waits now is late."""
        now_s = self._now()
        if self._failed is None:
            self._failed_s = now_s
        self._failed = error
        self._retry_at_s = now_s + self._retry_s
        with self._wake:
            for hand_over in self._queue:
                hand_over.late = True

    def _tell_of_delay(self) -> None:
        """Say in the records that some of them were written late."""
        late, lost, by_s = self._late, self._lost, self._late_by_s
        self._late = self._lost = 0
        self._late_by_s = 0.0
        why = was_refused(self._failed)
        gone = f" {lost} older ones are lost." if lost else ""
        self._tell(f"{why}: {late} records were written late, by up to {spoken(by_s)}.{gone}")
