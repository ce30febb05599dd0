"""What a person types: units, slips of the hand, and times in the chamber's local time."""

import datetime as dt

import pytest

from controller.cli import typed
from controller.errors import DataError, HangroomError, UsageError

NOON_S = dt.datetime(2026, 1, 5, 12, 0, tzinfo=dt.UTC).timestamp()


@pytest.mark.parametrize(("slip", "meant"), [("53", "5.3"), ("521", "5.21"), ("5210", "5.21"), ("48", "4.8")])
def test_a_ph_without_its_point_is_asked_back_with_the_point(slip: str, meant: str) -> None:
    with pytest.raises(DataError, match=rf"^pH {slip}: did you mean {meant}\?$"):
        typed.ph(slip)


def test_a_ph_with_a_comma_is_asked_back_with_a_point() -> None:
    with pytest.raises(DataError, match=r"pH 5,21: not a number; did you mean 5\.21\?"):
        typed.ph("5,21")


@pytest.mark.parametrize("value", ["3.4", "7.1", "0", "-5", "nan", "inf", "sour"])
def test_a_ph_that_no_meat_has_is_refused(value: str) -> None:
    with pytest.raises(DataError, match="pH"):
        typed.ph(value)


@pytest.mark.parametrize("value", ["3.5", "5.21", "7.0"])
def test_the_ends_of_the_ph_range_belong_to_it(value: str) -> None:
    assert typed.ph(value) == float(value)


@pytest.mark.parametrize(
    ("text", "grams"),
    [("A=412", 412.0), ("A=0.4kg", 400.0), ("A=1lb", 453.59237), ("A=1oz", 28.349523125)],
)
def test_a_weight_is_in_grams_or_carries_its_unit(text: str, grams: float) -> None:
    # The pound is exactly 0.45359237 kg (international yard and pound agreement, 1959), the ounce a sixteenth of it.
    assert typed.pieces_g([text])["A"] == pytest.approx(grams, rel=1e-12)


@pytest.mark.parametrize("text", ["A", "A=", "=412", "A=-3", "A=0", "A=12stone", "A=4,1"])
def test_a_weight_that_cannot_be_is_refused_with_its_piece(text: str) -> None:
    with pytest.raises(HangroomError, match=text.replace("=", "=?")[:1]):
        typed.pieces_g([text])


def test_a_piece_that_is_weighed_twice_in_one_line_is_refused() -> None:
    with pytest.raises(UsageError, match=r"A.*twice"):
        typed.pieces_g(["A=412", "A=398"])


@pytest.mark.parametrize(("text", "celsius"), [("64C", 64.0), ("147.2F", 64.0), ("64 °C", 64.0), ("-5C", -5.0)])
def test_a_core_temperature_is_taken_in_either_unit(text: str, celsius: float) -> None:
    # NIST SP 811, appendix B.8: t/°C = (t/°F - 32)/1.8.
    assert typed.core_c(text) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.fault_row("H3")
def test_a_bare_core_temperature_is_refused_with_the_question() -> None:
    with pytest.raises(HangroomError, match=r"64.*64C.*64F.*\?|64.*\?.*64C.*64F"):
        typed.core_c("64")


@pytest.mark.parametrize("text", ["-5.1C", "100.1C", "300F", "64K"])
def test_a_core_temperature_that_no_meat_has_is_refused(text: str) -> None:
    with pytest.raises(HangroomError, match=text):
        typed.core_c(text)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("12:30", "2026-01-05T11:30+00:00"),
        ("0:05", "2026-01-04T23:05+00:00"),
        ("2026-01-04T18:00", "2026-01-04T17:00+00:00"),
        ("2026-01-04 18:00:30", "2026-01-04T17:00:30+00:00"),
        ("2026-01-04T18:00Z", "2026-01-04T18:00+00:00"),
        ("2026-01-04T18:00-05:00", "2026-01-04T23:00+00:00"),
    ],
)
def test_a_time_is_local_time_of_the_chamber_unless_it_names_its_zone(text: str, wanted: str) -> None:
    assert typed.moment(text, "Europe/Vienna", NOON_S) == dt.datetime.fromisoformat(wanted).timestamp()


def test_a_time_that_lies_ahead_is_refused_and_yesterdays_is_offered() -> None:
    with pytest.raises(DataError, match=r"14:30: lies ahead.*yesterday's is --at 2026-01-04T14:30"):
        typed.moment("14:30", "Europe/Vienna", NOON_S)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("23:00", "2026-01-05T22:00+00:00"),
        ("6:30", "2026-01-06T05:30+00:00"),  # Over for today: the next one.
        ("2026-01-06T01:00", "2026-01-06T00:00+00:00"),
        ("now", None),
    ],
)
def test_a_time_to_come_is_the_next_such_clock(text: str, wanted: str | None) -> None:
    expected_s = NOON_S if wanted is None else dt.datetime.fromisoformat(wanted).timestamp()
    assert typed.next_moment(text, "Europe/Vienna", NOON_S, "--from") == expected_s


def test_a_time_to_come_that_is_over_is_refused() -> None:
    with pytest.raises(DataError, match=r"--from 2026-01-04T10:00: is over; it is 2026-01-05"):
        typed.next_moment("2026-01-04T10:00", "Europe/Vienna", NOON_S, "--from")


@pytest.mark.parametrize("text", ["half past two", "25:00", "14:60", "2026-02-30T10:00", "2026-01-04", "20260104", ""])
def test_what_is_no_time_is_refused_with_two_that_are(text: str) -> None:
    with pytest.raises(UsageError, match=r"not a time; write 14:30, 2:30pm or 2026-01-05T14:30"):
        typed.moment(text, "Europe/Vienna", NOON_S)


def test_an_hour_that_came_twice_or_never_is_asked_back() -> None:
    # Directive 2000/84/EC: summer time ends on the last Sunday of October at 1 h UTC, begins on that of March.
    later_s = dt.datetime(2026, 12, 1, tzinfo=dt.UTC).timestamp()
    with pytest.raises(UsageError, match=r"came twice.*2026-10-25T02:30\+02:00 or 2026-10-25T02:30\+01:00"):
        typed.moment("2026-10-25T02:30", "Europe/Vienna", later_s)
    with pytest.raises(UsageError, match="there was no such time"):
        typed.moment("2026-03-29T02:30", "Europe/Vienna", later_s)


@pytest.mark.parametrize("text", ["thermometer", "", "probe 1"])
def test_what_a_ph_is_not_measured_with_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match=r"--by .*meter or strips"):
        typed.instrument(text, ("meter", "strips"))


def test_an_instrument_may_carry_its_id() -> None:
    assert typed.instrument("meter  1", ("meter", "strips")) == "meter 1"


def test_pieces_may_be_listed_with_commas() -> None:
    assert typed.pieces_g(("A=466,", "B=429")) == typed.pieces_g(("A=466,B=429",)) == {"A": 466.0, "B": 429.0}
    with pytest.raises(UsageError, match=r"did you mean 0\.4kg"):  # A comma inside a number is still no list.
        typed.pieces_g(("A=0,4kg",))


def test_an_instrument_is_the_same_however_its_name_begins() -> None:
    assert typed.instrument("Meter 1", ("meter", "strips")) == "meter 1"
    assert typed.instrument("PROBE", ("probe",)) == "probe"
