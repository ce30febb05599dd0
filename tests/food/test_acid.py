"""Acidification: the published factors, the buffer, and where a ferment ends."""

import math

import pytest
from scipy.optimize import brentq

from controller.food.acid import (
    BUFFER,
    CULTURES,
    LACTIC_PKA,
    MESOPHILIC,
    MIX_PH,
    Culture,
    aw_factor,
    begin,
    end_ph,
    ferment_on,
    growth_per_h,
    ph_factor,
    ph_of_acid,
    sugar_at_start,
    temperature_factor,
)
from tests.helpers.published_rows import rows_of

STEP_MIN = 5


def ids(row: dict[str, str]) -> str:
    return "-".join(list(row.values())[:4])


@pytest.mark.parametrize("row", rows_of("temperature_factor.csv"), ids=ids)
def test_growth_follows_temperature_as_rosso_says(row: dict[str, str]) -> None:
    limits = (float(row["temp_min_c"]), float(row["temp_best_c"]), float(row["temp_max_c"]))
    assert temperature_factor(float(row["temp_c"]), *limits) == pytest.approx(float(row["factor"]), abs=6e-6)
    assert temperature_factor(limits[1], *limits) == pytest.approx(1.0)


@pytest.mark.parametrize("culture", CULTURES.values(), ids=lambda culture: culture.name)
def test_outside_its_limits_a_culture_rests(culture: Culture) -> None:
    for temp_c, ph, aw in (
        (culture.temp_min_c, 5.5, 0.965),
        (culture.temp_max_c, 5.5, 0.965),
        (-20.0, 5.5, 0.965),
        (68.0, 5.5, 0.965),
        (30.0, culture.ph_min, 0.965),
        (30.0, 5.5, culture.aw_min),
        (30.0, 5.5, 0.8),
    ):
        assert growth_per_h(culture, temp_c, ph, aw) == 0.0
    assert growth_per_h(culture, 30.0, 5.5, 0.965) > 0.1


def test_growth_is_best_at_the_best_ph_and_in_pure_water() -> None:
    assert ph_factor(6.0, 4.4, 6.0, 8.0) == pytest.approx(1.0)
    assert ph_factor(5.0, 4.4, 6.0, 8.0) < ph_factor(5.5, 4.4, 6.0, 8.0) < 1.0
    assert aw_factor(1.0, 0.928) == 1.0


@pytest.mark.parametrize("acid", [0.0, 1.0, 25.0, 60.0, 120.0, 400.0])
def test_the_ph_balances_acid_and_buffer(acid: float) -> None:
    ph = ph_of_acid(acid)
    assert BUFFER * (MIX_PH - ph) == pytest.approx(acid / (1.0 + 10.0 ** (LACTIC_PKA - ph)), abs=1e-6)


@pytest.mark.parametrize("row", rows_of("end_ph.csv"), ids=lambda row: row["dextrose_pct"])
def test_the_dextrose_sets_where_a_ferment_ends(row: dict[str, str]) -> None:
    dextrose_pct = float(row["dextrose_pct"])
    assert end_ph(dextrose_pct) == pytest.approx(float(row["end_ph"]), abs=0.0051)
    for buffer, column in ((42.0, "end_ph_at_42"), (58.0, "end_ph_at_58")):
        if row[column]:
            assert end_ph(dextrose_pct, buffer=buffer) == pytest.approx(float(row[column]), abs=0.0051)


@pytest.mark.parametrize("culture", CULTURES.values(), ids=lambda culture: culture.name)
def test_a_long_ferment_turns_all_sugar_into_acid_and_ends_where_forecast(culture: Culture) -> None:
    sugar = sugar_at_start(0.3)
    now = begin(culture, sugar)
    for _ in range(6000):
        now = ferment_on(culture, now, 1.0 / 60.0, 30.0, 0.965, MIX_PH, BUFFER)
        assert now.acid == pytest.approx((sugar - now.sugar) * 1.8)
    assert now.ph == pytest.approx(end_ph(0.3), abs=0.002)


def test_a_ferment_without_sugar_or_warmth_stays_as_it_is() -> None:
    now = begin(MESOPHILIC, sugar_at_start(0.0, own=0.0))
    assert ferment_on(MESOPHILIC, now, 0.02, 24.0, 0.965, MIX_PH, BUFFER) is now
    now = begin(MESOPHILIC, sugar_at_start(0.5))
    assert ferment_on(MESOPHILIC, now, 0.02, 0.5, 0.965, MIX_PH, BUFFER) is now


@pytest.mark.parametrize("acid", [0.0, 60.0, 228.0, 272.0, 316.0, 500.0])
@pytest.mark.parametrize("buffer", [42.0, 50.0, 58.0])
def test_the_ph_of_any_acid_is_that_of_a_root_finder_of_scipy(acid: float, buffer: float) -> None:
    def misses(ph: float) -> float:
        return buffer * (5.75 - ph) - acid / (1.0 + math.pow(10.0, LACTIC_PKA - ph))

    root = brentq(misses, 5.75 - acid / buffer - 1e-6, 5.75 + 1e-6, xtol=1e-12)
    assert ph_of_acid(acid, 5.75, buffer) == pytest.approx(root, abs=1e-8)


def course_of(row: dict[str, str]) -> list[tuple[float, float, float]]:
    """Return (hour, pH, log10 of the cells in a gram) of the table's ferment: meat of 4 °C that warms with 1.5 h."""
    culture, air_c = CULTURES[row["culture"]], float(row["T"])
    now = begin(culture, sugar_at_start(float(row["dextrose_pct"])))
    course = [(0.0, now.ph, math.log10(now.cells * 1e9))]
    for minute in range(0, 160 * 60, STEP_MIN):
        meat_c = air_c - (air_c - 4.0) * math.exp(-(minute + STEP_MIN / 2.0) / 90.0)
        now = ferment_on(culture, now, STEP_MIN / 60.0, meat_c, 0.965, MIX_PH, BUFFER)
        course.append(((minute + STEP_MIN) / 60.0, now.ph, math.log10(now.cells * 1e9)))
    return course


def hour_of(course: list[tuple[float, float, float]], ph: float) -> float:
    """Return the hour of this pH, by a straight line between the steps."""
    place = next(place for place, point in enumerate(course) if point[1] <= ph)
    (from_h, above, _), (to_h, below, _) = course[place - 1], course[place]
    return from_h + (to_h - from_h) * (above - ph) / (above - below)


@pytest.mark.parametrize("row", rows_of("acid_table.csv"), ids=ids)
def test_every_row_of_the_table_is_soured_in_its_hours(row: dict[str, str]) -> None:
    # The table is scipy's LSODA (rtol 1e-7); these are steps of 5 minutes, which cost up to 1 % and 0.02 of a pH.
    course = course_of(row)
    for column, ph in (("t_pH5_3", 5.3), ("t_pH5_0", 5.0), ("t_pH4_8", 4.8)):
        if row[column]:
            assert hour_of(course, ph) == pytest.approx(float(row[column]), rel=0.01)
        else:  # It never gets there within the table's 160 h, but for a hair.
            assert course[-1][1] > ph - 0.005
    for column, hour in (("pH24", 24), ("pH48", 48), ("pH72", 72), ("pH_160h", 160)):
        assert course[hour * (60 // STEP_MIN)][1] == pytest.approx(float(row[column]), abs=0.02)
    assert course[48 * (60 // STEP_MIN)][2] == pytest.approx(float(row["log10N48"]), abs=0.02)
