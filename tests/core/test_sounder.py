"""The sounder: what it sounds for and how, and that somebody says whether it is heard."""

from itertools import pairwise

import pytest
from msgspec.structs import replace

from controller.core.alarms import Condition
from controller.core.alarms.sounder import tell_due
from controller.core.memory import Inputs
from controller.core.requests import Hang, Heard, Quiet, Request, Seen, Sound, Start
from controller.core.step import step
from controller.core.values import Channel, Fault, Reading
from tests.helpers.alarm_story import AlarmStory
from tests.helpers.bench_chamber import CHAMBER, PROFILE, WALL_S, Bench

DAY_S = 86_400.0
SILENT = replace(CHAMBER, outputs=tuple(output for output in CHAMBER.outputs if output.role != "sounder"))


def answer(bench: Bench) -> str:
    assert bench.outcome is not None
    return bench.outcome.answers[-1].text


def sounding(bench: Bench, ticks: int, *requests: Request) -> list[bool]:
    """Return in which of so many ticks the sounder is commanded on."""
    on = []
    for number in range(ticks):
        bench.tick(*(requests if number == 0 else ()))
        assert bench.outcome is not None
        on.append(bench.outcome.commands.is_on("sounder", bench.now_s))
    return on


def runs(tones: list[float]) -> float:
    """Return the longest time without a pause, in seconds."""
    longest, begun = 5.0, tones[0]
    for before, after in pairwise(tones):
        begun = begun if after - before <= 5.0 else after
        longest = max(longest, after - begun + 5.0)
    return longest


def test_what_is_urgent_sounds_until_it_is_seen_and_never_without_a_pause() -> None:
    story = AlarmStory().found("A10").run(hours=8)
    first_s = story.tones[0]
    assert first_s <= 1000.0 + 15.0
    assert runs(story.tones) == 5.0
    loud = [at_s for at_s in story.tones if at_s - first_s < 300.0]
    assert len(loud) == pytest.approx(30, abs=2), "half of the first five minutes"
    every_hour = [
        sum(hour * 3600.0 <= at_s - first_s < (hour + 1) * 3600.0 for at_s in story.tones) for hour in range(8)
    ]
    assert min(every_hour) >= 60, "at least once a minute, all night"
    assert max(every_hour) * 5.0 <= 0.25 * 3600.0, "and no longer than a quarter of it"
    heard = len(story.tones)
    story.see("A10-1").run(hours=1.9)
    assert len(story.tones) == heard, "not once more"
    story.run(minutes=10)
    assert len(story.tones) == heard + 2, "two tones, two hours later"


def test_what_can_wait_sounds_twice_at_each_call_and_what_can_wait_a_day_never() -> None:
    story = AlarmStory().found("A5").run(hours=3.9)
    assert len(story.tones) == 2
    assert len(story.run(hours=0.2).tones) == 4
    assert AlarmStory().found("P10").run(hours=25, dt_s=5.0).tones == []


def test_what_is_quiet_or_follows_from_something_else_does_not_sound() -> None:
    story = AlarmStory().found("A10").run(minutes=1).see("A10-1").quiet("A10-1", minutes=50)
    story.tones.clear()
    assert story.run(minutes=49).tones == []
    assert len(story.run(minutes=6).tones) > 20, "it calls again as it did at first"
    story = AlarmStory().found("P4").run(minutes=5).found("P4", "A7").see("A7-1")
    story.tones.clear()
    assert story.run(hours=3, dt_s=5.0).tones == []


def test_in_a_flood_only_the_first_and_what_is_urgent_sound() -> None:
    rows = ["A5", "C1", "C5", "C9", "P1", "P8", "C14"]
    story = AlarmStory().found(Condition("C5", "x")).run(minutes=3)
    for count in range(1, len(rows) + 1):
        story.found(*rows[:count]).run(seconds=30)
    assert story.memory.calling.flood
    story.tones.clear()
    story.found(*rows, Condition("P12", "x", priority="2")).run(minutes=2)
    assert story.tones == []
    assert len(story.found(*story.wrong, "A10").run(minutes=2).tones) > 5


@pytest.mark.parametrize("tick_s", [1.0, 2.0, 8.0])
def test_every_length_of_a_tick_lets_both_be_heard(tick_s: float) -> None:
    for priority, least in (("1", 4), ("2", 1)):
        bench = Bench(replace(CHAMBER, tick_s=tick_s))
        bench.run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="h")).run(minutes=2)
        bench.run(minutes=0.2, **{"air_temp" if priority == "1" else "rh": "missing"})  # type: ignore[arg-type]
        on = sounding(bench, round(90.0 / tick_s))
        assert [alarm.priority for alarm in bench.memory.alarms] == [priority]
        rising = sum(now and not before for before, now in zip([False, *on], on, strict=False))
        assert rising >= least
        assert not all(on)


def test_a_test_sounds_for_ten_seconds_whatever_else_is_going_on() -> None:
    bench = Bench().run(minutes=1)
    assert sounding(bench, 5, Sound(id="s")) == [True, True, False, False, False]
    assert "sounds for 10 s" in answer(Bench().tick(Sound(id="s2")))
    assert "no sounder, so nothing calls you" in answer(Bench(SILENT).tick(Sound(id="s3")))


def test_the_day_on_which_it_was_heard_and_by_whom_is_kept_over_a_restart() -> None:
    from controller.core.restart import after_restart

    bench = Bench().tick(Heard(id="h", actor="ann", at_wall_s=WALL_S))
    memory, _ = after_restart(bench.memory, CHAMBER, 10.0, WALL_S + 60.0, "boot-2", wall_trusted=True)
    assert memory.heard is not None
    assert (memory.heard.at_wall_s, memory.heard.by, memory.heard.heard) == (WALL_S, "ann", True)
    assert "sounder: The sounder was heard in a test." in bench.events
    bench.tick(Heard(id="h2", actor="bob", at_wall_s=WALL_S - DAY_S, heard=False))
    assert bench.memory.heard is not None
    assert bench.memory.heard.by == "ann", "an older test says nothing of the newer one"


def test_a_start_asks_for_a_test_of_the_last_day() -> None:
    for chamber, heard, says in (
        (CHAMBER, None, "stay within earshot until one has. Try it: hangroom alarms --test."),
        (SILENT, None, "has no sounder: it calls nobody; look at hangroom status."),
        (CHAMBER, Heard(id="h", at_wall_s=WALL_S - 25 * 3600.0), "stay within earshot"),
        (CHAMBER, Heard(id="h", at_wall_s=WALL_S - 3600.0, heard=False), "stay within earshot"),
        (CHAMBER, Heard(id="h", at_wall_s=WALL_S - 23 * 3600.0), ""),
    ):
        bench = Bench(chamber)
        bench.memory = replace(bench.memory, batches=())
        bench.tick(*((heard,) if heard is not None else ()))
        bench.tick(Start(id="s", batch="b", profile=PROFILE, meat_kg=3.0))
        assert says in answer(bench)
        assert says or "earshot" not in answer(bench)


@pytest.mark.parametrize(
    ("heard", "says"),
    [
        (None, "has never been heard"),
        (Heard(id="h", at_wall_s=WALL_S), ""),
        (Heard(id="h", at_wall_s=WALL_S - 89 * DAY_S), ""),
        (Heard(id="h", at_wall_s=WALL_S - 91 * DAY_S), "was last heard in a test 91 days ago: hangroom alarms --test."),
        (Heard(id="h", at_wall_s=WALL_S, heard=False), "was NOT heard when it was last tried"),
    ],
)
def test_the_daily_summary_asks_for_a_test_where_the_last_one_is_too_old(heard: Heard | None, says: str) -> None:
    for chamber in (CHAMBER, SILENT):
        bench = Bench(chamber).tick(*((heard,) if heard is not None else ()))
        readings: dict[Channel, Reading | Fault] = {
            "air_temp": Reading(30.0, bench.now_s),
            "rh_temp": Reading(30.0, bench.now_s),
        }
        inputs = Inputs(bench.now_s + 5.0, bench.wall_s + 5.0, wall_trusted=True, readings=readings, summary_due=True)
        _, outcome = step(bench.memory, inputs, chamber)
        (summary,) = [event.text for event in outcome.events if event.kind == "summary"]
        assert ("sounder" in summary) is (bool(says) and chamber is CHAMBER)
        assert says in summary or chamber is SILENT
    assert tell_due(None, WALL_S)


def test_seen_and_quiet_reach_the_alarm_through_the_desk_and_say_what_is_left_to_do() -> None:
    bench = Bench().run(minutes=20, air_temp=36.0, rh_temp=36.0).tick(Hang(id="h")).run(minutes=3)
    bench.run(minutes=1, air_temp="missing")
    (alarm,) = bench.memory.alarms
    bench.tick(Quiet(id="q1", alarm=alarm.id, for_s=600.0))
    assert "first say that you know of it" in answer(bench)
    bench.tick(Seen(id="s1", actor="ann", alarm=alarm.id))
    assert answer(bench) == f"{alarm.id}: seen. {alarm.first}"
    bench.tick(Quiet(id="q2", alarm=alarm.id, for_s=600.0))
    assert "quiet until 2026-01-05 08:" in answer(bench)
    assert not any(sounding(bench, 100))
    assert not bench.heat_on, "what it takes away stays away"
