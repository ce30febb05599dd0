"""A batch that the program has paused waits for a person: it is called for by what paused it, as long as it waits."""

import pytest

from controller.core.requests import Clear, Hold, Resume, Seen
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


@pytest.mark.fault_row("H9")
@pytest.mark.parametrize(("chamber", "profile"), [("insulated-box", "tangy"), ("old-fridge", "mild")])
def test_a_probe_that_slips_out_and_is_put_back_is_one_alarm_until_it_is_cleared(chamber: str, profile: str) -> None:
    story = fermenting(chamber, "probe-out@3h/30m", profile=profile).run_for(hours=3)
    called = [event.id for _, event in story.book.events if event.kind in {"alarm", "alarm again"}]
    first = called.index("H9-1")
    assert set(called[first:]) == {"H9-1"}, "what it brings about before and after it is put back is no news"
    assert set(called[:first]) <= {"S7-1"}, "the jump is there before anybody can know why"


def test_a_doubt_of_two_thermometers_says_that_the_heat_is_off_where_it_is() -> None:
    story = fermenting("insulated-box", "drift:rh_temp@3h", hours=3.0).ask(Hold(id="h", because="cleaning"))
    story.run_for(hours=3)
    text = next(event.text for _, event in story.book.events if event.id == "S9-1" and event.kind == "alarm")
    assert "Heat is off." in text
    assert "goes by the higher" not in text


@pytest.mark.fault_row("C16")
def test_after_a_long_cut_one_alarm_asks_for_the_ph_and_nothing_else_does() -> None:
    story = fermenting("insulated-box", "power-cut@10h/9h", hours=25.0)
    asks = [
        event.id or event.kind
        for at_s, event in story.book.events
        if at_s > 18.9 * 3600.0 and event.kind in {"alarm", "prompt"} and "pH" in event.text
    ]
    assert asks == ["C16-1"]
    story.ask(Seen(id="s", alarm="C16-1")).run_for(hours=3)
    later = [event.id or event.kind for at_s, event in story.book.events if at_s > 25 * 3600.0 and "pH" in event.text]
    assert "H2-1" in later, "who has seen it and forgets it is reminded"
