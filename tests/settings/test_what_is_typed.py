"""What a person types with its unit. NIST SP 811, appendix B.8 (°F); international yard and pound agreement, 1959."""

import pytest

from controller.errors import UsageError
from controller.settings.units import (
    parse_duration_s,
    parse_length_mm,
    parse_mass_g,
    parse_mass_kg,
    parse_temp_c,
    show_temp,
)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("37C", 37.0),
        ("37c", 37.0),
        ("98.6F", 37.0),
        ("98.6 °F", 37.0),
        ("64 °C", 64.0),
        ("-40F", -40.0),
        ("-40C", -40.0),
        ("32F", 0.0),
        ("212F", 100.0),
        (" +20.5C ", 20.5),
        (".5C", 0.5),
    ],
)
def test_a_temperature_is_taken_in_either_unit(text: str, celsius: float) -> None:
    assert parse_temp_c(text) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.fault_row("H3")
@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("64", "64C or 64F"),
        ("64°", "64C or 64F"),
        ("310K", "K is no unit"),
        ("hot", "37C or 98F"),
        ("", "37C or 98F"),
        ("-300C", "no such temperature"),
        ("36,5C", "did you mean 36.5C?"),
        ("1e3C", "no unit|not a number"),
        ("nan", "not a number"),
        ("infC", "not a number"),
    ],
)
def test_a_temperature_that_could_be_mistaken_is_refused_with_what_would_be_right(text: str, answer: str) -> None:
    with pytest.raises(UsageError, match="core") as told:
        parse_temp_c(text, "core")
    assert any(piece in str(told.value) for piece in answer.split("|")), str(told.value)
    assert told.value.exit_code == 64


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("412g", 412.0),
        ("4.5kg", 4500.0),
        ("10lb", 4535.9237),
        ("10 lbs", 4535.9237),
        ("16oz", 453.59237),
        ("1KG", 1000.0),
    ],
)
def test_a_mass_is_taken_with_its_unit(text: str, grams: float) -> None:
    assert parse_mass_g(text) == pytest.approx(grams, rel=1e-12)
    assert parse_mass_kg(text) == pytest.approx(grams / 1000.0, rel=1e-12)


def test_a_bare_mass_is_asked_back_unless_only_grams_are_meant() -> None:
    with pytest.raises(UsageError, match=r"--meat 10: in which unit\? Write 10kg or 10lb\."):
        parse_mass_kg("10", "--meat")
    assert parse_mass_g("412", "A", bare="g") == 412.0


@pytest.mark.parametrize("text", ["0kg", "-3kg", "4.5 stone", "kg", "4,5kg", "4.5kgs."])
def test_a_mass_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="mass"):
        parse_mass_kg(text)


@pytest.mark.parametrize(("text", "millimetres"), [("55mm", 55.0), ("5.5cm", 55.0), ("2in", 50.8), ('2"', 50.8)])
def test_a_length_is_taken_with_its_unit(text: str, millimetres: float) -> None:
    assert parse_length_mm(text) == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("90s", 90.0), ("90min", 5400.0), ("2h", 7200.0), ("1h30min", 5400.0), ("3 d 12 h", 302_400.0)],
)
def test_a_length_of_time_is_taken_with_its_units(text: str, seconds: float) -> None:
    assert parse_duration_s(text) == seconds


@pytest.mark.parametrize("text", ["2", "0h", "-2h", "2 weeks", "h", "1h30", "half"])
def test_a_length_of_time_that_could_be_mistaken_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="time"):
        parse_duration_s(text)


def test_a_temperature_is_shown_in_the_units_of_the_chamber() -> None:
    assert show_temp(36.0, "C") == "36.0 °C"
    assert show_temp(36.0, "F") == "96.8 °F"
    assert show_temp(-0.5, "F", 2) == "31.10 °F"
