"""A batch that the program has paused waits for a person: it is called for by what paused it, as long as it waits."""

import pytest

from controller.core.requests import Clear, Resume, Seen
from tests.helpers.watched import fermenting


@pytest.mark.fault_row("H9")
def test_what_paused_a_batch_goes_on_calling_while_it_waits_though_its_cause_is_over_and_it_was_seen() -> None:
    story = fermenting("insulated-box", "probe-out@3h/30m").run_for(hours=1)
    (alarm,) = [alarm for alarm in story.memory.alarms if alarm.locks]
    assert (alarm.row, alarm.active, alarm.latched, story.state) == ("H9", False, True, "held")
    story.ask(Seen(id="s", alarm=alarm.id)).run_for(hours=5)
    again = [event.id for at_s, event in story.book.events if event.kind == "alarm again" and at_s > 4 * 3600.0]
    assert again.count(alarm.id) >= 2, "every two hours"
    assert "P11" not in story.rows, "one cause is one alarm"
    story.ask(Clear(id="c", alarm=alarm.id), Resume(id="r")).run_for(minutes=5)
    assert story.state == "running"
