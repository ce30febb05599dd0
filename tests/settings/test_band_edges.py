"""A wanted temperature near an edge of the degree-hours' bands is warned about; a cold ferment has an end in days."""

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.core.plan import DegreeHoursRule
from controller.errors import SettingsError
from controller.settings.chamber_file import plan_of
from controller.settings.fit import near_band_edge
from controller.settings.profile_file import adapt, find_profile, read_profile
from tests.helpers.published_rows import rows_of
from tests.helpers.shipped_chambers import shipped_chamber

BANDS = [row for row in rows_of("degree_hours_limits.csv") if row["kind"] == "band"]
EDGES_C = {
    "us": [
        (Fraction(row["band_high"]) - 32) * Fraction(5, 9) for row in BANDS if row["unit"] == "F" and row["band_high"]
    ],
    "canada": [Fraction(row["band_high"]) for row in BANDS if row["unit"] == "C" and row["band_high"]],
}


def profile_at(tmp_path: Path, temp_c: float, *more: tuple[str, str]) -> Path:
    """Write the shipped mild profile with another temperature of its ferment."""
    text = find_profile("mild").read_text("utf-8")
    ferment = re.search(r'name = "ferment"\n.*?air_temp_c = (24\.0)', text, re.DOTALL)
    assert ferment is not None
    text = text[: ferment.start(1)] + f"{temp_c:g}" + text[ferment.end(1) :]
    for before, after in more:
        assert before in text
        text = text.replace(before, after)
    path = tmp_path / "other.toml"
    path.write_text(text, "utf-8")
    return path


@given(st.integers(200, 420).map(lambda n: n / 10.0), st.sampled_from([0.2, 0.5, 1.0]))
def test_it_warns_exactly_where_overshoot_and_error_reach_an_edge(temp_c: float, error_k: float) -> None:
    """Edges: the rows of `degree_hours_limits.csv`; overshoot 0.5 K, common practice, no source."""
    for rule, edges in EDGES_C.items():
        nearest = min(abs(edge - Fraction(str(temp_c))) for edge in edges)
        reach = Fraction(1, 2) + Fraction(str(error_k))
        if abs(nearest - reach) < Fraction(6, 100):
            continue  # A band is chosen by tenths of a degree: nearer than that it may be either.
        said = near_band_edge(temp_c, error_k, rule)  # type: ignore[arg-type]
        assert bool(said) == (nearest < reach)


@pytest.mark.parametrize(
    ("temp_c", "rule", "words"),
    [
        (32.5, "canada", ["0.5 K below the edge at 33 °C (Canada)", "Reckon with 555 degree-hours, not 665"]),
        (32.222, "us", ["90.0 °F lies 0.0 K above the edge at 90 °F (US)", "1000 degree-hours", "they would be 1200"]),
        (37.2, "both", ["(US)", "Reckon with 900 degree-hours, not 1000", "(Canada): 500 degree-hours"]),
        (27.0, "both", []),
        (36.9, "us", ["0.9 K below the edge at 100 °F (US)"]),
    ],
)
def test_the_sentence_names_the_edge_and_both_limits(temp_c: float, rule: DegreeHoursRule, words: list[str]) -> None:
    said = near_band_edge(temp_c, 0.5, rule)
    assert all(word in said for word in words)
    assert bool(said) == bool(words)


def test_starting_and_checking_such_a_profile_say_so(tmp_path: Path) -> None:
    plan = plan_of(shipped_chamber("insulated-box"))
    wanted = profile_at(tmp_path, 32.5, ("starter_temp_c = [18.0, 32.0]", "starter_temp_c = [18.0, 34.0]"))
    _, sentences = adapt(read_profile(wanted), plan)
    assert any("Stage ferment: " in sentence and "edge at 33 °C" in sentence for sentence in sentences)
    _, sentences = adapt(read_profile(find_profile("mild")), plan)
    assert not any("edge" in sentence for sentence in sentences)


def test_a_ferment_at_15_6_or_below_needs_an_end_in_days(tmp_path: Path) -> None:
    cold = (("starter_temp_c = [18.0, 32.0]", "starter_temp_c = [12.0, 32.0]"),)
    ends = re.search(
        r"at_most_h = \d+\.0\s+ph_due_h|at_most_h = \d+\.0\nph_due_h", find_profile("mild").read_text("utf-8")
    )
    assert ends is not None
    without = ("at_most_h" + ends[0].removeprefix("at_most_h"), "ph_due_h")
    assert read_profile(profile_at(tmp_path, 15.6, *cold)).stages[1].at_most_h is not None
    with pytest.raises(SettingsError, match=r"stage\[2\]\.at_most_h: missing; at or below 15.6 °C \(60 °F\)"):
        read_profile(profile_at(tmp_path, 15.6, *cold, without))
    assert read_profile(profile_at(tmp_path, 15.7, *cold, without)).stages[1].at_most_h is None
