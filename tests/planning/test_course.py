"""The courses of the pH stand on the table of the modelled ferment, and warm as a sausage does."""

import pytest

from controller.food.acid import MIX_AW
from controller.planning.hours.course import Load, course_of, warm_lag_s, warming_of
from tests.helpers.planned import profile_named
from tests.helpers.published_rows import rows_of

ROWS = [
    row
    for row in rows_of("acid_table.csv")
    if row["dextrose_pct"] in {"0.3", "0.5"} and row["T"] in {"20", "24", "30", "36"} and row["t_pH5_3"]
]


def diameter_for(lag_h: float) -> float:
    """Return the casing that warms with this lag."""
    low, high = 5.0, 200.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if warm_lag_s(middle) < lag_h * 3600.0 else (low, middle)
    return low


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['culture']}-{row['T']}C-{row['dextrose_pct']}")
def test_the_expected_course_is_that_of_the_table(row: dict[str, str]) -> None:
    # The table: cells, buffer and own sugar as usual, meat of 4 °C that warms with 1.5 h.
    profile = profile_named("tangy" if row["culture"] == "thermotolerant" else "mild")
    load = Load(
        meat_kg=5.0, diameter_mm=diameter_for(1.5), meat_c=4.0, wanted_c=float(row["T"]),
        dextrose_pct=float(row["dextrose_pct"]), culture_aw=MIX_AW,
    )  # fmt: skip
    course = course_of(profile, load, 5.3, 0.0)
    assert course is not None
    assert course.expected.to_5_3 == pytest.approx(float(row["t_pH5_3"]), rel=0.02)
    assert course.fast.to_5_3 is not None
    assert course.slow.to_5_3 is not None
    assert course.expected.to_5_3 is not None
    assert course.fast.to_5_3 < course.expected.to_5_3 < course.slow.to_5_3


def test_a_casing_of_55_mm_warms_within_the_hours_of_the_estimate() -> None:
    # tau = rho c R/(2h) + R²/(5.78 alpha) for h 8 to 6 W/m²K and figures of meat from memory: 1.9 to 2.5 h.
    assert 1.9 <= warm_lag_s(55.0) / 3600.0 <= 2.5


def test_a_small_lamp_warms_much_meat_slowly() -> None:
    load = Load(
        meat_kg=12.0, diameter_mm=55.0, meat_c=2.0, wanted_c=36.0, dextrose_pct=0.5,
        lamp_w=60.0, ua_w_per_k=1.8, room_c=20.0,
    )  # fmt: skip
    # At 20 °C the chamber itself loses nothing: 60 W less the air's share, over 12 kg of 3300 J/kg K.
    surface_w_per_k = 4.0 * 12.0 / (0.055 * 1050.0) * 6.0
    k_per_h = 60.0 / (1.0 + 1.8 / surface_w_per_k) * 3600.0 / (12.0 * 3300.0)
    assert warming_of(load)(20.0) == pytest.approx(k_per_h)
    assert warming_of(load)(35.9) < 0.1
