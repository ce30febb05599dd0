"""What the judge makes of a reading at its very limits, of silence, and of what one sensor says about another."""

from math import exp
from typing import Self

import pytest
from msgspec.structs import replace

from controller.core.chamber.judge import impossible, judge
from controller.core.memory import JudgeMemory
from controller.core.plan import Chamber, Limits
from controller.core.values import CONTACTS, Channel, Fault, FaultKind, Known, Reading
from controller.food.air import vapour_pressure_pa
from tests.helpers.bench_chamber import CHAMBER

LIMITS = Limits()


class Look:
    """Let the judge look again and again at what the sensors say, without the rest of a tick."""

    def __init__(self, chamber: Chamber = CHAMBER) -> None:
        self.chamber = chamber
        self.now_s = 1000.0
        self.memory = JudgeMemory()
        self.known = Known()
        self.readings: dict[Channel, Reading | Fault] = {}

    def __call__(self, seconds: float = 5.0, /, **says: float | FaultKind | None) -> Self:
        """Look once, so much later. What is not named stands as it was read; None is a sensor without a word."""
        self.now_s += seconds
        for name, value in says.items():
            channel: Channel = name  # type: ignore[assignment]
            self.readings.pop(channel, None)
            if value is not None:
                self.readings[channel] = Fault(value) if isinstance(value, str) else Reading(value, self.now_s)
        self.memory, self.known = judge(self.memory, self.readings, self.now_s, self.chamber)
        return self

    def during(self, seconds: float, /, **says: float) -> Self:
        """Look every five seconds, each sensor saying the same anew."""
        for _ in range(round(seconds / 5.0)):
            self(**says)
        return self

    def fault(self, channel: Channel = "air_temp") -> FaultKind | None:
        return self.known.faults.get(channel)


def chamber_of(*channels: Channel, **response_s: float) -> Chamber:
    """Return the bench's chamber with other sensors; a thermometer of 120 s is compared as it is."""
    return replace(CHAMBER, channels=channels, response_s=response_s)


ALONE = chamber_of("air_temp", air_temp=120.0)
TWO = chamber_of("air_temp", "air_temp_2", air_temp=120.0, air_temp_2=120.0)
WITH_RH = chamber_of("air_temp", "rh", air_temp=120.0)


# The bare number.


@pytest.mark.parametrize("channel", ["rh", "rh_2"])
def test_a_humidity_may_be_what_a_thermometer_gives_for_its_troubles(channel: Channel) -> None:
    assert impossible(channel, 85.0, LIMITS) is None


@pytest.mark.parametrize(("value", "fault"), [(120.0, None), (120.1, "out_of_range"), (85.0, "power_on_value")])
def test_a_core_in_hot_meat_may_be_hotter_than_any_air(value: float, fault: FaultKind | None) -> None:
    assert impossible("core_temp", value, LIMITS) == fault


@pytest.mark.parametrize(("value", "fault"), [(-50.0, None), (-50.1, "out_of_range"), (60.1, "out_of_range")])
def test_an_evaporator_may_be_colder_than_any_air(value: float, fault: FaultKind | None) -> None:
    assert impossible("evaporator_temp", value, LIMITS) == fault


# Age and number.


def test_a_reading_is_lost_when_it_is_older_than_a_minute_and_not_at_a_minute_sharp() -> None:
    look = Look(ALONE)(air_temp=30.0)(60.0)
    assert look.fault() is None
    assert look.known.air_temp_c == 30.0
    look(0.1)
    assert look.fault() == "stale"
    assert look.known.air_temp_c is None
    assert look.known.good_air_taken_s == 1005.0
    assert look(1.0).fault() == "stale"  # It is no news when it is looked at once more.
    look(air_temp=30.0)
    assert look.fault() is None


def test_a_sensor_that_has_said_nothing_yet_is_not_good() -> None:
    known = Look(ALONE)().known
    assert known.faults == {"air_temp": "missing"}
    assert (known.air_temp_c, known.highest_c, known.highest_firm_c, known.spread_k) == (None, None, None, None)
    assert (known.good_air_taken_s, known.highest_firm_s, known.good_in_a_row) == (float("-inf"), float("-inf"), 0)


def test_the_last_good_humidity_is_known_by_its_instant() -> None:
    look = Look(WITH_RH)(air_temp=30.0)
    assert look.known.good_rh_taken_s == float("-inf")
    assert look(rh=84.0).known.good_rh_taken_s == look.now_s
    assert look(rh="checksum").known.good_rh_taken_s == look.now_s - 5.0


def test_a_reading_that_was_seen_before_counts_once() -> None:
    look = Look(ALONE)(air_temp=30.0)()
    assert look.known.good_in_a_row == 1
    assert look(air_temp=30.0).known.good_in_a_row == 2


def test_the_count_of_good_readings_goes_on_over_12_seconds_and_begins_anew_after_more() -> None:
    look = Look(ALONE)(air_temp=30.0)(12.0, air_temp=30.0)
    assert look.known.good_in_a_row == 2
    look(6.0, air_temp="checksum")
    assert look.known.good_in_a_row == 2
    assert look(6.0, air_temp=30.0).known.good_in_a_row == 3
    assert look(12.1, air_temp=30.0).known.good_in_a_row == 1


def test_a_bad_value_that_stays_in_sight_keeps_its_name_and_is_counted_once() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp=85.0)
    for _ in range(20):
        look()
    assert look.fault() == "power_on_value"
    assert look.known.damaged_of_100 == {"air_temp": 1}


def test_one_damaged_reading_is_remembered_for_the_next_99_looks() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp="checksum")
    for _ in range(99):
        assert look(air_temp=30.0).known.damaged_of_100 == {"air_temp": 1}
    assert look(air_temp=30.0).known.damaged_of_100 == {}


def test_a_look_at_a_missing_sensor_is_a_look_too_but_no_damage() -> None:
    look = Look(ALONE)(air_temp="missing")
    assert look.known.damaged_of_100 == {}
    look(air_temp="empty")
    for _ in range(99):
        assert look(air_temp="missing").known.damaged_of_100 == {"air_temp": 1}
    assert look().known.damaged_of_100 == {}


def test_the_damaged_ones_of_a_hundred_looks_are_added_up() -> None:
    look = Look(ALONE)
    for number in range(250):
        look(air_temp="checksum" if number % 4 == 3 else 30.0)
    assert look.known.damaged_of_100 == {"air_temp": 25}


# Jumps.


def test_five_kelvin_are_no_jump_and_a_hair_more_is_one_until_three_agree_within_a_kelvin() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp=35.0)
    assert look.fault() is None
    look(air_temp=40.0625)
    assert look.fault() == "jump"
    assert look.known.air_temp_c is None
    assert look.known.good_air_taken_s == 1010.0
    assert look(air_temp=41.0625).fault() == "jump"
    look(air_temp=40.5)
    assert look.fault() is None
    assert look.known.air_temp_c == 40.5
    assert look.known.good_in_a_row == 1


def test_values_after_a_jump_that_are_more_than_a_kelvin_apart_begin_the_count_anew() -> None:
    look = Look(ALONE)(air_temp=30.0)
    assert look(air_temp=40.0)(air_temp=40.0)(air_temp=41.1).fault() == "jump"
    assert look(air_temp=41.1).fault() == "jump"
    assert look(air_temp=41.1).fault() is None


def test_one_wrong_value_between_good_ones_changes_nothing() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp=30.0)(air_temp=50.0)(air_temp=30.0)
    assert look.fault() is None
    assert look.known.good_in_a_row == 3
    assert look(air_temp=50.0)(air_temp=50.0).fault() == "jump"  # The first 50.0 is forgotten.


def test_one_value_after_a_jump_that_stays_in_sight_is_no_new_level() -> None:
    assert Look(ALONE)(air_temp=30.0)(air_temp=50.0)()()().fault() == "jump"


def test_a_minute_after_the_last_good_reading_another_level_is_no_jump() -> None:
    assert Look(ALONE)(air_temp=30.0)(60.0, air_temp=36.0).fault() == "jump"
    assert Look(chamber_of("core_temp"))(core_temp=30.0)(60.0, core_temp=36.0).fault("core_temp") == "jump"
    assert Look(chamber_of("core_temp"))(core_temp=30.0)(60.1, core_temp=36.0).fault("core_temp") is None
    assert Look(ALONE)(air_temp=30.0)(60.1, air_temp=36.0).fault() == "rate"  # It is too fast for air all the same.


def test_one_that_has_leapt_is_asked_for_three_that_agree_however_long_it_takes() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp=50.0)
    assert look(100.0, air_temp=40.0).fault() == "jump"


def test_a_new_level_forgets_the_old_one_and_what_was_wrong_with_it() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp="checksum")
    for _ in range(2):
        assert look(air_temp=40.0).known.damaged_of_100 == {"air_temp": 1}
    look(air_temp=40.0)
    assert look.fault() is None
    assert look.known.slowed_c == {"air_temp": 40.0}
    assert look.known.damaged_of_100 == {}
    assert look(60.0, air_temp=42.0).fault() is None  # Two kelvin in a minute, from the new level on.


def test_a_run_of_damaged_readings_that_was_a_loss_of_its_own_is_in_no_share_afterwards() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp="checksum")(air_temp="checksum")(7.5, air_temp=30.0)
    assert look.known.damaged_of_100 == {"air_temp": 2}
    look = Look(ALONE)(air_temp=30.0)(air_temp="checksum")(air_temp="checksum")(7.6, air_temp=30.0)
    assert look.known.damaged_of_100 == {}
    quick = replace(ALONE, tick_s=1.0)  # Sensors are read no more often than every 2.5 s.
    assert Look(quick)(air_temp=30.0)(4.0, air_temp="checksum")(4.75, air_temp=30.0).known.damaged_of_100 != {}
    assert Look(quick)(air_temp=30.0)(4.0, air_temp="checksum")(4.85, air_temp=30.0).known.damaged_of_100 == {}
    patient = replace(ALONE, thresholds=replace(CHAMBER.thresholds, damaged_in_a_row=4))
    assert Look(patient)(air_temp=30.0)(air_temp="checksum")(17.5, air_temp=30.0).known.damaged_of_100 != {}
    assert Look(patient)(air_temp=30.0)(air_temp="checksum")(17.6, air_temp=30.0).known.damaged_of_100 == {}


def test_a_jump_cuts_by_the_highest_but_not_by_the_firm_one() -> None:
    look = Look(ALONE)(air_temp=30.0)(air_temp=50.0)
    assert (look.known.highest_c, look.known.highest_firm_c, look.known.highest_firm_s) == (50.0, 30.0, 1005.0)


@pytest.mark.parametrize(("value", "fault"), [(65.0, None), (64.9, "jump")])
def test_a_humidity_leaps_by_more_than_20_in_30_seconds(value: float, fault: FaultKind | None) -> None:
    assert Look(WITH_RH)(air_temp=30.0, rh=85.0)(30.0, air_temp=30.0, rh=value).fault("rh") == fault
    assert Look(WITH_RH)(air_temp=30.0, rh=85.0)(30.1, air_temp=30.0, rh=value).fault("rh") is None


def test_a_humidity_that_has_leapt_is_believed_when_three_agree_within_five() -> None:
    look = Look(WITH_RH)(air_temp=30.0, rh=85.0)(rh=60.0)(rh=54.9)(40.0, rh=54.9)
    assert look.fault("rh") == "jump"
    look = Look(WITH_RH)(air_temp=30.0, rh=85.0)(rh=60.0)(rh=55.0)(40.0, rh=60.0)
    assert look.fault("rh") is None
    assert look.known.rh_pct == 60.0


def test_with_an_open_door_a_humidity_may_leap() -> None:
    chamber = chamber_of("air_temp", "rh", "door")
    shut = Look(chamber)(air_temp=30.0, rh=85.0, door=0.0)(rh=50.0, door=0.0)
    assert shut.fault("rh") == "jump"
    open_ = Look(chamber)(air_temp=30.0, rh=85.0, door=0.0)(rh=50.0, door=1.0)
    assert open_.fault("rh") is None


# How fast air can be.


@pytest.mark.parametrize(
    ("to_c", "fault"), [(32.0, None), (32.0625, "rate"), (28.0, None), (27.9375, "rate"), (30.0, None)]
)
def test_two_kelvin_in_a_minute_are_believed_and_more_is_not(to_c: float, fault: FaultKind | None) -> None:
    look = Look(ALONE)(air_temp=30.0)(60.0, air_temp=to_c)
    assert look.fault() == fault
    assert look.known.highest_c == to_c
    is_good = fault is None
    assert look.known.air_temp_c == (to_c if is_good else None)
    assert look.known.good_air_taken_s == (look.now_s if is_good else look.now_s - 60.0)


def test_what_is_too_fast_renews_nothing_and_counts_for_no_good_reading() -> None:
    look = Look(ALONE)(air_temp=30.0).during(55.0, air_temp=30.0)
    assert look.known.good_in_a_row == 12
    look(air_temp=34.0)(air_temp=34.0)
    assert look.fault() == "rate"
    assert look.known.good_in_a_row == 12
    assert look.known.good_air_taken_s == look.now_s - 10.0


def test_where_less_than_a_kelvin_in_a_minute_is_allowed_more_is_too_fast_from_the_first_minute_on() -> None:
    slow = replace(ALONE, limits=replace(LIMITS, rate_k_per_min=0.5), figures=replace(CHAMBER.figures, heater_w=0.0))
    look = Look(slow)(air_temp=30.0)
    assert look.fault() is None
    assert look(60.0, air_temp=30.5).fault() is None
    assert look(60.0, air_temp=31.125).fault() == "rate"
    two = replace(slow, channels=TWO.channels, response_s=TWO.response_s)
    assert Look(two)(air_temp=30.0, air_temp_2=30.0)(60.0, air_temp=30.625, air_temp_2=30.0).fault() == "rate"


@pytest.mark.parametrize(("other_c", "fault"), [(28.5, None), (28.5625, "rate"), (30.0, "rate"), (31.5, "rate")])
def test_a_fast_fall_is_believed_where_another_thermometer_falls_at_least_half_as_fast(
    other_c: float, fault: FaultKind | None
) -> None:
    look = Look(TWO)(air_temp=30.0, air_temp_2=30.0)(60.0, air_temp=27.0, air_temp_2=other_c)
    assert look(air_temp=27.0, air_temp_2=other_c).fault() == fault  # The others are looked at as they were last.


def test_a_fall_of_one_alone_is_no_excuse_for_itself() -> None:
    assert Look(ALONE)(air_temp=30.0)(60.0, air_temp=27.0)(air_temp=27.0).fault() == "rate"


def test_two_that_fall_too_fast_together_are_believed_and_two_that_rise_are_not() -> None:
    look = Look(TWO)(air_temp=30.0, air_temp_2=30.0)(60.0, air_temp=27.0, air_temp_2=27.0)
    assert look(air_temp=27.0, air_temp_2=27.0).known.faults == {}
    look = Look(TWO)(air_temp=30.0, air_temp_2=30.0)(60.0, air_temp=33.0, air_temp_2=33.0)
    assert look(air_temp=33.0, air_temp_2=33.0).known.faults == {"air_temp": "rate", "air_temp_2": "rate"}


COLDER_THAN_ITS_ROOM = replace(TWO, room_c=(15.0, 24.0))


@pytest.mark.parametrize(
    ("other_c", "fault"), [(12.0, "rate"), (13.4375, "rate"), (13.5, None), (15.0, None), (9.0, "rate")]
)
def test_a_fast_rise_up_to_the_warmest_room_is_believed_where_another_rises_at_least_half_as_fast(
    other_c: float, fault: FaultKind | None
) -> None:
    look = Look(COLDER_THAN_ITS_ROOM)(air_temp=12.0, air_temp_2=12.0)(60.0, air_temp=15.0, air_temp_2=other_c)
    assert look(air_temp=15.0, air_temp_2=other_c).fault() == fault


@pytest.mark.parametrize(("to_c", "fault"), [(24.0, None), (24.0625, "rate")])
def test_the_warmest_room_itself_may_come_in_and_nothing_warmer(to_c: float, fault: FaultKind | None) -> None:
    look = Look(COLDER_THAN_ITS_ROOM)(air_temp=21.0, air_temp_2=21.0)(60.0, air_temp=to_c, air_temp_2=to_c)
    assert look(air_temp=to_c, air_temp_2=to_c).fault() == fault


@pytest.mark.parametrize(
    ("room_c", "other_c", "fault"), [(24.0, 12.5, None), (24.0, 11.5, "rate"), (10.0, 12.5, "rate")]
)
def test_a_rise_of_less_than_a_kelvin_that_is_too_fast_for_its_chamber_is_asked_for_the_same(
    room_c: float, other_c: float, fault: FaultKind | None
) -> None:
    slow = replace(TWO, limits=replace(LIMITS, rate_k_per_min=0.5), figures=replace(CHAMBER.figures, heater_w=0.0))
    look = Look(replace(slow, room_c=(5.0, room_c)))(air_temp=12.0, air_temp_2=12.0)
    look(60.0, air_temp=12.75, air_temp_2=other_c)
    assert look(air_temp=12.75, air_temp_2=other_c).fault() == fault


def test_two_that_part_too_fast_are_no_witnesses_of_each_other() -> None:
    """What the other showed when it was last believed lies on the way that this one goes."""
    look = Look(COLDER_THAN_ITS_ROOM)(air_temp=12.0, air_temp_2=12.0)(60.0, air_temp=15.0, air_temp_2=9.0)
    for _ in range(3):
        assert look(air_temp=15.0, air_temp_2=9.0).known.faults == {"air_temp": "rate", "air_temp_2": "rate"}


def test_one_that_stands_still_is_no_witness_of_a_rise() -> None:
    look = Look(COLDER_THAN_ITS_ROOM)(air_temp=12.0, air_temp_2=12.0)(30.0, air_temp_2=12.0)
    assert look(30.0, air_temp=15.0)(air_temp=15.0).fault() == "rate"


@pytest.mark.parametrize(("raw_c", "fault"), [(14.5, "rate"), (15.0, None)])
def test_a_quick_one_is_a_witness_by_what_it_shows_before_it_is_slowed(raw_c: float, fault: FaultKind | None) -> None:
    """It lifts its slowed value by 1.25 K of the 3 K in this minute, and is 1.75 K ahead of that."""
    quick = replace(chamber_of("air_temp", "rh_temp", air_temp=120.0, rh_temp=8.0), room_c=(15.0, 24.0))
    look = Look(quick)(air_temp=12.0, rh_temp=12.0)(60.0, air_temp=15.0, rh_temp=raw_c)
    assert look(air_temp=15.0).fault() == fault


def test_one_that_is_damaged_is_no_witness_of_a_fall() -> None:
    look = Look(TWO)(air_temp=30.0, air_temp_2=30.0)(60.0, air_temp=27.0, air_temp_2="checksum")
    assert look(air_temp=27.0, air_temp_2=28.0).fault() == "rate"
    assert look(air_temp=27.0, air_temp_2=28.0).fault() is None, "now it has seen it, too"


@pytest.mark.parametrize(("to_c", "fault"), [(34.5, None), (34.5625, "rate"), (25.5, None), (25.4375, "rate")])
def test_a_strong_lamp_may_do_half_as_much_again_as_its_figures_say_and_the_air_falls_as_fast_when_it_goes_off(
    to_c: float, fault: FaultKind | None
) -> None:
    strong = replace(CHAMBER.figures, heater_w=200.0, air_j_per_k=400.0, wall_j_per_k=3600.0)  # 3 K a minute.
    assert Look(replace(ALONE, figures=strong))(air_temp=30.0)(60.0, air_temp=to_c).fault() == fault


def test_the_rate_is_taken_over_a_minute_or_more_and_holds_until_the_next() -> None:
    look = Look(ALONE)(air_temp=30.0)(30.0, air_temp=33.0)
    assert look.fault() is None
    look(30.0, air_temp=33.0)
    assert look.fault() == "rate"
    assert look(air_temp=33.0).fault() == "rate"
    assert look(40.0, air_temp=33.0).fault() == "rate"
    assert look(15.0, air_temp=33.0).fault() is None


def test_over_two_minutes_twice_as_much_is_believed() -> None:
    assert Look(ALONE)(air_temp=30.0)(120.0, air_temp=34.0).fault() is None
    assert Look(ALONE)(air_temp=30.0)(120.0, air_temp=34.0625).fault() == "rate"


def test_damaged_readings_hide_no_rate() -> None:
    look = Look(ALONE)(air_temp=30.0)(30.0, air_temp="checksum")(30.0, air_temp=33.0)
    assert look.fault() == "rate"
    assert look(air_temp="checksum")(air_temp=33.0).fault() == "rate"


def test_with_an_open_door_air_may_be_as_fast_as_it_likes() -> None:
    look = Look(chamber_of("air_temp", "door", air_temp=120.0))(air_temp=30.0, door=1.0)
    look(60.0, air_temp=26.0, door=1.0)
    assert look.fault() is None
    assert look.known.door_open
    assert look(air_temp=26.0, door=0.0).fault() is None, "it was shut just now"
    assert not look.known.door_open
    look.during(170.0, air_temp=26.0, door=0.0)
    assert look(60.0, air_temp=22.0, door=0.0).fault() == "rate", "three minutes later it is not excused any more"


@pytest.mark.parametrize(("seconds", "fault"), [(180.0, None), (180.1, "rate")])
def test_a_chamber_is_excused_for_three_minutes_sharp_after_it_was_shut(
    seconds: float, fault: FaultKind | None
) -> None:
    look = Look(chamber_of("air_temp", "door", air_temp=120.0))(air_temp=30.0, door=1.0)
    look(seconds - 60.0, air_temp=30.0, door=0.0)
    assert look(60.0, air_temp=26.0, door=0.0).fault() == fault


def test_a_chamber_without_a_contact_is_excused_while_its_door_seems_to_be_open_and_no_longer() -> None:
    look = fell(2.0, 2.0, chamber=replace(CHAMBER, channels=("air_temp", "rh", "rh_temp")))
    look(120.0, air_temp=30.0, rh=83.0, rh_temp=28.0)
    assert look(60.0, air_temp=26.0, rh=83.0, rh_temp=28.0).fault() is None
    assert look(60.0, air_temp=22.0, rh=83.0, rh_temp=28.0).fault() == "rate"


def test_what_is_no_witness_of_the_air_may_be_as_fast_as_it_likes() -> None:
    look = Look(chamber_of("core_temp", core_temp=120.0))(core_temp=30.0)(60.0, core_temp=34.0)
    assert look.known.core_temp_c == 34.0
    assert look.known.slowed_c == {}


# Fast and slow probes.


def test_a_fast_probe_is_slowed_to_120_seconds_or_to_the_slowest() -> None:
    for slowest_s, others in ((120.0, {}), (120.0, {"air_temp": 60.0}), (300.0, {"air_temp": 300.0})):
        look = Look(chamber_of("air_temp", "rh_temp", rh_temp=8.0, **others))(air_temp=30.0, rh_temp=30.0)
        look(10.0, rh_temp=34.0)
        slowed_c = 30.0 + 4.0 * (1.0 - exp(-10.0 / (slowest_s - 8.0)))
        assert look.known.slowed_c["rh_temp"] == pytest.approx(slowed_c, abs=1e-9)
        assert look.known.rh_temp_c == 34.0


def test_a_probe_half_a_second_faster_than_the_slowest_is_slowed_by_as_much() -> None:
    look = Look(chamber_of("air_temp", air_temp=119.5))(air_temp=30.0)(0.5, air_temp=31.0)
    assert look.known.slowed_c["air_temp"] == pytest.approx(31.0 - exp(-1.0), abs=1e-9)


def test_a_probe_of_which_no_response_is_known_is_taken_as_it_is() -> None:
    assert Look(chamber_of("air_temp"))(air_temp=30.0)(air_temp=31.0).known.slowed_c == {"air_temp": 31.0}


def test_damaged_readings_let_a_probe_be_no_faster_than_it_is() -> None:
    look = Look(chamber_of("rh_temp", rh_temp=20.0))(rh_temp=30.0)
    look(5.0, rh_temp="checksum")(5.0, rh_temp=34.0)
    assert look.known.slowed_c["rh_temp"] == pytest.approx(34.0 - 4.0 * exp(-0.1), abs=1e-9)
    look(5.0, rh_temp=float("nan"))(5.0, rh_temp=34.0)
    assert look.known.slowed_c["rh_temp"] == pytest.approx(34.0 - 4.0 * exp(-0.1) * exp(-0.05), abs=1e-9)


# Witnesses.


def test_the_spread_is_that_of_the_witnesses_that_count_and_one_alone_has_none() -> None:
    three = chamber_of("air_temp", "air_temp_2", "rh_temp", "core_temp", air_temp=120.0)
    look = Look(three)(air_temp=30.0, air_temp_2=31.0, rh_temp=32.5, core_temp=10.0)
    assert look.known.spread_k == 2.5
    assert look(rh_temp="missing").known.spread_k == 1.0
    assert look(air_temp_2=61.0).known.spread_k is None
    assert look(air_temp="checksum").known.slowed_c == {}


def test_one_that_jumped_or_was_too_fast_still_disagrees_with_the_others() -> None:
    look = Look(TWO)(air_temp=30.0, air_temp_2=30.0)(air_temp=36.0)
    assert look.fault() == "jump"
    assert look.known.spread_k == 0.0  # What it jumped to is not believed.
    look = Look(TWO)(air_temp=30.0, air_temp_2=30.0)(60.0, air_temp=34.0, air_temp_2=30.0)
    assert look.fault() == "rate"
    assert look.known.spread_k == 4.0


def test_the_highest_is_of_any_witness_also_of_one_beyond_its_range() -> None:
    look = Look(chamber_of("air_temp", "air_temp_2", "core_temp"))(air_temp=30.0, air_temp_2=70.0, core_temp=90.0)
    assert look.fault("air_temp_2") == "out_of_range"
    assert (look.known.highest_c, look.known.highest_firm_c) == (70.0, 70.0)
    assert look(air_temp=71.0).known.highest_c == 71.0


@pytest.mark.parametrize(
    ("value", "highest_c"),
    [(120.0, 120.0), (120.5, 30.0), (85.0, 30.0), (127.9375, 30.0), (float("nan"), 30.0), (float("inf"), 30.0)],
)
def test_what_cannot_be_a_temperature_is_no_highest_one(value: float, highest_c: float) -> None:
    assert Look(TWO)(air_temp=30.0, air_temp_2=value).known.highest_c == highest_c
    # What only a broken sensor shows hides nothing that was seen before.
    assert Look(TWO)(air_temp=30.0, air_temp_2=44.0)(air_temp_2=value).known.highest_c == max(44.0, highest_c)


def test_a_hot_witness_that_falls_silent_stays_in_sight_for_a_minute_sharp() -> None:
    look = Look(TWO)(air_temp=30.0, air_temp_2=46.0)(air_temp_2="checksum")
    look(55.0, air_temp=30.0)
    assert (look.known.highest_c, look.known.highest_firm_c, look.known.highest_firm_s) == (46.0, 46.0, 1005.0)
    look(0.1, air_temp=30.0)
    assert (look.known.highest_c, look.known.highest_firm_c) == (30.0, 30.0)
    assert look.known.highest_firm_s == look.now_s


# Numbers that stand still.


def still(chamber: Chamber, seconds: float, **says: float) -> Look:
    """Look at sensors that say the very same for so long, the first look not counted."""
    return Look(chamber)(**says).during(seconds, **says)


def test_a_number_is_frozen_after_half_an_hour_sharp_while_another_moved_by_half_a_kelvin() -> None:
    look = still(TWO, 600.0, air_temp=36.0, air_temp_2=36.0).during(1195.0, air_temp=36.0, air_temp_2=36.5)
    assert look.fault() is None
    look(air_temp=36.0, air_temp_2=36.5)
    assert look.fault() == "frozen"
    assert look.known.air_temp_c is None
    assert "air_temp" not in look.known.slowed_c
    assert look.fault("air_temp_2") is None
    # It stays so while the number does, whatever the other shows, and no longer.
    assert look.during(300.0, air_temp=36.0, air_temp_2=36.0).fault() == "frozen"
    assert look(air_temp=36.0625, air_temp_2=36.0).fault() is None


def test_it_is_frozen_too_where_the_other_fell() -> None:
    look = still(TWO, 600.0, air_temp=36.0, air_temp_2=36.0).during(1200.0, air_temp=36.0, air_temp_2=35.5)
    assert look.fault() == "frozen"


def test_it_is_frozen_too_where_the_other_moved_for_a_moment_only_as_at_an_open_lid() -> None:
    look = still(TWO, 600.0, air_temp=36.0, air_temp_2=36.0).during(10.0, air_temp=36.0, air_temp_2=35.5)
    look(air_temp="checksum", air_temp_2=36.0).during(1180.0, air_temp=36.0, air_temp_2=36.0)
    assert look.fault() is None
    assert look(air_temp=36.0, air_temp_2=36.0).fault() == "frozen"


def test_what_moved_beside_an_older_number_is_forgotten_with_it() -> None:
    look = still(TWO, 600.0, air_temp=36.0, air_temp_2=36.0).during(10.0, air_temp=36.0, air_temp_2=35.5)
    look(air_temp=36.0625, air_temp_2=36.0).during(3600.0, air_temp=36.0625, air_temp_2=36.0)
    assert look.fault() is None


def test_it_is_not_frozen_while_the_other_moved_by_less() -> None:
    look = still(TWO, 600.0, air_temp=36.0, air_temp_2=36.0).during(1800.0, air_temp=36.0, air_temp_2=36.4375)
    assert look.fault() is None


def test_two_that_stand_still_a_kelvin_apart_are_not_frozen() -> None:
    look = still(TWO, 3600.0, air_temp=36.0, air_temp_2=37.0)
    assert look.known.faults == {}


def test_one_alone_is_never_frozen_and_a_faulty_other_is_no_measure() -> None:
    assert still(ALONE, 3600.0, air_temp=36.0).known.faults == {}
    look = Look(TWO)(air_temp=36.0, air_temp_2="missing").during(900.0, air_temp=36.0)
    assert look.during(900.0, air_temp=36.0, air_temp_2=37.0).fault() is None


def test_damaged_readings_between_do_not_begin_the_half_hour_anew() -> None:
    look = still(TWO, 600.0, air_temp=36.0, air_temp_2=36.0)
    look(air_temp="checksum", air_temp_2=36.5).during(1190.0, air_temp=36.0, air_temp_2=36.5)
    assert look.fault() is None
    assert look(air_temp=36.0, air_temp_2=36.5).fault() == "frozen"
    assert look(air_temp="checksum", air_temp_2=36.5).fault() == "checksum"


def test_a_number_that_moved_once_has_a_half_hour_of_its_own() -> None:
    look = still(TWO, 1795.0, air_temp=36.0, air_temp_2=36.0)(air_temp=36.0625, air_temp_2=36.0)
    assert look.during(1795.0, air_temp=36.0625, air_temp_2=36.5).fault() is None
    assert look(air_temp=36.0625, air_temp_2=36.5).fault() == "frozen"


@pytest.mark.parametrize(("rh", "fault"), [(84.0, "frozen"), (98.9, "frozen"), (99.0, None)])
def test_a_humidity_is_frozen_after_an_hour_sharp_unless_it_is_saturated(rh: float, fault: FaultKind | None) -> None:
    look = still(WITH_RH, 600.0, air_temp=36.0, rh=rh).during(2995.0, air_temp=36.5, rh=rh)
    assert look.fault("rh") is None
    assert look(air_temp=36.5, rh=rh).fault("rh") == fault


def test_the_humidity_sensors_own_temperature_says_nothing_of_its_humidity() -> None:
    look = still(chamber_of("rh", "rh_temp"), 600.0, rh=84.0, rh_temp=36.0)
    assert look.during(3600.0, rh=84.0, rh_temp=38.0).fault("rh") is None


def test_what_is_no_witness_is_never_frozen() -> None:
    chamber = chamber_of("air_temp", "core_temp", "rh_2", "ambient_temp")
    look = still(chamber, 600.0, air_temp=36.0, core_temp=30.0, rh_2=84.0, ambient_temp=20.0)
    look.during(7200.0, air_temp=38.0, core_temp=30.0, rh_2=84.0, ambient_temp=20.0)
    assert set(look.known.faults) <= {"air_temp"}


# The door.

BESIDE = chamber_of("air_temp", "rh", "rh_temp", "door")


def fell(k: float, pct: float, seconds: float = 30.0, chamber: Chamber = CHAMBER) -> Look:
    """Look at humidity and temperature of the fast sensor that fell by so much in so long."""
    look = Look(chamber)(air_temp=30.0, rh=85.0, rh_temp=30.0)
    return look(seconds, air_temp=30.0, rh=85.0 - pct, rh_temp=30.0 - k)


@pytest.mark.parametrize(
    ("k", "pct", "seconds", "is_open"),
    [
        (1.5, 2.0, 30.0, False),
        (1.625, 1.5, 30.0, False),
        (1.625, 1.625, 30.0, True),
        (1.625, -1.625, 30.0, True),  # Outside it may be wetter.
        (-1.625, 1.625, 30.0, False),  # Warm air comes from no cool room.
        (4.0, 4.0, 29.9, False),
        (3.0, 4.0, 60.0, False),
        (3.125, 3.125, 60.0, True),
        (9.0, 9.0, 119.9, True),
        (9.0, 9.0, 120.0, False),
    ],
)
def test_a_door_without_a_contact_is_open_where_both_change_by_more_than_3_in_a_minute(
    k: float, pct: float, seconds: float, *, is_open: bool
) -> None:
    assert fell(k, pct, seconds).known.door_open is is_open


def test_a_door_that_was_seen_open_counts_as_open_for_three_minutes_sharp() -> None:
    look = fell(2.0, 2.0)
    look(29.0, rh=83.0, rh_temp=28.0)
    assert look.known.door_open
    look(151.0, rh=83.0, rh_temp=28.0)
    assert look.known.door_open
    assert not look(0.1, rh=83.0, rh_temp=28.0).known.door_open


def test_a_look_that_comes_too_soon_for_a_new_measure_holds_to_the_three_minutes_too() -> None:
    look = fell(2.0, 2.0)(160.0, rh=83.0, rh_temp=28.0)
    assert look(20.0, rh=83.0, rh_temp=28.0).known.door_open
    assert not look(0.1, rh=83.0, rh_temp=28.0).known.door_open


def test_it_is_remembered_too_while_the_humidity_sensor_says_nothing() -> None:
    look = fell(2.0, 2.0)(180.0, rh="missing", rh_temp="missing")
    assert look.known.door_open
    assert not look(0.1).known.door_open


def test_a_fall_is_measured_anew_from_each_look_of_half_a_minute() -> None:
    look = Look()(air_temp=30.0, rh=85.0, rh_temp=30.0)
    for number in range(1, 9):  # 2.5 K and 2.5 % a minute: slowly cooling, whatever it adds up to.
        look(30.0, air_temp=30.0, rh=85.0 - 1.25 * number, rh_temp=30.0 - 1.25 * number)
        assert not look.known.door_open


def test_what_a_contact_says_goes_before_what_the_air_says() -> None:
    look = Look(BESIDE)(air_temp=30.0, rh=85.0, rh_temp=30.0, door=0.0)
    assert not look(30.0, rh=80.0, rh_temp=25.0, door=0.0).known.door_open
    assert look(door=1.0).known.door_open
    assert look.known.contacts == {"door": True}
    assert not look(door=0.5).known.door_open


def test_a_contact_that_gave_its_word_long_ago_is_asked_no_longer_but_the_air_is() -> None:
    look = Look(BESIDE)(air_temp=30.0, rh=85.0, rh_temp=30.0, door=1.0)
    assert look(12.0).known.door_open
    assert not look(0.1, rh=85.0, rh_temp=30.0).known.door_open
    assert look(31.0, rh=80.0, rh_temp=25.0).known.door_open


# Contacts.

SWITCHES = chamber_of("air_temp", *CONTACTS, "core_temp")


def test_contacts_are_there_or_not_and_half_is_not() -> None:
    look = Look(SWITCHES)(air_temp=30.0, core_temp=20.0, **dict.fromkeys(CONTACTS, 0.0))
    look(heater_live=1.0, cutout=0.5, fan_turns=0.51)
    want = dict.fromkeys(CONTACTS, False) | {"heater_live": True, "fan_turns": True}
    assert look.known.contacts == want
    assert look.known.faults == {}
    assert look.known.core_temp_c == 20.0


def test_a_contact_that_is_silent_says_neither_yes_nor_no_and_hides_nothing_behind_it() -> None:
    look = Look(SWITCHES)(air_temp=30.0, core_temp=20.0, **dict.fromkeys(CONTACTS, 1.0))
    look(12.0, air_temp=30.0, core_temp=20.0)
    assert len(look.known.contacts) == len(CONTACTS)
    look(0.1, air_temp=30.0, core_temp=20.0, cutout=None, fan_turns="bus_error")
    assert look.known.contacts == {}
    told = dict.fromkeys(CONTACTS, "stale") | {"cutout": "missing", "fan_turns": "bus_error"}
    assert look.known.faults == told
    assert look.known.core_temp_c == 20.0
    assert look(**dict.fromkeys(CONTACTS, 1.0)).known.faults == {}


def test_since_when_a_contact_is_silent_is_remembered_until_it_speaks() -> None:
    look = Look(SWITCHES)(air_temp=30.0, core_temp=20.0, **dict.fromkeys(CONTACTS, 1.0))
    look(air_temp=30.0, door="missing")
    silent_s = look.now_s
    look(100.0, air_temp=30.0)
    good = look.memory.channels["door"].good
    assert good is not None
    assert good.taken_s == silent_s
    assert "door" not in look(door=1.0).memory.channels


# What is known.


def test_every_good_sensor_is_known_by_its_own_name_and_a_faulty_one_is_not() -> None:
    says: dict[str, float] = {
        "air_temp": 30.0, "air_temp_2": 30.5, "rh": 80.0, "rh_temp": 31.0, "rh_2": 82.0, "core_temp": 20.0,
        "ambient_temp": 18.0, "evaporator_temp": 5.0,
    }  # fmt: skip
    every = chamber_of(
        "air_temp", "air_temp_2", "rh", "rh_temp", "rh_2", "core_temp", "ambient_temp", "evaporator_temp"
    )
    known = Look(every)(**says).known
    assert (known.air_temp_c, known.rh_pct, known.rh_temp_c, known.rh_2_pct) == (30.0, 80.0, 31.0, 82.0)
    assert (known.core_temp_c, known.ambient_temp_c, known.evaporator_temp_c) == (20.0, 18.0, 5.0)
    assert known.pressure_pa == vapour_pressure_pa(31.0, 80.0)
    assert known.highest_firm_s == known.good_air_taken_s == 1005.0
    assert known.faults == {}
    assert not known.door_open
    gone: dict[str, FaultKind] = dict.fromkeys(says, "missing")
    lost = Look(every)(**says)(**gone).known
    assert (lost.air_temp_c, lost.rh_pct, lost.rh_temp_c, lost.rh_2_pct, lost.pressure_pa) == (None,) * 5
    assert (lost.core_temp_c, lost.ambient_temp_c, lost.evaporator_temp_c) == (None, None, None)
    assert lost.good_air_taken_s == 1005.0
    assert lost.faults == gone


def test_the_vapour_is_reckoned_with_the_air_where_the_humidity_sensor_has_no_temperature() -> None:
    assert Look(WITH_RH)(air_temp=30.0, rh=80.0).known.pressure_pa == vapour_pressure_pa(30.0, 80.0)
    look = Look(CHAMBER)(air_temp=30.0, rh=80.0, rh_temp="missing")
    assert look.known.pressure_pa == vapour_pressure_pa(30.0, 80.0)
    assert Look(WITH_RH)(air_temp=30.0, rh="missing").known.pressure_pa is None
    bare = Look(chamber_of("rh"))(rh=80.0).known
    assert bare.pressure_pa is None
    assert (bare.good_in_a_row, bare.good_air_taken_s) == (0, float("-inf"))


# The evaporator.


@pytest.mark.parametrize(("value_c", "fault"), [(-25.0, None), (-50.0, None), (-50.1, "out_of_range")])
def test_an_evaporator_may_be_as_cold_as_one_is(value_c: float, fault: str | None) -> None:
    look = Look(chamber_of("air_temp", "evaporator_temp"))(air_temp=13.0, evaporator_temp=value_c)
    assert look.known.faults.get("evaporator_temp") == fault


# Air that falls, and a sensor that seems to.


def fallen(air_k: float, rh_temp_k: float) -> Look:
    """Return a look after a minute in which both have fallen by so much, the door shut."""
    look = Look(chamber_of("air_temp", "rh_temp", "door", air_temp=120.0, rh_temp=120.0))
    look.during(300.0, air_temp=36.0, rh_temp=36.0, door=0.0)
    for count in range(1, 25):  # Two minutes, five seconds each.
        share = count / 12.0
        look(5.0, air_temp=36.0 - air_k * share, rh_temp=36.0 - rh_temp_k * share, door=0.0)
    return look


def test_a_puff_that_the_quick_thermometer_shows_is_the_air_though_it_is_slowed_to_a_slower_probe_than_there_is() -> (
    None
):
    """The file says 120 s of a probe of 50 s: both are judged as if they were slow, and only one of them is."""
    look = Look(chamber_of("air_temp", "rh_temp", "door", air_temp=120.0, rh_temp=8.0))
    look.during(300.0, air_temp=36.0, rh_temp=36.0, door=0.0)
    for count in range(1, 25):  # The puff is over after a minute, and the quick one is the first to come back.
        air_c = 36.0 - 2.8 * min(count / 12.0, 1.0)
        quick_c = 36.0 - 4.0 * min(count / 3.0, 1.0) if count <= 13 else 35.5
        look(5.0, air_temp=air_c, rh_temp=quick_c, door=0.0)
        assert look.known.faults == {}
    alone = Look(chamber_of("air_temp", "rh_temp", "door", air_temp=120.0, rh_temp=8.0))
    alone.during(300.0, air_temp=36.0, rh_temp=36.0, door=0.0)
    for count in range(1, 15):
        alone(5.0, air_temp=36.0 - 2.8 * count / 12.0, rh_temp=36.0, door=0.0)
    assert alone.known.faults == {"air_temp": "rate"}


@pytest.mark.parametrize(
    ("air_k", "rh_temp_k", "fault"),
    [(2.5, 0.0, "rate"), (2.5, 1.0, "rate"), (2.5, 1.6, None), (2.5, 4.0, None), (1.5, 0.0, None)],
)
def test_what_another_thermometer_shows_too_is_the_air(air_k: float, rh_temp_k: float, fault: str | None) -> None:
    assert fallen(air_k, rh_temp_k).known.faults.get("air_temp") == fault


def test_what_rises_together_is_no_excuse() -> None:
    assert fallen(-4.0, -4.0).known.faults.get("air_temp") == "rate"


def went(look: Look, k_per_min: float) -> Look:
    """Let both thermometers go so fast for two minutes."""
    start_c = look.known.air_temp_c or 0.0
    for number in range(1, 25):
        c = start_c + k_per_min * number / 12.0
        look(air_temp=c, air_temp_2=c)
    return look


@pytest.mark.parametrize(("start_c", "fault"), [(13.0, None), (24.0, "rate")])
def test_two_that_rise_together_are_air_of_the_room_and_beyond_the_warmest_room_something_burns(
    start_c: float, fault: FaultKind | None
) -> None:
    quick = replace(TWO, figures=replace(CHAMBER.figures, wall_j_per_k=9000.0))
    look = went(Look(quick).during(120.0, air_temp=start_c, air_temp_2=start_c), 2.6)
    assert (look.fault(), look.fault("air_temp_2")) == (fault, fault)
