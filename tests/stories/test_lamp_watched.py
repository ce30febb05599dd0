"""A lamp that does not do as it is told, by its warmth and by contacts: in the modelled box, and at its relay's pin.

The limits are those of the fault table. Each fault calls once, by the row that names its cause.
"""

import pytest
from msgspec.structs import replace

from controller.core.requests import Clear, Resume
from controller.settings.chamber_file import OutputEntry
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.shipped_chambers import shipped_chamber
from tests.helpers.watched import ChangingRoom, alarms_of, chamber_with, fermenting, seconds_to

FAULT_S = 3 * 3600.0
MASTER = OutputEntry(role="master", pin=24)
STRONG_W = 250.0


@pytest.mark.fault_row("A1")
@pytest.mark.parametrize("contact", ["heater_live", "heater_current"])
def test_voltage_or_current_at_a_lamp_that_is_off_is_called_out_within_fifteen_seconds(contact: str) -> None:
    box = chamber_with("insulated-box", contact, outputs=(MASTER,), tick_s=5.0)  # type: ignore[arg-type]
    story = fermenting(box, "relay-welded@3h")
    story.run_for(minutes=10)
    called_s = FAULT_S + seconds_to(story, "A1", FAULT_S)
    told = [at_s for at_s, o in story.outcomes if FAULT_S <= at_s < called_s and o.commands.is_on("heater", o.now_s)]
    off_s = max(told, default=FAULT_S)
    assert called_s - off_s <= 15.0
    assert story.rows == ["A1"]
    assert story.state == "held"
    assert story.burns_between(off_s + 20.0, story.world.elapsed_s) == 0.0, "the second contactor has opened"
    assert "switched off for" in alarms_of(story, "A1")[0].text


@pytest.mark.fault_row("A1")
@pytest.mark.parametrize("room", [(), ("ambient_temp",)])
def test_a_welded_relay_in_a_cool_room_is_called_out_within_twenty_minutes(room: tuple[str, ...]) -> None:
    box = chamber_with("insulated-box", *room)  # type: ignore[arg-type]
    story = fermenting(box, "relay-welded@3h", ambient_c=18.0).run_for(minutes=40)
    assert seconds_to(story, "A1", FAULT_S) <= 20 * 60.0
    assert story.rows == ["A1"], "one cause, one alarm"
    assert story.state == "held"
    text = alarms_of(story, "A1")[0].text
    assert "Unplug the lamp now" in text
    assert ("or the room is far warmer" in text) is (room == ())


@pytest.mark.fault_row("A1")
@pytest.mark.parametrize("room", [(), ("ambient_temp",)])
def test_a_hot_day_is_no_case_for_unplugging_the_lamp(room: tuple[str, ...]) -> None:
    box = chamber_with("insulated-box", *room)  # type: ignore[arg-type]
    story = fermenting(box)
    story.world.room = ChangingRoom(lambda hours: min(20.0 + 8.0 * (hours - 3.0), 36.0))  # Known are 16 to 22.
    story.run_for(hours=8)
    assert story.world.true_air_temp_c > 30.0
    assert "A1" not in story.rows
    assert set(story.rows) <= {"A2", "P4"}
    assert story.state == "running"


@pytest.mark.fault_row("A1")
def test_the_cold_runs_against_an_overheated_chamber() -> None:
    fridge = chamber_with("old-fridge", "heater_live")
    story = fermenting(fridge, "relay-welded@3h").run_for(minutes=30)
    assert story.rows == ["A1"]
    assert story.outcomes[-1][1].commands.is_on("cooler", story.outcomes[-1][1].now_s)
    assert story.outcomes[-1][1].commands.is_on("fan", story.outcomes[-1][1].now_s)
    assert not story.outcomes[-1][1].commands.is_on("humidifier", story.outcomes[-1][1].now_s)


@pytest.mark.fault_row("A2")
def test_too_hot_for_minutes_is_a_warning_that_ends_by_itself() -> None:
    story = fermenting(chamber_with("insulated-box", "ambient_temp"))
    story.world.room = ChangingRoom(lambda hours: 36.0 if 3.0 < hours < 8.0 else 16.0)
    story.run_for(hours=4)
    (alarm,) = alarms_of(story, "A2")
    assert (alarm.priority, alarm.latched, alarm.locks) == ("2", False, False)
    assert "limit 27.0 °C" in alarm.text
    assert story.state == "running"
    story.run_for(hours=5)
    assert story.rows in (["A2"], ["P4", "A2"]), "on its way there it was off by less"
    assert not any(alarm.active for alarm in story.memory.alarms)


@pytest.mark.fault_row("A2")
def test_no_warning_where_the_air_has_to_come_down_first() -> None:
    story = ChamberStory("old-fridge", "tangy").start().run_for(minutes=100).hang().run_for(hours=5)
    profile = replace(story.batch.profile, stages=story.batch.profile.stages)
    dry = next(index for index, stage in enumerate(profile.stages) if stage.kind == "dry")
    cool = replace(profile.stages[dry], where="chamber", ramp_h=0.0)
    stages = (*profile.stages[:2], *(cool for _ in range(dry - 1)))
    batch = replace(story.batch, profile=replace(profile, stages=stages), stage_index=2, arrived=False)
    story.memory = replace(story.memory, batches=(batch,))  # Out of the ferment at 36 °C into 13 °C, at once.
    story.run_for(hours=3)
    assert set(story.rows) <= {"P9"}, "nobody has measured a pH"


@pytest.mark.fault_row("A3")
def test_a_strong_lamp_behind_a_lonely_thermometer_that_is_stuck_is_out_before_the_box_bakes() -> None:
    """By hand: 250 W into 4.4 kJ/K of air and walls are 12 K in three and a half minutes, and 60 K in twenty."""
    file = shipped_chamber("insulated-box")
    outputs = tuple(replace(one, w=STRONG_W) if one.role == "heater" else one for one in file.output)
    lonely = replace(file, output=outputs, sensor=tuple(one for one in file.sensor if one.channel == "air_temp"))
    story = ChamberStory(profile="tangy", changed=lonely, faults=("frozen:air_temp@0s",)).start()
    warmest_c = 0.0
    for _ in range(180):
        story.run_for(minutes=1)
        warmest_c = max(warmest_c, story.world.true_air_temp_c)
    assert story.rows[0] == "A3"
    assert seconds_to(story, "A3", 0.0) < 15 * 60.0
    assert warmest_c < 70.0, "it had 94 °C after twenty minutes"
    assert story.world.true_air_temp_c < 45.0, "the trials of such a lamp are shorter"


@pytest.mark.fault_row("A3")
def test_a_lamp_without_current_is_called_out_at_once_and_tried_until_it_burns() -> None:
    box = chamber_with("insulated-box", "heater_current", tick_s=5.0)
    story = fermenting(box, "lamp-burnt@3h/3h").run_for(hours=3)
    assert seconds_to(story, "A3", FAULT_S) <= 600.0, (
        "in a ferment that holds, the lamp burns ten seconds only in some windows"
    )
    assert story.rows == ["A3"]
    assert (story.state, alarms_of(story, "A3")[0].priority) == ("suspended", "1")
    on_s = sum(o.commands.is_on("heater", o.now_s) for at_s, o in story.outcomes if at_s >= FAULT_S + 600.0) * 5.0
    assert 0.1 < on_s / (story.world.elapsed_s - FAULT_S - 600.0) < 0.25, "trials of 5 min in each half hour"
    story.run_for(minutes=40)
    assert story.state == "running"
    assert story.rows == ["A3"]


@pytest.mark.fault_row("A3")
def test_current_tells_a_dead_lamp_within_fifteen_seconds_of_full_power() -> None:
    box = chamber_with("insulated-box", "heater_current", "heater_live", tick_s=5.0)
    story = ChamberStory(changed=box, faults=("lamp-burnt@0s",)).start().run_for(minutes=2)
    began_s = next(at_s for at_s, o in story.outcomes if o.commands.is_on("heater", o.now_s))
    assert seconds_to(story, "A3", began_s) <= 15.0
    assert "voltage, but no current" in alarms_of(story, "A3")[0].text


@pytest.mark.fault_row("A4")
def test_an_open_cut_out_is_seen_by_its_contact_and_locks_the_heat_until_a_person_clears_it() -> None:
    story = fermenting(chamber_with("insulated-box", "cutout"), "cutout-open@3h/30m").run_for(minutes=20)
    assert seconds_to(story, "A4", FAULT_S) <= 20.0
    assert story.rows == ["A4"]
    assert story.state == "held"
    story.run_for(minutes=20)
    assert not any(o.commands.is_on("heater", o.now_s) for at_s, o in story.outcomes if at_s > FAULT_S + 20.0)
    (alarm,) = alarms_of(story, "A4")
    assert (alarm.active, alarm.latched, alarm.locks) == (False, True, True)
    assert "It was: The contact of the thermal cut-out says that it has opened." in alarm.text
    story.ask(Clear(id="c", alarm=alarm.id)).run_for(seconds=10).ask(Resume(id="r")).run_for(minutes=30)
    assert story.state == "running"
    assert story.burns_between(FAULT_S + 2400.0, story.world.elapsed_s) > 0.0


@pytest.mark.fault_row("A4")
@pytest.mark.parametrize("fault", ["cutout-open", "relay-open"])
def test_no_voltage_at_a_lamp_that_is_on_is_taken_for_an_open_cut_out(fault: str) -> None:
    story = fermenting(chamber_with("insulated-box", "heater_live"), f"{fault}@3h").run_for(minutes=20)
    assert story.rows == ["A4"]
    assert "No voltage at the lamp" in alarms_of(story, "A4")[0].text
    assert story.state == "held"


@pytest.mark.fault_row("A3")
def test_no_voltage_behind_a_cut_out_that_is_shut_is_the_relay_or_the_plug() -> None:
    story = fermenting(chamber_with("insulated-box", "heater_live", "cutout"), "relay-open@3h").run_for(minutes=20)
    assert story.rows == ["A3"]
    assert "the cut-out is shut: relay, fuse or plug" in alarms_of(story, "A3")[0].text


def test_a_contact_that_is_lost_takes_no_heat() -> None:
    box = chamber_with("insulated-box", "heater_live", "heater_current", "cutout")
    faults = ("missing:heater_live@3h", "missing:heater_current@3h", "missing:cutout@3h")
    story = fermenting(box, *faults).run_for(hours=2)
    assert story.burns_between(FAULT_S, story.world.elapsed_s) > 300.0
    assert not {"A1", "A3", "A4"} & set(story.rows)


@pytest.mark.fault_row("A10")
def test_a_pin_that_does_not_follow_takes_all_heat_and_locks_it_if_it_stays() -> None:
    box = chamber_with("insulated-box", outputs=(MASTER,))
    story = fermenting(box, "pin-stuck@3h/40s", "pin-stuck@4h/1h").run_for(seconds=30)
    assert story.rows == ["A10"]
    assert "output for the lamp is ON although it was switched off" in alarms_of(story, "A10")[0].text
    assert story.state == "suspended"
    first_s = next(at_s for at_s, o in story.outcomes if at_s >= FAULT_S and not o.commands.is_on("heater", o.now_s))
    assert story.burns_between(first_s + 10.0, FAULT_S + 30.0) == 0.0, "the second contactor is off"
    story.run_for(minutes=10)
    assert story.state == "running"
    story.run_for(minutes=60)
    assert story.rows == ["A10"], "it came again: the same name, louder"
    (alarm,) = alarms_of(story, "A10")
    assert (alarm.latched, alarm.locks, story.state) == (True, True, "held")
    assert story.burns_between(FAULT_S + 3600.0 + 60.0, story.world.elapsed_s) == 0.0


@pytest.mark.fault_row("A1")
def test_air_that_a_compressor_has_pulled_down_is_no_sign_that_a_welded_relay_has_let_go() -> None:
    story = fermenting(chamber_with("old-fridge"), "relay-welded@3h/5h").run_for(hours=2)
    assert story.rows == ["A1"]
    coldest_c = 99.0
    for _ in range(16):
        story.run_for(minutes=10)
        coldest_c = min(coldest_c, story.world.true_air_temp_c)
        (alarm,) = alarms_of(story, "A1")
        assert alarm.active
    assert coldest_c < 15.0, "the cold had pulled it down; 24 °C are wanted"
    assert "cannot be told: the compressor works against it" in alarm.text
    story.ask(Clear(id="c", alarm=alarm.id)).run_for(seconds=10)
    assert "Whether its cause is gone cannot be told now" in story.book.answers[-1].text
    assert "hangroom clear A1-1 --sure" in story.book.answers[-1].text
    story.ask(Resume(id="r")).run_for(seconds=10)
    assert "must be cleared first" in story.book.answers[-1].text
    story.run_for(hours=1).ask(Clear(id="d", alarm=alarm.id, sure=True), Resume(id="q")).run_for(hours=2)
    assert not alarms_of(story, "A1"), "the relay has let go meanwhile, and somebody has looked"
    assert story.state == "running"


@pytest.mark.fault_row("A1")
@pytest.mark.parametrize("chamber", ["insulated-box", "plywood-cabinet"])
def test_a_relay_that_has_let_go_is_told_by_the_balance_of_heat_and_cleared_by_who_has_looked(chamber: str) -> None:
    story = fermenting(chamber_with(chamber), "relay-welded@3h/40m").run_for(minutes=39)
    assert story.rows == ["A1"]
    story.run_for(minutes=30)
    (alarm,) = alarms_of(story, "A1")
    assert (alarm.active, alarm.latched) == (False, True)
    story.ask(Clear(id="c", alarm=alarm.id)).run_for(seconds=10)
    assert "First see for yourself that the lamp is dark" in story.book.answers[-1].text
    story.ask(Clear(id="d", alarm=alarm.id, sure=True), Resume(id="r")).run_for(minutes=30)
    assert story.state == "running"
    assert not alarms_of(story, "A1")
