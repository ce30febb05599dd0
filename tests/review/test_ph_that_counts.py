"""A review counts the pH that the daemon counted: by what is called a meter, and was not found bad."""

import pytest

from controller.review.batch import ReadingRow
from controller.review.readings import measured_ph


@pytest.mark.parametrize(
    ("instrument", "note", "counts"),
    [
        ("meter", "", True),
        ("meter 1", "sample: sausage; asked back, and sure", True),
        ("meter 1", "sample: sausage; noted only; rinsed", False),
        ("meter 1", "a person's own words: noted only by me", True),
        ("strips", "", False),
        ("paper", "noted only", False),
        ("", "", False),
    ],
)
def test_strips_and_meters_found_bad_conclude_nothing(instrument: str, note: str, counts: bool) -> None:  # noqa: FBT001
    row = ReadingRow("p", 1.0, "ph", 5.2, "", instrument, "", "5.2", note)
    assert measured_ph([row]) == ([(1.0, 5.2)] if counts else [])
