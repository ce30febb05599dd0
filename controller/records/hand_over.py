"""What one tick leaves for the records: jobs in a fixed order, a state, and the answers that hang on both."""

from collections.abc import Callable
from typing import NamedTuple

Do = Callable[[bool], None]
"""Does one record. It is told whether it comes late."""


class Job(NamedTuple):
    """Hold one record that is to be written, and the request whose reading or check it is, if it is one."""

    do: Do
    entry: str = ""


class Answering(NamedTuple):
    """Hold an answer: it is told whether a record of its request was lost, and says so instead."""

    request: str
    give: Callable[[bool], None]


class HandOver:
    """Hold the jobs of one tick: what is appended, then the state, then the answers. What is done is gone from it."""

    __slots__ = ("answers", "came_s", "jobs", "late", "lost", "now_s", "spare", "state")

    def __init__(self, now_s: float, *, spare: bool) -> None:
        """Begin with no jobs. `spare` says that it may be lost where far too much waits."""
        self.now_s = now_s
        self.spare = spare
        self.late = False
        self.came_s = float("inf")  # When it was handed over, by the writer's clock.
        self.jobs: list[Job] = []  # A list is a tenth of a deque, and a day of these may wait.
        self.state: Callable[[], None] | None = None
        self.answers: list[Answering] = []
        self.lost: frozenset[str] = frozenset()  # Requests of which a record was lost.
