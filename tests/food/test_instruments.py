"""Instruments judged by their fixed points, and the slips of the hand that are asked about."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from controller.food.checks.fixed_points import BOTTLES, buffer_ph
from controller.food.checks.instruments import (
    APART_PH,
    corrected_pct,
    judge_beside_c,
    judge_beside_pct,
    judge_buffers,
    judge_ice,
    judge_salt,
    nernst_slope_mv,
)


@pytest.mark.parametrize("temp_c", [0.0, 12.5, 20.0, 25.0, 30.0, 40.0])
def test_the_nernst_slope_is_that_of_the_constants_of_codata(temp_c: float) -> None:
    codata = (
        1000.0
        * constants.R
        * constants.convert_temperature(temp_c, "C", "K")
        * 2.302585092994046
        / (constants.value("Faraday constant"))
    )
    assert nernst_slope_mv(temp_c) == pytest.approx(codata, rel=1e-9)


def test_the_nernst_slope_at_25_degrees_is_the_59_16_mv_of_the_textbooks() -> None:
    assert nernst_slope_mv(25.0) == pytest.approx(59.16, abs=0.005)
    assert nernst_slope_mv(20.0) == pytest.approx(58.17, abs=0.005)


def test_an_ideal_electrode_has_a_slope_of_100_and_gives_nothing_at_ph_7() -> None:
    # At 25 °C the technical 7.00 and 4.00 have just these pH.
    said = judge_buffers([("7.00", 0.0), ("4.00", 3.0 * 59.159)], 25.0, in_mv=True)
    assert (said.slope_pct, said.offset_mv, said.verdict, said.ask) == (100.0, 0.0, "good", "")


@given(
    slope_pct=st.floats(90.0, 110.0),
    offset_mv=st.floats(-40.0, 40.0),
    temp_c=st.floats(5.0, 35.0),
    three=st.booleans(),
)
def test_slope_and_offset_of_any_electrode_are_found_again(
    slope_pct: float, offset_mv: float, temp_c: float, *, three: bool
) -> None:
    bottles = ["4.01", "6.86", "9.18"] if three else ["4.01", "6.86"]
    points = [
        (
            bottle,
            offset_mv - slope_pct / 100.0 * nernst_slope_mv(temp_c) * (buffer_ph(BOTTLES[bottle], temp_c).value - 7),
        )
        for bottle in bottles
    ]
    said = judge_buffers(points, temp_c, in_mv=True)
    assert said.slope_pct == pytest.approx(slope_pct, abs=0.051)
    assert said.offset_mv == pytest.approx(offset_mv, abs=0.051)
    assert (said.verdict == "good") == (95.0 <= said.slope_pct <= 105.0 and abs(said.offset_mv) <= 30.0)


def test_a_meter_that_shows_ph_is_judged_by_how_far_it_is_off_at_its_buffers() -> None:
    said = judge_buffers([("7.00", 7.03), ("4.01", 4.05)], 22.0)
    # At 22 °C: 7.012 and 4.004.
    assert said.true_ph == pytest.approx((7.012, 4.004))
    assert said.offset_ph == pytest.approx(-0.018)
    assert said.error_ph == pytest.approx(0.046 + 0.02)
    assert said.slope_pct == pytest.approx(100.0 * 2.98 / 3.008, abs=0.05)
    assert (said.verdict, said.ask) == ("good", "")


def test_a_worn_electrode_is_told_by_its_slope_and_a_poisoned_one_by_its_offset() -> None:
    assert judge_buffers([("7.00", 2.0), ("4.00", 155.0)], 25.0, in_mv=True).verdict == (
        "slope 86.2 %, wanted 95 to 105 %"
    )
    assert judge_buffers([("7.00", 38.0), ("4.00", 214.0)], 25.0, in_mv=True).verdict == (
        "+38 mV at pH 7, wanted within 30 mV"
    )


def test_swapped_buffers_are_asked_about() -> None:
    assert "look swapped" in judge_buffers([("7.00", 4.05), ("4.01", 7.03)], 22.0).ask
    assert "look swapped" in judge_buffers([("7.00", 176.0), ("4.01", 1.0)], 22.0, in_mv=True).ask


@pytest.mark.parametrize(
    ("named", "shown", "temp_c", "liquid"),
    [
        ("7.00", 6.88, 20.0, "6.86"),
        ("6.86", 7.02, 20.0, "7.00"),
        ("7.00", 6.91, 15.0, "6.86"),
        ("6.86", 7.04, 15.0, "7.00"),
    ],
)
def test_the_two_liquids_around_seven_are_told_apart_by_the_reading(
    named: str, shown: float, temp_c: float, liquid: str
) -> None:
    ask = judge_buffers([(named, shown), ("4.01", 4.01)], temp_c).ask
    assert f"fits the liquid {liquid} better than {named}" in ask


def electrode_mv(bottle: str, slope_pct: float, offset_mv: float) -> float:
    """Return what an electrode gives at 20 °C in the liquid of this bottle."""
    return offset_mv - slope_pct / 100.0 * nernst_slope_mv(20.0) * (buffer_ph(BOTTLES[bottle], 20.0).value - 7.0)


@pytest.mark.parametrize("offset_mv", [-6.0, 0.0, 6.0])
@pytest.mark.parametrize(
    ("named", "liquid", "slope_pct"),
    [("7.00", "6.86", slope) for slope in (96, 97, 98, 99, 100, 101)]
    + [("6.86", "7.00", slope) for slope in (99, 100, 101)],
)
def test_the_two_liquids_around_seven_are_told_apart_by_the_mv(
    named: str, liquid: str, slope_pct: float, offset_mv: float
) -> None:
    # The wrong liquid bends the slope by 4.6 %. A worn electrode of 98 % and less in 7.00 that is called 6.86 looks
    # like a new one in 6.86, so no mV of two buffers can tell.
    points = [(named, electrode_mv(liquid, slope_pct, offset_mv)), ("4.01", electrode_mv("4.01", slope_pct, offset_mv))]
    assert f"fits the liquid {liquid}" in judge_buffers(points, 20.0, in_mv=True).ask


@pytest.mark.parametrize("offset_mv", [-15.0, 0.0, 15.0])
@pytest.mark.parametrize("slope_pct", [98.0, 99.0, 100.0, 101.0, 102.0])
@pytest.mark.parametrize("bottle", ["7.00", "6.86"])
def test_a_sound_electrode_in_the_right_liquid_is_not_asked_about(
    bottle: str, slope_pct: float, offset_mv: float
) -> None:
    points = [(name, electrode_mv(name, slope_pct, offset_mv)) for name in (bottle, "4.01")]
    said = judge_buffers(points, 20.0, in_mv=True)
    assert (said.verdict, said.ask) == ("good", "")


def test_a_bottle_with_a_table_of_its_own_is_taken_by_what_that_says() -> None:
    said = judge_buffers([("7.01 (own)", 7.05), ("4.01", 4.02)], 22.0, own_ph={"7.01 (own)": 7.02})
    assert said.true_ph[0] == 7.02
    assert said.verdict == "good"


@pytest.mark.parametrize(
    ("points", "in_mv", "told"),
    [
        ([("7.00", 7.0)], False, "two buffers"),
        ([("7.00", 7.0), ("6.86", 6.9)], False, f"at least {APART_PH:g} pH apart"),
        ([("7.01", 7.0), ("4.01", 4.0)], False, "buffer 7.01: no such bottle is known; known are 1.68, 4.00"),
        ([("7.00", 7.0), ("4.01", 172.0)], False, "if these are mV, say --mv"),
        ([("7.00", 0.0), ("4.01", 1720.0)], True, "-450 to 450 mV"),
    ],
)
def test_what_no_meter_shows_is_refused(points: list[tuple[str, float]], told: str, *, in_mv: bool) -> None:
    with pytest.raises(ValueError, match=told):
        judge_buffers(points, 22.0, in_mv=in_mv)


def test_ph_typed_as_mv_is_asked_about() -> None:
    assert "look like pH" in judge_buffers([("7.00", 7.03), ("4.01", 4.05)], 22.0, in_mv=True).ask


def test_melting_ice_has_no_degrees() -> None:
    said = judge_ice(0.3)
    assert (said.offset, said.error, said.verdict, said.ask) == (-0.3, pytest.approx(0.4), "good", "")
    # FDA Food Code 4-203.11 and .12, from memory: ±1 °C for food, ±1.5 °C for air.
    assert judge_ice(1.2, "air").verdict == "good"
    assert judge_ice(1.2, "food").verdict == "off by +1.2 K, wanted within 1 K"
    assert judge_ice(-1.6).verdict == "off by -1.6 K, wanted within 1.5 K"


def test_thirty_two_degrees_of_fahrenheit_in_ice_are_not_taken_for_celsius() -> None:
    assert "Did you mean 32F?" in judge_ice(32.0).ask
    assert "no melting ice" in judge_ice(-12.0).ask


def test_a_humidity_sensor_is_judged_by_the_salt_at_its_temperature() -> None:
    said = judge_salt(73.1, "NaCl", 21.0)
    # OIML R 121: 75.5 % at 20 °C, 75.3 % at 25 °C.
    assert said.true.value == pytest.approx(75.46)
    assert said.offset == pytest.approx(2.36)
    assert (said.verdict, said.ask) == ("good", "")
    assert judge_salt(71.0, "NaCl", 21.0).verdict == "off by -4.5 %RH, wanted within 3 %RH"


def test_seventy_three_over_the_wrong_salt_is_asked_about() -> None:
    ask = judge_salt(73.0, "KCl", 20.0).ask
    assert "73 % over KCl, which has 85.1 % at 20 °C; NaCl has 75.5 %: is it the right salt?" in ask
    assert "a slip, or not yet steady" in judge_salt(48.0, "KCl", 20.0).ask
    with pytest.raises(ValueError, match="a humidity is 0 to 100 %"):
        judge_salt(731.0, "NaCl", 20.0)


def test_an_instrument_far_from_the_better_one_is_asked_about() -> None:
    assert judge_beside_c(64.3, 64.0, 0.3).ask == ""
    assert "slip" in judge_beside_c(64.3, 46.0, 0.3).ask
    assert judge_beside_pct(78.0, 76.0, 2.0).verdict == "good"
    assert "slip" in judge_beside_pct(87.0, 76.0, 2.0).ask


@given(shown=st.floats(0.0, 100.0), offset=st.floats(-10.0, 10.0))
def test_an_offset_lifts_no_honest_humidity_out_of_its_range(shown: float, offset: float) -> None:
    pct = corrected_pct(shown, offset)
    assert 0.0 <= pct <= 100.0
    if 0.0 < pct < 100.0:
        assert pct == shown + offset


def test_an_offset_hides_no_humidity_that_cannot_be() -> None:
    assert corrected_pct(112.0, -10.0) == 102.0
    assert corrected_pct(-6.0, 10.0) == 4.0
