"""Cold, fan and air: what the modelled fridge does when a part of it fails, and that it calls by the cause's own row.

The fridge dries at 13 °C in a room of 20 °C; the fault begins four hours after the start.
"""

import pytest
from msgspec.structs import replace

from controller.core.values import Channel
from tests.helpers.chamber_story import SELDOM_S, ChamberStory
from tests.helpers.watched import (
    ChangingRoom,
    alarms_of,
    chamber_with,
    drying,
    fermenting,
    resting,
    seconds_to,
)

FAULT_S = 4 * 3600.0
HOT = {"ambient_c": 30.0}
"""In a hot room the compressor has something to do all the time."""
WINDOW = round(300.0 / SELDOM_S)
"""Of a mechanical relay, in ticks: within one the air swings with the lamp, door or not."""


def on_share(story: ChamberStory, role: str, begin_s: float, end_s: float) -> float:
    """Return the share of ticks at which an output was commanded."""
    seen = [o.commands.is_on(role, o.now_s) for at_s, o in story.outcomes if begin_s <= at_s < end_s]  # type: ignore[arg-type]
    return sum(seen) / len(seen)


@pytest.mark.fault_row("A8")
def test_a_compressor_that_does_not_start_rests_and_is_tried_three_times_in_two_hours() -> None:
    begin_s = 6 * 3600.0
    story = drying(chamber_with("old-fridge"), "compressor-dead@6h", hours=10.0, **HOT)  # type: ignore[arg-type]
    assert seconds_to(story, "A8", begin_s) <= 50 * 60.0, "first the air has to be a kelvin too warm"
    assert story.rows == ["A8"]
    assert "has not cooled the air in 20 min of running" in alarms_of(story, "A8")[0].text
    began_s = begin_s + seconds_to(story, "A8", begin_s)
    assert on_share(story, "cooler", began_s + 10.0, began_s + 590.0) == 0.0, "it rests"
    assert on_share(story, "cooler", began_s + 600.0, began_s + 3000.0) > 0.0, "and is tried again"
    assert on_share(story, "fan", began_s + 10.0, began_s + 590.0) == 1.0


@pytest.mark.fault_row("A8")
def test_a_compressor_without_current_is_called_out_within_twenty_seconds_and_over_when_it_runs() -> None:
    fridge = chamber_with("old-fridge", "cooler_current", tick_s=5.0)
    story = drying(fridge, "compressor-dead@4h/2h", **HOT).run_for(hours=1)  # type: ignore[arg-type]
    called_s = FAULT_S + seconds_to(story, "A8", FAULT_S)
    off_s = max(at_s for at_s, o in story.outcomes if at_s < called_s and not o.commands.is_on("cooler", o.now_s))
    assert called_s - max(off_s, FAULT_S) <= 25.0
    assert "draws no current" in alarms_of(story, "A8")[0].text
    story.run_for(hours=3)
    assert story.rows == ["A8"]
    assert not alarms_of(story, "A8") or not alarms_of(story, "A8")[0].active


@pytest.mark.fault_row("A7")
@pytest.mark.parametrize(
    ("part", "longest_h", "told"),
    [pytest.param("cooler_current", 3.5, "", marks=pytest.mark.long), ("evaporator_temp", 2.5, "evaporator -")],
)
def test_an_iced_evaporator_gets_its_half_hour_and_the_second_time_the_batch_waits(
    part: Channel, longest_h: float, told: str
) -> None:
    story = drying(chamber_with("old-fridge", part), "evaporator-iced@4h", ambient_c=35.0).run_for(hours=9)
    assert seconds_to(story, "A7", FAULT_S) <= longest_h * 3600.0
    began_s = FAULT_S + seconds_to(story, "A7", FAULT_S)
    assert on_share(story, "cooler", began_s + 10.0, began_s + 1790.0) == 0.0, "the ice may melt"
    assert on_share(story, "fan", began_s + 10.0, began_s + 1790.0) == 1.0
    (alarm,) = alarms_of(story, "A7")
    assert (alarm.priority, story.state) == ("1", "held"), "the second time in half a day"
    assert set(story.rows) - {"A7"} <= {"P4", "A2"}, "which followed from it"
    text = next(event.text for _, event in story.book.events if event.id == alarm.id)
    assert told in text
    assert "Cooling at full power does nothing: less than 0.3 K in 60 min; air" in text


@pytest.mark.fault_row("A9")
def test_a_fan_that_stands_halves_the_heat_and_stops_the_mist() -> None:
    fridge = chamber_with("old-fridge", "fan_turns")
    story = drying(fridge, "fan-stuck@4h/3h", stages=resting(wanted_c=24.0, rh_pct=85.0, fan_min_per_h=5.0)).run_for(
        hours=2
    )
    assert seconds_to(story, "A9", FAULT_S) <= 3600.0 + 40.0, "the fan is on for minutes of each hour"
    assert story.rows == ["A9"]
    began_s = FAULT_S + seconds_to(story, "A9", FAULT_S)
    story.run_for(minutes=55)
    assert on_share(story, "humidifier", began_s + 10.0, story.world.elapsed_s) == 0.0
    story.run_for(hours=2)
    assert not any(alarm.active for alarm in alarms_of(story, "A9"))


@pytest.mark.fault_row("P1")
def test_a_forgotten_door_is_told_at_once_called_after_ten_minutes_and_louder_after_thirty() -> None:
    story = fermenting(chamber_with("insulated-box", "door"), "door-open@3h/40m").run_for(minutes=9)
    assert [event.text for at_s, event in story.book.events if event.kind == "door" and at_s >= 3 * 3600.0] == [
        "The door is open."
    ]
    assert story.rows == []
    story.run_for(minutes=3)
    assert [(alarm.row, alarm.priority) for alarm in story.memory.alarms] == [("P1", "2")]
    story.run_for(minutes=20)
    assert [(alarm.row, alarm.priority) for alarm in story.memory.alarms] == [("P1", "1")]
    story.run_for(minutes=60)
    assert story.rows == ["P1"], "what the door has done to the air is no news"
    assert not any(alarm.active for alarm in story.memory.alarms)


@pytest.mark.fault_row("P1")
def test_an_open_lid_while_hanging_and_a_wet_box_in_a_ferment_call_nobody() -> None:
    story = ChamberStory(changed=chamber_with("insulated-box", "door"), profile="mild").start().run_for(minutes=45)
    story.world.open_door(20 * 60.0)
    story.hang().run_for(minutes=25)
    assert story.rows == []
    story.run_for(hours=12)
    assert story.world.true_rh_pct > 95.0
    assert story.rows == []


@pytest.mark.fault_row("P1")
@pytest.mark.parametrize(("chamber", "profile"), [("insulated-box", "tangy"), ("plywood-cabinet", "mild")])
def test_after_five_minutes_with_the_door_open_the_air_overshoots_by_less_than_a_kelvin(
    chamber: str, profile: str
) -> None:
    story = fermenting(chamber_with(chamber, "door"), "door-open@8h/5m", profile=profile, hours=8.0)
    wanted_c = story.batch.stage.air_temp_c or 0.0
    air_c: list[float] = []
    story.looks = lambda: air_c.append(story.world.true_air_temp_c)
    story.run_for(hours=2)
    assert min(air_c) < wanted_c - 1.0, "the door has done something"
    windows_c = [sum(air_c[place : place + WINDOW]) / WINDOW for place in range(len(air_c) - WINDOW)]
    assert max(windows_c) < wanted_c + 1.0


@pytest.mark.fault_row("P2")
@pytest.mark.parametrize(("room", "within_h"), [(("ambient_temp",), 1.1), ((), 9.0)])
def test_a_room_too_cold_for_the_lamp_is_told_with_its_temperature(room: tuple[str, ...], within_h: float) -> None:
    cabinet = chamber_with("plywood-cabinet", *room)  # type: ignore[arg-type]
    story = ChamberStory(changed=cabinet, profile="tangy", ambient_c=0.0).start().run_for(hours=within_h)
    assert story.rows == ["P2"]
    (alarm,) = alarms_of(story, "P2")
    assert "wanted 36.0 °C" in alarm.text
    assert ("The room is at 0.0 °C" in alarm.text) is (room != ())


@pytest.mark.fault_row("P2")
def test_forty_kilograms_before_a_lamp_of_sixty_watts_are_no_dead_lamp() -> None:
    fridge = chamber_with("old-fridge", "door")
    story = ChamberStory(changed=replace(fridge, model=replace(fridge.model, meat_kg=40.0)), profile="mild")
    story.start().run_for(minutes=45).hang().run_for(minutes=59)
    assert story.rows == []
    story.run_for(hours=6)
    assert "A3" not in story.rows


@pytest.mark.fault_row("P4")
def test_air_that_leaves_what_is_wanted_is_told_after_fifteen_minutes_and_over_with_a_deadband() -> None:
    story = fermenting(chamber_with("insulated-box", "ambient_temp"))
    story.world.room = ChangingRoom(lambda hours: 31.0 if 3.0 < hours < 9.0 else 16.0)  # 24 °C are wanted.
    story.run_for(hours=6)
    (alarm,) = alarms_of(story, "P4")
    assert alarm.priority == "2"
    assert "wanted 24.0 °C, limit ±2 K, for" in alarm.text
    assert story.state == "running"
    story.run_for(hours=5)
    assert story.rows == ["P4"]
    assert not any(alarm.active for alarm in story.memory.alarms)


def test_a_humidifier_that_is_stuck_while_it_dries_is_named_beside_a_wet_sensor() -> None:
    story = drying(chamber_with("old-fridge"), "relay-welded:humidifier@4h").run_for(hours=3)
    assert story.rows[-1] == "S11"
    assert "or the humidifier does not stop" in alarms_of(story, "S11")[0].text


@pytest.mark.fault_row("P6")
def test_cold_that_does_not_stop_is_told_within_half_an_hour() -> None:
    story = drying(chamber_with("old-fridge"), "relay-welded:cooler@4h", "lamp-burnt@4h").run_for(minutes=40)
    assert seconds_to(story, "P6", FAULT_S) <= 30 * 60.0
    assert story.rows == ["P6"], "a lamp that burns could not help either"
    (alarm,) = alarms_of(story, "P6")
    assert alarm.priority == "1"
    assert "limit 9.0 °C" in alarm.text


@pytest.mark.fault_row("A6")
@pytest.mark.parametrize("fault", ["relay-welded:humidifier@100m", "mist-leaks@100m"])
def test_a_humidifier_that_does_not_stop_in_the_empty_box_is_called_out(fault: str) -> None:
    story = ChamberStory("plywood-cabinet", "mild", faults=(fault,)).start().run_for(hours=3.5)
    assert "A6" in story.rows
    (alarm,) = alarms_of(story, "A6")
    assert (alarm.priority, alarm.latched, alarm.locks) == ("2", True, False)
    assert "no mist was asked for" in alarm.text
    assert story.rows == ["A6"]


@pytest.mark.fault_row("A5")
def test_an_empty_humidifier_calls_once_and_only_as_such() -> None:
    story = fermenting(chamber_with("plywood-cabinet"), "humidifier-empty@0s").run_for(hours=9)
    assert story.rows == ["A5"]


@pytest.mark.fault_row("A8")
def test_a_current_contact_that_is_lost_does_not_keep_the_cold_away() -> None:
    fridge = chamber_with("old-fridge", "cooler_current")
    faults = ("compressor-dead@4h/30m", "missing:cooler_current@260m")
    story = drying(fridge, *faults, **HOT).run_for(hours=3)  # type: ignore[arg-type]
    assert story.rows[0] == "A8"
    assert not any(alarm.active for alarm in alarms_of(story, "A8"))
    assert story.world.true_air_temp_c < 16.0
