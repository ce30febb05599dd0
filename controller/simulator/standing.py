"""Let simulated time stand still, and pass only as far as a person lets it.

The world asks before each sleep of the daemon. While nobody has let time pass it does not return, but for two things:
a request that lies in the box lets one tick pass, so that it is served at once; and the end of the run. So the same
words in the same order make the same run, however long a person thinks in between. A request that is still there
after its tick cannot be answered (the disk is full): it gets another one every few seconds, and no hours of them.
"""

import time
from collections.abc import Callable
from typing import Final, Protocol

LOOK_EVERY_S: Final = 0.01
BEAT_EVERY_S: Final = 5.0


class Asked(Protocol):
    """Stand for a wait that a person asked for."""

    @property
    def id(self) -> str:
        """Return its name."""
        ...

    @property
    def seconds(self) -> float:
        """Return how much simulated time may pass."""
        ...

    @property
    def until_asked(self) -> bool:
        """Say whether it ends earlier when the program has something to say."""
        ...


class StandingTime:
    """Be the pace of a world whose time stands still."""

    def __init__(
        self,
        *,
        take: Callable[[], Asked | None],
        done: Callable[[str, float], None],
        requests: Callable[[], frozenset[str]],
        beat: Callable[[], None],
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        """Begin standing.

        Args:
            take: returns the wait that is asked for next, or None.
            done: called when a wait is over, with its name and the seconds that passed.
            requests: returns the names of a person's requests that lie in the box.
            beat: called when time begins to stand, and every few seconds of this machine's clock while it does.
            sleep: how to wait between looks; another one in tests.
        """
        self._take, self._done, self._requests, self._beat, self._sleep = take, done, requests, beat, sleep
        self._wait: Asked | None = None
        self._passed_s = 0.0
        self._served: frozenset[str] = frozenset()
        self._served_s = float("-inf")

    def pace(self, seconds: float) -> None:
        """Return when so many simulated seconds may pass."""
        beat_s = float("-inf")
        while not self._passes(seconds):
            now_s = time.monotonic()
            if self._is_served(now_s):
                return
            if now_s - beat_s >= BEAT_EVERY_S:
                beat_s = now_s
                self._beat()
            self._sleep(LOOK_EVERY_S)

    def _is_served(self, now_s: float) -> bool:
        """Say whether a tick may pass for the requests in the box."""
        waiting = self._requests()
        if not waiting or (waiting <= self._served and now_s - self._served_s < BEAT_EVERY_S):
            return False
        self._served, self._served_s = waiting, now_s
        return True

    def program_speaks(self) -> None:
        """End a wait that lasts only until the program has something to say."""
        if self._wait is not None and self._wait.until_asked:
            self.finish()

    def finish(self) -> None:
        """End the wait there is: its time has passed, or the run is over."""
        wait, self._wait = self._wait, None
        if wait is not None:
            self._done(wait.id, self._passed_s)

    def _passes(self, seconds: float) -> bool:
        """Say whether the wait that is going on has room for so many seconds, rounded to the nearest tick."""
        if self._wait is None:
            self._wait, self._passed_s = self._take(), 0.0
        if self._wait is None:
            return False
        if self._passed_s + 0.5 * seconds > self._wait.seconds:
            self.finish()
            return False
        self._passed_s += seconds
        return True
