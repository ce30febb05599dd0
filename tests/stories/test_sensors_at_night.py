"""Sensor faults in the modelled chamber, at three in the morning: one cause, one alarm, and the lamp off in time."""

from functools import lru_cache

import pytest
from msgspec.structs import replace

from controller.core.requests import Clear
from controller.food.degree_hours import US, accumulate
from controller.settings.chamber_file import ChamberFile, SensorEntry
from tests.helpers.chamber_story import ChamberStory
from tests.helpers.shipped_chambers import shipped_chamber

CHAMBERS = ("insulated-box", "plywood-cabinet", pytest.param("old-fridge", marks=pytest.mark.long))
"""They decide every 8 s here, which is half as much to reckon."""
OTHERS = ("plywood-cabinet", "old-fridge")
HOUR_S = 3600.0


def shipped(name: str, *more: SensorEntry) -> ChamberFile:
    """Return a shipped chamber with these sensors too."""
    file = shipped_chamber(name)
    return replace(file, sensor=(*file.sensor, *more), tick_s=8.0)


def alone(name: str) -> ChamberFile:
    """Return a shipped chamber with its air thermometer only."""
    file = shipped_chamber(name)
    return replace(file, sensor=tuple(entry for entry in file.sensor if entry.channel == "air_temp"), tick_s=8.0)


def two_alike(name: str) -> ChamberFile:
    """Return a shipped chamber with two DS18B20 on one bus, and nothing else that measures."""
    file = alone(name)
    second = SensorEntry(channel="air_temp_2", kind="ds18b20", id="28-000000000002", response_s=120.0)
    return replace(file, sensor=(*file.sensor, second))


def fermenting(changed: ChamberFile, *faults: str, hours: float = 6.0) -> ChamberStory:
    """Return a chamber with a mild ferment, in which meat has hung since the second hour; faults begin later."""
    return healthy(changed).once_more().befall(*faults).run_for(hours=hours - 5.9)


@lru_cache(maxsize=6)
def healthy(changed: ChamberFile) -> ChamberStory:
    """Return almost six hours, which many of these stories have in common; nobody tells this one on."""
    return ChamberStory(profile="mild", changed=changed).start().run_for(hours=2).hang().run_for(hours=3.9)


def longest_stand_s(story: ChamberStory) -> float:
    """Return for how long the air thermometer showed the very same number at most."""
    longest_s, since_s, last_c = 0.0, 0.0, None
    for at_s, outcome in story.outcomes:
        if outcome.known.air_temp_c != last_c:
            since_s, last_c = at_s, outcome.known.air_temp_c
        longest_s = max(longest_s, at_s - since_s)
    return longest_s


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize("name", ["insulated-box", *(pytest.param(name, marks=pytest.mark.long) for name in OTHERS)])
def test_a_healthy_lonely_thermometer_raises_none_in_a_day_of_good_control(name: str) -> None:
    story = fermenting(alone(name), hours=24.0)
    assert story.rows == []
    if name != "plywood-cabinet":  # Its mechanical relay has longer windows, and the air ripples.
        shown = {outcome.known.air_temp_c for at_s, outcome in story.outcomes if at_s > 12 * HOUR_S}
        assert longest_stand_s(story) > 7200.0  # It stood still until the lamp was switched for it, and then moved.
        assert max(c for c in shown if c is not None) < 24.75


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize("name", CHAMBERS)
def test_a_lonely_thermometer_that_is_stuck_is_found_by_the_lamp(name: str) -> None:
    story = fermenting(alone(name), "frozen@6h")
    assert story.rows == []
    story.run_for(hours=2, minutes=13)
    assert story.rows == ["S6"]
    assert story.state == "held"
    assert not story.world.heat_on
    edges = len(story.world.lamp_edges)
    story.run_for(hours=2)
    assert len(story.world.lamp_edges) == edges


@pytest.mark.fault_row("S6")
def test_by_a_lonely_thermometer_that_was_found_stuck_nothing_is_cooled() -> None:
    story = fermenting(alone("old-fridge"), "frozen@6h").run_for(hours=2, minutes=13)
    assert (story.rows, story.state) == (["S6"], "held")
    known = story.outcomes[-1][1].known
    assert known.air_temp_c is None
    assert known.stuck_air_c is not None
    assert known.stuck_air_c > 23.0  # Ten kelvin more than a batch that waits is cooled to.
    found_s = story.world.elapsed_s
    story.run_for(hours=8)
    assert not any(out.commands.is_on("cooler", out.now_s) for at_s, out in story.outcomes if at_s > found_s)
    assert story.world.true_air_temp_c > 15.0


@pytest.mark.fault_row("S6")
def test_degree_hours_behind_a_stuck_thermometer_are_counted_at_the_warmest_that_the_room_can_be() -> None:
    file = replace(alone("old-fridge"), room_temp_c=(15.0, 31.0))
    story = ChamberStory(profile="mild", changed=file, ambient_c=31.0, faults=("frozen@6h/18h",))
    story.start().run_for(hours=2).hang().run_for(hours=6.5)
    assert (story.rows, story.state) == (["S6"], "held")

    def count(hours: float) -> tuple[float, float]:
        """Let hours pass; return the degree-hours that are counted meanwhile, and the true ones."""
        before_f, true_f = story.batch.degree_hours_f, 0.0
        for _ in range(round(hours * 12.0)):
            story.run_for(minutes=5)
            true_f += accumulate(US, story.world.true_air_temp_c, 1.0 / 12.0)
        return story.batch.degree_hours_f - before_f, true_f

    for hours in (15.0, 3.0):  # In the last of them it moves again; that alone is not enough to believe it.
        counted_f, true_f = count(hours)
        assert true_f < counted_f < true_f * 1.4
    assert story.outcomes[-1][1].known.air_temp_c is None
    story.ask(Clear(id="c", alarm="S6-1")).run_for(minutes=1)
    assert story.outcomes[-1][1].known.air_temp_c == pytest.approx(story.world.true_air_temp_c, abs=0.6)


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize("name", ["insulated-box", "old-fridge"])
def test_two_thermometers_that_freeze_together_are_found_as_one_is(name: str) -> None:
    story = fermenting(two_alike(name), "frozen:air_temp@6h", "frozen:air_temp_2@6h")
    assert story.rows == []
    story.run_for(hours=2, minutes=25)
    assert (story.rows, story.state) == (["S6"], "held")
    assert "no other thermometer has moved either" in story.memory.alarms[0].text
    assert not story.world.heat_on
    known = story.outcomes[-1][1].known
    assert (known.air_temp_c, known.slowed_c) == (None, {})  # Neither of them is believed.


@pytest.mark.fault_row("S6")
@pytest.mark.parametrize("name", [pytest.param("insulated-box", marks=pytest.mark.long), "old-fridge"])
def test_two_healthy_thermometers_that_stand_still_together_raise_none_in_a_day_of_good_control(name: str) -> None:
    story = fermenting(two_alike(name), hours=24.0)
    assert story.rows == []
    still_s = max(out.now_s - out.known.still_since_s for _, out in story.outcomes)
    assert still_s > 7200.0  # Both showed the same for so long that the lamp was switched for it.
    assert abs(story.world.true_air_temp_c - 24.0) < 0.75


@pytest.mark.fault_row("S6")
def test_one_of_two_thermometers_that_is_stuck_is_found_by_a_lid_that_was_open_for_a_while() -> None:
    story = fermenting(shipped("insulated-box"), "frozen@6h")
    story.world.open_door(240.0)
    story.run_for(minutes=20)
    assert story.rows == []  # The air is as warm as before, and both show it.
    story.run_for(minutes=11)
    assert story.rows == ["S6"]
    assert story.state == "held"


@pytest.mark.fault_row("S9")
@pytest.mark.parametrize("channel", ["air_temp", "rh_temp"])
def test_a_thermometer_that_drifts_is_doubted_first_and_holds_at_3_kelvin(channel: str) -> None:
    story = fermenting(shipped("insulated-box"), f"drift:{channel}@6h")
    wanted_c = 24.0
    story.run_for(hours=2)
    assert story.rows == ["S9"]
    (alarm,) = story.memory.alarms
    assert (alarm.priority, alarm.latched) == ("3", False)
    story.run_for(minutes=50)
    assert story.world.true_air_temp_c < wanted_c + 0.3  # The heat goes by the higher one.
    assert story.state == "running"
    story.run_for(minutes=30)
    assert {row for row in story.rows if row != "P4"} == {"S9"}
    assert story.state == "held"
    assert not story.world.heat_on


@pytest.mark.fault_row("S9")
def test_losing_the_warmer_of_two_doubted_thermometers_does_not_put_the_heat_back_on_the_cooler_one() -> None:
    file = shipped("insulated-box")
    low = tuple(replace(entry, offset_k=-2.4) if entry.channel == "air_temp" else entry for entry in file.sensor)
    faults = ("missing:rh@8h", "missing:rh_temp@8h")
    story = ChamberStory(profile="mild", changed=replace(file, sensor=low), ambient_c=18.0, faults=faults)
    story.start().run_for(hours=1).hang().run_for(hours=6.9)
    assert (story.rows, story.state) == (["S9"], "running")
    before_f, true_f = story.batch.degree_hours_f, 0.0
    for _ in range(4 * 12):
        story.run_for(minutes=5)
        true_f += accumulate(US, story.world.true_air_temp_c, 1.0 / 12.0)
        assert story.world.true_air_temp_c < 24.3
    assert true_f <= story.batch.degree_hours_f - before_f < true_f * 1.1
    assert story.rows == ["S9", "S1"]
    assert [(alarm.row, alarm.active) for alarm in story.memory.alarms] == [("S9", True), ("S1", True)]
    assert "K more than the air thermometer shows" in story.memory.alarms[0].text


@pytest.mark.fault_row("S2")
def test_a_cable_that_spoils_one_reading_in_four_is_told_once_and_the_batch_goes_on() -> None:
    # Every 5 s: where it is decided less often, two damaged readings in a row are 12 s without a good one.
    story = fermenting(replace(shipped("insulated-box"), tick_s=5.0), "flaky@6h/4h")
    story.run_for(hours=4)
    assert story.rows == ["S2"]
    assert story.memory.alarms[0].priority == "3"
    assert story.state == "running"
    assert abs(story.world.true_air_temp_c - 24.0) < 0.5
    assert story.run_for(minutes=62).memory.alarms[0].active
    assert not any(alarm.active for alarm in story.run_for(minutes=12).memory.alarms)


@pytest.mark.fault_row("S4")
def test_a_read_that_hangs_has_the_lamp_off_in_time_and_is_one_alarm() -> None:
    story = fermenting(shipped("insulated-box"), "hung@6h/5m")
    story.run_for(minutes=4)
    assert story.dark_from(6 * HOUR_S) <= 6 * HOUR_S + 15.0
    assert story.state == "suspended"
    story.run_for(minutes=10)
    assert set(story.rows) == {"S4"}
    assert story.state == "running"


@pytest.mark.fault_row("S1")
@pytest.mark.fault_row("S15")
@pytest.mark.parametrize(
    ("faults", "rows"),
    [
        (("missing:rh@6h", "missing:rh_temp@6h"), ["S1"]),
        (("missing:door@6h",), ["S15"]),
        (("missing:ambient_temp@6h",), ["S15"]),
        (("missing:core_temp@6h", "missing:cutout@6h"), ["S15", "S15"]),
    ],
)
def test_a_lost_device_is_one_alarm_and_the_heat_goes_on(faults: tuple[str, ...], rows: list[str]) -> None:
    more = (
        SensorEntry(channel="door", kind="contact", pin=5),
        SensorEntry(channel="cutout", kind="contact", pin=6),
        SensorEntry(channel="core_temp", kind="ds18b20", id="28-000000000002"),
        SensorEntry(channel="ambient_temp", kind="ds18b20", id="28-000000000003"),
    )
    story = fermenting(shipped("insulated-box", *more), *faults).run_for(hours=2)
    assert story.rows == rows
    assert story.state == "running"
    assert abs(story.world.true_air_temp_c - 24.0) < 0.5


@pytest.mark.fault_row("S13")
def test_a_stranger_on_the_bus_is_told_and_changes_nothing() -> None:
    story = fermenting(shipped("insulated-box"), "stranger@6h").run_for(minutes=5)
    assert story.rows == ["S13"]
    assert story.state == "running"


@pytest.mark.fault_row("S10")
def test_a_humidity_sensor_that_creeps_away_from_the_other_one_is_told() -> None:
    second = SensorEntry(channel="rh_2", kind="sht4x", address="1-0045")
    story = fermenting(shipped("insulated-box", second), "drift:rh_2@6h").run_for(hours=1, minutes=45)
    assert story.rows == ["S10"]
    (alarm,) = story.memory.alarms
    assert alarm.priority == "3"
    assert story.state == "running"


@pytest.mark.fault_row("H9")
def test_a_lonely_probe_that_slips_out_while_it_is_silent_is_not_believed_when_it_speaks_again() -> None:
    story = ChamberStory(profile="tangy", changed=alone("insulated-box"), faults=("missing@6h/6m", "probe-out@6h"))
    story.start().run_for(hours=2).hang().run_for(hours=4, minutes=9)
    assert story.rows == ["S1", "H9"]
    assert story.state == "held"
    burned_s = story.burns_between(6 * HOUR_S, story.world.elapsed_s)
    assert burned_s <= 15.0


@pytest.mark.fault_row("H9")
def test_a_lonely_probe_that_hangs_in_a_warm_room_is_found_by_the_rooms_own_thermometer() -> None:
    room = SensorEntry(channel="ambient_temp", kind="ds18b20", id="28-000000000003")
    file = alone("insulated-box")
    changed = replace(file, sensor=(*file.sensor, room))
    story = ChamberStory(profile="mild", changed=changed, ambient_c=22.5, faults=("probe-out@6h",))
    story.start().run_for(hours=2).hang().run_for(hours=4)
    assert story.rows == []
    story.run_for(hours=2)
    assert story.rows == ["H9"]
    assert story.state == "held"
    assert story.world.true_air_temp_c < 45.0


@pytest.mark.fault_row("S11")
@pytest.mark.parametrize("name", CHAMBERS)
def test_a_box_that_was_washed_and_is_still_wet_raises_none_while_it_warms(name: str) -> None:
    story = ChamberStory(name, profile="tangy")
    story.world.model.wall_film_kg = 0.05
    story.world.model.vapour_kg *= 1.9
    story.start().run_for(hours=2)
    assert story.rows == []
