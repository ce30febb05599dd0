"""The rows of the fault table that a sensor brings about: noticed in time, one alarm for one cause, over when it is."""

import pytest
from msgspec.structs import replace

from controller.core.requests import Clear, Hang, Resume
from controller.core.values import Channel, FaultKind
from tests.helpers.bench_chamber import CHAMBER, Bench
from tests.helpers.outages import cut
from tests.helpers.sensor_bench import ALONE, alarms, alive, seconds_until_alarm, the_alarm, with_more


@pytest.mark.fault_row("S1")
def test_a_missing_thermometer_calls_within_20_seconds_and_is_over_after_three_good_readings() -> None:
    bench = Bench().run(minutes=5)
    bench.says["air_temp"] = "missing"
    assert seconds_until_alarm(bench) <= 25.0  # The last good one was a second old at the tick before.
    assert alarms(bench) == [("S1", "1")]
    assert "is not answering" in the_alarm(bench).text
    assert not bench.heat_on
    assert bench.outcome is not None
    assert bench.outcome.commands.is_on("fan", bench.now_s)
    bench.tick(air_temp=30.0)
    assert "Heat, mist and cold are off; the air is stirred." in the_alarm(bench).text, "while it comes back as before"
    assert [bool(alarms(bench.tick(air_temp=30.0))) for _ in range(2)] == [True, False]
    assert bench.batch.state == "running"


@pytest.mark.fault_row("S1")
@pytest.mark.parametrize(
    ("channels", "lost", "priority"),
    [((), ("rh", "rh_temp"), "2"), ((), ("rh_temp",), "3"), (("air_temp_2",), ("air_temp_2",), "3")],
)
def test_what_is_left_says_how_urgent_a_lost_sensor_is(
    channels: tuple[Channel, ...], lost: tuple[Channel, ...], priority: str
) -> None:
    bench = Bench(with_more(*channels)).run(minutes=5, **dict.fromkeys(channels, 30.0))
    bench.says |= dict.fromkeys(lost, "missing")
    bench.run(minutes=1)
    assert alarms(bench) == [("S1", priority)]
    assert bench.heat_on  # By the thermometer that is left.
    assert bench.batch.state == "running"


@pytest.mark.fault_row("S2")
@pytest.mark.fault_row("S5")
@pytest.mark.parametrize(
    ("says", "row"),
    [
        ("checksum", "S2"),
        ("empty", "S2"),
        ("half_read", "S2"),
        (85.0, "S5"),
        (127.9375, "S5"),
        ("power_on_value", "S5"),
    ],
)
def test_the_third_damaged_reading_in_a_row_is_an_alarm_and_the_first_two_are_none(
    says: float | FaultKind, row: str
) -> None:
    bench = Bench().run(minutes=5)
    assert [alarms(bench.tick(air_temp=says)) for _ in range(3)] == [[], [], [(row, "1")]]
    assert not bench.heat_on


@pytest.mark.fault_row("S2")
def test_more_than_20_damaged_of_100_are_told_while_values_still_come_and_for_an_hour_below_5() -> None:
    bench = Bench().run(minutes=5, air_temp=35.0, rh_temp=35.0)
    for number in range(100):
        bench.tick(air_temp="checksum" if number % 5 == 4 else 35.0)
    assert alarms(bench) == []  # 20 of 100: not more.
    for number in range(100):
        bench.tick(air_temp="checksum" if number % 4 == 3 else 35.0)
    assert alarms(bench) == [("S2", "3")]
    assert "25 of the last 100, limit 20" in the_alarm(bench).text
    assert bench.heat_on
    assert bench.batch.state == "running"
    assert not the_alarm(bench).latched
    for number in range(800):  # One in twelve is more than 5 of 100.
        bench.tick(air_temp="checksum" if number % 12 == 0 else 35.0)
    assert alarms(bench) == [("S2", "3")]
    alive(bench, 62.0, air_temp=35.0, rh_temp=35.0)  # Four minutes until fewer than 5, then less than an hour.
    assert alarms(bench) == [("S2", "3")]
    alive(bench, 6.0, air_temp=35.0, rh_temp=35.0)
    assert alarms(bench) == []


@pytest.mark.fault_row("S2")
@pytest.mark.fault_row("S5")
def test_a_sensor_that_was_told_for_many_damaged_readings_has_no_second_alarm_when_it_falls_silent() -> None:
    bench = Bench().run(minutes=5)
    for number in range(120):
        bench.tick(air_temp=85.0 if number % 4 == 3 else 30.0)
    assert alarms(bench) == [("S2", "3")]
    bench.run(minutes=1, air_temp="missing")
    assert alarms(bench) == [("S2", "1")]
    assert "is not answering" in the_alarm(bench).text
    assert not bench.heat_on


@pytest.mark.fault_row("S3")
def test_a_value_that_is_not_renewed_has_the_lamp_off_after_12_seconds_and_is_an_alarm_after_60() -> None:
    bench = Bench().run(minutes=5)
    last_s = bench.now_s - 1.0
    bench.stands_still = "air_temp"
    assert 55.0 <= seconds_until_alarm(bench) <= 65.0
    assert alarms(bench) == [("S3", "1")]
    assert bench.lamp_off_after(last_s) <= last_s + 12.0
    assert bench.batch.state == "suspended"


@pytest.mark.fault_row("S4")
def test_a_read_that_hangs_is_told_at_once_and_is_urgent_after_a_minute() -> None:
    bench = Bench().run(minutes=5)
    assert alarms(bench.tick(air_temp="hung")) == [("S4", "3")]
    bench.run(minutes=0.8)
    assert alarms(bench) == [("S4", "3")]
    assert not bench.heat_on
    bench.run(minutes=0.4)
    assert alarms(bench) == [("S4", "1")]
    assert len([told for told in bench.events if told.startswith("alarm")]) == 2  # It called again when it got worse.


@pytest.mark.fault_row("S7")
@pytest.mark.parametrize("channel", ["rh", "air_temp"])
def test_a_jump_is_not_believed_and_three_that_agree_are_a_new_level(channel: Channel) -> None:
    to = {"rh": 60.0, "air_temp": 23.0}[channel]
    bench = Bench(ALONE if channel == "air_temp" else CHAMBER).run(minutes=5, air_temp=30.0, rh=85.0)
    seen = []
    for _ in range(3):
        bench.tick(**{channel: to})
        assert bench.outcome is not None
        seen.append(bench.outcome.known.faults.get(channel))
    assert seen == ["jump", "jump", None]
    assert bench.run(minutes=2).memory.alarms == ()


@pytest.mark.fault_row("S7")
def test_a_humidity_that_leaps_about_mists_nothing_and_is_an_alarm() -> None:
    bench = Bench().run(minutes=5, rh=70.0)
    for number in range(30):
        bench.tick(rh=95.0 if number % 2 else 45.0)
        assert bench.outcome is not None
        assert not bench.outcome.commands.is_on("humidifier", bench.now_s)
    assert [row for row, _ in alarms(bench)] == ["S7"]
    assert bench.heat_on


@pytest.mark.fault_row("S7")
def test_humidity_may_leap_while_the_door_is_open() -> None:
    bench = Bench(with_more("door")).run(minutes=5, rh=85.0, door=0.0)
    bench.tick(rh=55.0, door=1.0)
    assert bench.outcome is not None
    assert "rh" not in bench.outcome.known.faults


@pytest.mark.fault_row("S7")
def test_a_thermometer_that_goes_on_leaping_is_lost_after_a_minute() -> None:
    bench = Bench(ALONE).run(minutes=5, air_temp=30.0)
    for number in range(24):
        bench.tick(air_temp=(40.0, 20.0)[number % 2])
        if number == 8:
            assert alarms(bench) == [("S7", "3")]
    assert alarms(bench) == [("S7", "1")]
    assert not bench.heat_on
    assert bench.batch.state == "suspended"


@pytest.mark.fault_row("S8")
@pytest.mark.parametrize(
    ("channel", "value"),
    [
        ("air_temp", -127.0),
        ("air_temp", -11.0),
        ("air_temp", float("nan")),
        ("rh", 0.5),
        ("rh", 101.0),
    ],
)
def test_an_impossible_value_calls_within_20_seconds(channel: Channel, value: float) -> None:
    bench = Bench().run(minutes=5)
    bench.says[channel] = value
    assert seconds_until_alarm(bench) <= 25.0
    assert alarms(bench) == [("S8", "1" if channel == "air_temp" else "2")]
    assert bench.heat_on is (channel == "rh")


@pytest.mark.fault_row("S9")
def test_a_doubt_of_2_kelvin_warns_after_10_minutes_and_the_heat_goes_by_the_higher_one() -> None:
    bench = alive(Bench(), 10.0, air_temp=35.0, rh_temp=35.0)
    alive(bench, 9.0, air_temp=35.0, rh_temp=37.2)  # Wanted are 36 °C.
    assert alarms(bench) == []
    assert bench.memory.loops.heat_duty > 0.1
    alive(bench, 4.0, air_temp=35.0, rh_temp=37.2)
    assert alarms(bench) == [("S9", "3")]
    assert not the_alarm(bench).latched
    assert (
        "The heat goes by the higher one. Find out with a thermometer which one is right. Do" in the_alarm(bench).text
    )
    alive(bench, 60.0, air_temp=35.0, rh_temp=37.2)
    assert bench.memory.loops.heat_duty == 0.0  # The higher one is above what is wanted.
    assert bench.batch.state == "running"
    alive(bench, 20.0, air_temp=35.0, rh_temp=35.5)
    assert alarms(bench) == []
    assert bench.memory.loops.heat_duty > 0.0


@pytest.mark.fault_row("S9")
def test_a_probe_that_is_slower_than_its_file_says_lags_behind_while_the_air_climbs_and_is_no_doubt() -> None:
    bench = alive(Bench(), 5.0, air_temp=20.0, rh_temp=20.0)
    for minute in range(1, 31):  # 0.5 K/min, and 260 s of lag that the file does not know.
        alive(bench, 1.0, air_temp=20.0 + 0.5 * minute - min(2.2, 0.5 * minute), rh_temp=20.0 + 0.5 * minute)
    assert alarms(bench) == []
    alive(bench, 19.0, air_temp=32.8, rh_temp=35.0)  # It has stopped to climb, and they are still apart.
    assert alarms(bench) == [("S9", "3")]


@pytest.mark.fault_row("S9")
def test_a_doubt_has_nothing_to_be_cleared_also_where_one_of_the_two_is_lost() -> None:
    bench = alive(Bench(), 10.0, air_temp=35.0, rh_temp=35.0)
    alive(bench, 13.0, air_temp=35.0, rh_temp=37.2)
    bench.says["rh_temp"] = "missing"
    alive(bench, 2.0, air_temp=35.0)
    (text,) = [alarm.text for alarm in bench.memory.alarms if alarm.row == "S9"]
    assert "only one can be had now" in text
    assert "Find out with a thermometer which one is right. Do this by" in text


@pytest.mark.fault_row("S9")
def test_a_disagreement_of_more_than_3_kelvin_cuts_the_heat_at_once_and_holds_after_5_minutes() -> None:
    bench = alive(Bench(), 10.0, air_temp=35.0, rh_temp=35.0)
    apart_s = bench.now_s
    while bench.memory.watch.agree.apart_since_s is None:  # The fast one is compared as slow as the other is.
        bench.tick(rh_temp=31.5)
    assert bench.now_s - apart_s < 300.0
    assert not bench.heat_on
    alive(bench, 4.9, air_temp=35.0, rh_temp=31.5)
    assert alarms(bench) == []
    alive(bench, 0.25, air_temp=35.0, rh_temp=31.5)
    assert alarms(bench) == [("S9", "1")]
    text = the_alarm(bench).text
    assert "(air thermometer 35.0, thermometer in the humidity sensor 31." in text
    assert "Heat is off; the batch is paused. Agreement alone does not end this. Find out" in text
    assert "then clear this alarm and resume the batch." in text
    assert bench.batch.state == "held"
    alive(bench, 10.0, air_temp=35.0, rh_temp=35.0)
    assert not bench.heat_on  # Agreement alone is not enough.
    bench.tick(Clear(id="c", alarm=the_alarm(bench).id), Resume(id="r"))
    cleared_s = bench.now_s
    alive(bench, 2.0, air_temp=35.0, rh_temp=35.0)
    assert bench.heat_spans[-1][0] > cleared_s


@pytest.mark.fault_row("S9")
def test_a_doubt_that_grows_is_the_same_alarm_and_latches_then() -> None:
    bench = alive(alive(Bench(), 10.0, air_temp=35.0, rh_temp=35.0), 15.0, air_temp=35.0, rh_temp=33.0)
    assert alarms(bench) == [("S9", "3")]
    alive(bench, 10.0, air_temp=35.0, rh_temp=31.0)
    assert alarms(bench) == [("S9", "1")]
    assert the_alarm(bench).latched
    assert bench.batch.state == "held"


@pytest.mark.fault_row("S10")
def test_two_humidity_sensors_warn_above_5_and_stop_mist_and_drying_above_10() -> None:
    bench = alive(Bench(with_more("rh_2")), 20.0, rh=82.0, rh_2=83.0, air_temp=36.0, rh_temp=36.0)
    seen = []
    for rh_2, minutes in ((89.0, 29.0), (89.0, 4.0), (93.5, 29.0), (93.5, 4.0)):
        alive(bench, minutes, rh=82.0, rh_2=rh_2, air_temp=36.0, rh_temp=36.0)
        seen.append(alarms(bench))
    assert seen == [[], [("S10", "3")], [("S10", "3")], [("S10", "2")]]
    closings = bench.memory.outputs["humidifier"].closings
    alive(bench, 20.0, rh=82.0, rh_2=93.5)
    assert bench.memory.outputs["humidifier"].closings == closings > 0
    assert bench.batch.state == "running"
    alive(bench, 30.0, rh=82.0, rh_2=83.0)
    assert alarms(bench) == []
    assert bench.memory.outputs["humidifier"].closings > closings


@pytest.mark.fault_row("S15")
@pytest.mark.parametrize(
    "channel", ["door", "ambient_temp", "evaporator_temp", "core_temp", "rh_2", "cutout", "fan_turns"]
)
def test_a_lost_sensor_on_which_nothing_depends_is_told_without_haste(channel: Channel) -> None:
    value = {"rh_2": 85.0, "ambient_temp": 20.0, "evaporator_temp": 10.0, "core_temp": 30.0, "fan_turns": 1.0}
    bench = Bench(with_more(channel)).run(minutes=5, **{channel: value.get(channel, 0.0)})
    bench.says[channel] = "missing"
    assert 20.0 <= seconds_until_alarm(bench) <= 40.0
    assert alarms(bench) == [("S15", "3")]
    assert bench.heat_on
    assert bench.batch.state == "running"
    bench.run(minutes=5, **{channel: value.get(channel, 0.0)})
    assert alarms(bench) == []


@pytest.mark.fault_row("S13")
def test_each_stranger_on_the_bus_is_told_by_its_number() -> None:
    bench = Bench().run(minutes=1)
    bench.strangers = ("28-0000deadbeef", "28-00000000cafe")
    bench.run(minutes=3)
    assert alarms(bench) == [("S13", "3"), ("S13", "3")]
    assert "28-0000deadbeef" in bench.memory.alarms[0].text
    bench.strangers = ()
    bench.run(minutes=3)
    assert alarms(bench) == []


@pytest.mark.fault_row("S6")
def test_a_humidity_that_stands_still_while_the_air_warms_keeps_its_effect_until_a_person_clears_it() -> None:
    bench = Bench().run(minutes=10, air_temp=35.0, rh_temp=35.0, rh=84.0)
    for number in range(900):
        bench.tick(air_temp=35.0 + 0.001 * number, rh_temp=35.0 + 0.001 * number, rh=84.0)
    assert alarms(bench) == [("S6", "2")]
    assert "has not changed for 60 min although a thermometer moved by 0.5 K." in the_alarm(bench).text
    for number in range(120):  # It moves again, and nobody has looked at it.
        bench.tick(rh=80.0 + 0.1 * (number % 3))
        assert bench.outcome is not None
        assert not bench.outcome.commands.is_on("humidifier", bench.now_s)
    bench.tick(Clear(id="c", alarm=the_alarm(bench).id))
    closings = bench.memory.outputs["humidifier"].closings
    bench.run(minutes=10)
    assert bench.memory.outputs["humidifier"].closings > closings


@pytest.mark.fault_row("H9")
def test_a_lonely_probe_that_was_silent_and_comes_back_cold_is_not_believed() -> None:
    bench = Bench(ALONE).run(minutes=30, air_temp=36.0).run(minutes=5, air_temp="missing")
    bench.run(minutes=2.5, air_temp=21.0)
    assert [alarm.row for alarm in bench.memory.alarms if alarm.latched] == ["H9"]
    assert "shows 21.0 °C now, 36.0 °C before" in bench.memory.alarms[-1].text
    assert not bench.heat_on
    assert bench.batch.state == "held"
    alive(bench, 10.0, air_temp=21.0)
    assert not bench.heat_on


@pytest.mark.fault_row("H9")
@pytest.mark.parametrize(("silent_minutes", "rows"), [(2.0, ["H9"]), (0.0, [])])
def test_one_that_was_silent_before_a_restart_is_not_believed_after_it(silent_minutes: float, rows: list[str]) -> None:
    bench = Bench(ALONE).run(minutes=30, air_temp=36.0).run(minutes=silent_minutes, air_temp="missing")
    cut(bench, 2.0 / 60.0, boot_id="boot-1", clean=True)
    bench.run(minutes=2.5, air_temp=21.0)
    assert [alarm.row for alarm in bench.memory.alarms if alarm.latched] == rows, (
        "a door that nobody watched may be why"
    )


@pytest.mark.parametrize(("back_c", "minutes"), [(33.5, 2.0), (38.0, 2.0), (31.5, 10.0)])
def test_a_lonely_probe_that_comes_back_as_the_air_can_be_is_believed(back_c: float, minutes: float) -> None:
    bench = Bench(ALONE).run(minutes=30, air_temp=36.0).run(minutes=minutes, air_temp="missing")
    bench.run(minutes=2, air_temp=back_c)
    assert alarms(bench) == []
    assert bench.batch.state == "running"


def test_a_lonely_probe_may_come_back_cold_where_somebody_was_at_the_door() -> None:
    chamber = replace(ALONE, channels=("air_temp", "door"))
    bench = Bench(chamber).run(minutes=30, air_temp=36.0, door=0.0).run(minutes=1, air_temp="missing")
    bench.run(minutes=1, door=1.0).run(minutes=2, door=0.0).run(minutes=1, air_temp=26.0)
    assert alarms(bench) == []


@pytest.mark.fault_row("H9")
def test_a_lonely_probe_that_shows_the_room_through_half_an_hour_of_heat_hangs_outside() -> None:
    chamber = replace(
        ALONE, channels=("air_temp", "ambient_temp"), response_s={"air_temp": 120.0, "ambient_temp": 120.0}
    )
    bench = alive(Bench(chamber), 60.0, air_temp=34.5, ambient_temp=30.0)
    bench.tick(Hang(id="hang"))
    alive(bench, 70.0, air_temp=34.5, ambient_temp=30.0)
    assert bench.memory.alarms == ()
    # A hot day: the room is 1.5 K below what is wanted, too near for the rule of "heating, but not warming".
    alive(bench, 29.0, air_temp=34.5, ambient_temp=34.5)
    assert bench.memory.alarms == ()
    alive(bench, 20.0, air_temp=34.5, ambient_temp=34.5)
    assert alarms(bench) == [("H9", "1")]
    assert not bench.heat_on
    assert bench.batch.state == "held"
