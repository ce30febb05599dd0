"""The core speaks UTC, °C, K and kg; a maker reads local time, and the units of the chamber.

Conversions: t/°F = 1.8 t/°C + 32 and 1 lb = 0.45359237 kg (NIST SP 811, appendix B.8).
"""

import pytest

from controller.cli.local import in_local_words, in_units, without_hint


@pytest.mark.parametrize(
    ("core", "read"),
    [
        ("core 65.6 °C of A; 65.6 °C, the lower one, counts.", "core 150.1 °F of A; 150.1 °F, the lower one, counts."),
        ("Smoke near 45 °C.", "Smoke near 113 °F."),
        ("sausage dries at 12 to 16 °C", "sausage dries at 53.6 to 60.8 °F"),
        ("lies between -2 and 46 °C: it hangs cold", "lies between 28.4 and 114.8 °F: it hangs cold"),
        (
            "Temperatures disagree (air thermometer 20.0, thermometer in the humidity sensor 25.0 °C), limit 1.5 K.",
            "Temperatures disagree (air thermometer 68.0, thermometer in the humidity sensor 77.0 °F), limit 2.7 °F.",
        ),
        (
            "(air thermometer 34.2, second air thermometer 30.1 °C), limit 3 K.",
            "(air thermometer 93.6, second air thermometer 86.2 °F), limit 5.4 °F.",
        ),
        ("air_temp_2 30.1 °C", "air_temp_2 86.2 °F"),
        (
            "Air 20.9 °C, wanted 24.0 °C, limit ±2 K, for 16 min.",
            "Air 69.6 °F, wanted 75.2 °F, limit ±3.6 °F, for 16 min.",
        ),
        ("wanted 24.0 ± 2 °C", "wanted 75.2 ± 3.6 °F"),
        ("good within ±1.5 °C in air", "good within ±2.7 °F in air"),
        ("off by -0.5 °C", "off by -0.9 °F"),
        ("20.0 °C, +1.0 K in 10 min", "68.0 °F, +1.8 °F in 10 min"),
        ("within ±0.5 K", "within ±0.9 °F"),
        ("off by -0.2 K", "off by -0.4 °F"),
        ("3 K more than in the profile", "5.4 °F more than in the profile"),
        ("at or below 15.6 °C (60 °F) no degree-hours", "at or below 60 °F no degree-hours"),
        ("is counted yet (54.4 °C, 130 °F).", "is counted yet (130 °F)."),
        ("Come-up: 10 to 54.4 °C (50 to 130 °F) in 6 h", "Come-up: 50 to 130 °F in 6 h"),
        ("hangroom core 60C --piece A", "hangroom core 140F --piece A"),
        ("--air-temp 12C --rh 82", "--air-temp 53.6F --rh 82"),
        ("As 18C-32C", "As 64.4F-89.6F"),
        ("frozen at -15C", "frozen at 5F"),
        ("hangroom core 68C --piece A", "hangroom core 154.4F --piece A"),
        ("374 of 555 °C·h, 676 of 1000 °F·h", "374 of 555 °C·h, 676 of 1000 °F·h"),
        ("degree-hours (°C) used", "degree-hours (°C) used"),
        ("pH 5.3, 20 °C", "pH 5.3, 68 °F"),
        ("tangy, 4.53592 kg.", "tangy, 10 lb (4.54 kg)."),
        (
            "3 g/kg, 4.7 kΩ, A=412 g, C2-1, batch 2026-01-05-tangy-1",
            "3 g/kg, 4.7 kΩ, A=412 g, C2-1, batch 2026-01-05-tangy-1",
        ),
        ("0.1 K/min", "0.1 K/min"),
        ("68 °C (154.4 °F)", "154.4 °F"),
        ("130 to 80 °F (54.4 to 26.7 °C) in 1.5 h", "130 to 80 °F in 1.5 h"),
        ("frozen at -20 °F (-28.9 °C) or colder", "frozen at -20 °F or colder"),
        ("a room that changes by less than 1 K", "a room that changes by less than 1.8 °F"),
    ],
)
def test_a_sentence_of_the_core_is_read_in_the_units_of_a_fahrenheit_chamber(core: str, read: str) -> None:
    assert in_units(core, "F") == read


def test_a_celsius_chamber_reads_the_core_as_it_is_but_without_false_precision() -> None:
    assert in_units("core 43.3333 °C; 15.6 °C (60 °F); ±0.5 K", "C") == "core 43.3 °C; 15.6 °C (60 °F); ±0.5 K"
    assert in_units("the value of a reset (85.000 °C)", "C") == "the value of a reset (85.000 °C)"
    assert in_units("started, 4.53592 kg", "C") == "started, 4.54 kg"


def test_instants_become_local_and_the_units_too() -> None:
    said = "at 36 °C the limit is reached at 2026-01-05 10:43 UTC"
    assert in_local_words(said, "America/Chicago", "F") == "at 96.8 °F the limit is reached at 2026-01-05 04:43"


def test_a_hint_of_fahrenheit_is_left_out_where_fahrenheit_was_typed() -> None:
    said = "core 43.3333 °C in a chill stage lies between -2 and 40 °C: so. Did you mean 43.3333F (6.3 °C)?"
    assert without_hint(said, "110F") == "core 43.3333 °C in a chill stage lies between -2 and 40 °C: so."
    assert without_hint(said, "43.3333C") == said
    assert in_units(said, "F").endswith("Did you mean 43.3F?")
