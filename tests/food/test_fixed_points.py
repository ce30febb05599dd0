"""Buffers and salts against their published rows, and what lies between these against independent routes."""

from collections import defaultdict

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from controller.food.checks.fixed_points import (
    BOTTLES,
    BUFFER_UNCERTAINTY,
    EXPONENTIALS,
    FORMULA,
    POLYNOMIALS,
    SALTS,
    buffer_ph,
    crc_pct,
    greenspan_pct,
    phthalate_ph,
    rh_of,
)
from tests.helpers.published_rows import rows_of

BUFFER_ROWS = rows_of("ph_buffers.csv")
SALT_ROWS = rows_of("salt_solutions.csv")


def kind(name: str) -> list[dict[str, str]]:
    return [row for row in SALT_ROWS if row["kind"] == name]


def salt_id(row: dict[str, str]) -> str:
    return f"{row['salt']}-{row['temp_c']}C"


@pytest.mark.parametrize("row", BUFFER_ROWS, ids=lambda row: f"{row['buffer']}-{row['temp_c']}C")
def test_every_published_row_of_a_buffer_is_given_back(row: dict[str, str]) -> None:
    # JIS Z 8802 and the technical set to 0.01; the formula of Hetzer et al. (1977) to 0.001.
    found = buffer_ph(row["buffer"], float(row["temp_c"]))
    assert found.value == pytest.approx(float(row["ph"]), abs=5.01e-4 if row["buffer"] == FORMULA else 1e-9)


def test_every_bottle_stands_for_one_liquid_that_has_about_that_ph_at_25_degrees() -> None:
    assert set(BOTTLES.values()) == {row["buffer"] for row in BUFFER_ROWS}
    for bottle, name in BOTTLES.items():
        assert buffer_ph(name, 25.0).value == pytest.approx(float(bottle), abs=0.0051)


@pytest.mark.parametrize("name", sorted({row["buffer"] for row in BUFFER_ROWS} - {FORMULA}))
def test_between_two_rows_a_buffer_agrees_with_a_smooth_curve_within_its_uncertainty(name: str) -> None:
    rows = [(float(row["temp_c"]), float(row["ph"])) for row in BUFFER_ROWS if row["buffer"] == name]
    curve = PchipInterpolator(*zip(*rows, strict=True))
    for temp_c in np.linspace(rows[0][0], rows[-1][0], 97):
        assert abs(buffer_ph(name, float(temp_c)).value - curve(temp_c)) <= BUFFER_UNCERTAINTY / 4


def test_the_table_of_phthalate_agrees_with_its_formula_within_its_uncertainty() -> None:
    for temp_c in np.linspace(0.0, 50.0, 101):
        assert abs(buffer_ph("phthalate", float(temp_c)).value - phthalate_ph(float(temp_c))) <= BUFFER_UNCERTAINTY / 2


@pytest.mark.parametrize(
    ("name", "temp_c"), [("carbonate", 35.1), ("borate", -0.1), ("technical 7.00", 50.1), (FORMULA, 51.0)]
)
def test_outside_its_table_a_buffer_has_no_ph(name: str, temp_c: float) -> None:
    with pytest.raises(ValueError, match="its table goes from 0 to"):
        buffer_ph(name, temp_c)


@pytest.mark.parametrize("row", kind("table"), ids=salt_id)
def test_every_published_row_of_a_salt_is_given_back_with_its_uncertainty(row: dict[str, str]) -> None:
    # OIML R 121:1996, table 1; Greenspan (1977) where the row says so.
    found = rh_of(row["salt"], float(row["temp_c"]))
    assert found.value == pytest.approx(float(row["rh_pct"]), abs=1e-9)
    if row["uncertainty"]:
        assert found.uncertainty == pytest.approx(float(row["uncertainty"]), abs=1e-9)
    elif "spread" in row["note"]:
        low, high = (float(word) for word in row["note"].removeprefix("published values spread ")[:-2].split(" to "))
        farther = max(high - found.value, found.value - low)
        assert farther - 0.051 <= found.uncertainty  # Of LiCl below 25 °C.
    else:
        assert row["salt"] == "KNO3"
        assert abs(found.value - crc_pct("KNO3", float(row["temp_c"]))) <= found.uncertainty
    if row["how_known"] == "memory":
        assert "from memory" in found.source


def test_no_salt_has_a_row_that_was_not_published() -> None:
    published = defaultdict(set)
    for row in kind("table"):
        published[row["salt"]].add(float(row["temp_c"]))
    assert {salt: {row[0] for row in rows} for salt, rows in SALTS.items()} == published


@pytest.mark.parametrize("row", kind("polynomial"), ids=lambda row: row["salt"])
def test_every_polynomial_is_greenspans(row: dict[str, str]) -> None:
    low_c, high_c, factors = POLYNOMIALS[row["salt"]]
    assert (low_c, high_c) == (float(row["valid_from_c"]), float(row["valid_to_c"]))
    published = [float(row[name] or 0.0) for name in ("a0", "a1", "a2", "a3")]
    assert [*factors, 0.0, 0.0][:4] == published
    for temp_c in (low_c, (low_c + high_c) / 3, high_c):
        assert greenspan_pct(row["salt"], temp_c) == pytest.approx(np.polyval(published[::-1], temp_c), rel=1e-12)


@pytest.mark.parametrize("row", kind("exponential"), ids=lambda row: row["salt"])
def test_every_exponential_gives_the_humidity_that_is_printed_beside_it(row: dict[str, str]) -> None:
    # CRC Handbook, section 15: printed to 0.1, with figures of four digits.
    low_c, high_c, factor, temp_k = EXPONENTIALS[row["salt"]]
    assert (low_c, high_c) == (float(row["valid_from_c"]), float(row["valid_to_c"]))
    assert (factor, temp_k) == (float(row["a0"]), float(row["a1"]))
    assert crc_pct(row["salt"], float(row["temp_c"])) == pytest.approx(float(row["rh_pct"]), abs=0.15)


@pytest.mark.parametrize("salt", sorted(set(POLYNOMIALS) & set(SALTS)))
def test_between_the_rows_the_table_agrees_with_the_polynomial_within_its_uncertainty(salt: str) -> None:
    low_c, high_c = (max(SALTS[salt][0][0], POLYNOMIALS[salt][0]), min(SALTS[salt][-1][0], POLYNOMIALS[salt][1]))
    for temp_c in np.linspace(low_c, high_c, 101):
        found = rh_of(salt, float(temp_c))
        # What OIML prints, value and uncertainty, is rounded to 0.1.
        assert abs(found.value - greenspan_pct(salt, float(temp_c))) <= found.uncertainty + 0.05


@pytest.mark.parametrize("salt", sorted(set(EXPONENTIALS) & set(SALTS)))
def test_the_table_agrees_with_the_handbooks_curve_within_its_two_per_cent_of_humidity(salt: str) -> None:
    low_c, high_c = (max(SALTS[salt][0][0], EXPONENTIALS[salt][0]), min(SALTS[salt][-1][0], EXPONENTIALS[salt][1]))
    for temp_c in np.linspace(low_c, high_c, 51):
        found = rh_of(salt, float(temp_c))
        # "About 2 %" can only be %RH: MgCl2 at 40 °C is 0.9 %RH away from OIML R 121, which is 2.7 % of its value.
        assert abs(found.value - crc_pct(salt, float(temp_c))) <= 2.0 + found.uncertainty


@pytest.mark.parametrize(("salt", "temp_c"), [("NaCl", -0.1), ("NaCl", 50.1), ("K2CO3", 31.0), ("KI", 4.9)])
def test_outside_its_table_a_salt_has_no_humidity(salt: str, temp_c: float) -> None:
    with pytest.raises(ValueError, match="its table goes from"):
        rh_of(salt, temp_c)


def test_a_salt_that_is_not_in_the_table_is_refused_with_those_that_are() -> None:
    with pytest.raises(ValueError, match="sugar: no such salt in the table; there are LiCl"):
        rh_of("sugar", 20.0)
