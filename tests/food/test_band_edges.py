"""Degree-hours at the edges of their bands, drawn in both units and judged again in exact fractions.

The bands are the rows of `degree_hours_limits.csv` (AMIF 1997 for the US, CFIA for Canada; the marks stand there), not
those of the program. Temperatures are kept as the climate file keeps them, in °C with three decimals.
"""

from fractions import Fraction

from hypothesis import assume, given
from hypothesis import strategies as st

from controller.food.degree_hours import CANADA, US, Rule, accumulate, has_reached, limit_for, nearest_edge, verdict
from tests.helpers.published_rows import rows_of

BANDS = [row for row in rows_of("degree_hours_limits.csv") if row["kind"] == "band"]
EDGES = [(row["unit"], Fraction(row["band_high"])) for row in BANDS if row["band_high"]]


def exact_limit(unit: str, kept_c: float) -> Fraction:
    """Return the published limit for a highest temperature that was kept in °C, by fractions alone."""
    kept = Fraction(str(kept_c))
    rounded = Fraction(round((kept * Fraction(9, 5) + 32 if unit == "F" else kept) * 10), 10)
    for row in BANDS:
        if row["unit"] != unit:
            continue
        low, high = row["band_low"], row["band_high"]
        above = not low or rounded > Fraction(low) or (row["low_inclusive"] == "yes" and rounded == Fraction(low))
        below = not high or rounded < Fraction(high) or (row["high_inclusive"] == "yes" and rounded == Fraction(high))
        if above and below:
            return Fraction(row["limit_degree_hours"])
    raise AssertionError(f"no published band holds {kept_c} °C ({unit})")


def kept_c(unit: str, temp: Fraction) -> float:
    """Return a temperature of this unit as the climate file keeps it."""
    celsius = (temp - 32) * Fraction(5, 9) if unit == "F" else temp
    return float(Fraction(round(celsius * 1000), 1000))


rules = st.sampled_from([US, CANADA])
near_edges = st.tuples(st.sampled_from(EDGES), st.integers(-60, 60).map(lambda n: Fraction(n, 100)))


@given(near_edges)
def test_the_band_near_each_edge_is_the_published_one_in_its_own_unit(
    drawn: tuple[tuple[str, Fraction], Fraction],
) -> None:
    (unit, edge), off = drawn
    temp_c = kept_c(unit, edge + off)
    rule = US if unit == "F" else CANADA
    assert Fraction(limit_for(rule, temp_c)) == exact_limit(unit, temp_c)


@given(near_edges, rules)
def test_an_edge_of_one_rule_means_nothing_to_the_other(
    drawn: tuple[tuple[str, Fraction], Fraction], rule: Rule
) -> None:
    (unit, edge), off = drawn
    temp_c = kept_c(unit, edge + off)
    assert Fraction(limit_for(rule, temp_c)) == exact_limit(rule.unit, temp_c)


@given(near_edges, st.integers(1, 400).map(lambda n: Fraction(n, 4)))
def test_a_verdict_near_an_edge_is_that_of_exact_fractions(
    drawn: tuple[tuple[str, Fraction], Fraction], hours: Fraction
) -> None:
    (unit, edge), off = drawn
    rule, temp_c = (US if unit == "F" else CANADA), kept_c(unit, edge + off)
    kept = Fraction(str(temp_c))
    total = ((kept * Fraction(9, 5) + 32 if unit == "F" else kept) - Fraction(str(rule.base))) * hours
    assume(abs(total - int(total) - Fraction(1, 2)) > Fraction(1, 10**9))  # On the half itself a float may lie below.
    rounded = int(total + Fraction(1, 2))
    expected = "within" if rounded <= exact_limit(unit, temp_c) else "over"
    assert verdict(rule, accumulate(rule, temp_c, float(hours)), temp_c) == expected


def test_90_fahrenheit_kept_as_32_222_belongs_to_the_second_band_and_100_too() -> None:
    """Univ. of Wisconsin-Madison Fermentation Log (2012): 33 h at 90 °F and 25 h at 100 °F, both of 1000."""
    assert (kept_c("F", Fraction(90)), kept_c("F", Fraction(100))) == (32.222, 37.778)
    assert (limit_for(US, 32.222), limit_for(US, 37.778)) == (1000.0, 1000.0)
    assert (limit_for(US, 32.166), limit_for(US, 37.834)) == (1200.0, 900.0)  # 89.9 and 100.1 °F.


@given(st.sampled_from(EDGES), st.integers(-190, 190).map(lambda n: Fraction(n, 100)))
def test_the_nearest_edge_and_what_lies_beyond_it(edge_of: tuple[str, Fraction], off: Fraction) -> None:
    unit, edge = edge_of
    rule = US if unit == "F" else CANADA
    found, above, beyond = nearest_edge(rule, kept_c(unit, edge + off))
    assert found == float(edge)
    assert abs(above + float(off)) < 0.06
    far_c = kept_c(unit, edge + Fraction(1 if above >= 0 and off <= 0 else -1))
    if abs(off) >= Fraction(1, 10):
        assert Fraction(beyond) == exact_limit(unit, far_c)


@given(st.integers(400, 600), st.sampled_from([0, 2, 5, 10]))
def test_a_ph_has_reached_5_3_by_hundredths(hundredths: int, error: int) -> None:
    assert has_reached(hundredths / 100.0, error=error / 100.0) == (hundredths + error <= 530)
