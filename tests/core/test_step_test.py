"""Getting to know the box, told to the simulator: what the step test switches, and what ends it."""

from typing import Final

import pytest
from msgspec.structs import replace

from controller.core.learn.course import LONGEST_S, PHASES, highest_c, longest_s, phases_of
from controller.core.learn.memory import Learning
from controller.core.requests import Learn, StopLearning
from controller.core.values import Role
from controller.settings.chamber_tables import ChamberFile, SensorEntry
from controller.simulator.chamber_model import ChamberModel
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.shipped_chambers import shipped_chamber

TEST: Final = "2026-01-05-1"
BEGIN: Final = Learn(id="learn", actor="anna", test=TEST)
REST_MIN, HEAT_MIN = 10.0, 30.0


def begun(story: ChamberStory, *, loaded_kg: float = 0.0) -> ChamberStory:
    """Let the program settle, and ask for a step test."""
    return story.run_for(minutes=2).ask(replace(BEGIN, loaded_kg=loaded_kg)).run_for(seconds=16)


def phase(story: ChamberStory) -> str:
    learning = story.memory.learning
    return "none" if learning is None else learning.phase


def told(story: ChamberStory) -> list[str]:
    return [event.text for _, event in story.book.events if event.kind == "learn"]


def refused(story: ChamberStory) -> str:
    answer = story.book.answers[-1]
    assert not answer.done
    return answer.text


class Hottest(ChamberModel):
    """Remember how warm the air ever was."""

    highest_c = float("-inf")

    def advance(self, dt_s: float) -> None:
        super().advance(dt_s)
        type(self).highest_c = max(type(self).highest_c, self.air_c)


def strong(name: str, lamp_w: float, response_s: float, ambient_c: float) -> ChamberStory:
    """Return a chamber with this lamp and this probe, of which the air's highest temperature is remembered."""
    file = shipped_chamber(name)
    outputs = tuple(replace(one, w=lamp_w) if one.role == "heater" else one for one in file.output)
    sensors = tuple(replace(one, response_s=response_s) if one.channel == "air_temp" else one for one in file.sensor)
    Hottest.highest_c = float("-inf")
    changed = replace(file, output=outputs, sensor=sensors, tick_s=8.0)
    return ChamberStory(changed=changed, plant=Hottest, ambient_c=ambient_c)


@pytest.mark.parametrize("name", ["insulated-box", "plywood-cabinet", "old-fridge"])
def test_every_phase_switches_the_one_output_it_is_about(name: str) -> None:
    story = begun(ChamberStory(name))
    on: dict[str, set[Role]] = {}
    while story.memory.learning is not None:
        story.run_for(seconds=8)
        on.setdefault(phase(story), set()).update(story.outcomes[-1][1].commands.on_until_s)
    expected: dict[str, set[Role]] = {"heat": {"heater"}, "mist": {"humidifier"}, "cool": {"cooler"}}
    phases = phases_of(story.chamber)
    assert on == {name: expected.get(name, set()) for name in (*phases, "end", "none") if name in on}
    assert set(phases) <= set(on)
    assert ("cool" in phases) == (name == "old-fridge")
    assert told(story)[-1].startswith(f"Step test {TEST} is over; all outputs are off.")
    assert story.rows == []


def test_nothing_of_a_phase_reaches_behind_the_test() -> None:
    """A relay with a window of 300 s, or a compressor with one of 600 s, would else go on with what it has planned."""
    story = begun(ChamberStory("old-fridge"))
    story.run_for(minutes=REST_MIN + HEAT_MIN + 70 + 10 + 15)
    assert phase(story) == "cool"
    story.ask(StopLearning(id="stop", actor="anna")).run_for(minutes=30)
    ended_s = next(at for at, event in story.book.events if "broken off: anna said so" in event.text)
    after = [outcome for at, outcome in story.outcomes if outcome.wall_s > story.outcomes[0][1].wall_s and at > ended_s]
    assert all(not outcome.commands.on_until_s for outcome in after)
    assert phase(story) == "none"


def test_the_whole_test_takes_three_hours_at_most_whatever_it_holds() -> None:
    learning = Learning(name=TEST, began_s=0.0, began_wall_s=0.0, phase_began_s=0.0)
    for load in (0.0, 5.0):
        assert sum(longest_s(name, replace(learning, loaded_kg=load)) for name in PHASES) <= LONGEST_S == 3 * 3600.0


@pytest.mark.parametrize(
    ("name", "lamp_w", "response_s"),
    [("insulated-box", 60.0, 120.0), ("insulated-box", 250.0, 120.0), ("insulated-box", 250.0, 400.0),
     ("plywood-cabinet", 250.0, 400.0), ("old-fridge", 250.0, 45.0)],
)  # fmt: skip
@pytest.mark.parametrize("ambient_c", [pytest.param(5.0, marks=pytest.mark.long), 32.0])
def test_the_air_itself_never_passes_the_highest_temperature(
    name: str, lamp_w: float, response_s: float, ambient_c: float
) -> None:
    story = begun(strong(name, lamp_w, response_s, ambient_c)).run_for(hours=1)
    assert ambient_c + 3.0 < Hottest.highest_c <= highest_c(story.chamber)
    assert story.rows == []
    assert "broken off" not in told(story)[-1]


def test_a_probe_that_is_slower_than_the_file_says_does_not_let_it_get_too_hot() -> None:
    """The quicker thermometer in the humidity sensor sees the air that a probe in steel hides."""
    story = strong("insulated-box", 250.0, 400.0, 20.0)
    story.chamber = replace(story.chamber, response_s={**story.chamber.response_s, "air_temp": 120.0})
    begun(story).run_for(hours=1)
    assert Hottest.highest_c <= highest_c(story.chamber)


def test_a_strong_lamp_is_out_when_a_lonely_thermometer_that_is_stuck_should_have_shown_all_of_the_rise() -> None:
    """By hand: 250 W into air and walls of 4.4 kJ/K are 12 K in three and a half minutes."""
    story = strong("insulated-box", 250.0, 120.0, 20.0)
    lonely = replace(story.file, sensor=tuple(one for one in story.file.sensor if one.channel == "air_temp"))
    story = begun(ChamberStory(changed=lonely, plant=Hottest, ambient_c=20.0, faults=("frozen:air_temp@5m",)))
    story.run_for(minutes=40)
    assert "A3: heating without warming" in broken(story)
    dark_s = story.dark_from(REST_MIN * 60.0 + 180.0)
    assert dark_s - REST_MIN * 60.0 < 6.0 * 60.0  # It rests two minutes more, until it is at rest.
    assert Hottest.highest_c < 50.0


def test_a_lonely_thermometer_that_hardly_moves_under_a_strong_lamp_is_not_waited_for() -> None:
    """It hangs in a jar of water: what it shows rises all the time, and is a tenth of what the lamp has brought."""
    file = strong("insulated-box", 250.0, 3000.0, 20.0).file
    lonely = replace(file, sensor=tuple(one for one in file.sensor if one.channel == "air_temp"))
    story = ChamberStory(changed=lonely, plant=Hottest, ambient_c=20.0)
    story.chamber = replace(story.chamber, response_s={"air_temp": 120.0})
    begun(story).run_for(minutes=40)
    assert "does the probe hang inside" in broken(story)
    assert Hottest.highest_c < 60.0


def broken(story: ChamberStory) -> str:
    """Return why the test was broken off; all outputs have been off since."""
    at_s = next(at for at, event in story.book.events if event.kind == "learn" and "broken off" in event.text)
    assert phase(story) == "none"
    assert all(not set(one.commands.on_until_s) - {"sounder", "fan"} for at, one in story.outcomes if at > at_s)
    return told(story)[-1]


def heating(*faults: str, changed: ChamberFile | None = None) -> ChamberStory:
    """Return a story that is five minutes under the lamp; faults come later."""
    story = begun(ChamberStory(faults=faults, changed=changed)).run_for(minutes=REST_MIN + 5)
    assert phase(story) == "heat"
    assert "heater" in story.outcomes[-1][1].commands.on_until_s
    return story


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ("missing:air_temp@20m/10m", "S1"),
        ("jump:rh_temp@20m/1h", "S9"),
        ("lamp-burnt@13m/3h", "A3"),
    ],
)
def test_whatever_forbids_heat_ends_it(fault: str, says: str) -> None:
    story = begun(ChamberStory(faults=(fault,))).run_for(hours=1)
    assert says in broken(story)


def test_a_door_whose_contact_opens_ends_it() -> None:
    file = shipped_chamber("insulated-box")
    door = SensorEntry(channel="door", kind="contact", pin=5)
    story = heating(changed=replace(file, sensor=(*file.sensor, door), tick_s=8.0))
    story.world.open_door(30.0)
    story.run_for(minutes=1)
    assert "broken off: the door was opened. All outputs are off" in broken(story)


def test_a_door_that_only_the_air_tells_of_ends_it() -> None:
    """Where the pulses have made it damper than its room the vapour leaves; a dry box hides its door from the air."""
    story = begun(ChamberStory()).run_for(minutes=REST_MIN + 18 + 70 + 7)
    assert phase(story) == "mist"
    story.world.open_door(120.0)
    story.run_for(minutes=4)
    assert "the door was opened, as far as the air tells" in broken(story)


def test_a_power_cut_ends_it_and_the_next_start_says_so() -> None:
    story = begun(ChamberStory(faults=("power-cut@20m/1m",))).run_for(hours=2)
    assert told(story)[-1].endswith("broken off: the program was not running. Nothing was changed.")
    assert story.burns_between(20 * 60.0, 7200.0) == 0.0
    assert phase(story) == "none"


def test_no_batch_begins_meanwhile_and_one_in_the_chamber_lets_no_test_begin() -> None:
    story = heating().start().run_for(seconds=16)
    assert "the step test 2026-01-05-1 runs in the chamber" in refused(story)
    assert phase(story) == "heat"
    other = begun(ChamberStory().start())
    assert "is in the chamber (warm-up)" in refused(other)
    assert phase(other) == "none"


def test_a_second_test_is_refused_while_one_runs() -> None:
    story = heating().ask(replace(BEGIN, id="again")).run_for(seconds=16)
    assert refused(story) == f"the step test {TEST} runs already"


def test_none_begins_in_a_chamber_that_is_too_hot_already() -> None:
    story = begun(ChamberStory(ambient_c=35.0))
    assert "the air is at 35 °C, and a step test goes to 40 °C at most: at least 6 K" in refused(story)


def test_a_chamber_that_was_hot_a_moment_ago_is_sent_to_rest_before_the_lamp_goes_on() -> None:
    story = ChamberStory()
    story.world.model.wall_c = story.world.model.air_c = 36.0
    story = begun(story.run_for(minutes=15)).run_for(minutes=15)
    assert "the chamber was not at rest, -" in broken(story)
    assert story.burns_between(0.0, story.world.elapsed_s) == 0.0


def test_none_begins_without_a_tested_cut_out() -> None:
    story = ChamberStory()
    story.chamber = replace(story.chamber, heat_refused="the chamber file names no tested thermal cut-out")
    assert "no heat, so no step test" in refused(begun(story))


def test_none_begins_while_an_alarm_forbids_heat() -> None:
    story = ChamberStory(faults=("jump:rh_temp@2m/20m",)).run_for(minutes=30)
    assert story.rows == ["H9"]
    assert "H9-1" in refused(begun(story))


@pytest.mark.parametrize(
    "fault", ["checksum:air_temp@15m/40s", "missing:rh@16m/2m", "jump:air_temp@20m/1m", "frozen:air_temp@14m/1h"]
)
def test_heat_burns_only_with_a_good_fresh_temperature(fault: str) -> None:
    """The invariant of the fault campaign, with ways in which a thermometer of the air fails in mid-test."""
    story = begun(ChamberStory(faults=(fault,))).run_for(hours=1)
    heated = 0
    for at_s, outcome in story.outcomes:
        until_s = outcome.commands.on_until_s.get("heater")
        if until_s is not None:
            heated += 1
            assert until_s <= outcome.known.good_air_taken_s + story.chamber.limits.fresh_s, at_s
            assert outcome.known.highest_c is not None
            assert outcome.known.highest_c < story.chamber.limits.trip_c, at_s
    assert heated > 10
