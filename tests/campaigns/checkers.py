"""All that is checked in a run. Nothing here knows how the daemon decides, nor takes a figure from it."""
# ruff: noqa: ANN401 - what the program remembers is looked at as plain data, and the hooks take what theirs take

from typing import Any

from tests.campaigns.checkers_batch import BatchChecker
from tests.campaigns.checkers_heat import HeatChecker
from tests.campaigns.checkers_records import RecordsChecker
from tests.campaigns.checkers_slow import SlowChecker
from tests.campaigns.detection import Detection
from tests.campaigns.facts import Facts


class Checkers:
    """Pass on to each checker what it looks at."""

    def __init__(self, facts: Facts) -> None:
        self._facts = facts
        self.heat, self.batches = HeatChecker(facts), BatchChecker(facts)
        self.records, self.detection = RecordsChecker(facts), Detection(facts)
        self.slow = SlowChecker(facts, self.heat)
        self._see_heat, self._see_detection = self.heat.see, self.detection.see

    def see(self, memory: Any, outcome: Any) -> None:
        """Look at one tick, after its commands."""
        self._facts.see(memory, outcome)
        self._see_heat()
        if outcome.events or outcome.interlocks or outcome.known.faults or not outcome.wall_trusted:
            self._see_detection(memory, outcome)

    def minute(self) -> None:
        """Look at what moves slowly."""
        self.batches.minute()
        self.slow.minute()
        self.detection.minute()

    def program_begins(self, memory: Any) -> None:
        """Look at what the program begins with."""
        self.heat.program_begins()
        self.records.program_begins(memory)
        self.batches.program_begins(memory)

    def at_end(self) -> None:
        """Look at the whole run."""
        self.heat.at_end()
        self.slow.at_end()
        self.records.at_end()
        self.batches.at_end()
        self.detection.at_end()
